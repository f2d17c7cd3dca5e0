"""Files for a cutter: each plate of a joint as DXF and SVG, plates and pin as STEP.

A drawing is in millimetres and says so. Each contour is one closed polyline with true arcs, the
outside and the holes on layers of their own, nothing is drawn twice, and no kerf is taken off or
added. A gauge of 50 mm stands on a layer of its own, and what is to be read on another.
"""

from __future__ import annotations

import io
import math
import os
import sys
import tempfile
import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fejoint.analysis.cautions import CAUTIONS
from fejoint.errors import BadInput, Fault
from fejoint.files import write_atomically
from fejoint.inputs.units import both_units
from fejoint.joint import contour
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear, Shank
from fejoint.meshing import contours
from fejoint.meshing.contours import Contour

if TYPE_CHECKING:
    from fejoint.analysis.result import Answer

OUTSIDE, HOLES, GAUGE, NOTES = "outside", "holes", "gauge", "notes"
"""Layers of a drawing: the first two are cut."""
_COLOURS = {OUTSIDE: (7, "#1a1a1a"), HOLES: (4, "#007a8a"), GAUGE: (8, "#8a8a8a"),
            NOTES: (8, "#6a6a6a")}  # fmt: skip
"""Of each layer, in the DXF's index and in the SVG."""
GAUGE_MM = 50.0
_TEXT = 2.5
"""Height of letters, mm."""
_LINE = 1.6
"""Distance of lines of text, over their height."""
_WIDE = 60
"""Letters a line of text."""


