"""A curve as a function of a few parameters, kept linear about its last real solve.

The solve is dear, the rig's part of the fit is cheap: so the fit works on this emulator, asks for
a real solve at the place it found, and goes on from there with the slopes mended (Broyden 1965).
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


@dataclass(eq=False)
class Emulator:
    """Logarithm of the load on a fixed grid of extensions, linear in the parameters.

    Attributes
    ----------
    solve : callable
    centre : (p,) array
        Where the last real solve was made.
    steps : (p,) array
        Steps of the first differences; negative steps are taken downwards.
    finer : callable or None
        A finer solve, made once at the centre: what it changes there is carried everywhere.
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
    value: Floats = field(init=False)
    slopes: Floats = field(init=False)
    solves: int = field(init=False, default=0)
    refined: Floats = field(init=False)

    def __post_init__(self) -> None:
        first = self._curve(self.centre)
        end = float(first.extension.max())
        self.grid = end * np.linspace(0.0, 1.0, _POINTS + 1)[1:] ** 2
        self.value = self._on_grid(first)
        self.refined = np.zeros(len(self.grid))
        if self.finer is not None:
            self.solves += 1
            self.refined = self._on_grid(self.finer(self.centre)) - self.value
        self.slopes = np.empty((len(self.grid), len(self.centre)))
        for k, step in enumerate(self.steps):
            moved = self.centre.copy()
            moved[k] += step
            self.slopes[:, k] = (self._on_grid(self._curve(moved)) - self.value) / step

    def _curve(self, at: Floats) -> Curve:
        self.solves += 1
        return self.solve(at)

    def _on_grid(self, curve: Curve) -> Floats:
        """Interpolate; beyond its end a curve goes on with its last slope."""
        inside = np.minimum(self.grid, curve.extension[-1])
        load = Monotone(curve.extension, curve.load)(inside)
        slope = (curve.load[-1] - curve.load[-2]) / (curve.extension[-1] - curve.extension[-2])
        beyond = np.maximum(self.grid - curve.extension[-1], 0.0)
        return np.asarray(np.log(np.maximum(load + slope * beyond, 1e-6)))

    def loads(self, at: Floats) -> Floats:
        """Return the emulated loads on the grid, N."""
        return np.asarray(np.exp(self.value + self.refined + self.slopes @ (at - self.centre)))

    def curve(self, at: Floats) -> Curve:
        """Return the emulated curve, from (0, 0)."""
        return Curve(np.concatenate([[0.0], self.loads(at)]), np.concatenate([[0.0], self.grid]))

    def move(self, to: Floats) -> float:
        """Solve at a new place and centre there; return the emulator's error there, relative.

        Raises
        ------
        ValueError
            If there is no curve at that place; nothing has changed then.
        """
        step = to - self.centre
        real = self._on_grid(self._curve(to))
        guessed = self.value + self.slopes @ step
        length = float(step @ step)
        if length > 0.0:
            # only along the step, and only what is not noise of the solve's own steps
            self.slopes = self.slopes + np.outer(real - guessed, step) / max(length, 1e-4)
        self.centre, self.value = to.copy(), real
        later = self.grid > 0.1 * self.grid[-1]
        return float(np.max(np.abs(real - guessed)[later]))
