"""The outline of a plate from a drawing's file: which hole is the pin's, and where it is held.

A case names the file (`outline = "ear.dxf"`), or the file and what it does not say by itself
(`outline = { file = "ear.dxf", units = "mm", held = "left" }`). What is read takes its place in
the case, so that an answer, a sweep or a copy of the case needs the file no more.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fejoint.errors import BadInput, Fault
from fejoint.inputs import dxf, sides, svg
from fejoint.inputs.fields import Field, Reading
from fejoint.meshing.contours import (
    Contour,
    arc_centre,
    arc_middle,
    arc_radius,
    box,
    crossings,
    whole_sides,
)

LARGEST = 20_000_000
"""Bytes of a drawing's file."""
MOST_HOLES = 100
JOIN = 0.01
"""Distance of two ends that are joined, mm, where the case says none."""
HELD = ("left", "right", "top", "bottom")
UNITS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}

FIELDS: dict[str, Field] = {
    "file": Field("text", '"ear.dxf"', needed=True, longest=500),
    "units": Field("choice", '"mm"', choices=tuple(UNITS)),
    "hole": Field("length", '"4.1 mm"', 0.01, 1000.0),
    "hole_at": Field("texts", '["12 mm", "7 mm"]'),
    "held": Field("text", '"left"', longest=60),
    "join": Field("length", '"0.01 mm"', 0.0, 1.0),
}
"""What a case may say of a drawing."""

_SAME = 5e-3
"""Difference of two diameters that are the same, mm."""


@dataclass(frozen=True)
class _Round:
    """A round hole, or a slot: its ends' centres and diameter, mm."""

    contour: Contour
    diameter: float
    ends: tuple[sides.Point, sides.Point]

    @property
    def words(self) -> str:
        x, y = (round(v, 6) + 0.0 for v in self.ends[0])
        slot = "slot" if self.ends[0] != self.ends[1] else "hole"
        return f"{slot} ⌀{self.diameter:.4g} at {x:.4g}, {y:.4g}"