@dataclass(frozen=True)
class CutPart:
    """A plate to be cut.

    Attributes
    ----------
    name : str
        Of its files: "ear", "ear-1", "ear-2" or "shank".
    thickness : float
        mm.
    outside : Contour
    holes : tuple of Contour
        The pin's, and then every other.
    notes : tuple of str
        Lines beside it.
    """

    name: str
    thickness: float
    outside: Contour
    holes: tuple[Contour, ...]
    notes: tuple[str, ...]

    @property
    def cut(self) -> tuple[tuple[str, Contour], ...]:
        """Every contour to be cut, with its layer."""
        return ((OUTSIDE, self.outside), *((HOLES, hole) for hole in self.holes))

    @property
    def gauge(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Ends of the gauge, below the part, mm."""
        left, low, _, _ = contours.box(self.outside)
        return (left, low - 8.0), (left + GAUGE_MM, low - 8.0)

    def lines(self) -> Iterator[tuple[float, float, str, str]]:
        """Give every line of text: where it begins (mm), its layer, and its words."""
        (x, y), _ = self.gauge
        yield x, y - 2.0 * _TEXT, GAUGE, f"{GAUGE_MM:g} mm"
        for k, line in enumerate(self.notes):
            yield x, y - 2.0 * _TEXT - (k + 2) * _LINE * _TEXT, NOTES, line


def parts(joint: Joint, answer: Answer | None = None) -> tuple[CutPart, ...]:
    """Return the plates of a joint to be cut, equal ears once.

    Parameters
    ----------
    joint : Joint
    answer : Answer, optional
        Whose prediction is written beside them.
    """
    ears = joint.ears
    alike = len(ears) == 2 and ears[0] == ears[1]
    found: list[tuple[str, Ear | Shank, int, tuple[str, ...]]] = []
    if len(ears) == 1 or alike:
        found.append(("ear", ears[0], len(ears), ("both ears", "ear 1", "ear 2", "ear")))
    else:
        found += [(f"ear-{k + 1}", ear, 1, (f"ear {k + 1}",)) for k, ear in enumerate(ears)]
    found.append(("shank", joint.shank, 1, ("shank",)))
    return tuple(
        CutPart(
            name, part.thickness, contour.outside(part),
            (contour.hole(part), *contour.openings(part)),
            tuple(_notes(joint, part, name.replace("-", " "), count, members, answer)),
        )
        for name, part, count, members in found
    )  # fmt: skip


def _notes(
    joint: Joint,
    part: Ear | Shank,
    name: str,
    count: int,
    members: Sequence[str],
    answer: Answer | None,
) -> Iterator[str]:
    title = " ".join(joint.title.split()) or "Joint"
    yield from _wrapped(f"{title}: {name}")
    pieces = "1 piece" if count == 1 else f"{count} pieces"
    yield from _wrapped(f"{part.material.name}, {part.thickness:g} mm thick, {pieces}")
    yield f"hole {part.hole:g} mm for a pin of {joint.pin.diameter:g} mm"
    if isinstance(part, Ear) and part.flare_depth > 0.0:
        yield (
            f"the hole's mouth is flared on the outer face, {part.flare_depth:g} mm deep, "
            f"{part.flare_angle:g} degrees: not cut"
        )
    length = part.length if isinstance(part, Shank) else part.grip_length
    yield f"drawn to where it is held, {length:g} mm from the hole's centre"
    yield "millimetres; no kerf in this drawing"
    if answer is None:
        return
    yield from _wrapped(f"Computed: {answer.verdict.sentence}")
    for each in answer.verdict.order:
        if each.first.member in members:
            first = each.first
            yield from _wrapped(f"This part: {first.cause} at {both_units(first.load)}")
    for caution in CAUTIONS[1:]:
        yield from _wrapped(caution)


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDE)


def dxf(part: CutPart) -> str:
    """Return the part as DXF of the year 2000."""
    from ezdxf import units
    from ezdxf.filemanagement import new

    made = new("R2000", units=units.MM)
    made.header["$MEASUREMENT"] = 1
    for name, (colour, _) in _COLOURS.items():
        made.layers.add(name, color=colour)
    space = made.modelspace()
    for layer, corners in part.cut:
        space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs={"layer": layer})
    (x0, y), (x1, _) = part.gauge
    space.add_line((x0, y), (x1, y), dxfattribs={"layer": GAUGE})
    for x in (x0, x1):
        space.add_line((x, y - 1.5), (x, y + 1.5), dxfattribs={"layer": GAUGE})
    for x, y, layer, words in part.lines():
        # two of them begin a code of the format
        text = words.replace("%%", "% %")
        space.add_text(text, height=_TEXT, dxfattribs={"layer": layer}).set_placement((x, y))
    stream = io.StringIO()
    made.write(stream)
    return stream.getvalue()


def svg(part: CutPart) -> str:
    """Return the part as SVG, a user unit a millimetre."""
    left, _, right, high = contours.box(part.outside)
    lines = list(part.lines())
    low = min(y for _, y, _, _ in lines) - _TEXT
    wide = max(right, part.gauge[1][0], max(x + 0.62 * _TEXT * len(t) for x, _, _, t in lines))
    left, right, low, high = left - 5.0, wide + 5.0, low - 5.0, high + 5.0
    size = f"{right - left:.6g}", f"{high - low:.6g}"
    made = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size[0]}mm" height="{size[1]}mm" '
        f'viewBox="{left:.9g} {-high:.9g} {size[0]} {size[1]}">'
    ]
    for layer, corners in part.cut:
        made.append(
            f'<g id="{layer}" fill="none" stroke="{_COLOURS[layer][1]}" stroke-width="0.1">'
            f'<path d="{_path(corners)}"/></g>'
        )
    (x0, y), (x1, _) = part.gauge
    ticks = "".join(f"M{x:.9g} {1.5 - y:.9g}V{-1.5 - y:.9g}" for x in (x0, x1))
    made.append(
        f'<g id="{GAUGE}" fill="none" stroke="{_COLOURS[GAUGE][1]}" stroke-width="0.1">'
        f'<path d="M{x0:.9g} {-y:.9g}H{x1:.9g}{ticks}"/></g>'
    )
    made.append(f'<g id="{NOTES}" fill="{_COLOURS[NOTES][1]}" font-family="sans-serif">')
    made += [
        f'<text x="{x:.9g}" y="{-y:.9g}" font-size="{_TEXT}">{escape(words)}</text>'
        for x, y, _, words in lines
    ]
    return "\n".join([*made, "</g>", "</svg>", ""])


def _path(corners: Contour) -> str:
    """Return a contour as the data of an SVG path; y points down there."""
    x, y, _ = corners[0]
    said = [f"M{x:.9g} {-y:.9g}"]
    for (x0, y0, bulge), (x1, y1, _) in zip(corners, [*corners[1:], corners[0]], strict=True):
        if bulge:
            radius = contours.arc_radius((x0, y0), (x1, y1), bulge)
            turn = f"{int(abs(bulge) > 1.0)} {int(bulge < 0.0)}"
            said.append(f"A{radius:.9g} {radius:.9g} 0 {turn} {x1:.9g} {-y1:.9g}")
        else:
            said.append(f"L{x1:.9g} {-y1:.9g}")
    return "".join([*said, "Z"])


def drawings(joint: Joint, answer: Answer | None = None) -> dict[str, str]:
    """Return the text of a DXF and an SVG a plate, by the file's name; see `parts`."""
    return {
        f"{part.name}.{suffix}": write(part)
        for part in parts(joint, answer)
        for suffix, write in (("dxf", dxf), ("svg", svg))
    }


def write_each(joint: Joint, folder: Path, answer: Answer | None = None) -> Iterator[Path]:
    """Write a DXF and an SVG a plate into a folder; give each file as it is there.

    Raises
    ------
    BadInput
        If a file cannot be written.
    """
    for name, text in drawings(joint, answer).items():
        write_atomically(folder / name, text)
        yield folder / name


def write_steps(joint: Joint, folder: Path) -> Iterator[Path]:
    """Write a STEP file a plate, and one of the pin between the outer faces of its joint.

    Raises
    ------
    BadInput
        If a file cannot be written.
    """
    from fejoint.meshing.gmsh_session import session

    for part in parts(joint):
        with session() as gmsh:
            occ = gmsh.model.occ
            loops = [_loop(occ, corners) for _, corners in part.cut]
            occ.extrude([(2, occ.addPlaneSurface(loops))], 0, 0, part.thickness)
            yield _step(gmsh, folder / f"{part.name}.step")
    with session() as gmsh:
        gmsh.model.occ.addCylinder(0, 0, 0, 0, 0, joint.grip, 0.5 * joint.pin.diameter)
        yield _step(gmsh, folder / "pin.step")


def _loop(occ: Any, corners: Contour) -> int:
    points = [occ.addPoint(x, y, 0) for x, y, _ in corners]
    sides = []
    for k, (x, y, bulge) in enumerate(corners):
        begin, end = points[k], points[(k + 1) % len(points)]
        if bulge:
            to = corners[(k + 1) % len(corners)]
            middle = occ.addPoint(*contours.arc_middle((x, y), to[:2], bulge), 0)
            sides.append(occ.addCircleArc(begin, middle, end, center=False))
        else:
            sides.append(occ.addLine(begin, end))
    return int(occ.addCurveLoop(sides))


def _step(gmsh: Any, path: Path) -> Path:
    gmsh.model.occ.synchronize()
    # only what has volume is a part: points of arcs are none
    bodies = gmsh.model.getEntities(3)
    loose = [e for e in gmsh.model.getEntities(0) if not len(gmsh.model.getAdjacencies(*e)[0])]
    gmsh.model.occ.remove(loose)
    gmsh.model.occ.synchronize()
    if len(bodies) != 1 or not math.isfinite(gmsh.model.occ.getMass(*bodies[0])):
        raise BadInput(Fault(str(path), "", "could not be made a body", "leave --step out"))
    gmsh.option.setString("Geometry.OCCTargetUnit", "MM")
    with tempfile.TemporaryDirectory() as folder, _mute():
        beside = Path(folder) / path.name
        gmsh.write(str(beside))
        write_atomically(path, beside.read_bytes())
    return path


@contextmanager
def _mute() -> Iterator[None]:
    """Keep what compiled code prints from standard output: the STEP writer has no other switch."""
    sys.stdout.flush()
    kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
