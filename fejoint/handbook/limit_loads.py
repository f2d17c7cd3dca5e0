"""What a designer would work out by hand: closed-form limits of a pinned joint, with sources.

`limits` lists them for a joint, as pulls on the whole joint and without partial or resistance
factors, so that each can stand beside the computed value. The two codes' formulas are in
`design_codes`, the sections of a round pin in `textbook.beams`, its statics here.

Two ears are taken to carry half the pull each (as the codes do), so a limit of one is twice its
own; beside a computed limit it stands by the share that the ear bears there
(`analysis.verdict.beside_handbook`). All of it is for a straight pull, and a row says so at another
angle, but for the strip that a sideways pull bends at its grip; `oblique_load` combines two
directions.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from fejoint.handbook import design_codes as codes
from fejoint.handbook import thin_plates
from fejoint.handbook.beams import (
    full_plastic_moment,
    full_plastic_shear,
    round_area,
    round_section_modulus,
)
from fejoint.handbook.strip_bending import strip_hinge_load, strip_use

if TYPE_CHECKING:
    from fejoint.joint.model import Joint
    from fejoint.joint.parts import Ear, Shank

Mode = Literal[
    "hole elongation", "end tear-out", "net section", "end dishes", "ear bending", "strip yield",
    "pin bending", "pin shear", "pin break", "shank hole",
]  # fmt: skip
Part = Literal["ear", "pin", "shank"]

EN = "EN 1993-1-8:2005"
AISC = "ANSI/AISC 360-10"
PLASTIC = "full plastic section of a round bar, textbook (re-derived)"
OWN_STATICS = "own statics, no published source"
EN_TABLE_TEXT = "read in the standard's table text"


@dataclass(frozen=True)
class HandbookLimit:
    """One closed-form limit of a joint.

    Attributes
    ----------
    mode : str
        What gives: "hole elongation", "end tear-out", "net section", "end dishes", "ear bending",
        "strip yield", "pin bending", "pin shear", "pin break" or "shank hole".
    part : str
        "ear", "pin" or "shank".
    load : float
        Pull on the whole joint at the limit, N; characteristic (no partial or resistance factor).
    source : str
        Author or standard, year, table or equation.
    formula : str
        The formula in symbols.
    status : str
        How far the formula was confirmed, e.g. "from memory".
    counted : str
        Quantity that it gives: "bearing yield", "breaking", "strip hinge", "pin hinge", "shear
        yield", "shear breaking"; "rule" for one that chooses dimensions and is no strength.
    member : str
        "ear 1", "ear 2", "both ears" (equal ones), "ear" (the only one), "pin" or "shank".
    outside : str
        Which of the rule's bounds the joint leaves; "" within them.
    ears : int
        Ears that the load is taken to be shared by, evenly.
    """

    mode: Mode
    part: Part
    load: float
    source: str
    formula: str
    status: str
    counted: str = ""
    member: str = ""
    outside: str = ""
    ears: int = 1


def double_shear_moment(load: float, middle: float, gap: float, outer: float) -> float:
    """Return the largest moment of a pin in double shear, F/8 (b + 4c + 2a), N mm.

    Arguments as in `codes.en_pin_moment`: F through the joint (N), thickness b of the
    shank, side gap c, thickness a of an ear (mm). Unequal ears: take the pair that gives more.
    """
    return codes.en_pin_moment(load, middle, gap, outer)


def single_shear_moment(load: float, ear: float, gap: float, shank: float) -> float:
    """Return the moment of a pin between one ear and the shank, both guided, N mm.

    Parameters
    ----------
    load : float
        Force F through the joint, N.
    ear, gap, shank : float
        Thicknesses and the side gap between them, mm.

    Notes
    -----
    F acts at the middle of each plate, (a/2 + c + b/2) apart; both plates are guided, so the
    couple is shared by equal and opposite moments F (a/2 + c + b/2) / 2. Status: own statics, no
    published source.
    """
    return load * (ear / 2.0 + gap + shank / 2.0) / 2.0


def load_at_unit_use(moment_use: float, shear_use: float) -> float:
    """Return the load F at which (F m)^2 + (F v)^2 = 1, N.

    Parameters
    ----------
    moment_use, shear_use : float
        m = MEd/MRd and v = Fv,Ed/Fv,Rd under 1 N, 1/N.

    Notes
    -----
    Source: the last row of EN 1993-1-8:2005 Table 3.10 solved for the force.
    """
    return 1.0 / math.hypot(moment_use, shear_use)


def bearing_thickness(ear: Ear) -> float:
    """Return the thickness that a pin bears on in a flared hole by the usual rule, mm.

    Notes
    -----
    The thickness less half the depth of the countersink, as AISC's specifications have it for
    countersunk bolts and rivets. Status: from memory; the clause was not read. Metal beside and
    behind the hole is counted whole.
    """
    return ear.thickness - 0.5 * ear.flare_depth


def oblique_load(axial: float, transverse: float, angle: float, exponent: float = 1.6) -> float:
    """Return the oblique load an ear carries from its straight and its sideways strength, N.

    Parameters
    ----------
    axial, transverse : float
        Strength for a straight pull (0 degrees) and a sideways one (90 degrees), N, positive.
    angle : float
        Angle between the pull and the ear's axis, degrees, -90 to 90.
    exponent : float
        n in (P cos / axial)^n + (P sin / transverse)^n = 1; the source has 1.6.

    Raises
    ------
    ValueError
        If the angle lies beyond 90 degrees: the source gives no back-thrust.

    Notes
    -----
    Source: Melcon and Hoblit, "Developments in the analysis of lugs and shear pins", Product
    Engineering, June 1953 (aircraft lugs, n = 1.6). Status: from memory; the original was not
    read.
    """
    if abs(angle) > 90.0:
        msg = f"angle = {angle:g} deg: the interaction holds from -90 to 90 degrees"
        raise ValueError(msg)
    along = math.cos(math.radians(angle)) / axial
    across = abs(math.sin(math.radians(angle))) / transverse
    return float((along**exponent + across**exponent) ** (-1.0 / exponent))


def limits(joint: Joint) -> tuple[HandbookLimit, ...]:
    """List the closed-form limits of a joint.

    Parameters
    ----------
    joint : Joint

    Returns
    -------
    tuple of HandbookLimit
        Ear, pin, then shank; a rigid pin has no limits of its own, and a geometry rule that the
        joint does not meet at all (no load satisfies it) is left out. Within a mode the strength
        formula made for it comes first; EN 1993-1-8 Table 3.9, a rule for choosing dimensions
        and no strength, comes last.
    """
    every = (*_ear_limits(joint), *_pin_limits(joint), *_shank_limits(joint))
    return tuple(one for one in every if one.load > 0.0)


def headline(
    found: tuple[HandbookLimit, ...], mode: str, part: str, counted: str, member: str = ""
) -> HandbookLimit | None:
    """Return the limit to set beside a computed value of the same quantity, or None.

    The first of its mode, part and quantity within its bounds, else the first beyond them; of
    equal ears that a joint loads unequally both have the same.
    """
    fits = [
        one
        for one in found
        if (one.mode, one.part, one.counted) == (mode, part, counted)
        and member in (one.member, "", part)
    ] or [
        one
        for one in found
        if (one.mode, one.part, one.counted) == (mode, part, counted) and one.member == BOTH
    ]
    within = [one for one in fits if not one.outside]
    return next(iter([*within, *fits]), None)


BOTH = "both ears"
"""The member that two equal ears are."""


def _bearing_yield(part: Ear | Shank, joint: Joint) -> float:
    own = part.material.rp02
    return own if joint.pin.rigid else min(own, joint.pin.material.rp02)


def _ear_limits(joint: Joint) -> Iterator[HandbookLimit]:
    count, ears = len(joint.ears), joint.ears
    if count == 1 or ears[0] == ears[1]:
        yield from _one_ear(joint, ears[0], "ear" if count == 1 else BOTH)
        return
    for k, ear in enumerate(ears):
        yield from _one_ear(joint, ear, f"ear {k + 1}")


def _one_ear(joint: Joint, ear: Ear, member: str) -> Iterator[HandbookLimit]:
    pin, count, angle = joint.pin.diameter, len(joint.ears), joint.pull.angle
    t, metal = ear.thickness, ear.material
    end = ear.edge_distance - ear.hole_slot - ear.hole / 2.0
    side = (ear.width - ear.hole) / 2.0 - abs(ear.hole_offset)
    bearing, thick = bearing_thickness(ear), "(t - flare/2)" if ear.flare_depth > 0.0 else "t"
    spec = "read in the specification's text"
    turned = "" if angle % 180.0 == 0.0 else f"made for a straight pull, not {angle:g} deg"
    if abs(angle) == 180.0:
        turned = "made for a pull, not a push"
    rule_end = codes.en_load_of_end(t, ear.hole, end, metal.rp02)
    rule_side = codes.en_load_of_side(t, ear.hole, side, metal.rp02)
    effective = min(codes.aisc_effective_width(t, side), side)
    stubby = "" if end >= 4.0 / 3.0 * effective else "the end is shorter than AISC D5.2 asks"

    def row(
        mode: Mode, load: float, source: str, formula: str, status: str, counted: str,
        outside: str = "",
    ) -> HandbookLimit:  # fmt: skip
        return HandbookLimit(
            mode, "ear", count * load, source, formula, status, counted, member, turned or outside,
            count,
        )  # fmt: skip

    def bears(load: float) -> str:
        """Say where the plate is too short or too narrow beside the hole for a bearing rule."""
        if load > rule_end:
            return "the end is shorter than EN Table 3.9 asks"
        return "the ear is narrower than EN Table 3.9 asks" if load > rule_side else ""

    en = codes.en_bearing(bearing, pin, _bearing_yield(ear, joint))
    yield row("hole elongation", en, f"{EN} Table 3.10", f"1.5 {thick} d fy", EN_TABLE_TEXT,
              "bearing yield", bears(en))  # fmt: skip
    aisc = codes.aisc_bearing(bearing, pin, _bearing_yield(ear, joint))
    yield row("hole elongation", aisc, f"{AISC} D5.1(c), eq. (J7-1)", f"1.8 Fy d {thick}", spec,
              "bearing yield", bears(aisc))  # fmt: skip
    yield row("end tear-out", codes.aisc_end_shear(t, end, pin, metal.rm), f"{AISC} eq. (D5-2)",
              "0.6 Fu 2 t (a + d/2)", spec, "breaking")  # fmt: skip
    yield row("end tear-out", 1.5 * end * t * metal.rm, f"{AISC} eq. (J3-6b), bolt holes",
              "1.5 lc t Fu", "from memory", "breaking")  # fmt: skip
    yield row("end tear-out", rule_end, f"{EN} Table 3.9", "2 t fy (a - 2 d0/3)",
              "read in two secondary texts", "rule")  # fmt: skip
    yield row("net section", codes.aisc_net_tension(t, side, metal.rm), f"{AISC} eq. (D5-1)",
              "2 t min(2 t + 16 mm, b) Fu", spec, "breaking", stubby)  # fmt: skip
    yield row("net section", (ear.width - ear.hole) * t * metal.rm, "textbook net section",
              "(W - D) t Rm", "common practice, no source", "breaking",
              "the hole lies off the axis" if ear.hole_offset != 0.0 else "")  # fmt: skip
    yield row("strip yield", codes.aisc_gross_yield(ear.strip_width, t, metal.rp02),
              f"{AISC} D5.1(d)", "Fy W t (the whole section yields)", spec,
              "gross yield")  # fmt: skip
    yield row("net section", rule_side, f"{EN} Table 3.9", "2 t fy (c - d0/3)",
              "read in a secondary text", "rule")  # fmt: skip
    place: thin_plates.Place = "outside bare"
    if joint.pin.head is not None:
        place = "outside with washers"
    factor = thin_plates.SHEET_FACTORS[place] * thin_plates.sheet_factor(pin / t)
    yield row("end dishes", thin_plates.sheet_bearing(place, pin, t, metal.rm),
              f"AS/NZS 4600 5.3.4.2 and AISI S100, bolted sheet, {place}", f"{factor:.3g} d t fu",
              "read in two transcriptions that agree", "thin sheet",
              "" if t <= thin_plates.THICKEST_SHEET else "thicker than a sheet")  # fmt: skip
    yield row("net section",
              thin_plates.pin_plate_tension(side, ear.hole, t, metal.rp02, metal.rm),
              "ASME BTH-1, net tension, at most 4 t beside the hole",
              "Fu 2 t min(be, 4 t, 0.6 (Fu/Fy) sqrt(Dh/be) be)",
              "read; the root from memory", "breaking")  # fmt: skip
    yield row("net section",
              (thin_plates.eyebar_width(ear.width, t) - ear.hole) * t * metal.rm,
              "AISC, older editions, eyebars: at most 8 t of the width", "(min(W, 8 t) - D) t Fu",
              "read", "breaking")  # fmt: skip
    if strip_use(ear, 1.0, angle)[0] > 0.0:
        yield HandbookLimit(
            "ear bending", "ear", count * strip_hinge_load(ear, angle),
            "full plastic section of a rectangle, textbook",
            "M/Mp + (N/Np)^2 = 1, M = P (L sin a - o cos a), N = P cos a", "re-derived",
            "strip hinge", member, ears=count,
        )  # fmt: skip


def _pin_limits(joint: Joint) -> Iterator[HandbookLimit]:
    pin = joint.pin
    if pin.rigid:
        return
    d, fyp, fup = pin.diameter, pin.material.rp02, pin.material.rm
    planes = len(joint.ears)
    middle = joint.shank.thickness
    sides = list(zip(joint.ears, joint.gaps, strict=True))
    alike = all(side == sides[0] for side in sides) and (planes == 1 or pin.ends != "held")
    uneven = "" if alike else "made for two ears that share the pull evenly"
    if planes == 2:
        arm = max(double_shear_moment(1.0, middle, gap, ear.thickness) for ear, gap in sides)
        statics, note = f"{EN} Figure 3.11", "M = F/8 (b + 4c + 2a)"
    else:
        arm = max(single_shear_moment(1.0, ear.thickness, gap, middle) for ear, gap in sides)
        statics, note = OWN_STATICS, "guided single shear, M = F (a/2 + c + b/2) / 2"
    plane = codes.en_pin_shear(round_area(d), fup)
    bending = codes.en_pin_bending(round_section_modulus(d), fyp)
    en_bending = f"{EN} Table 3.10; moment: {statics}"

    def row(
        mode: Mode, load: float, source: str, formula: str, status: str, counted: str
    ) -> HandbookLimit:
        return HandbookLimit(
            mode, "pin", load, source, formula, status, counted, outside=uneven
        )  # fmt: skip

    yield row("pin bending", bending / arm, en_bending, f"1.5 Wel fyp with {note}", EN_TABLE_TEXT,
              "code bending")  # fmt: skip
    yield row("pin bending", load_at_unit_use(arm / bending, 1.0 / (planes * plane)), en_bending,
              f"(M/MRd)^2 + (Fv/Fv,Rd)^2 = 1 with {note}", EN_TABLE_TEXT,
              "code bending")  # fmt: skip
    yield row("pin bending", full_plastic_moment(d, fyp) / arm, f"{PLASTIC}; moment: {statics}",
              f"sigma_y d^3/6 with {note}", "re-derived", "pin hinge")  # fmt: skip
    yield row("pin shear", planes * plane, f"{EN} Table 3.10", f"{planes} x 0.6 A fup",
              EN_TABLE_TEXT, "shear breaking")  # fmt: skip
    yield row("pin shear", planes * full_plastic_shear(d, fyp), PLASTIC,
              f"{planes} x A sigma_y / sqrt(3)", "re-derived", "shear yield")  # fmt: skip
    yield row("pin break", full_plastic_moment(d, fup) / arm,
              f"{PLASTIC} at the tensile strength; moment: {statics}", f"Rm d^3/6 with {note}",
              "common practice, no source", "breaking")  # fmt: skip


def _shank_limits(joint: Joint) -> Iterator[HandbookLimit]:
    shank, d = joint.shank, joint.pin.diameter
    bearing = codes.en_bearing(shank.thickness, d, _bearing_yield(shank, joint))
    clear_end = shank.edge_distance - shank.hole / 2.0
    rule_end = codes.en_load_of_end(shank.thickness, shank.hole, clear_end, shank.material.rp02)
    yield HandbookLimit(
        "shank hole",
        "shank",
        bearing,
        f"{EN} Table 3.10",
        "1.5 t d fy",
        EN_TABLE_TEXT,
        "bearing yield",
        "shank",
        "the end is shorter than EN Table 3.9 asks" if bearing > rule_end else "",
    )
    yield HandbookLimit(
        "shank hole",
        "shank",
        codes.aisc_end_shear(shank.thickness, clear_end, d, shank.material.rm),
        f"{AISC} eq. (D5-2)",
        "0.6 Fu 2 t (a + d/2)",
        "read in the specification's text",
        "breaking",
        "shank",
    )
