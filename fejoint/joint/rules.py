"""What a joint's dimensions may be: the range of each, and how they must fit together.

A dimension that could not be read is nan and no comparison finds it at fault.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from fejoint.errors import Fault
from fejoint.inputs.fields import Field
from fejoint.inputs.units import show_short
from fejoint.joint.parts import Ear, Pin, Pull, Shank
from fejoint.joint.schema import EAR, FIT, LEG, LEGS, PIN, PULL, SHANK

LEAST_METAL = 0.1
"""Least metal beside or behind a hole, as a fraction of the hole's diameter."""

LOOSEST_FIT = 2.0
"""Largest hole, in pin diameters."""


def relations(
    ears: Sequence[Ear], pin: Pin, shank: Shank, gaps: Sequence[float]
) -> Iterator[Fault]:
    """Find how the parts do not fit together; nan dimensions are passed over."""
    for number, ear in enumerate(ears, start=1):
        name = (
            "ear"
            if all(other is ears[0] or other == ears[0] for other in ears)
            else f"ear.{number}"
        )
        if name == "ear" and number > 1:
            break
        yield from _hole_faults(name, ear.hole, pin.diameter)
        if ear.outline is None:
            yield from _plate_faults(name, ear.width, ear.edge_distance, ear.hole)
            yield from _end_faults(name, ear.end, ear.clip, ear.width, ear.edge_distance, ear.hole)
        yield from _shape_faults(name, ear)
        if ear.grip_length < ear.width:
            yield _fault(
                f"{name}.grip_length",
                ear.grip_length,
                f"must be at least the ear's width {show_short(ear.width, 'length')}",
                "take the grip further from the hole: the pull must spread over the width",
            )
    yield from _head_faults(ears, pin)
    yield from _hole_faults("shank", shank.hole, pin.diameter)
    if shank.outline is None:
        yield from _plate_faults("shank", shank.width, shank.edge_distance, shank.hole)
        yield from _end_faults(
            "shank", shank.end, shank.clip, shank.width, shank.edge_distance, shank.hole
        )
    if shank.length < shank.width:
        yield _fault(
            "shank.length",
            shank.length,
            f"must be at least the shank's width {show_short(shank.width, 'length')}",
            "make it longer: the pull must spread over the width",
        )
    if len(gaps) != len(ears):
        yield Fault(
            "fit.gap",
            ", ".join(show_short(gap, "length") for gap in gaps),
            f"must be one gap, or one for each of the {len(ears)} ears",
            "give one number for all",
        )


def ranges(
    ears: Sequence[Ear], pin: Pin, shank: Shank, gaps: Sequence[float], friction: float
) -> Iterator[Fault]:
    """Find the numbers of a joint that lie outside their range or are not finite."""
    for number, ear in enumerate(ears, start=1):
        yield from _range_faults(f"ear.{number}", ear, EAR)
    yield from _range_faults("pin", pin, PIN)
    yield from _range_faults("shank", shank, SHANK)
    for gap in gaps:
        yield from _number_faults("fit.gap", gap, FIT["gap"])
    yield from _number_faults("fit.friction", friction, FIT["friction"])


def pull_faults(pull: Pull) -> Iterator[Fault]:
    """Find what is wrong with the pull."""
    yield from _range_faults("pull", pull, PULL)
    for number, leg in enumerate(pull.legs, start=1):
        where = f"pull.leg.{number}"
        if leg.kind not in LEGS:
            yield Fault(where, str(leg.kind), f"must be one of {', '.join(LEGS)}", "change it")
        elif leg.kind != "release":
            yield from _number_faults(f"{where}.{leg.kind}", leg.target, LEG[leg.kind])


def _range_faults(name: str, part: object, fields: dict[str, Field]) -> Iterator[Fault]:
    drawn = getattr(part, "outline", None) is not None
    for key, field in fields.items():
        if drawn and key == "hole_offset":  # to either side
            continue
        value = getattr(part, key, None)
        if field.kind == "choice" and value not in field.choices:
            words = ", ".join(field.choices)
            yield Fault(f"{name}.{key}", str(value), f"must be one of {words}", "change it")
        elif isinstance(value, (int, float)) and field.kind in {"length", "angle", "force"}:
            yield from _number_faults(f"{name}.{key}", value, field)


def _number_faults(where: str, value: float, field: Field) -> Iterator[Fault]:
    if not (math.isfinite(value) and field.low <= value <= field.high):
        allowed = f"must lie from {field.low:g} to {field.high:g}"
        yield Fault(where, f"{value:g}", allowed, "give a number in mm, N or degrees in this range")


