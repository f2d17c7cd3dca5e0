"""Sheets for the shop: each plate of a joint and its pin to a true scale, with its dimensions.

Dimensions carry letters, each on a line of its own, and a table tells what they are: nothing is
crowded on a part however small it is.
"""

from __future__ import annotations

import string
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from fejoint.analysis.cautions import IN_A_LINE
from fejoint.analysis.cost import installed
from fejoint.arrays import Floats
from fejoint.inputs.fields import Reading
from fejoint.joint import contour, scatter, schema
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear, Shank
from fejoint.meshing import contours
from fejoint.output import cut_files
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.dimension_lines import Sketch

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fejoint.analysis.result import Answer

Paper = Literal["a4", "letter"]
PAPERS: Mapping[Paper, tuple[float, float]] = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}
"""Width and height, mm."""
SCALES = (20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01)
EDGE, FOOT, TABLE = 10.0, 40.0, 84.0
"""Margin, height of the title block, and width of the table of dimensions, mm."""
LANE = 7.0
"""Distance of dimension lines, mm."""
SLANT = 5.0
"""How far aside each further leader ends, mm."""
TYPE, LEADING = 8.0, 4.3
"""Points, and mm between two lines."""
GAUGE = 50.0


@dataclass
class _Part:
    """What stands on one sheet; lengths in mm of the part."""

    name: str
    metal: str
    pieces: int
    box: tuple[float, float, float, float]
    outlines: list[Floats] = field(default_factory=list)
    above: list[tuple[str, float, float]] = field(default_factory=list)
    """Horizontal dimensions: letter, and from where to where."""
    left: list[tuple[str, float, float]] = field(default_factory=list)
    leaders: list[tuple[str, tuple[float, float]]] = field(default_factory=list)
    rows: list[tuple[str, str, str]] = field(default_factory=list)
    """Letter, what, and how much."""
    _next: Iterator[str] = field(default_factory=lambda: iter(string.ascii_uppercase))

    def tell(self, what: str, value: str, *, lettered: bool = True) -> str:
        """Add a row to the table; return its letter."""
        letter = next(self._next, "*") if lettered else ""
        self.rows.append((letter, what, value))
        return letter


def write(
    joint: Joint, folder: Path, answer: Answer | None = None, paper: Paper = "a4", case: str = ""
) -> list[Path]:
    """Write a sheet of each plate and of the pin, as PDF and SVG.

    Parameters
    ----------
    joint : Joint
    folder : Path
        It is there.
    answer : Answer, optional
        Whose prediction is written on the sheets.
    paper : {"a4", "letter"}
    case : str
        What the case is called.

    Returns
    -------
    list of Path
    """
    written = []
    for part in parts(joint):
        for suffix in ("pdf", "svg"):
            path = folder / f"{part.name.replace(' ', '-')}-sheet.{suffix}"
            with look.styled(look.theme("print")):
                made = drawn(part, joint, answer, paper, case)
                written.append(look.save(made, path, round(PAPERS[paper][0] * 300 / look.MM)))
    return written


def parts(joint: Joint) -> list[_Part]:
    """Return what is drawn: plates that differ, and the pin."""
    within = _tolerances(joint)
    found = []
    for cut in cut_files.parts(joint):
        shank = cut.name == "shank"
        number = int(cut.name[-1]) - 1 if cut.name[-1].isdigit() else 0
        plate: Ear | Shank = joint.shank if shank else joint.ears[number]
        pieces = len(joint.ears) if cut.name == "ear" else 1
        path = "shank" if shank else "ear"
        found.append(_plate(joint, plate, cut.name.replace("-", " "), pieces, within, path))
    found.append(_pin(joint, within))
    return found


def _tolerances(joint: Joint) -> dict[str, str]:
    """Return what the case itself says of how far its values may lie off."""
    reading = Reading()
    said = {}
    for each in scatter.read(dict(joint.scatter), schema.PARTS, reading):
        if each.law == "within":
            size = f"{100.0 * each.size:g} %" if each.relative else f"{each.size:g} mm"
            said[each.path] = f" ± {size}"
        elif each.law == "between":
            said[each.path] = f" ({each.ends[0]:g} to {each.ends[1]:g})"
    return said


