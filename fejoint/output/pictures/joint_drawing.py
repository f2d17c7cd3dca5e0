"""The joint to scale with its dimensions: seen on the flat, and cut along the pin's axis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fejoint.arrays import Floats
from fejoint.joint import contour
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear, Shank
from fejoint.meshing import contours
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.dimension_lines import Legend, Sketch
from fejoint.output.pictures.label_room import labels_keep_clear
from fejoint.output.pictures.picture import Picture
from fejoint.output.pictures.seated_joint import (
    Layer,
    along,
    layers_of,
    seat,
    shank_hole,
    straight,
    way_of,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Rooms:
    """Room for dimensions at the sides, and above and below either view, inches."""

    side: float
    flat: float
    cut: float


WRITTEN = Rooms(0.95, 0.47, 0.58)
"""Where each dimension has its words beside it."""
LETTERED = Rooms(0.5, 0.42, 0.2)
"""Where it has a letter, and its words stand below."""
WIDE = 6.0
"""Width from which words may have room, inches: on less they would lie across the lines."""
TYPE = 7.5
TALLEST = 1.3
"""Height of the views over their width."""
LINE = 0.16
"""Height of a line of text, inches."""
USUAL = (1800, 1100)
"""Pixels of a drawing that has its words at every dimension."""
HEAD = (1.45, 0.16)
"""Diameter and height of a pin's head as drawn, over the pin's diameter; its own where said."""
HEAD_OFF = 0.06
"""How far off the ear a head is drawn, over the pin's diameter."""


def draw(figure: Figure, joint: Joint, theme: look.Theme) -> None:
    """Draw both views under each other, with the pull to the right.

    Every dimension has its words where they have room; where two would touch or leave the paper,
    it has a letter, and the words stand below.

    Parameters
    ----------
    figure : Figure
        Empty.
    joint : Joint
    theme : Theme
    """
    if _written(figure, joint, theme):
        return
    figure.clear()
    lines = _legend(joint, theme, float(figure.get_size_inches()[0]))
    _views(figure, joint, theme, LETTERED, Legend(), LINE * (len(lines) + 1))
    width, height = figure.get_size_inches()
    for k, line in enumerate(reversed(lines)):
        figure.text(0.12 / width, LINE * (k + 0.75) / height, line, fontsize=TYPE,
                    va="center", color=theme.ink)  # fmt: skip


def tall(joint: Joint, width: float) -> float:
    """Return how high a drawing of a width has to be, inches."""
    theme, usual = look.theme("print"), width * USUAL[1] / USUAL[0]
    if _written(look.figure((width, usual)), joint, theme):
        return usual
    lines = _legend(joint, theme, width)
    left, right, low, high = _extent(joint)
    scale = (width - 2.0 * LETTERED.side) / (right - left)
    views = min(scale * (high - low + joint.grip), TALLEST * width)
    return views + 2.0 * (LETTERED.flat + LETTERED.cut) + LINE * (len(lines) + 1)


def _written(figure: Figure, joint: Joint, theme: look.Theme) -> bool:
    """Draw both views with words at every dimension; say whether they have room."""
    if figure.get_size_inches()[0] < WIDE:
        return False
    _views(figure, joint, theme, WRITTEN)
    return labels_keep_clear(figure)


def _legend(joint: Joint, theme: look.Theme, width: float) -> list[str]:
    """Return what the letters stand for, in lines as wide as the paper."""
    legend = Legend()
    _views(look.figure((width, width)), joint, theme, LETTERED, legend)
    lines: list[str] = []
    for row in legend.rows:
        one = f"{lines[-1]}   {row}" if lines else row
        if lines and look.text_width(one, TYPE) < width - 0.24:
            lines[-1] = one
        else:
            lines += look.broken(row, TYPE, width - 0.24)
    return lines


def _extent(joint: Joint) -> tuple[float, float, float, float]:
    """Return from where to where the views reach: left, right, low, high on the flat, mm."""
    flat = np.vstack([_shank_on_the_flat(joint), profile(joint.ears[0])])
    layers = layers_of(joint)
    return (
        min(float(flat[:, 0].min()), *(x.left for x in layers)),
        max(float(flat[:, 0].max()), *(x.right for x in layers)),
        float(flat[:, 1].min()), float(flat[:, 1].max()),
    )  # fmt: skip


