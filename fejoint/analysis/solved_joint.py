"""A solved joint measured point by point: travels, elongations, damage, moments, bends, work."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from fejoint.analysis.definitions import ASIDE_SHARE, EARS_ALIKE, FLAT, OFFSET_SHARE
from fejoint.analysis.section_cases import PlateInJoint, names_along
from fejoint.arrays import Floats
from fejoint.handbook.strip_bending import strip_use
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear, Shank
from fejoint.kernel import load_curve
from fejoint.kernel.pchip import Monotone
from fejoint.kernel.stop_reason import Stop
from fejoint.sections.axial import pull as axial
from fejoint.sections.axial.case import AxialSettings
from fejoint.sections.axial.pull import AxialHistory
from fejoint.sections.face.bearing_law import SliceReader
from fejoint.sections.face.pull import FaceHistory
from fejoint.sections.face.unloading import release

_RELEASES = 16
"""Points of a face section from which it is let go to find the width that it keeps."""


@dataclass(eq=False)
class SolvedJoint:
    """A solved joint, ready to be measured.

    A *place* is a fractional index of the points of the axial section's path.

    Attributes
    ----------
    joint : Joint
    members : sequence of PlateInJoint
        Plates along the pin.
    history : AxialHistory
    settings : AxialSettings
        For the releases that the pin's kept bend needs.
    """

    joint: Joint
    members: Sequence[PlateInJoint]
    history: AxialHistory
    settings: AxialSettings
    _bends: dict[int, tuple[float, float] | None] = field(default_factory=dict, repr=False)

    @cached_property
    def ears(self) -> list[int]:
        """Places of the ears along the pin."""
        return [k for k, m in enumerate(self.members) if not isinstance(m.part, Shank)]

    @cached_property
    def alike(self) -> bool:
        """Whether two ears see the same by symmetry."""
        ears, gaps = self.joint.ears, self.joint.gaps
        same = len(ears) == 2 and ears[0] == ears[1] and gaps[0] == gaps[1]
        return same and self.joint.pin.ends != "held"

    @cached_property
    def different_ears(self) -> list[int]:
        """Places of the ears along the pin, of two alike the first."""
        return self.ears[:1] if self.alike else self.ears

    def member(self, plate: int) -> str:
        """Return what a plate is called: "ear 1", "both ears", "shank", ..."""
        name = names_along(self.joint)[plate]
        return EARS_ALIKE if self.alike and plate in self.ears else name

    @cached_property
    def stop(self) -> Stop:
        """Why the pull ended; of two ears alike it is the end of both."""
        stop = self.history.path.stopped_because
        assert stop is not None
        names = names_along(self.joint)
        return replace(stop, member=self.member(names.index(stop.member))) if stop.member else stop

    @cached_property
    def _travels(self) -> list[Floats]:
        """Slice travels of every plate, (n_points, n_slices)."""
        problem, points = self.history.problem, self.history.path.points
        return [
            np.array([problem.slice_travels(p, k) for p in points])
            for k in range(len(self.members))
        ]

    def _lengths(self, plate: int) -> Floats:
        return self.history.problem.bedding(plate).lengths

    def over_thickness(self, plate: int, values: Floats) -> Floats:
        """Mean over the plate's thickness of (n_points, n_slices) values."""
        w = self._lengths(plate)
        return np.asarray(values @ w / w.sum())

    def _deepest(self, plate: int) -> Floats:
        """Deepest travel so far of every slice, (n_points, n_slices), mm."""
        before = self.history.path.points[0].states[1 + plate][0]
        travels = np.maximum(self._travels[plate], before)
        return np.maximum.accumulate(np.maximum(travels, 0.0), axis=0)

    def _elongations(self, plate: int) -> Floats:
        """Elongation of the hole in every slice, (n_points, n_slices), mm.

        On the way back a slice gives up what it does not keep in step with its travel.
        """
        m, deepest = self.members[plate], self._deepest(plate)
        grown = SliceReader(m.history).elongation(deepest)
        back = (deepest - self._travels[plate]) / m.law.spring_back(deepest)
        kept = self._kept(plate, deepest)
        return np.asarray(grown - np.clip(back, 0.0, 1.0) * (grown - kept))

    def _kept(self, plate: int, deepest: Floats) -> Floats:
        """Elongation that stays after deepest travels, mm."""
        m = self.members[plate]
        end = m.kept[0][-1]
        beyond = SliceReader(m.history)
        grown = beyond.elongation(deepest) - beyond.elongation(np.minimum(deepest, end))
        return np.asarray(Monotone(*m.kept)(np.minimum(deepest, end)) + grown)

    def elongation(self, plate: int) -> Floats:
        """Mean elongation of a plate's hole, (n_points,), mm."""
        return self.over_thickness(plate, self._elongations(plate))

    def worst_elongation(self, plate: int) -> Floats:
        """Elongation of the most stretched slice, (n_points,), mm."""
        return np.asarray(self._elongations(plate).max(axis=1))

    def kept_elongation(self, plate: int) -> Floats:
        """Mean elongation that stays after letting go from each point, (n_points,), mm."""
        return self.over_thickness(plate, self._kept(plate, self._deepest(plate)))

    def kept_neck(self, plate: int) -> Floats:
        """Mean width that stays lost beside a plate's hole after each point, (n_points,), mm.

        In straight pulls; from releases of its face section up to where the joint's slices came.
        """
        deepest = self._deepest(plate)
        history = self.members[plate].history
        x = history.local_travel
        last = min(int(np.searchsorted(x, deepest.max())), len(x) - 1)
        known = [(0.0, 0.0)]
        for k in np.unique(np.linspace(1, last, _RELEASES).round().astype(int)):
            let_go = release(history, int(k))
            if let_go is not None and x[k] > known[-1][0]:
                known.append((float(x[k]), max(float(let_go.neck[-1]), known[-1][1])))
        reach, lost = np.array(known).T
        return self.over_thickness(plate, Monotone(reach, lost)(np.minimum(deepest, reach[-1])))

    def damage(self, plate: int) -> Floats:
        """Damage of every slice of a plate, (n_points, n_slices)."""
        return SliceReader(self.members[plate].history).damage(self._deepest(plate))

    def torn(self, plate: int) -> FaceHistory:
        """Return a plate's face section as far as the joint's most loaded slice has come."""
        m = self.members[plate]
        if m.plate.pull is None:
            return m.history
        local, deepest = m.history.local_travel, float(self._deepest(plate)[-1].max())
        points = min(int(np.searchsorted(local, deepest)) + 1, m.points)
        return m.plate.pull.history(max(points, 2))

    def offset(self, plate: int) -> load_curve.OffsetPoint | None:
        """Offset load of a plate on the joint's load and the plate's own mean elongation."""
        hole = self.members[plate].part.hole
        values = self.elongation(plate)
        return load_curve.offset_point(self.history.load, values, OFFSET_SHARE * hole)

    def offset_place(self, plate: int) -> float | None:
        """Place of the offset load of a plate."""
        found = self.offset(plate)
        return None if found is None else self.place(self.elongation(plate), found.elongation)

    def yield_place(self, plate: int) -> float | None:
        """Place at which a plate first yields in its most loaded slice."""
        m = self.members[plate]
        travel = SliceReader(m.history).travel_at_load(m.history.first_yield_plate)
        return self.place(self._travels[plate].max(axis=1), travel)

    @staticmethod
    def place(values: Floats, level: float) -> float | None:
        """Place at which a measure (n_points,) first reaches a level, or None."""
        return load_curve.first_reach(values, level)

    def load_at(self, place: float) -> float:
        """Pull on the joint at a place, N."""
        return load_curve.at_index(self.history.load, place)

    def _load_of(self, place: float | None) -> float | None:
        return None if place is None else self.load_at(place)

    @cached_property
    def top(self) -> int | None:
        """Point of the highest pull, if the load fell behind it; rounding is no pull."""
        load = self.history.load
        k = int(np.argmax(load))
        least = axial.no_load(self.history.problem.case)
        return k if 0 < k < len(load) - 1 and load[k] > least else None

    def own_top(self, plate: int) -> int | None:
        """Point of the highest load on a plate, if its own curve has passed its highest there.

        A share may fall for another reason, as when the pin leans on the other ear: what the slices
        past the top of the plate's curve lost is then less than what others did.
        """
        share = np.abs(self.history.shares[:, plate])
        k = int(np.argmax(share))
        curve = self.members[plate].history
        highest = int(np.argmax(curve.load))
        fell = highest < len(curve.load) - 1
        if not fell or k in (0, len(share) - 1):
            return None
        problem, points = self.history.problem, self.history.path.points
        top, end = (problem.slice_forces(points[j], plate) for j in (k, len(points) - 1))
        lost = np.maximum(top - end, 0.0)
        travel = self._travels[plate]
        past = travel[-1] >= np.maximum(travel[k], float(curve.local_travel[highest]))
        return k if lost[past].sum() > lost[~past].sum() else None

    def own_top_band(self, plate: int, top: int) -> tuple[float, float]:
        """Return the pulls between which a plate's load is as good as its highest, N."""
        share = np.abs(self.history.shares[:, plate])
        level = (1.0 - FLAT) * share[top]

        def end(step: int) -> float:
            k = top
            while 0 < k < len(share) - 1 and share[k] >= level:
                k += step
            on = k - step
            return (
                float(k)
                if share[k] >= level
                else on + step * float((share[on] - level) / (share[on] - share[k]))
            )

        low, high = end(-1), end(1)
        inside = self.history.load[math.ceil(low) : math.floor(high) + 1]
        loads = [*inside, self.load_at(low), self.load_at(high)]
        return float(min(loads)), float(max(loads))

    def plastic_rates(self, point: int) -> Floats:
        """Plastic work that pin and plates take about a point, (1 + n_plates,), N mm, at least 0.

        The pin's from its hardening; a plate's as the work of its slices less what they could give
        back, half their force times what they spring back.
        """
        points, problem = self.history.path.points, self.history.problem
        low, high = max(point - 1, 0), min(point + 1, len(points) - 1)
        rates = np.zeros(1 + len(self.members))
        hardening = problem.case.metal.hardening
        if hardening is not None:
            spent = [
                float(
                    hardening.plastic_work(points[k].states[axial.PIN].equivalent)
                    @ problem.pin.volumes.reshape(-1)
                )
                for k in (low, high)
            ]
            rates[0] = spent[1] - spent[0]
        for k, m in enumerate(self.members):
            force = np.array([problem.slice_forces(points[j], k) for j in (low, high)])
            travel = self._travels[k][[low, high]]
            work = float((0.5 * force.sum(axis=0) * (travel[1] - travel[0])).sum())
            back = [m.law.spring_back(np.maximum(d, 1e-12)) for d in self._deepest(k)[[low, high]]]
            stored = 0.5 * (np.maximum(force, 0.0) * np.array(back)).sum(axis=1)
            rates[1 + k] = work - (stored[1] - stored[0])
        return np.maximum(rates, 0.0)

    def strip_place(self, plate: int) -> tuple[float | None, bool]:
        """Place at which pull and bending use up the ear's strip at its grip; whether it bends."""
        ear, angle = self.members[plate].part, self.joint.pull.angle
        assert isinstance(ear, Ear)
        share = np.abs(self.history.shares[:, plate])
        place = self.place(np.array([sum(strip_use(ear, p, angle)) for p in share]), 1.0)
        if place is None:
            return None, False
        moment, pull = strip_use(ear, load_curve.at_index(share, place), angle)
        return place, moment > pull

    def strip_hinge_place(self, plate: int) -> float | None:
        """Place at which an ear's strip is used up at its grip, if by bending more than by pull."""
        place, bends = self.strip_place(plate)
        return place if bends else None

    def aside_place(self, plate: int) -> float | None:
        """Place at which the ear's own bending aside leaves its elastic line by the limit."""
        ear = self.members[plate].part
        assert isinstance(ear, Ear)
        angle = self.joint.pull.angle
        if strip_use(ear, 1.0, angle)[0] == 0.0:
            return None
        face = self.members[plate].history
        behind = face.travel - face.local_travel
        found = load_curve.offset_point(face.load, behind, ASIDE_SHARE * ear.grip_length)
        if found is None:
            return None
        # bending goes as the load, what the pull uses up as its square
        moment, pull = strip_use(ear, found.load, angle)
        if moment <= pull:
            return None
        return self.place(np.abs(self.history.shares[:, plate]), found.load)