def embedded(case: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    """Return a case table in which every drawing that it names is read.

    Parameters
    ----------
    case : mapping
    folder : Path
        From which the files' names count.

    Raises
    ------
    BadInput
        If a file cannot be read, or does not say what is needed.
    """
    table = dict(case)
    for name in ("ear", "shank"):
        part = table.get(name)
        if isinstance(part, Mapping) and _names_file(part):
            table[name] = _drawn(table, part, name, folder)
        elif isinstance(part, Sequence) and not isinstance(part, str):
            table[name] = [
                _drawn(table, each, f"{name}.{k}", folder)
                if isinstance(each, Mapping) and _names_file(each) else each
                for k, each in enumerate(part, start=1)
            ]  # fmt: skip
    return table


def _names_file(part: Mapping[str, Any]) -> bool:
    asked = part.get("outline")
    return isinstance(asked, (str, Path)) or (isinstance(asked, Mapping) and "outside" not in asked)


def _drawn(
    table: dict[str, Any], part: Mapping[str, Any], name: str, folder: Path
) -> dict[str, Any]:
    """Return a part's table with what its drawing says; what was taken for granted is told."""
    where = f"{name}.outline"
    asked = part["outline"]
    asked = {"file": str(asked)} if isinstance(asked, (str, Path)) else asked
    reading = Reading()
    told = reading.table(where, asked, FIELDS)
    if reading.faults:
        raise BadInput(*reading.faults)
    outline, found, said = _read(folder / told["file"], told, where, part.get("hole"))
    said = [f"{name}: {Path(told['file']).name}: {line}" for line in said]
    table["assumptions"] = [*table.get("assumptions", ()), *said]
    given = _diameter(part.get("hole"))
    if given is not None and abs(given - found["hole"]) > _SAME:
        said.append(f"{name}: its hole of {found['hole']:.4g} mm is taken as {given:.4g} mm")
        table["assumptions"] = [*table["assumptions"], said[-1]]
    slot = {"hole_slot": found["hole_slot"]} if name != "shank" else {}
    if name == "shank" and found["hole_slot"] > 0.0:
        raise BadInput(
            Fault(where, told["file"], "has a slot for the pin, which a shank may not",
                  "name another hole")
        )  # fmt: skip
    return {"hole": found["hole"], **slot, **part, "outline": outline}


def _diameter(hole: Any) -> float | None:
    """Return what a case gives for a hole, mm; None where it gives none that can be read."""
    number = math.nan if hole is None else Reading().quantity("hole", hole, "length")
    return number if math.isfinite(number) else None


def _read(
    path: Path, told: Mapping[str, Any], where: str, hole: Any
) -> tuple[dict[str, Any], dict[str, float], list[str]]:
    kind = path.suffix.lower()
    if kind not in (".dxf", ".svg"):
        raise _no(where, path.name, "must end in .dxf or .svg", "export the drawing as one of them")
    try:
        size = path.stat().st_size
    except OSError as error:
        reason = error.strerror or "not found"
        raise _no(where, path.name, f"cannot be read ({reason})", "check its name") from error
    if size > LARGEST:
        raise _no(where, path.name, f"must be at most {LARGEST // 10**6} MB", "simplify it")
    drawing = (dxf if kind == ".dxf" else svg).read(path, where)
    if not drawing.sides:
        raise _no(where, path.name, "holds no edges", "; ".join(drawing.said) or "check it")
    said = list(drawing.said)
    unit = _unit(drawing, told, where, said)
    contours, mended = sides.closed(drawing.scaled(unit), told.get("join", JOIN), where)
    outside, holes = sides.nested(contours, where)
    if len(holes) > MOST_HOLES:
        allowed = f"must hold at most {MOST_HOLES} holes, and holds {len(holes)}"
        raise _no(where, path.name, allowed, "leave out those that weaken nothing")
    pin = _pin_hole([r for r in map(_round, holes) if r is not None], told, where, hole, path.name)
    side, line = _held(told, where)
    if "held" not in told:
        said.append(f"held at its {side} side, as it does not say where")
    turn = {"left": 0, "bottom": 1, "right": 2, "top": 3}[side]
    others = [_turned(c, turn) for c in holes if c is not pin.contour]
    body = _turned(outside, turn)
    ends = [_turned(((*end, 0.0),), turn)[0][:2] for end in pin.ends]
    if line is not None:
        body = _cut(body, -line if side in ("right", "top") else line, where)
    near, far = sorted(ends)
    if abs(far[1] - near[1]) > 1e-6 * pin.diameter:
        raise _no(where, pin.words, "must run along the pull", "turn it, or name another hole")
    body, others = _moved(body, near), [_moved(c, near) for c in others]
    if line is None:
        body = _held_last(body, where)
    wide, high = box(body)[2] - box(body)[0], box(body)[3] - box(body)[1]
    said += mended
    said.append(
        f"read in mm, {wide:.5g} by {high:.5g}, {pin.words}"
        + (f", {len(others)} more" if others else "")
    )
    outline = {"source": path.name, "outside": [list(c) for c in body],
               "openings": [[list(c) for c in each] for each in others]}  # fmt: skip
    return outline, {"hole": pin.diameter, "hole_slot": far[0] - near[0]}, said


def _unit(drawing: sides.Drawing, told: Mapping[str, Any], where: str, said: list[str]) -> float:
    if "units" in told:
        unit = UNITS[told["units"]]
        if drawing.unit is not None and abs(drawing.unit - unit) > 1e-9 * unit:
            said.append(f"taken in {told['units']}, though the file says another unit")
        return unit
    if drawing.unit is None:
        wide, high = (f"{v:.4g}" for v in drawing.box())
        raise _no(
            where, drawing.name, f"does not say its unit: is it {wide} by {high} mm, or {wide} by "
            f"{high} in?", f'write outline = {{ file = "{drawing.name}", units = "mm" }}, or "in"',
        )  # fmt: skip
    return drawing.unit


def _round(contour: Contour) -> _Round | None:
    """Return a contour as a round hole or a slot; None for any other."""
    arcs, lines = [], []
    for begin, end, bulge in whole_sides(contour):
        if bulge:
            arcs.append((arc_centre(begin, end, bulge), arc_radius(begin, end, bulge), bulge))
        else:
            lines.append(math.dist(begin, end))
    if not arcs or any(b < 0.0 for _, _, b in arcs):
        return None
    radius = arcs[0][1]
    centres: list[sides.Point] = []
    for (x, y), r, _ in arcs:
        if abs(r - radius) > 1e-4 * radius:
            return None
        if not any(math.dist((x, y), c) < 1e-4 * radius for c in centres):
            centres.append((x, y))
    turned = sum(4.0 * math.atan(b) for _, _, b in arcs)
    if abs(turned - 2.0 * math.pi) > 1e-3 or len(centres) > 2 or (len(centres) == 1) != (not lines):
        return None
    return _Round(contour, 2.0 * radius, (centres[0], centres[-1]))


def _pin_hole(
    found: list[_Round], told: Mapping[str, Any], where: str, hole: Any, name: str
) -> _Round:
    """Return the hole for the pin: the one that is named, or the only one."""
    if not found:
        raise _no(where, name, "holds no round hole or slot for the pin", "draw it as a circle")
    fits = found
    if "hole_at" in told:
        reading = Reading()
        at = [reading.quantity(f"{where}.hole_at", v, "length") for v in told["hole_at"]]
        if len(at) != 2:
            reading.fault(f"{where}.hole_at", told["hole_at"], "must be two lengths, x and y",
                          'write ["12 mm", "7 mm"]')  # fmt: skip
        if reading.faults:
            raise BadInput(*reading.faults)
        fits = [r for r in found if min(math.dist(at, e) for e in r.ends) < 0.25 * r.diameter]
    asked = told.get("hole", hole)
    if "hole_at" not in told and asked is not None and (len(found) > 1 or "hole" in told):
        reading = Reading()
        diameter = reading.quantity(f"{where}.hole", asked, "length")
        if reading.faults:
            raise BadInput(*reading.faults)
        fits = [r for r in found if abs(r.diameter - diameter) < _SAME]
    if len(fits) == 1:
        return fits[0]
    listed = "; ".join(r.words for r in found[:8]) + ("; ..." if len(found) > 8 else "")
    allowed = f"must show which hole is the pin's: {listed} (mm)"
    mend = f'write outline = {{ file = "{name}", hole = "{found[0].diameter:.4g} mm" }}, or hole_at'
    raise _no(where, name, allowed, mend)


def _held(told: Mapping[str, Any], where: str) -> tuple[str, float | None]:
    """Return the side that is held, and at which line if it is one (mm in the drawing)."""
    text = " ".join(str(told.get("held", "left")).split()).lower()
    if text in HELD:
        return text, None
    side, _, rest = text.partition(" at ")
    axis, _, value = rest.partition("=")
    wanted = "x" if side in ("left", "right") else "y"
    reading = Reading()
    if side in HELD and axis.strip() == wanted:
        place = reading.quantity(f"{where}.held", value.strip(), "length")
        if not reading.faults:
            return side, place
    mend = 'write held = "left", or a line, as held = "left at x = 12 mm"'
    allowed = f"must be {', '.join(HELD)}, or a line on that side"
    raise BadInput(Fault(f"{where}.held", text, allowed, mend))


def _turned(contour: Contour, quarters: int) -> Contour:
    """Turn a contour back by quarters of a turn, so that the side that is held comes left."""
    for _ in range(quarters):
        contour = tuple((y, -x, b) for x, y, b in contour)
    return contour


def _moved(contour: Contour, to: sides.Point) -> Contour:
    return tuple((x - to[0], y - to[1], b) for x, y, b in contour)


def _held_last(body: Contour, where: str) -> Contour:
    """Walk the outside so that its left side, which is held, comes last."""
    left, low, _, high = box(body)
    size = max(high - low, 1e-9)
    at = [
        k for k, (a, b, bulge) in enumerate(whole_sides(body))
        if not bulge and abs(a[0] - b[0]) <= 1e-6 * size and a[0] - left <= 1e-6 * size
    ]  # fmt: skip
    if not at:
        allowed = "has no straight edge where it is held"
        raise _no(where, "", allowed, 'say a line instead, as held = "left at x = 12 mm"')
    corners = list(body)
    # edges that go on along one line are one edge
    while len(at) > 1:
        k = next((k for k in at if (k + 1) % len(corners) in at), None)
        if k is None:
            raise _no(where, "", "is held by two edges", "say a line across both")
        del corners[(k + 1) % len(corners)]
        return _held_last(tuple(corners), where)
    k = at[0]
    return (*body[k + 1 :], *body[: k + 1]) if k + 1 < len(body) else body


def _cut(body: Contour, x: float, where: str) -> Contour:
    """Return what lies to the right of an upright line, with the cut as the last side."""
    ys = crossings(body, x)
    if len(ys) != 2:
        allowed = f"must be cut by the line once right across, and is {len(ys) // 2} times"
        raise _no(where, "", allowed, "move the line")
    kept = [
        side for side in _split(body, x)
        if (arc_middle(*side)[0] if side[2] else 0.5 * (side[0][0] + side[1][0])) > x
    ]  # fmt: skip
    first = next(k for k, (begin, _, _) in enumerate(kept) if abs(begin[0] - x) < 1e-9)
    way = [*kept[first:], *kept[:first]]
    return (*((*begin, bulge) for begin, _, bulge in way), (*way[-1][1], 0.0))


def _split(body: Contour, x: float) -> list[sides.Side]:
    """Return the sides of a contour, those that cross an upright line in two."""
    found: list[sides.Side] = []
    for begin, end, bulge in whole_sides(body):
        if (begin[0] - x) * (end[0] - x) >= 0.0:
            found.append((begin, end, bulge))
            continue
        if not bulge:
            y = begin[1] + (end[1] - begin[1]) * (x - begin[0]) / (end[0] - begin[0])
            found += [(begin, (x, y), 0.0), ((x, y), end, 0.0)]
            continue
        cx, cy = arc_centre(begin, end, bulge)
        radius, whole = arc_radius(begin, end, bulge), 4.0 * math.atan(bulge)
        start = math.atan2(begin[1] - cy, begin[0] - cx)
        rise = math.sqrt(max(radius * radius - (x - cx) ** 2, 0.0))
        turns = [
            (math.atan2(s * rise, x - cx) - start) % math.copysign(2.0 * math.pi, whole)
            for s in (1.0, -1.0)
        ]
        turn = min(turns, key=abs)
        point = (x, cy + radius * math.sin(start + turn))
        found += [(begin, point, math.tan(0.25 * turn)),
                  (point, end, math.tan(0.25 * (whole - turn)))]  # fmt: skip
    return found


def _no(where: str, value: str, allowed: str, mend: str) -> BadInput:
    return BadInput(Fault(where, value, allowed, mend))