def _plate(
    joint: Joint, plate: Ear | Shank, name: str, pieces: int, within: Mapping[str, str], path: str
) -> _Part:
    shape = contour.outside(plate)
    part = _Part(name, plate.material.name, pieces, contours.box(shape))
    holes = [contour.hole(plate), *contour.openings(plate)]
    part.outlines = [contours.points(c) for c in (shape, *holes)]
    length = plate.length if isinstance(plate, Shank) else plate.grip_length
    key = "length" if isinstance(plate, Shank) else "grip_length"

    def mm(value: float, name: str) -> str:
        return f"{value:.5g} mm{within.get(f'{path}.{name}', '')}"

    def across(what: str, name: str, value: float, begin: float, end: float) -> None:
        part.above.append((part.tell(what, mm(value, name)), begin, end))

    across("hole to where it is held", key, length, -length, 0.0)
    end = "hole to the end" if plate.outline is None else "hole to the nearest edge ahead"
    across(end, "edge_distance", plate.edge_distance, 0.0, plate.edge_distance)
    low, high = shape[0][1], shape[-1][1]
    wide = "width" if plate.outline is None else "width where it is held"
    part.left.append((part.tell(wide, mm(high - low, "width")), low, high))
    part.leaders.append(
        (part.tell("hole, diameter", mm(plate.hole, "hole")), (0.0, -0.5 * plate.hole))
    )
    if plate.end == "clipped" and plate.outline is None:
        across("cut corner, 45 degrees", "clip", plate.clip, plate.edge_distance - plate.clip,
               plate.edge_distance)  # fmt: skip
    if isinstance(plate, Ear):
        if plate.hole_slot > 0.0:
            across("hole longer than round", "hole_slot", plate.hole_slot, 0.0, plate.hole_slot)
        if plate.hole_offset != 0.0:
            part.tell(
                "hole off the axis", mm(abs(plate.hole_offset), "hole_offset"), lettered=False
            )
        if plate.flare_depth > 0.0:
            flare = f"{plate.flare_depth:g} mm, {plate.flare_angle:g}°"
            part.tell("flare on the outer face", flare, lettered=False)
    for opening in contour.openings(plate)[:8]:
        x0, y0, x1, y1 = contours.box(opening)
        at = f"{0.5 * (x0 + x1):.4g}, {0.5 * (y0 + y1):.4g}"
        letter = part.tell(f"opening {x1 - x0:.4g} by {y1 - y0:.4g}, from the hole", f"{at} mm")
        part.leaders.append((letter, (0.5 * (x0 + x1), y0)))
    if len(contour.openings(plate)) > 8:
        part.tell("further openings", "see the cut file", lettered=False)
    part.tell("thickness", mm(plate.thickness, "thickness"), lettered=False)
    part.tell("pin", f"{joint.pin.diameter:g} mm", lettered=False)
    part.tell("clearance of the pin", f"{joint.clearance(plate):.4g} mm", lettered=False)
    ends = {"round": "round", "square": "square", "clipped": "cut corners"}[plate.end]
    part.tell("end", ends if plate.outline is None else f"as {plate.outline.source or 'drawn'}",
              lettered=False)  # fmt: skip
    return part


def _pin(joint: Joint, within: Mapping[str, str]) -> _Part:
    pin, grip = joint.pin, joint.grip
    half, radius = 0.5 * grip, 0.5 * pin.diameter
    head = (pin.head or 1.45 * pin.diameter) if pin.ends == "headed" else 0.0
    high = 0.16 * pin.diameter
    reach = half + (high if head else 0.22 * pin.diameter)
    tall = max(0.5 * head, radius)
    metal = "rigid" if pin.rigid else pin.material.name
    part = _Part("pin", metal, 1, (-reach, -tall, reach, tall))
    body = np.array([[-reach, -radius], [reach, -radius], [reach, radius], [-reach, radius]])
    part.outlines.append(np.vstack([body, body[:1]]))
    for side in (-1.0, 1.0) if head else ():
        x0, x1 = side * half, side * (half + high)
        ring = np.array([[x0, -tall], [x1, -tall], [x1, tall], [x0, tall], [x0, -tall]])
        part.outlines.append(ring)
    part.above.append((part.tell("through ears, gaps and shank", f"{grip:.5g} mm"), -half, half))
    said = f"{pin.diameter:g} mm{within.get('pin.diameter', '')}"
    part.left.append((part.tell("diameter", said), -radius, radius))
    if pin.head is not None:
        part.tell("head, diameter", f"{pin.head:g} mm", lettered=False)
    elif head:
        part.tell("head, diameter", "not said", lettered=False)
    part.tell("ends", pin.ends, lettered=False)
    gaps = " and ".join(f"{g:g}" for g in sorted(set(joint.gaps)))
    part.tell("side gap at each ear", f"{gaps} mm", lettered=False)
    if pin.material.hardness_hv is not None and not pin.rigid:
        part.tell("hardness", f"{pin.material.hardness_hv:.0f} HV", lettered=False)
    return part


