"""An ear's limit of mode "end dishes", by rule: no solve, some microseconds."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from fejoint.handbook.dishing import (
    BAND,
    GUIDING_GAP,
    OBLIQUE_SLENDER,
    RANGE,
    REACH_HOLES,
    SOURCE,
    ThinEnd,
    dishing_load,
    is_guided,
)
from fejoint.inputs.units import both_units
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear

HEAD, GAP = "head radius/D", "gap/t"
"""Ratios of the supports."""


@dataclass(frozen=True)
class Supports:
    """What stands beside an ear.

    Attributes
    ----------
    beside_shank : bool
        The shank's face lies along one side.
    head_radius : float or None
        Of the head or washer on the other, from the pin's axis, mm; None for a bare side.
    gap : float
        Between the ear and either of them, mm.
    """

    beside_shank: bool = True
    head_radius: float | None = None
    gap: float = 0.0


def supports_of(joint: Joint, ear: int) -> Supports:
    """Return what stands beside a joint's ear: the shank, and the pin's head if it is said.

    A head is taken to lie as far from the ear as the shank does. One whose diameter is not said is
    counted as none, which is on the safe side.
    """
    radius = None if joint.pin.head is None else 0.5 * joint.pin.head
    return Supports(True, radius, joint.gaps[ear])


@dataclass(frozen=True)
class DishingLimit:
    """The load at which an end dishes.

    Attributes
    ----------
    load : float
        On the ear, N; inf where supports keep the end in its plane.
    band : (float, float)
        Loads between which it lies, by the rule's error and for an end out of straight by up to
        0.1 t; the load is that for 0.01 t.
    source : str
    outside : tuple of str
        Ratios beyond those that the rule was read from: the solid section computes what it cannot.
        A head too small to guide the end, or a gap too wide, is among them; the load then errs on
        the safe side.
    ratios : mapping
        The ear's, by name.
    guided : bool
        Whether supports keep the end in its plane.
    """

    load: float
    band: tuple[float, float]
    source: str
    outside: tuple[str, ...]
    ratios: Mapping[str, float]
    guided: bool


def cautions(name: str, limit: DishingLimit, borne: float, *, head_said: bool) -> Iterator[str]:
    """Say what an answer's curve and rows leave out of an ear whose end may dish.

    Parameters
    ----------
    name : str
        Of the ear.
    limit : DishingLimit
    borne : float
        Largest load that the pull put on it, N.
    head_said : bool
        Whether the case says how far a head reaches.
    """
    if borne < limit.band[0]:
        slender, angle = limit.ratios["D/t"], limit.ratios["angle"]
        if "angle" in limit.outside and slender > OBLIQUE_SLENDER and not limit.guided:
            yield (
                f"{name}: pulled at {angle:g} degrees an ear with a hole of {slender:.1f} "
                "thicknesses may leave its plane below the loads that are told; `fejoint solid` "
                "computes it"
            )
        return
    load, low = both_units(limit.load), both_units(limit.band[0])
    if borne < limit.load:
        yield (
            f"{name}: the end may dish at {load} on it, by a rule, or from {low} on; the pull put "
            "less on it than the first, so that no row says so; `fejoint solid` computes it"
        )
    else:
        yield (
            f"{name}: the end dishes at {load} on it, by a rule for an end out of straight by 1 % "
            f"of its thickness, and from {low} on where it is bent by 10 %; what is told beyond "
            "that is of an ear kept in its plane; `fejoint solid` computes it"
        )
    for ratio in limit.outside:
        if ratio in RANGE:
            least, most = RANGE[ratio]
            yield (
                f"{name}: {ratio} {limit.ratios[ratio]:.3g} lies outside what the rule for dishing "
                f"ends was read from ({least:g} to {most:g}): its load is a guess"
            )
        else:
            why = (
                f"the head is too small ({REACH_HOLES:g} holes in radius is enough)"
                if ratio == HEAD
                else f"the gap of {limit.ratios[GAP]:.2g} thicknesses beside it is too wide "
                f"({GUIDING_GAP:g} is close enough)"
            )
            yield (
                f"{name}: {why} to be sure that the end is kept in its plane, and the head is "
                "counted as none, which is on the safe side"
            )
    if not head_said:
        yield (
            f"{name}: in the rule for dishing ends no head or washer lies on its outer face; where "
            "there is one, say how far it reaches (pin.head)"
        )


def dishing_limit(ear: Ear, supports: Supports | None = None, angle: float = 0.0) -> DishingLimit:
    """Return the load at which an ear's end dishes.

    The ear's greatest load is the lower of this and of its load in the plane.

    Parameters
    ----------
    ear : Ear
    supports : Supports, optional
        The shank's face on one side and nothing on the other without it.
    angle : float
        Of the pull, degrees; beyond 90 there is no end before the pin.
    """
    supports = supports or Supports()
    metal = ear.material
    end = ThinEnd(
        ear.hole, ear.thickness, ear.edge_distance, ear.width, metal.modulus, metal.rp02, metal.rm,
        ear.flare_depth, ear.hole_slot, ear.hole_offset, angle,
    )  # fmt: skip
    radius, gap = supports.head_radius, supports.gap
    guided = is_guided(end, beside_shank=supports.beside_shank, head_radius=radius, gap=gap)
    load = math.inf if guided or abs(angle) > 90.0 else dishing_load(end)
    ratios, outside = {**end.ratios, GAP: gap / ear.thickness}, list(end.outside)
    if supports.beside_shank and radius is not None and not guided:
        reaches = is_guided(end, beside_shank=True, head_radius=radius)
        outside.append(GAP if reaches else HEAD)
    return DishingLimit(
        load, (BAND[0] * load, BAND[1] * load), SOURCE, tuple(outside), ratios, guided
    )