def _views(
    figure: Figure,
    joint: Joint,
    theme: look.Theme,
    rooms: Rooms,
    legend: Legend | None = None,
    below: float = 0.0,
) -> None:
    """Draw both views at one scale, one axis above the other, above what stands below."""
    left, right, low, high = _extent(joint)
    width, height = figure.get_size_inches()
    scale = min(
        (width - 2.0 * rooms.side) / (right - left),
        max(height - below - 2.0 * (rooms.flat + rooms.cut), 0.2) / (high - low + joint.grip),
    )
    text = LINE / scale
    flat_high, cut_high = (
        scale * (high - low) + 2.0 * rooms.flat,
        scale * joint.grip + 2.0 * rooms.cut,
    )
    foot = below + 0.5 * (height - below - flat_high - cut_high)
    middle, reach = 0.5 * (left + right), 0.5 * width / scale
    cut = figure.add_axes((0.0, foot / height, 1.0, cut_high / height))
    flat = figure.add_axes((0.0, (foot + cut_high) / height, 1.0, flat_high / height))
    flat.set_ylim(low - rooms.flat / scale, high + rooms.flat / scale)
    cut.set_ylim(-0.5 * cut_high / scale, 0.5 * cut_high / scale)
    for axes in (flat, cut):
        axes.set_axis_off()
        axes.set_xlim(middle - reach, middle + reach)
    _flat(Sketch(flat, theme, text, legend), joint)
    _cut(Sketch(cut, theme, text, legend), joint)


def _shank_on_the_flat(joint: Joint) -> Floats:
    """Return the shank's outline, turned into the pull; an oblique one is cut short."""
    shape = profile(joint.shank, -1.0)
    if not along(joint):
        shape[:, 0] = np.minimum(shape[:, 0], joint.shank.width)
    return _into_the_pull(joint, shape)


def _into_the_pull(joint: Joint, shape: Floats) -> Floats:
    way = way_of(joint)
    across = np.array([way, [-way[1], way[0]]])
    return np.asarray(shape @ across + shank_hole(joint, way))


def profile(part: Ear | Shank, direction: float = 1.0) -> Floats:
    """Return the outline of a plate about its hole, (k, 2), mm, its end in a direction of x."""
    return np.asarray(contours.points(contour.outside(part)) * np.array([direction, 1.0]))


def _besides(part: Ear | Shank) -> list[str]:
    """Say what a plate has besides its main dimensions."""
    said = []
    if isinstance(part, Ear):
        if part.hole_slot > 0.0:
            said.append(f"slot {part.hole_slot:.4g}")
        if part.hole_offset != 0.0:
            said.append(f"hole {part.hole_offset:.4g} off the axis")
        if part.flare_depth > 0.0:
            said.append(f"flare {part.flare_depth:.4g} deep, {part.flare_angle:.4g}°")
    if part.clip > 0.0:
        said.append(f"end clipped by {part.clip:.4g}")
    return said


def _mouth(ear: Ear) -> float:
    """Return what a flare adds to the hole's radius on the outer face, mm."""
    return float(ear.flare_depth * np.tan(0.5 * np.deg2rad(ear.flare_angle)))