def drawn(
    part: _Part, joint: Joint, answer: Answer | None = None, paper: Paper = "a4", case: str = ""
) -> Figure:
    """Return a sheet as a figure of the paper's size."""
    width, height = PAPERS[paper]
    theme = look.theme("print")
    figure = look.figure((width / look.MM, height / look.MM))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    # in mm of the paper
    axes.set(xlim=(0.0, width), ylim=(0.0, height))
    room = (
        EDGE + LANE * (1.5 + len(part.left)), EDGE + FOOT + LANE * (1.5 + len(part.leaders)),
        width - EDGE - TABLE - 6.0, height - EDGE - LANE * (1.0 + len(part.above)),
    )  # fmt: skip
    left, low, right, high = part.box
    scale = next(
        (s for s in SCALES if s * (right - left) <= room[2] - room[0]
         and s * (high - low) <= room[3] - room[1]), SCALES[-1]
    )  # fmt: skip
    middle = 0.5 * (room[0] + room[2]), 0.5 * (room[1] + room[3])

    def at(x: float, y: float) -> tuple[float, float]:
        return (
            middle[0] + scale * (x - 0.5 * (left + right)),
            middle[1] + scale * (y - 0.5 * (low + high)),
        )

    sketch = Sketch(axes, theme, LEADING)
    for outline in part.outlines:
        points = np.array([at(x, y) for x, y in outline])
        axes.plot(*points.T, color=theme.ink, lw=0.9, zorder=3, solid_joinstyle="miter")
    _lines(axes, sketch, part, at, theme)
    _table(axes, part.rows, (width - EDGE - TABLE, height - EDGE), theme)
    _title(axes, part, joint, answer, (width, scale, case), theme)
    return figure


def _lines(axes: Axes, sketch: Sketch, part: _Part, at: Any, theme: look.Theme) -> None:
    left, low, _, high = part.box
    for k, (letter, begin, end) in enumerate(part.above):
        y = at(0.0, high)[1] + LANE * (k + 1.0)
        (x0, _), (x1, _) = at(begin, 0.0), at(end, 0.0)
        foot = at(0.0, high)[1]
        sketch.across((x0, x1), y, "", feet=(foot, foot))
        _letter(axes, letter, (max(x0, x1) + 3.0, y), theme)
    for k, (letter, begin, end) in enumerate(part.left):
        x = at(left, 0.0)[0] - LANE * (k + 1.0)
        (_, y0), (_, y1) = at(0.0, begin), at(0.0, end)
        axes.annotate("", xy=(x, y1), xytext=(x, y0), zorder=7,
                      arrowprops={"arrowstyle": "<|-|>,head_width=0.11,head_length=0.34",
                                  "lw": 0.6, "shrinkA": 0.0, "shrinkB": 0.0,
                                  "color": theme.quiet})  # fmt: skip
        for y in (y0, y1):
            axes.plot([x - 1.0, at(left, 0.0)[0] - 1.0], [y, y], color=theme.quiet, lw=0.5)
        _letter(axes, letter, (x, max(y0, y1) + 3.0), theme)
    for k, (letter, place) in enumerate(part.leaders):
        (x, y), foot = at(*place), at(0.0, low)[1] - LANE * (k + 1.0)
        # aslant, so that none runs through another's letter
        axes.plot([x, x + SLANT * k], [y, foot + 1.8], color=theme.quiet, lw=0.5, zorder=6)
        _letter(axes, letter, (x + SLANT * k, foot), theme)


