"""The end of a thin ear that dishes behind the pin, seen from its edge: a sketch of the rule."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis.definitions import EARS_ALIKE
from fejoint.analysis.odds import Odds
from fejoint.analysis.result import Answer
from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.inputs.units import both_units, figures
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.dimension_lines import Sketch
from fejoint.output.pictures.limit_axis import row_of
from fejoint.output.pictures.picture import Picture, data_of, joint_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MODE = "end dishes"
EDGE = 0.15
"""Room at the paper's edges, inches."""
HIGH = 1.3
"""Of the cut, inches; a flat ear takes less."""
SLAB = 0.26
"""Of the shank that is shown, inches."""
BENT = 1.6
"""How far the end is drawn out of its plane, in thicknesses."""
TYPE = 7.5
LEADING = 1.35


def dishes(answer: Answer) -> bool:
    """Whether an end dishes in an answer."""
    return bool(_limits(answer))


def _limits(answer: Answer | Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the limits of ends that dish, the lowest first."""
    rows = [
        row
        for part in data_of(answer)["verdict"]["order"]
        for row in (part, *part["later"])
        if row["mode"] == MODE
    ]
    return sorted(rows, key=lambda row: float(row["load_N"]))


def _shown(answer: Mapping[str, Any]) -> tuple[Mapping[str, Any], Joint, Ear]:
    """Return the lowest limit, the joint and the ear."""
    rows = _limits(answer)
    if not rows:
        raise BadInput(
            Fault("picture", "dishing", "no end dishes in this pull", "choose another one")
        )
    joint = joint_of(answer)
    return rows[0], joint, joint.ears[-1 if rows[0]["member"] == "ear 2" else 0]


def draw(figure: Figure, answer: Mapping[str, Any], theme: look.Theme) -> None:
    """Draw the ear cut along the pull, straight and dished, and say at which load.

    Parameters
    ----------
    figure : Figure
        Empty.
    answer : mapping
        Plain data, as in `answer.json`.
    theme : Theme

    Raises
    ------
    BadInput
        If no end dishes in the pull.
    """
    row, joint, ear = _shown(answer)
    width, height = figure.get_size_inches()
    scale = _scale(ear, joint, width)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    # in mm of the ear, its hole's centre at the origin, the face beside the shank at height 0
    left = _left(joint, ear) - EDGE / scale
    told, beside = _lines(answer, width)
    lines = [*told, *beside]
    foot = EDGE + len(lines) * TYPE * LEADING / 72.0 + 0.08
    gap = joint.gaps[0 if row["member"] != "ear 2" else -1]
    low = -gap - (SLAB + foot) / scale
    axes.set(xlim=(left, left + width / scale), ylim=(low, low + height / scale))
    sketch = Sketch(axes, theme, TYPE * LEADING / 72.0 / scale)
    right = left + (width - EDGE) / scale
    _bodies(sketch, joint, ear, gap, SLAB / scale, right)
    for k, line in enumerate(reversed(lines)):
        colour = theme.ink if k >= len(beside) else theme.quiet
        axes.text(EDGE / width, (EDGE + (k + 0.2) * TYPE * LEADING / 72.0) / height, line,
                  fontsize=TYPE, va="bottom", transform=axes.transAxes, color=colour)  # fmt: skip


def tall(answer: Mapping[str, Any], width: float) -> float:
    """Return the height of `draw`'s picture on a width, inches."""
    _, joint, ear = _shown(answer)
    lines = sum(map(len, _lines(answer, width)))
    cut = _scale(ear, joint, width) * (max(joint.gaps) + _top(joint, ear))
    return 2.0 * EDGE + 0.18 + SLAB + cut + lines * TYPE * LEADING / 72.0


def _left(joint: Joint, ear: Ear) -> float:
    return -max(1.3 * ear.hole, 0.6 * (joint.pin.head or 0.0))


def _top(joint: Joint, ear: Ear) -> float:
    """Return how high the cut reaches above the ear's inner face, mm."""
    head = max(joint.gaps) + 0.16 * joint.pin.diameter if joint.pin.head else 0.0
    return ear.thickness + max(BENT * ear.thickness, head, 0.25 * joint.pin.diameter)


def _scale(ear: Ear, joint: Joint, width: float) -> float:
    """Return inches a mm."""
    long = 1.08 * ear.edge_distance - _left(joint, ear)
    return min((width - 2.0 * EDGE) / long, HIGH / (_top(joint, ear) + max(joint.gaps)))


def _bodies(sketch: Sketch, joint: Joint, ear: Ear, gap: float, slab: float, right: float) -> None:
    theme, pin, hole = sketch.theme, joint.pin, 0.5 * ear.hole
    left, top = _left(joint, ear), _top(joint, ear)
    front = hole + ear.hole_slot
    plate = _box(left, right, -gap - slab, -gap)
    sketch.fill(plate, face=theme.metal, edge=theme.quiet, behind=True)
    sketch.note((right - sketch.text, -gap - 0.5 * slab), "shank", "right")
    # the pin bears on the hole's far side, in shank and ear
    head = pin.head if pin.ends == "headed" else None
    under = ear.thickness + gap
    end = under if head else top
    sketch.fill(
        _box(front - pin.diameter, front, -gap - slab, end), face=theme.steel, edge=theme.ink
    )
    if head:
        axis = front - 0.5 * pin.diameter
        sketch.fill(_box(axis - 0.5 * head, axis + 0.5 * head, under, under + 0.16 * pin.diameter),
                    face=theme.steel, edge=theme.ink)  # fmt: skip
    sketch.fill(_box(left, -hole, 0.0, ear.thickness), face=theme.metal, edge=theme.ink)
    x = np.linspace(front, ear.edge_distance, 40)
    away = BENT * ear.thickness * ((x - front) / (ear.edge_distance - front)) ** 2
    ring = np.concatenate([
        np.stack([x, away], axis=1), np.stack([x, away + ear.thickness], axis=1)[::-1],
    ])  # fmt: skip
    sketch.line(_box(front, ear.edge_distance, 0.0, ear.thickness), theme.quiet, dashed=True)
    sketch.fill(np.vstack([ring, ring[:1]]), face=theme.metal, edge=theme.mark)


def _box(left: float, right: float, low: float, high: float) -> Floats:
    return np.array([[left, low], [right, low], [right, high], [left, high], [left, low]])


def _lines(answer: Mapping[str, Any], width: float) -> tuple[list[str], list[str]]:
    """Return what is said below the cut, and what the cut is, in lines that fit."""
    row, joint, ear = _shown(answer)
    limit = row_of(row, Odds.of_answer(answer))
    load, digits = float(row["load_N"]), limit.digits
    member = "each ear" if row["member"] == EARS_ALIKE else row["member"]
    said = f"{member}: the end dishes at {both_units(row['share_of_pull'] * load, digits)} on it"
    if len(joint.ears) > 1:
        said += f", at a pull of {both_units(load, digits)}"
    if limit.band:
        low, high = limit.band
        said += (
            f"; between pulls of {figures(low, digits)} and {figures(high, digits)} N"
            if isfinite(high)
            else f"; from a pull of {figures(low, digits)} N on"
        )
    held = (
        "nothing is counted on its outer face"
        if joint.pin.head is None
        else f"a head of {joint.pin.head:g} mm does not keep it in its plane"
    )
    how = (
        f"Cut along the pull; the ear is {ear.thickness:g} mm thick and {held}. The dished end is "
        f"a sketch, drawn {BENT:g} thicknesses out of its plane; `fejoint solid` solves it."
    )
    room = width - 2.0 * EDGE
    return look.broken(f"{said}, by rule.", TYPE, room), look.broken(how, TYPE, room)


PICTURES = (
    Picture(
        "dishing", "dished end", "The end that dishes, by rule: a sketch from its edge",
        (1800, 700), "data", draw, "dishing.png", rank=5, vector=True, tall=tall,
        shows=dishes,
    ),
)  # fmt: skip
