"""The limits and events of a solved joint, member by member, and what became of the pin."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any, cast

import numpy as np

from fejoint.analysis import definitions as by
from fejoint.analysis.dishing import DishingLimit, dishing_limit, supports_of
from fejoint.analysis.measured_pin import MeasuredPin
from fejoint.analysis.mesh_scale import pin_damage_band, yield_band
from fejoint.analysis.result import Event, LimitLoad
from fejoint.arrays import Floats
from fejoint.inputs.units import figures
from fejoint.joint.parts import Ear
from fejoint.kernel import load_curve
from fejoint.materials.material import Material
from fejoint.meshing.contours import dense
from fejoint.sections.face.pull import FaceHistory

_NOWHERE = (None, "")


def tear_mode(history: FaceHistory) -> str:
    """Return how an ear tears, from where its damage is largest: end, net section or grip.

    An ear that is pushed towards its grip has no end ahead of the pin: its hole tears.
    """
    at, pull = history.torn_at, history.problem.direction
    if not np.all(np.isfinite(at)):
        return "net section"
    if beside_an_opening(history):
        return "net section"
    if at[0] < -by.GRIP_SHARE * history.problem.case.outline.grip_length:
        return "ear bending"
    angle = np.degrees(np.arccos(np.clip(at @ pull / np.linalg.norm(at), -1.0, 1.0)))
    if angle >= by.SECTOR_DEG:
        return "net section"
    pushed = -pull[0] > np.cos(np.radians(by.SECTOR_DEG))
    return "hole elongation" if pushed else "end tear-out"


def beside_an_opening(history: FaceHistory) -> bool:
    """Whether a plate's damage is largest nearer to another hole of it than to the pin's."""
    o, at = history.problem.case.outline, history.torn_at
    if len(o.drawn) < 2 or not np.all(np.isfinite(at)):
        return False
    own, *openings = (float(np.hypot(*(dense(c) - at).T).min()) for c in o.contours[1:])
    return min(openings) < own


class JointReading(MeasuredPin):
    """A solved joint, ready to be read."""

    @cached_property
    def weaker_ear(self) -> int:
        """Place of the ear whose first limit comes first; without one, the ear that yields first.

        Everything that shows one ear shows this one.
        """

        def gives(ear: int) -> tuple[bool, float, float]:
            orders = [x.order for x in self._ear_limits(ear)]
            yields = self.yield_place(ear)
            first = min(orders, default=(True, np.inf))
            return (*first, np.inf if yields is None else yields)

        return min(self.ears, key=gives)

    @cached_property
    def flattens(self) -> bool:
        """Whether the pin's disc yields in an ear, at that ear's load, before the first limit."""
        first = min(self.limits(), key=lambda x: x.order, default=None)
        place = None if first is None else self.place(self.history.load, first.load)
        at = int(np.argmax(self.history.load)) if place is None else place
        for k in self.ears:
            yields = self.members[k].history.first_yield_pin
            if yields is not None and yields < load_curve.at_index(self.history.shares[:, k], at):
                return True
        return False

    def limits(self) -> list[LimitLoad]:
        """Return the pulls at which ears, pin and shank stop being what they were."""
        found: list[LimitLoad] = []
        for k in self.different_ears:
            found += self._ear_limits(k)
        if not self.joint.pin.rigid:
            found += self._pin_limits()
        found += self._plate_limits(1, "shank hole")
        return without_doubles([*found, *self._at_highest_pull()])

    def _limit(
        self,
        mode: str,
        member: str,
        place: float | None,
        cause: str,
        band: tuple[float, float] | None = None,
        load: float | None = None,
    ) -> Iterator[LimitLoad]:
        """Give a limit at a place along the path; none where it was not reached.

        Its load is that of the place, or one known better.
        """
        if place is not None:
            past = self.top is not None and place > self.top
            yield LimitLoad(
                cast(by.ModeName, mode), by.MODES[mode].part,
                self.load_at(place) if load is None else load, cause,
                band=band, member=member, past_top=past, share=self._share(member, place),
            )  # fmt: skip

    def _share(self, member: str, place: float) -> float | None:
        """Share of the pull that an ear bears at a place."""
        ear = self._ear_of(member)
        pull = self.load_at(place)
        if ear is None or pull <= 0.0:
            return None
        return load_curve.at_index(self.history.shares[:, ear], place) / pull

    def _ear_of(self, member: str) -> int | None:
        """Place along the pin of the ear that a member is, or None."""
        return next((k for k in self.different_ears if self.member(k) == member), None)

    def _ear_limits(self, ear: int) -> list[LimitLoad]:
        member = self.member(ear)
        place, bends = self.strip_place(ear)
        mode, cause = ("ear bending", by.HINGE) if bends else ("strip yield", by.YIELDED)
        return [
            *self._plate_limits(ear, "hole elongation"),
            *self._limit(mode, member, place, cause),
            *self._limit("ear bending", member, self.aside_place(ear), by.ASIDE),
            *self._dishes(ear),
        ]

    def dishing(self, ear: int) -> DishingLimit:
        """Return the load on an ear (its place along the pin) at which its end dishes, by rule.

        It is inf where supports keep the end in its plane.
        """
        part = self.members[ear].part
        assert isinstance(part, Ear)
        supports = supports_of(self.joint, ear // 2)  # the shank lies between two ears
        return dishing_limit(part, supports, self.joint.pull.angle)

    def _dishes(self, ear: int) -> Iterator[LimitLoad]:
        """Give the place at which an ear bears what a thin end bears, with the rule's band."""
        rule, share = self.dishing(ear), np.abs(self.history.shares[:, ear])

        def pull(load: float) -> float:
            place = self.place(share, load)
            return np.inf if place is None else self.load_at(place)

        band = pull(rule.band[0]), pull(rule.band[1])
        for limit in self._limit(
            "end dishes", self.member(ear), self.place(share, rule.load), by.DISHES, band
        ):
            yield replace(limit, source=by.RULE)

    def _plate_limits(self, plate: int, mode: str) -> list[LimitLoad]:
        member, part = self.member(plate), self.members[plate].part
        tear = tear_mode(self.torn(plate)) if isinstance(part, Ear) else mode
        offset = self.offset(plate)
        at = None if offset is None else offset.load
        found = [*self._limit(mode, member, self.offset_place(plate), by.OFFSET_LOAD, load=at)]
        damage = self.damage(plate)
        for cause, values in (
            (by.TORN_INSIDE, damage.max(axis=1)),
            (by.TORN_THROUGH, self.over_thickness(plate, damage)),
        ):
            found += self._exhausted(values, part.material, tear, member, cause)
        top = self.own_top(plate)
        if top is not None:
            band = self.own_top_band(plate, top)
            found += self._limit(tear, member, top, by.OWN_TOP, band)
        return found

    def _exhausted(
        self, damage: Floats, metal: Material, mode: str, member: str, cause: str
    ) -> Iterator[LimitLoad]:
        """Give the place where a damage (n_points,) reaches 1, with the fracture strain's band."""
        place = self.place(damage, by.EXHAUSTED)
        if place is None:
            return
        low, high = (
            self.place(damage, by.EXHAUSTED * x / metal.fracture_strain)
            for x in metal.fracture_band
        )
        load = self.load_at(place)
        band = (
            load if low is None else min(self.load_at(low), load),
            np.inf if high is None else max(self.load_at(high), load),
        )
        yield from self._limit(mode, member, place, cause, band)

    def _pin_limits(self) -> Iterator[LimitLoad]:
        for mode, place, cause in (
            ("pin bending", self.hinge_place, by.HINGE),
            ("pin bending", self.bend_limit_place, by.BEND_LEFT),
            ("pin shear", self.shear_place, by.SHEARED),
        ):
            yield from self._limit(mode, "pin", place, cause)
        for limit in self._exhausted(
            self.history.damage, self.joint.pin.material, "pin break", "pin", by.BROKEN
        ):
            yield pin_damage_band(self, limit)

    def _at_highest_pull(self) -> Iterator[LimitLoad]:
        """Give the joint's highest pull to the member that takes the plastic work there."""
        if self.top is None:
            return
        rates = self.plastic_rates(self.top)
        pin, plates = rates[0], rates[1:]
        ears, shank = plates[self.ears].sum(), plates[1]
        if max(pin, ears, shank) <= 0.0:
            return
        mode, member = "shank hole", "shank"
        if ears >= max(pin, shank):
            weak = self.ears[int(np.argmax(plates[self.ears]))]
            mode, member = tear_mode(self.torn(weak)), self.member(weak)
        elif pin >= shank:
            mp, vp = self.plastic_section
            sheared = self.history.shear[self.top] / vp > self.history.moment[self.top] / mp
            mode, member = "pin shear" if sheared else "pin bending", "pin"
        yield from self._limit(mode, member, float(self.top), by.HIGHEST_PULL)

    def events(self) -> list[Event]:
        """Return the events of the contract, reached or with the reason why not."""
        why = by.end_words(self.stop)
        of_pin = "the pin is rigid" if self.joint.pin.rigid else why
        ears = self.different_ears
        set_at = {
            k: self.place(self.kept_elongation(k), by.SET_SHARE * self.members[k].part.hole)
            for k in ears
        }
        plates = [*ears, 1]
        damage = {self.member(k): self.damage(k).max(axis=1) for k in plates}
        damage["pin"] = self.history.damage
        worst = max(damage, key=lambda name: float(damage[name].max()))
        used = f"{figures(100 * float(damage[worst].max()))} % of the stretch used, {worst}"
        pin_yield = self.history.first_yield
        found = {
            "first yield ear": (self._earliest((k, self.yield_place(k)) for k in ears), why),
            "first yield pin": (
                _NOWHERE if pin_yield is None
                else (self.place(self.history.load, pin_yield), "pin"), of_pin,
            ),
            "offset load": (self._earliest((k, self.offset_place(k)) for k in ears), why),
            "permanent set 2 %": (self._earliest(set_at.items()), why),
            "load maximum": (
                _NOWHERE if self.top is None else (float(self.top), ""),
                f"the load still rose; {why}",
            ),
            "ductility exhausted": (
                _first((self.place(d, by.EXHAUSTED), name) for name, d in damage.items()),
                f"at most {used}; {why}",
            ),
            "pin hinge": ((self.hinge_place, "pin"), of_pin),
            "pin shear": ((self.shear_place, "pin"), of_pin),
        }  # fmt: skip
        return [self._event(name, *at, reason) for name, (at, reason) in found.items()]

    def _earliest(self, places: Iterable[tuple[int, float | None]]) -> tuple[float | None, str]:
        return _first((place, self.member(k)) for k, place in places)

    def _event(self, name: str, place: float | None, member: str, reason: str) -> Event:
        if place is None:
            return Event(name, None, reason=reason)
        ear = next((k for k in self.different_ears if self.member(k) == member), self.weaker_ear)
        load = self.load_at(place)
        known = {
            "first yield pin": self.history.first_yield,
            "offset load": o.load if (o := self.offset(ear)) is not None else None,
        }.get(name)
        load = load if known is None else known
        return Event(
            name,
            load,
            load_curve.at_index(self.history.extension, place),
            load_curve.at_index(self.elongation(ear), place),
            member=member,
            band=yield_band(self, name, ear, load),
        )

    def ductility(self) -> tuple[dict[str, Any], ...]:
        """Return where each plate's ductility is used up most, and how much by the pull's end."""
        return tuple(
            {
                "plate": self.member(k),
                "used": float(self.damage(k)[-1].max()),
                "mode": "shank hole" if k == 1 else tear_mode(self.torn(k)),
                "at_mm": [float(x) for x in self.torn(k).torn_at],
            }
            for k in (self.different_ears[0], 1, *self.different_ears[1:])
            if self.members[k].history.ductility is not None
        )

    def bears_evenly(self, limit: LimitLoad) -> bool:
        """Whether a plate bears evenly through its thickness at a limit of its."""
        plate = 1 if limit.part == "shank" else self._ear_of(limit.member)
        place = self.place(self.history.load, limit.load)
        if plate is None or place is None:
            return False
        return self._crowding(plate, place) < by.CROWDED

    def _crowding(self, plate: int, index: float) -> float:
        """Return the largest bearing along a plate over the mean, at the nearest point."""
        point = self.history.path.points[round(index)]
        line = np.abs(self.history.problem.slice_forces(point, plate)) / self._lengths(plate)
        return float(line.max() / max(line.mean(), 1e-300))

    def pin(self, at_load: float) -> dict[str, Any]:
        """Return what became of the pin, with its kept bend after a pull to a load (N)."""
        if self.joint.pin.rigid:
            return {"rigid": True}
        index = load_curve.first_reach(self.history.load, at_load)
        index = len(self.history.load) - 1.0 if index is None else index
        bend = self.kept_bend(index)
        ear = self.weaker_ear
        broke = self.place(self.history.damage, by.EXHAUSTED)
        return {
            "permanent_bend_mm": None if bend is None else bend[0],
            "permanent_bend_deg": None if bend is None else bend[1],
            "permanent_bend_after_N": load_curve.at_index(self.history.load, index),
            "bend_limit_mm": self.bend_limit,
            "bend_limit_load_N": self.bend_limit_load,
            "flattens": self.flattens,
            "hinge_load_N": self.hinge_load,
            "shear_load_N": self.shear_load,
            "bending_and_shear_load_N": self.interaction_load,
            "first_yield_load_N": self.history.first_yield,
            "break_load_N": None if broke is None else self.load_at(broke),
            "ear_shares_N": [
                load_curve.at_index(self.history.shares[:, k], index) for k in self.ears
            ],
            "bearing_peak_over_mean": self._crowding(ear, index),
            "inner_face_elongation_mm": load_curve.at_index(self.worst_elongation(ear), index),
        }


def _first(found: Iterable[tuple[float | None, str]]) -> tuple[float | None, str]:
    """Return the earliest place and its member; no place where none was reached."""
    reached = [(place, name) for place, name in found if place is not None]
    return min(reached, key=lambda x: x[0]) if reached else _NOWHERE


_SAME = ((by.TORN_INSIDE, by.TORN_THROUGH), (by.OWN_TOP, by.HIGHEST_PULL))
"""Pairs of causes of which the second alone is told where their loads agree."""


def without_doubles(limits: Sequence[LimitLoad]) -> list[LimitLoad]:
    """Leave out limits that say of the same member, at the same pull, what another says better.

    What is met before the highest pull is not told by what is met behind it.
    """

    def told_by_another(x: LimitLoad) -> bool:
        better = dict(_SAME).get(x.cause)
        return any(
            y.cause == better
            and y.member == x.member
            and abs(y.load - x.load) <= by.TIE * y.load
            and not (y.past_top and not x.past_top)
            for y in limits
        )

    return [x for x in limits if not told_by_another(x)]