def _flat(sketch: Sketch, joint: Joint) -> None:
    ear, pin, shank = joint.ears[0], joint.pin, joint.shank
    theme, text = sketch.theme, sketch.text
    outline, way = _shank_on_the_flat(joint), way_of(joint)
    sketch.fill(outline, face=theme.paper, edge=theme.quiet, behind=True)
    # the hole's centre is the origin: one off the axis moves the ear under it
    shape = contour.outside(ear)
    _, ear_low, _, ear_high = contours.box(shape)
    half, axis = 0.5 * (shape[-1][1] - shape[0][1]), 0.5 * (shape[-1][1] + shape[0][1])
    tall = max(ear_high, float(outline[:, 1].max()))
    deep = max(-ear_low, 0.5 * shank.width)
    ahead = joint.pull.angle == 0.0
    holes = [
        _into_the_pull(joint, np.asarray(contours.points(c) * np.array([-1.0, 1.0])))
        for c in contour.openings(shank)
        if along(joint) or -contours.box(c)[0] < shank.width  # an oblique one is cut short
    ]
    for slot in holes:
        sketch.fill(slot, face=theme.paper, edge=theme.quiet, behind=True)
    sketch.fill(profile(ear), face=theme.metal, edge=theme.ink)
    for line in (outline, *holes):
        sketch.line(line, theme.quiet, dashed=True)
    touch, carried = seat(joint, ear, way), shank_hole(joint, way)
    if ear.flare_depth > 0.0:
        mouth = contours.points(contour.hole(ear, _mouth(ear)))
        sketch.fill(mouth, face=theme.paper, edge=theme.ink)
    sketch.fill(contours.points(contour.hole(ear)), face=theme.paper, edge=theme.ink)
    for opening in contour.openings(ear):
        sketch.fill(contours.points(opening), face=theme.paper, edge=theme.ink)
    sketch.circle(tuple(touch), 0.5 * pin.diameter, face=theme.steel, edge=theme.ink)
    sketch.centre(0.5 * ear.hole + 0.9 * text)
    end, grip, out = ear.edge_distance, ear.grip_length, shank.length
    sketch.held(-grip, half, axis)
    above, below = tall + 1.8 * text, -deep - 1.8 * text
    sketch.across((-grip, 0.0), above, f"{grip:.4g} to the grip", feet=(half + axis, 0.0))
    sketch.across((0.0, end), above, f"e {end:.4g}", feet=(0.0, 0.0))
    if ahead:
        back, middle = shank.edge_distance, float(carried[0])
        # words in the legend stand far from the shank that they are of
        to, of = ("", "") if sketch.legend is None else (" shank's end", " shank")
        sketch.across((middle - back, middle), below, f"{back:.4g}{to}", feet=(0.0, 0.0))
        sketch.across((middle, middle + out), below, f"{out:.4g} shank",
                      feet=(0.0, -0.5 * shank.width))  # fmt: skip
        sketch.upright(0.5 * shank.width, middle + out + 2.2 * text,
                       f"{shank.width:.4g}{of} wide", feet=middle + out)  # fmt: skip
    own = "" if sketch.legend is None else " ear"
    wide = f"{2.0 * half:.4g}{own} wide" if ear.outline is None else f"{2.0 * half:.4g} held"
    sketch.upright(half, -grip - 2.2 * text, wide, feet=-grip, middle=axis)
    clear = max(-0.5 * (grip + min(shank.edge_distance, 0.6 * grip)), 3.2 * text - grip)
    low, high = _metal(ear, np.clip(clear + 2.5 * text * np.array([-1, 0, 1]), -0.99 * grip, 0.0))
    at = np.array([-np.cos(0.9), np.sin(0.9)]) * 0.5 * ear.hole
    sketch.leader(at, (clear, 0.26 * low + 0.74 * high), f"hole ⌀{ear.hole:.4g}")
    at = touch + np.array([-np.cos(0.9), -np.sin(0.9)]) * 0.4 * pin.diameter
    sketch.leader(at, (clear, 0.74 * low + 0.26 * high), f"pin ⌀{pin.diameter:.4g}")
    # on a short shank the arrow ends before the width's dimension
    start = min(0.62 * out, out - 3.2 * text) if ahead else 0.62 * shank.width
    sketch.pull(tuple(carried + start * way), tuple(way), joint.pull.angle)


def _metal(ear: Ear, places: Floats) -> tuple[float, float]:
    """Return from where to where an ear has metal at all of some places along it, mm."""
    rings = [contour.outside(ear), *contour.openings(ear)]
    spans = [max(contours.spans_at(rings, x), key=lambda s: s[1] - s[0]) for x in places]
    return max(low for low, _ in spans), min(high for _, high in spans)


