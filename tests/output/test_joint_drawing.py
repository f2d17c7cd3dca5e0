"""The drawing of a joint: parts where they bear, at their own size, and what is said of them."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon
from support import DEMO

import fejoint
from fejoint.joint import contour
from fejoint.joint.model import Joint
from fejoint.meshing import contours
from fejoint.output.pictures import joint_drawing
from fejoint.output.pictures import theme as look

PRINT = look.theme("print")
SLOTTED = {"edge_distance": 9.0, "hole_slot": 1.0}


def demo(ear=(), other=(), **tables) -> Joint:
    """Return the demo with other keys, those of its second ear apart."""
    table = fejoint.load(DEMO).to_dict()
    for k, keys in enumerate((ear, {**dict(ear), **dict(other)})):
        table["ear"][k] |= keys
    return fejoint.load(table | {key: table[key] | new for key, new in tables.items()})


def views(joint: Joint) -> tuple[Axes, Axes, str]:
    """Return the cut, the flat and all words."""
    figure = Figure(figsize=(9.0, 5.5))
    joint_drawing.draw(figure, joint, PRINT)
    cut, flat = figure.axes
    return cut, flat, " ".join(t.get_text() for t in (*figure.texts, *cut.texts, *flat.texts))


def sides(axes: Axes, colour: str) -> list[tuple[float, float]]:
    """Return the left and right end of every shape filled with a colour."""
    filled = [p for p in axes.patches if isinstance(p, Polygon) and p.get_fill()]
    ours = [p.get_xy()[:, 0] for p in filled if p.get_facecolor() == to_rgba(colour)]
    return [(float(x.min()), float(x.max())) for x in ours]


def arrow(axes: Axes) -> tuple[np.ndarray, np.ndarray]:
    """Return tail and tip of the pull."""
    (ours,) = (t for t in axes.texts if getattr(t, "arrow_patch", None) is not None
               and t.arrow_patch.get_edgecolor() == to_rgba(PRINT.mark))  # fmt: skip
    return np.array(ours.xyann), np.array(ours.xy)


@pytest.mark.parametrize("angle", [0.0, 180.0, 25.0, -120.0])
@pytest.mark.parametrize("slot", [{}, SLOTTED], ids=["round", "slot"])
def test_in_the_cut_every_plate_has_its_length_and_bears_on_the_pin(slot, angle: float):
    joint = demo(slot, pull={"angle": angle})
    cut, _, said = views(joint)
    on = abs(angle) < 90.0
    ear, shank = joint.ears[0], joint.shank
    pin = sides(cut, PRINT.steel)[0]
    for k, part in enumerate((ear, shank, ear)):
        left, right = sides(cut, PRINT.metal)[2 * k : 2 * k + 2]
        reach = contours.box(contour.outside(part))
        assert right[1] - left[0] == pytest.approx(reach[2] - reach[0])
        slot_ = 0.0 if part is shank else ear.hole_slot
        assert right[0] - left[1] == pytest.approx(part.hole + slot_)
        # an ear holds the pin on the side that it is pulled to, the shank on the other
        if on == (part is ear):
            assert right[0] == pytest.approx(pin[1])
        else:
            assert left[1] == pytest.approx(pin[0])
    left, right = sides(cut, PRINT.metal)[2:4]
    assert (right[1] > -left[0]) is on
    assert ("the cut is drawn as if pulled straight" in said) is (angle not in (0.0, 180.0))
    assert ("pulled straight back" in said) is (angle == -120.0)


def test_ears_of_unlike_holes_both_bear_on_the_pin():
    cut, *_ = views(demo(other={"hole": 4.6}))
    walls = [sides(cut, PRINT.metal)[k][0] for k in (1, 5)]
    assert walls == pytest.approx([sides(cut, PRINT.steel)[0][1]] * 2)


@pytest.mark.parametrize("angle", [0.0, 25.0, 180.0])
def test_on_the_flat_shank_and_arrow_go_with_the_pin(angle: float):
    joint = demo(SLOTTED, pull={"angle": angle})
    _, flat, _ = views(joint)
    way = np.array([np.cos(np.deg2rad(angle)), np.sin(np.deg2rad(angle))])
    (pin,) = (np.array(p.center) for p in flat.patches if isinstance(p, Circle))
    hole = pin + 0.5 * joint.clearance(joint.shank) * way
    shank = flat.lines[0].get_xydata()
    # its round end lies half its width about the middle of its hole
    behind = np.hypot(*(shank - hole)[(shank - hole) @ way < 0.0].T)
    assert behind == pytest.approx(0.5 * joint.shank.width)
    tail, tip = arrow(flat)
    for end in (tail, tip):
        assert (end - pin) @ [-way[1], way[0]] == pytest.approx(0.0, abs=1e-9)


def test_what_is_not_dimensioned_is_said():
    clipped = {"end": "clipped", "clip": 2.0}
    _, _, said = views(demo(clipped, pin={"head": 8.0}, shank={"hole": 4.3}))
    for words in ("pin headed ⌀8,", "shank: hole ⌀4.3", "end clipped by 2", "ear: 2"):
        assert words in said
    _, _, said = views(demo(other={"thickness": 3.0}, pin={"ends": "held"}))
    for words in ("pin held in ear 1", "ear 1: 2", "ear 2: 3"):
        assert words in said
    assert "shank: hole" not in said


def test_the_pull_s_arrow_ends_before_the_shank_s_width():
    _, flat, _ = views(demo({"grip_length": 120.0}, shank={"length": 16.0}))
    (label,) = (t for t in flat.texts if t.get_text() == "16 wide")
    tip = flat.transData.transform(arrow(flat)[1])[0]
    assert tip < label.get_window_extent().x0 - 0.1 * flat.figure.dpi


def test_names_of_hole_and_pin_stand_on_a_crooked_ear_s_metal():
    straight = demo().ears[0]
    _, flat, _ = views(demo({"hole_offset": 3.0}))
    names = {t.get_text(): t.get_position()[1] for t in flat.texts if "⌀" in t.get_text()}
    room = 0.5 * straight.width
    assert max(abs(y + 3.0) for y in names.values()) < 0.5 * room
