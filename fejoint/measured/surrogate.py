"""A curve as a function of a few parameters: a quadratic through all real solves made so far.

The solve is dear, the rig's part of the fit is cheap: so the fit works on this surrogate and asks
for real solves where it goes. Slopes are taken anew wherever it settles: slopes kept from the start
let it rest where the true misfit still falls.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.pchip import Monotone
from fejoint.measured.rig_compliance import Curve

Solve = Callable[[Floats], Curve]
"""From parameters to a curve; raises ValueError where there is none."""

_POINTS = 160
_NEAR = 4.0
"""Steps from the centre over which a solve's weight falls to 0.6 of it."""
_RIDGE = (1e-8, 1e-4)
"""Of slopes and curvatures, against solves too few to tell them."""


@dataclass(eq=False)
class Surrogate:
    """Logarithm of the load on a fixed grid of extensions, quadratic in the parameters.

    Attributes
    ----------
    solve : callable
    centre : (p,) array
        Where the surrogate is exact.
    steps : (p,) array
        Steps of the star of solves about the centre.
    finer : callable or None
        A finer solve, made once at the first centre: what it changes there is carried everywhere.
    grid : (n,) array
        Extensions, mm, denser near first touch.
    solves : int
        Real solves so far.
    """

    solve: Solve
    centre: Floats
    steps: Floats
    finer: Solve | None = None
    grid: Floats = field(init=False)
    solves: int = field(init=False, default=0)
    refined: Floats = field(init=False)
    _places: list[Floats] = field(init=False, default_factory=list)
    _values: list[Floats] = field(init=False, default_factory=list)
    _coefficients: Floats = field(init=False)

    def __post_init__(self) -> None:
        self.solves += 1
        first = self.solve(self.centre)
        end = float(first.extension.max())
        self.grid = end * np.linspace(0.0, 1.0, _POINTS + 1)[1:] ** 2
        self._places.append(self.centre.copy())
        self._values.append(self._on_grid(first))
        self.refined = np.zeros(len(self.grid))
        if self.finer is not None:
            self.solves += 1
            self.refined = self._on_grid(self.finer(self.centre)) - self._values[0]
        self.star(self.centre, self.steps)

    def star(self, centre: Floats, steps: Floats) -> None:
        """Solve to both sides of the centre along every parameter, where there is a curve."""
        for k, step in enumerate(steps):
            for sign in (1.0, -1.0):
                moved = centre.copy()
                moved[k] += sign * step
                try:
                    self.add(moved)
                except ValueError:
                    continue
        self.aim(centre)

    def add(self, at: Floats) -> Floats:
        """Solve at a place; return the logarithm of the load on the grid.

        Raises
        ------
        ValueError
            If there is no curve at that place; nothing has changed then.
        """
        self.solves += 1
        value = self._on_grid(self.solve(at))
        self._places.append(at.copy())
        self._values.append(value)
        return value

    def aim(self, centre: Floats) -> None:
        """Make the surrogate exact at a place that was solved, and best about it."""
        self.centre = centre.copy()
        z = (np.array(self._places) - centre) / self.steps
        weight = np.exp(-0.5 * np.sum(z**2, axis=1) / _NEAR**2) + 1e-6
        at = int(np.argmin(np.sum(z**2, axis=1)))
        value = np.array(self._values)
        # exact at the centre: what is fitted is the change from there
        a = self._terms(z) * np.sqrt(weight)[:, None]
        b = (value - value[at]) * np.sqrt(weight)[:, None]
        p = len(self.centre)
        ridge = np.concatenate([np.full(p, _RIDGE[0]), np.full(a.shape[1] - p, _RIDGE[1])])
        slopes = np.linalg.solve(a.T @ a + np.diag(ridge), a.T @ b)
        self._coefficients = np.vstack([value[at][None, :], slopes])

    @staticmethod
    def _terms(z: Floats) -> Floats:
        """Return z and all its products, (n, p + p (p + 1) / 2)."""
        i, k = np.triu_indices(z.shape[-1])
        return np.concatenate([z, z[..., i] * z[..., k]], axis=-1)

    def _on_grid(self, curve: Curve) -> Floats:
        """Interpolate; beyond its end a curve goes on with its last slope."""
        inside = np.minimum(self.grid, curve.extension[-1])
        load = Monotone(curve.extension, curve.load)(inside)
        slope = (curve.load[-1] - curve.load[-2]) / (curve.extension[-1] - curve.extension[-2])
        beyond = np.maximum(self.grid - curve.extension[-1], 0.0)
        return np.asarray(np.log(np.maximum(load + slope * beyond, 1e-6)))

    def loads(self, at: Floats) -> Floats:
        """Return the loads on the grid, N."""
        z = (at - self.centre) / self.steps
        log_load = self._coefficients[0] + self._terms(z) @ self._coefficients[1:]
        return np.asarray(np.exp(log_load + self.refined))

    def curve(self, at: Floats) -> Curve:
        """Return the curve, from (0, 0)."""
        return Curve(np.concatenate([[0.0], self.loads(at)]), np.concatenate([[0.0], self.grid]))

    def check(self, at: Floats) -> float:
        """Solve at a place and take it up; return the surrogate's error there, relative.

        Raises
        ------
        ValueError
            If there is no curve at that place.
        """
        guessed = np.log(self.loads(at)) - self.refined
        real = self.add(at)
        later = self.grid > 0.1 * self.grid[-1]
        return float(np.max(np.abs(real - guessed)[later]))