def _cut(sketch: Sketch, joint: Joint) -> None:
    """Draw the joint cut along the pin's axis, as it is pulled on along the ears, or back."""
    pin, theme, text = joint.pin, sketch.theme, sketch.text
    top = 0.5 * joint.grip
    layers = layers_of(joint)
    for layer in layers:
        part, low, high = layer.part, layer.low, layer.high
        hole = 0.5 * part.hole
        slot, mouth, depth = 0.0, 0.0, 0.0
        if isinstance(part, Ear):
            slot, mouth = part.hole_slot, _mouth(part)
            depth = min(part.flare_depth, part.thickness) * (1.0 if high == top else -1.0)
        outer, inner = (high, low) if depth >= 0.0 else (low, high)
        for end, wall, out_by in (
            (layer.left, layer.hole - hole, -mouth), (layer.right, layer.hole + hole + slot, mouth)
        ):  # fmt: skip
            corners = np.array([[end, inner], [wall, inner], [wall, outer - depth],
                                [wall + out_by, outer], [end, outer], [end, inner]])  # fmt: skip
            sketch.fill(corners, face=theme.metal, edge=theme.ink, hatch=True)
    touch = float(seat(joint, joint.ears[0], straight(joint))[0])
    radius = 0.5 * pin.diameter
    stub = 0.22 * pin.diameter
    tip = top + (HEAD_OFF * pin.diameter if pin.ends == "headed" else stub)
    sketch.fill(_box(touch, radius, -tip, tip), face=theme.steel, edge=theme.ink)
    if pin.ends == "headed":
        radius = 0.5 * (pin.head or HEAD[0] * pin.diameter)
        for side in (-1.0, 1.0):
            face = side * (top + HEAD_OFF * pin.diameter)
            head = _box(touch, radius, face, face + side * HEAD[1] * pin.diameter)
            sketch.fill(head, face=theme.steel, edge=theme.ink)
    sketch.line(
        np.array([[touch, -top - 1.6 * stub - text], [touch, top + 1.6 * stub + text]]),
        theme.quiet,
        dashed=True,
    )
    left, right = min(x.left for x in layers), max(x.right for x in layers)
    _thicknesses(sketch, joint, layers, (left - 1.3 * text, right + 1.3 * text))
    gaps = " and ".join(f"{g:.4g}" for g in sorted(set(joint.gaps)))
    ear, shank = layers[0].right, layers[1].right
    beside = max(0.45 * (ear + shank), max(ear, touch + radius) + 0.5 * text)
    sketch.note((beside, top + 0.2 * text), f"side gap {gaps}", "left")
    sketch.note((right, -top - 1.9 * text), _ends(joint), "right")
    sketch.note((left, -top - 3.1 * text), _dimensions(joint), "left")


def _box(middle: float, half: float, low: float, high: float) -> Floats:
    left, right = middle - half, middle + half
    return np.array([[left, low], [right, low], [right, high], [left, high], [left, low]])


def _thicknesses(
    sketch: Sketch, joint: Joint, layers: list[Layer], at: tuple[float, float]
) -> None:
    """Draw the ears' beside the left end of what is drawn, the shank's beside the right one."""
    alike = joint.ears[0] == joint.ears[-1]
    for k, x in enumerate(layers):
        if isinstance(x.part, Ear):
            name = "ear" if alike else f"ear {1 + k // 2}"
            sketch.stack(at[0], x.low, x.high, f"{name}: {x.part.thickness:.4g}", x.left, -1.0)
        else:
            sketch.stack(at[1], x.low, x.high, f"shank: {x.part.thickness:.4g}", x.right, 1.0)


def _ends(joint: Joint) -> str:
    ends = {
        "free": "pin free to slide",
        "headed": "pin headed" if joint.pin.head is None else f"pin headed ⌀{joint.pin.head:.4g}",
        "held": "pin held in the ear" if len(joint.ears) == 1 else "pin held in ear 1",
    }
    hardness = joint.pin.material.hardness_hv
    hard = f", {hardness:.0f} HV" if hardness is not None and not joint.pin.rigid else ""
    rigid = ", rigid" if joint.pin.rigid else ""
    return ends[joint.pin.ends] + hard + rigid


def _dimensions(joint: Joint) -> str:
    """Say the unit, and what the views do not show."""
    ear, shank = joint.ears[0], joint.shank
    said = ["mm, to scale", *_besides(ear)]
    if any(contour.openings(layer.part) for layer in layers_of(joint)):
        said.append("the cut leaves openings out")
    if not along(joint):
        back = "" if straight(joint)[0] > 0.0 else " back"
        said.append(f"the cut is drawn as if pulled straight{back}")
    own = _besides(shank)
    if f"{shank.hole:.4g}" != f"{ear.hole:.4g}":
        own.insert(0, f"hole ⌀{shank.hole:.4g}")
    if joint.pull.angle != 0.0:
        own = [f"{shank.width:.4g} wide", f"{shank.length:.4g} long",
               f"{shank.edge_distance:.4g} to its end", *own]  # fmt: skip
    if own:
        said.append("shank: " + ", ".join(own))
    other = joint.ears[-1]
    if other != ear:
        own = [f"{other.width:.4g} wide", f"hole ⌀{other.hole:.4g}", f"e {other.edge_distance:.4g}",
               f"{other.grip_length:.4g} to the grip", *_besides(other)]  # fmt: skip
        said.append("ear 2: " + ", ".join(own))
    return "; ".join(said)


PICTURES = (
    Picture(
        "drawing", "drawing", "The joint to scale, on the flat and cut along the pin's axis",
        USUAL, "joint", draw, "joint.png", rank=0, vector=True, tall=tall,
    ),
)  # fmt: skip
