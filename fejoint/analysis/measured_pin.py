"""The pin of a solved joint, measured: hinge, shear, and the bend that stays after letting go."""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np

from fejoint.analysis.definitions import BEND_SHARE
from fejoint.analysis.solved_joint import SolvedJoint
from fejoint.arrays import Floats
from fejoint.handbook.beams import full_plastic_moment, full_plastic_shear
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.pchip import Monotone
from fejoint.kernel.root import root
from fejoint.sections.axial import pull as axial


class MeasuredPin(SolvedJoint):
    """A solved joint whose pin is measured too."""

    def bent_place(self, values: Floats, level: float) -> float | None:
        """Place of the pull at which a measure that bends within a step reaches a level, or None.

        Both are read on monotone cubics over the extension, not on their chords: a pin's moment
        may rise to its limit and past it within one step.
        """
        place = self.place(values, level)
        if not place:
            return place
        k = math.ceil(place) - 1
        near = slice(max(k - 1, 0), k + 3)
        x, load = self.history.extension[near], self.history.load[near]
        if not (np.all(np.diff(x) > 0.0) and np.all(np.diff(load) > 0.0)):
            return place
        curve = Monotone(x, values[near])
        begin, end = self.history.extension[k : k + 2]
        at = root(lambda e: float(curve(e)) - level, float(begin), float(end))
        pulls = self.history.load[k : k + 2]
        return k + float((Monotone(x, load)(at) - pulls[0]) / (pulls[1] - pulls[0]))

    @cached_property
    def plastic_section(self) -> tuple[float, float]:
        """Full plastic moment (N mm) and shear (N) of the pin at its Rp0.2."""
        rp02, d = self.joint.pin.material.rp02, self.joint.pin.diameter
        return full_plastic_moment(d, rp02), full_plastic_shear(d, rp02)

    @cached_property
    def hinge_place(self) -> float | None:
        """Place at which the largest moment reaches d^3/6 Rp0.2."""
        return self.bent_place(self.history.moment, self.plastic_section[0])

    @cached_property
    def hinge_load(self) -> float | None:
        """Load at which the largest moment reaches d^3/6 Rp0.2, N."""
        return self._load_of(self.hinge_place)

    @cached_property
    def shear_place(self) -> float | None:
        """Place at which the largest shear force reaches A Rp0.2/sqrt(3)."""
        return self.bent_place(self.history.shear, self.plastic_section[1])

    @cached_property
    def shear_load(self) -> float | None:
        """Load at which the largest shear force reaches A Rp0.2/sqrt(3), N."""
        return self._load_of(self.shear_place)

    @cached_property
    def interaction_load(self) -> float | None:
        """Load at which (M/Mp)^2 + (V/Vp)^2 first reaches 1 at one section, N."""
        mp, vp = self.plastic_section
        use = []
        for point in self.history.path.points:
            _, v, m = self.history.problem.section_forces(point)
            use.append(float(np.hypot(m / mp, v / vp).max()))
        return self._load_of(self.bent_place(np.array(use), 1.0))

    def bend_after(self, index: int) -> tuple[float, float] | None:
        """Return sag (mm) and turn (degrees) that the pin keeps after release from a point."""
        if index not in self._bends:
            let_go = axial.release(self.history, index, self.settings, self._solver)
            bend = None if let_go is None else self.history.problem.bend(let_go)
            self._bends[index] = bend
        return self._bends[index]

    @cached_property
    def _solver(self) -> LinearSolver:
        return axial.solver_of(self.history, self.settings)

    def kept_bend(self, index: float) -> tuple[float, float] | None:
        """Return what `bend_after` gives at a fractional index, on monotone cubics between points.

        What stays grows ever faster from the yield on: its chord over a step lies above it.
        """
        low = int(index)
        share = index - low
        near = self.bend_after(low)
        if share < 1e-9 or near is None:
            return near
        known = {
            k: bend
            for k in range(max(low - 1, 0), min(low + 2, len(self.history.load) - 1) + 1)
            if (bend := self.bend_after(k)) is not None
        }
        if low + 1 not in known:
            return None
        places = np.array(sorted(known), float)
        sag, turn = (
            float(Monotone(places, [known[k][i] for k in sorted(known)])(index)) for i in (0, 1)
        )
        return sag, turn

    @cached_property
    def bend_limit(self) -> float:
        """Bend left that counts, mm."""
        return BEND_SHARE * self.history.problem.case.span

    @cached_property
    def bend_limit_load(self) -> float | None:
        """Load that leaves the pin bent by as much as counts, N."""
        return self._load_of(self.bend_limit_place)

    @cached_property
    def bend_limit_place(self) -> float | None:
        """Place from which the pin, let go, stays bent by as much as counts."""
        limit = self.bend_limit
        yielded = [
            k
            for k, p in enumerate(self.history.path.points)
            if p.states[axial.PIN].equivalent.max() > 0.0
        ]
        if not yielded or self.joint.pin.rigid:
            return None
        sag = np.array([self.history.problem.bend(p)[0] for p in self.history.path.points])
        candidates = [k for k in yielded if sag[k] > limit]
        if not candidates:
            return None
        low, high = candidates[0] - 1, len(sag) - 1
        known: dict[int, float] = {max(yielded[0] - 1, 0): 0.0}
        low = max(low, yielded[0] - 1)

        def kept(k: int) -> float:
            if k not in known:
                bend = self.bend_after(k)
                known[k] = np.nan if bend is None else bend[0]
            return known[k]

        if not kept(high) >= limit:
            return None
        # what springs back is nearly in step with the load: that tells where to look
        load = self.history.load
        expected = sag - (sag[high] - kept(high)) * load / load[high]
        nearest = int(np.argmax(expected[low + 1 :] >= limit)) + low + 1
        tries = [nearest, nearest - 1]
        while high - low > 1:
            middle = tries.pop(0) if tries else (low + high) // 2
            if not low < middle < high:
                continue
            if kept(middle) >= limit:
                high = middle
            else:
                low = middle
        a, b = kept(low), kept(high)
        share = (limit - a) / (b - a) if np.isfinite(a) and b > a else 1.0
        # a pin keeps nothing before it yields, however wide the step in which it does
        yields = self.history.first_yield
        first = None if yields is None else self.place(load, yields)
        return max(float(low + share * (high - low)), first or 0.0)