def _hole_faults(name: str, hole: float, diameter: float) -> Iterator[Fault]:
    if hole < diameter:
        yield _fault(
            f"{name}.hole",
            hole,
            f"must be at least the pin's diameter {show_short(diameter, 'length')}",
            "make the hole larger or the pin thinner",
        )
    elif hole > LOOSEST_FIT * diameter:
        most = show_short(LOOSEST_FIT * diameter, "length")
        yield _fault(
            f"{name}.hole",
            hole,
            f"must be at most {LOOSEST_FIT:g} pin diameters, {most}",
            "make the hole smaller or the pin thicker",
        )


def _head_faults(ears: Sequence[Ear], pin: Pin) -> Iterator[Fault]:
    if pin.head is None:
        return
    hole = max(ear.hole for ear in ears)
    if pin.ends != "headed":
        mend = 'write ends = "headed", or take the head out'
        yield _fault("pin.head", pin.head, f"belongs to a headed pin, and its ends are {pin.ends}",
                     mend)  # fmt: skip
    if pin.head <= hole:
        yield _fault(
            "pin.head",
            pin.head,
            f"must be above the ears' hole {show_short(hole, 'length')}, or it slips through",
            "give the diameter of the head or of the washer under it",
        )


def _plate_faults(name: str, width: float, edge_distance: float, hole: float) -> Iterator[Fault]:
    least_width = (1.0 + 2.0 * LEAST_METAL) * hole
    if width < least_width:
        yield _fault(
            f"{name}.width",
            width,
            f"must be at least {show_short(least_width, 'length')} to leave metal beside the hole "
            f"of {show_short(hole, 'length')}",
            "make it wider or the hole smaller",
        )
    least_edge = (0.5 + LEAST_METAL) * hole
    if edge_distance < least_edge:
        yield _fault(
            f"{name}.edge_distance",
            edge_distance,
            f"must be at least {show_short(least_edge, 'length')}, from the hole's centre, to "
            f"leave metal behind the hole of {show_short(hole, 'length')}",
            "move the hole away from the end or make it smaller",
        )


def _shape_faults(name: str, ear: Ear) -> Iterator[Fault]:
    """Find a slot, an offset or a flare that leaves too little metal."""
    half, least = 0.5 * ear.width, (0.5 + LEAST_METAL) * ear.hole
    least_metal = f"of {LEAST_METAL:g} hole diameters beside and behind the hole"
    if ear.outline is None and (ear.hole_slot > 0.0 or ear.hole_offset > 0.0):
        ahead = ear.edge_distance - ear.hole_slot
        if ear.end == "round" and ahead < half:
            ahead = half - math.hypot(half - ahead, ear.hole_offset)
        elif ear.end == "clipped":
            ahead = min(ahead, (ahead + half - ear.hole_offset - ear.clip) / math.sqrt(2.0))
        for key, metal in (("hole_slot", ahead), ("hole_offset", half - ear.hole_offset)):
            if metal < least:
                worst = key if getattr(ear, key) > 0.0 else "hole_offset"
                yield _fault(
                    f"{name}.{worst}",
                    getattr(ear, worst),
                    f"must leave metal {least_metal}",
                    "make it less, or the ear wider or longer",
                )
                break
    if ear.flare_depth > 0.8 * ear.thickness:
        most = show_short(0.8 * ear.thickness, "length")
        yield _fault(
            f"{name}.flare_depth",
            ear.flare_depth,
            f"must be at most {most}, to leave the pin a land of a fifth of the thickness",
            "make the flare shallower",
        )


def _end_faults(
    name: str, end: str | None, clip: float, width: float, edge_distance: float, hole: float
) -> Iterator[Fault]:
    if end in {"round", "square"} and clip > 0.0:
        yield _fault(
            f"{name}.clip",
            clip,
            f'belongs to end = "clipped" only, and the end is {end}',
            'take it out or write end = "clipped"',
        )
    if end != "clipped":
        return
    if clip <= 0.0:
        yield Fault(
            f"{name}.clip",
            "",
            'is missing: end = "clipped" needs the leg of its 45 degree cut',
            'write for example clip = "3 mm"',
        )
        return
    # The cut runs at 45 degrees: its distance from the hole's centre is (e + W/2 - clip)/sqrt(2).
    behind = edge_distance + 0.5 * width - (0.5 + LEAST_METAL) * hole * math.sqrt(2.0)
    most = min(0.45 * width, behind)
    if clip > most:
        yield _fault(
            f"{name}.clip",
            clip,
            f"must be at most {show_short(max(most, 0.0), 'length')} to leave an end and metal "
            "at the hole",
            "cut less off the corners",
        )


def _fault(field: str, value: float, allowed: str, mend: str) -> Fault:
    return Fault(field, show_short(value, "length"), allowed, mend)
