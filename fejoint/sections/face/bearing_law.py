"""The bearing law of a plate: force per unit thickness against the pin's local travel.

Let x be the pin's local travel (mm, 0 at first touch), q the force per unit thickness (N/mm), m the
deepest travel so far (mm), c the clearance (mm).

- Loading, x >= m: q = p(x), the face section's curve as a monotone cubic through its points. Beyond
  its end it goes on straight, and where it falls, to nothing and no further.
- Unloading and reloading, x < m: q = p(m) h(s) with s = (m - x)/r(m), and q = 0 for s >= 1. The
  recovery r(m) (mm) is how far the plate springs back from m to no load; the shape h falls from
  h(0) = 1 to h(1) = 0. Both come from releases of the face section from several loads: the contact
  arc shrinks on the way back, and the line is not straight. Between the releases r is a monotone
  cubic through (0, 0); beyond the last it grows as the force does. h is the releases' mean.
- The far side: a pin that comes back through the clearance bears on the other side of the hole by
  the same law, q = -q1(-x - c), with a deepest travel of its own.

The tangent dq/dx is p'(x), or -p(m) h'(s)/r(m) on the way back. Unloading and reloading are one
line: the loop that friction makes is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel import compiled
from fejoint.kernel.load_curve import at_index, first_reach, rising
from fejoint.kernel.pchip import Monotone
from fejoint.sections.face.pull import FaceHistory
from fejoint.sections.face.unloading import Release

_SHAPE_POINTS = np.linspace(0.0, 1.0, 21)


@dataclass(frozen=True, eq=False)
class BearingLaw:
    """Force per unit thickness against local travel, with unloading.

    Attributes
    ----------
    travel, force : (n,) arrays
        Loading curve from (0, 0), mm and N/mm; the travel rises.
    clearance : float
        Travel back from first touch to the far side of the hole, mm.
    deepest, recovery : (m,) arrays
        Travel a plate springs back from a deepest travel to no load, mm.
    shape : (k,) array
        q/p at (m - travel)/recovery = 0 ... 1, falling from 1 to 0.
    """

    travel: Floats
    force: Floats
    clearance: float
    deepest: Floats
    recovery: Floats
    shape: Floats
    _loading: Monotone = field(init=False, repr=False)
    _spring_back: Monotone = field(init=False, repr=False)
    _shape: Monotone = field(init=False, repr=False)

    def __post_init__(self) -> None:
        loading = Monotone(self.travel, self.force)
        object.__setattr__(self, "_loading", loading)
        object.__setattr__(
            self,
            "_spring_back",
            Monotone(np.concatenate([[0.0], self.deepest]), np.concatenate([[0.0], self.recovery])),
        )
        object.__setattr__(self, "_shape", Monotone(_SHAPE_POINTS, self.shape))

    @classmethod
    def from_pull(cls, history: FaceHistory, releases: Sequence[Release]) -> BearingLaw:
        """Build from a pulled face section and its releases (at least one)."""
        thickness = history.problem.case.land
        force, travel = rising(history.load / thickness, history.local_travel)
        deepest = np.array([r.local_travel[0] for r in releases])
        recovery = np.array([r.local_travel[0] - r.local_travel[-1] for r in releases])
        order = np.argsort(deepest)
        shapes = []
        for r in releases:
            back = (r.local_travel[0] - r.local_travel) / (r.local_travel[0] - r.local_travel[-1])
            shapes.append(Monotone(back, r.load / r.load[0])(_SHAPE_POINTS))
        return cls(
            travel,
            force,
            history.problem.case.clearance,
            deepest[order],
            recovery[order],
            np.clip(np.mean(shapes, axis=0), 0.0, 1.0),
        )

    @classmethod
    def linear(cls, stiffness: float, clearance: float = np.inf, reach: float = 1.0) -> BearingLaw:
        """Return an elastic bedding, N/mm per mm of thickness and mm of travel."""
        travel = np.linspace(0.0, reach, 3)
        return cls(
            travel,
            stiffness * travel,
            clearance,
            travel[1:],
            travel[1:],
            1.0 - _SHAPE_POINTS,
        )

    @cached_property
    def _cubics(self) -> tuple[Floats, ...]:
        """Knots and coefficients of loading, spring-back and shape, as the pass reads them."""
        curves = (self._loading, self._spring_back, self._shape)
        return tuple(np.ascontiguousarray(a) for p in curves for a in (p.x, p.c))

    def loading(self, travel: Floats) -> tuple[Floats, Floats]:
        """Return force and slope on the loading curve; beyond its end it goes on straight.

        A curve that falls there falls to nothing and no further: it never pushes the pin on.
        """
        end = self.travel[-1]
        inside = np.minimum(travel, end)
        slope = self._loading(inside, 1)
        force = self._loading(inside) + slope * (travel - inside)
        spent = (travel > end) & (force < 0.0)
        return np.where(spent, 0.0, force), np.where(spent, 0.0, slope)

    def spring_back(self, deepest: Floats) -> Floats:
        """Return how far a plate springs back from deepest travels to no load, mm."""
        end = self.deepest[-1]
        # past the last release the recovery grows as the force does
        back = self._spring_back(np.minimum(deepest, end))
        peak, known = self.loading(deepest)[0], self.loading(np.minimum(deepest, end))[0]
        grown = np.maximum(peak, 0.0) / np.maximum(known, 1e-300)
        return np.asarray(np.maximum(np.where(deepest > end, back * grown, back), 1e-12))

    def respond(self, travel: Floats, deepest: Floats) -> tuple[Floats, Floats, Floats]:
        """Return force, slope and history for travels; see kernel.bedding.BeddingLaw."""
        travel, deepest = np.ascontiguousarray(travel), np.ascontiguousarray(deepest)
        q, slope, new = np.empty_like(travel), np.empty_like(travel), np.empty_like(deepest)
        clearance = float(self.clearance)
        compiled.load("bearing_pass", "evaluate")(
            travel, deepest, clearance, self._cubics, (q, slope, new)
        )
        return q, slope, new


@dataclass(frozen=True, eq=False)
class SliceReader:
    """Reads a face section's other results at a slice's travel.

    Attributes
    ----------
    history : FaceHistory
    """

    history: FaceHistory

    def elongation(self, travel: Floats) -> Floats:
        """Hole elongation at local travels on the loading curve, mm."""
        return self._read(self.history.elongation, travel)

    def damage(self, travel: Floats) -> Floats:
        """Largest averaged damage at local travels on the loading curve."""
        return self._read(self.history.damage, travel)

    def travel_at_load(self, load: float | None) -> float:
        """Local travel at which the plate carries a load, or inf."""
        if load is None:
            return np.inf
        index = first_reach(self.history.load, load)
        return np.inf if index is None else at_index(self.history.local_travel, index)

    def _read(self, values: Floats, travel: Floats) -> Floats:
        x, y = self.history.local_travel, values
        keep = x > np.maximum.accumulate(np.concatenate([[-1.0], x[:-1]]))
        return np.asarray(np.interp(travel, x[keep], y[keep]))
