"""Reading a solved joint: events, limits of every part, and what became of the pin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from fejoint.analysis.result import Event, LimitLoad
from fejoint.analysis.section_cases import PlateInJoint
from fejoint.analysis.verdict import tear_mode
from fejoint.arrays import Floats
from fejoint.handbook.beams import full_plastic_moment, full_plastic_shear
from fejoint.joint.model import Joint, Shank
from fejoint.kernel import load_curve
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.pchip import Monotone
from fejoint.materials.library import Material
from fejoint.sections.axial import pull as axial
from fejoint.sections.axial.pull import AxialHistory, AxialSettings
from fejoint.sections.face import pull as face
from fejoint.sections.face.bearing_law import SliceReader

BEND_LIMIT = 0.01
"""Sag left over the span at which the pin counts as bent: a choice, stated in every answer.
Halved / doubled: that limit moves by -8 / +7 % (hard demo), -16 / +22 % (soft); nothing else."""
SET = 0.02
"""Elongation left of the event "permanent set 2 %", over the hole's diameter: the offset's share.
Halved / doubled: that event moves by -14 / +17 % (hard demo), -15 / +19 % (soft); nothing else."""


@dataclass(eq=False)
class JointReading:
    """A solved joint, ready to be read.

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
    def _travels(self) -> list[Floats]:
        """Slice travels of every plate, (n_points, n_slices)."""
        problem, points = self.history.problem, self.history.path.points
        return [
            np.array([problem.slice_travels(p, k) for p in points])
            for k in range(len(self.members))
        ]

    def _lengths(self, plate: int) -> Floats:
        return self.history.problem.bedding(plate).lengths

    def _mean(self, plate: int, values: Floats) -> Floats:
        """Mean over the plate's thickness of (n_points, n_slices) values."""
        w = self._lengths(plate)
        return np.asarray(values @ w / w.sum())

    def _deepest(self, plate: int) -> Floats:
        """Deepest travel so far of every slice, (n_points, n_slices), mm."""
        return np.maximum.accumulate(np.maximum(self._travels[plate], 0.0), axis=0)

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
        return self._mean(plate, self._elongations(plate))

    def worst_elongation(self, plate: int) -> Floats:
        """Elongation of the most stretched slice, (n_points,), mm."""
        return np.asarray(self._elongations(plate).max(axis=1))

    def kept_elongation(self, plate: int) -> Floats:
        """Mean elongation that stays after letting go from each point, (n_points,), mm."""
        return self._mean(plate, self._kept(plate, self._deepest(plate)))

    def damage(self, plate: int) -> Floats:
        """Damage of every slice of a plate, (n_points, n_slices)."""
        return SliceReader(self.members[plate].history).damage(self._deepest(plate))

    def offset(self, plate: int) -> load_curve.OffsetPoint | None:
        """Offset load of a plate on the joint's load and the plate's own mean elongation."""
        hole = self.members[plate].part.hole
        values = self.elongation(plate)
        return load_curve.offset_point(self.history.load, values, face.OFFSET * hole)

    @cached_property
    def weakest_ear(self) -> int:
        """Ear whose hole gives first; of ears that do not give, the one that yields first."""

        def gives(ear: int) -> tuple[float, float]:
            offset, yields = self.offset(ear), self._first_yield(ear)
            return (
                np.inf if offset is None else offset.load,
                np.inf if yields is None else yields,
            )

        return min(self.ears, key=gives)

    def _first_yield(self, plate: int) -> float | None:
        """Load of the joint at which a plate first yields, N."""
        m = self.members[plate]
        travel = SliceReader(m.history).travel_at_load(m.history.first_yield_plate)
        return self._load_at(self._travels[plate].max(axis=1), travel)

    @cached_property
    def _top(self) -> tuple[float, float] | None:
        """Load maximum and its extension; rounding while nothing bears is none."""
        top = load_curve.maximum(self.history.load, self.history.extension)
        if top is None or top[0] <= axial.no_load(self.history.problem.case):
            return None
        return top

    def _load_at(self, values: Floats, level: float) -> float | None:
        index = load_curve.first_reach(values, level)
        return None if index is None else load_curve.at_index(self.history.load, index)

    @cached_property
    def plastic_section(self) -> tuple[float, float]:
        """Full plastic moment (N mm) and shear (N) of the pin at its Rp0.2."""
        rp02, d = self.joint.pin.material.rp02, self.joint.pin.diameter
        return full_plastic_moment(d, rp02), full_plastic_shear(d, rp02)

    @cached_property
    def hinge_load(self) -> float | None:
        """Load at which the largest moment reaches d^3/6 Rp0.2, N."""
        return self._load_at(self.history.moment, self.plastic_section[0])

    @cached_property
    def shear_load(self) -> float | None:
        """Load at which the largest shear force reaches A Rp0.2/sqrt(3), N."""
        return self._load_at(self.history.shear, self.plastic_section[1])

    @cached_property
    def interaction_load(self) -> float | None:
        """Load at which (M/Mp)^2 + (V/Vp)^2 first reaches 1 at one section, N."""
        mp, vp = self.plastic_section
        use = []
        for point in self.history.path.points:
            _, v, m = self.history.problem.section_forces(point)
            use.append(float(np.max((m / mp) ** 2 + (v / vp) ** 2)))
        return self._load_at(np.array(use), 1.0)

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
        """Return what `bend_after` gives between the two points beside a fractional index."""
        low = int(index)
        share = index - low
        near = self.bend_after(low)
        if share < 1e-9 or near is None:
            return near
        far = self.bend_after(low + 1)
        if far is None:
            return None
        sag, turn = ((1.0 - share) * a + share * b for a, b in zip(near, far, strict=True))
        return sag, turn

    @cached_property
    def bend_limit_load(self) -> float | None:
        """Load that leaves the pin bent by BEND_LIMIT of its span, N."""
        limit = BEND_LIMIT * self.history.problem.case.span
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
        return float(load[low] + share * (load[high] - load[low]))

    @cached_property
    def flattens(self) -> bool:
        """Whether the pin's disc yields in an ear before the first limit."""
        first = min((x.load for x in self.limits()), default=float(self.history.load.max()))
        yields = [self.members[k].history.first_yield_pin for k in self.ears]
        share = self.history.shares[:, self.ears].max(axis=1)
        at = float(np.interp(first, self.history.load, share))
        return any(load is not None and load < at for load in yields)

    def limits(self) -> list[LimitLoad]:
        """Return the pulls at which ears, pin and shank stop being what they were."""
        found: list[LimitLoad] = []
        for k in self.ears:
            found += self._plate_limits(k, "ear", "hole elongation")
        if not self.joint.pin.rigid:
            found += self._pin_limits()
        found += self._plate_limits(1, "shank", "shank hole")
        if self._top is not None:
            found.append(self._at_maximum(self._top[0]))
        return _lowest_each(found)

    def _plate_limits(self, plate: int, part: str, mode: str) -> list[LimitLoad]:
        found = []
        offset = self.offset(plate)
        if offset is not None:
            found.append(LimitLoad(mode, part, offset.load, "offset load"))
        tear = tear_mode(self.members[plate].history) if part == "ear" else mode
        damage, metal = self.damage(plate), self.members[plate].part.material
        for cause, values in (
            ("ductility exhausted in the innermost slice", damage.max(axis=1)),
            ("ductility exhausted through the thickness", self._mean(plate, damage)),
        ):
            found += self._exhausted(values, metal, tear, part, cause)
        return found

    def _exhausted(
        self, damage: Floats, metal: Material, mode: str, part: str, cause: str
    ) -> list[LimitLoad]:
        """Load at which a damage (n_points,) reaches 1, with the band of the fracture strain."""
        load = self._load_at(damage, 1.0)
        if load is None:
            return []
        low, high = (self._load_at(damage, x / metal.fracture_strain) for x in metal.fracture_band)
        band = (low if low is not None else load, high if high is not None else np.inf)
        return [LimitLoad(mode, part, load, cause, band=band)]

    def _pin_limits(self) -> list[LimitLoad]:
        rows = (
            ("pin bending", self.bend_limit_load, "keeps a bend of 1 % of the span"),
            ("pin bending", self.hinge_load, "plastic hinge"),
            ("pin shear", self.shear_load, "full plastic shear"),
        )
        found = [LimitLoad(m, "pin", load, cause) for m, load, cause in rows if load is not None]
        metal = self.joint.pin.material
        return found + self._exhausted(
            self.history.damage, metal, "pin break", "pin", "ductility exhausted"
        )

    def _at_maximum(self, load: float) -> LimitLoad:
        """Say which part the joint's load maximum belongs to."""
        used = self.history.shares.max(axis=0) / [m.strength for m in self.members]
        most = int(used.argmax())
        if used[most] >= 0.97 or self.joint.pin.rigid:
            if isinstance(self.members[most].part, Shank):
                return LimitLoad("shank hole", "shank", load, "load maximum")
            mode = tear_mode(self.members[most].history)
            return LimitLoad(mode, "ear", load, "load maximum")
        mp, vp = self.plastic_section
        sheared = self.history.shear.max() / vp > self.history.moment.max() / mp
        return LimitLoad("pin shear" if sheared else "pin bending", "pin", load, "load maximum")

    def events(self) -> list[Event]:
        """Return the events of the contract, reached or with the reason why not."""
        ear = self.members[self.weakest_ear]
        yields = [x for k in self.ears if (x := self._first_yield(k)) is not None]
        top = self._top
        why = f"the pull ended before it: {self.history.path.stopped_because}"
        rigid = self.joint.pin.rigid
        offset = self.offset(self.weakest_ear)
        damage = self.damage(self.weakest_ear)
        return [
            self._event("first yield ear", min(yields, default=None), why),
            self._event(
                "first yield pin", self.history.first_yield, "the pin is rigid" if rigid else why
            ),
            self._event("offset load", offset.load if offset else None, why),
            self._event(
                "permanent set 2 %",
                self._load_at(self.kept_elongation(self.weakest_ear), SET * ear.part.hole),
                why,
            ),
            self._event("load maximum", top[0] if top else None, "the load still rose; " + why),
            self._event(
                "ductility exhausted",
                self._load_at(np.maximum(damage.max(axis=1), self.history.damage), 1.0),
                f"largest damage {damage.max():.2f} in an ear, {self.history.damage.max():.2f} in "
                f"the pin; {why}",
            ),
            self._event("pin hinge", self.hinge_load, "the pin is rigid" if rigid else why),
            self._event("pin shear", self.shear_load, "the pin is rigid" if rigid else why),
        ]

    def _event(self, name: str, load: float | None, reason: str) -> Event:
        if load is None:
            return Event(name, None, reason=reason)
        index = load_curve.first_reach(self.history.load, load)
        index = len(self.history.load) - 1.0 if index is None else index
        elongation = self.elongation(self.weakest_ear)
        return Event(
            name,
            load,
            load_curve.at_index(self.history.extension, index),
            load_curve.at_index(elongation, index),
        )

    def pin(self, at_load: float) -> dict[str, Any]:
        """Return what became of the pin, with its kept bend after a pull to a load (N)."""
        if self.joint.pin.rigid:
            return {"rigid": True}
        index = load_curve.first_reach(self.history.load, at_load)
        index = len(self.history.load) - 1.0 if index is None else index
        place = round(index)
        bend = self.kept_bend(index)
        ear = self.weakest_ear
        forces = np.abs(self.history.problem.slice_forces(self.history.path.points[place], ear))
        line = forces / self._lengths(ear)
        return {
            "permanent_bend_mm": None if bend is None else bend[0],
            "permanent_bend_deg": None if bend is None else bend[1],
            "permanent_bend_after_N": load_curve.at_index(self.history.load, index),
            "bend_limit_mm": BEND_LIMIT * self.history.problem.case.span,
            "bend_limit_load_N": self.bend_limit_load,
            "hinge_load_N": self.hinge_load,
            "shear_load_N": self.shear_load,
            "bending_and_shear_load_N": self.interaction_load,
            "first_yield_load_N": self.history.first_yield,
            "break_load_N": self._load_at(self.history.damage, 1.0),
            "ear_shares_N": [
                load_curve.at_index(self.history.shares[:, k], index) for k in self.ears
            ],
            "bearing_peak_over_mean": float(line.max() / max(line.mean(), 1e-300)),
            "inner_face_elongation_mm": load_curve.at_index(self.worst_elongation(ear), index),
        }


def _lowest_each(limits: Sequence[LimitLoad]) -> list[LimitLoad]:
    """Keep the lowest limit of every (mode, part, cause): two ears give one row."""
    best: dict[tuple[str, str, str], LimitLoad] = {}
    for x in limits:
        key = (x.mode, x.part, x.cause)
        if key not in best or x.load < best[key].load:
            best[key] = x
    return list(best.values())