def _letter(axes: Axes, letter: str, at: tuple[float, float], theme: look.Theme) -> None:
    axes.text(*at, letter, fontsize=TYPE, weight="bold", ha="center", va="center", zorder=8,
              color=theme.ink)  # fmt: skip


def _table(
    axes: Axes,
    rows: Sequence[tuple[str, str, str]],
    corner: tuple[float, float],
    theme: look.Theme,
) -> None:
    x, y = corner
    y -= 0.7 * LEADING
    for letter, what, value in rows:
        told = look.broken(what, TYPE, (TABLE - 8.0 - 34.0) / look.MM)
        values = look.broken(value, TYPE, 33.0 / look.MM)
        if letter:
            axes.text(x, y, letter, fontsize=TYPE, weight="bold", va="center", color=theme.ink)
        for k in range(max(len(told), len(values))):
            if k < len(told):
                axes.text(x + 6.0, y, told[k], fontsize=TYPE, va="center", color=theme.ink)
            if k < len(values):
                axes.text(x + TABLE, y, values[k], fontsize=TYPE, va="center", ha="right",
                          color=theme.ink)  # fmt: skip
            y -= LEADING
        axes.plot([x, x + TABLE], [y + 0.5 * LEADING] * 2, color=theme.faint, lw=0.5)


def _title(
    axes: Axes,
    part: _Part,
    joint: Joint,
    answer: Answer | None,
    sheet: tuple[float, float, str],
    theme: look.Theme,
) -> None:
    width, scale, case = sheet
    top = EDGE + FOOT
    axes.plot([EDGE, width - EDGE], [top, top], color=theme.ink, lw=0.9)
    wide = (width - 2.0 * EDGE - 2.0 * 6.0) / 3.0
    ratio = f"{scale:g} : 1" if scale >= 1.0 else f"1 : {1.0 / scale:g}"
    pieces = "1 piece" if part.pieces == 1 else f"{part.pieces} pieces"
    said = "" if answer is None else answer.verdict.sentence.partition(". ")[0].rstrip(".") + "."
    columns = (
        [(joint.title or "Joint", True), (f"{part.name}, {pieces}", False), (part.metal, False)],
        [(f"scale {ratio}, millimetres", True), (case, False),
         (f"{date.today().isoformat()}, fejoint {installed()['fejoint']}", False),
         (f"Computed: {said}" if said else "", False)],
        [(IN_A_LINE, False)],
    )  # fmt: skip
    for k, column in enumerate(columns):
        x, y = EDGE + k * (wide + 6.0), top - LEADING
        lines = [
            (line, bold)
            for text, bold in column if text
            for line in look.broken(" ".join(text.split()), TYPE, wide / look.MM, bold=bold)
        ]  # fmt: skip
        most = int(FOOT / LEADING) - (3 if k == 2 else 0)
        if len(lines) > most:
            lines = [*lines[: most - 1], ("...", False)]
        for line, bold in lines:
            # a word without an end is cut at the column's
            shown = _fitting(line, wide / look.MM, bold=bold)
            axes.text(x, y, shown, fontsize=TYPE, weight="bold" if bold else "normal", va="center",
                      color=theme.ink if bold else theme.quiet)  # fmt: skip
            y -= LEADING
    begin = width - EDGE - wide
    y = EDGE + 1.5 * LEADING
    axes.plot([begin, begin + GAUGE], [y, y], color=theme.ink, lw=0.9)
    for x in (begin, begin + GAUGE):
        axes.plot([x, x], [y - 1.5, y + 1.5], color=theme.ink, lw=0.9)
    axes.text(begin, y - LEADING, f"{GAUGE:g} mm on paper: measure it", fontsize=TYPE, va="center",
              color=theme.quiet)  # fmt: skip


def _fitting(text: str, width: float, *, bold: bool) -> str:
    """Return text, cut short where it is wider than that, inches."""
    shown = text
    for count in range(len(text) - 1, 0, -1):
        if look.text_width(shown, TYPE, bold=bold) <= width:
            break
        shown = f"{text[:count]}..."
    return shown
