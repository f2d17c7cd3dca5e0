"""No label leaves the paper or touches another, in any picture, at any width."""

from __future__ import annotations

import json

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Polygon
from support import DEMO, random_joints, wide_joints
from support.labels import faults
from support.pulled import quick_answer

import fejoint
from fejoint.analysis.result import Answer
from fejoint.output import pictures
from fejoint.output.pictures import joint_drawing
from fejoint.output.pictures import theme as look

DRAWN_ELSEWHERE = ("relief",)
"""Pictures whose labels others hold: `plastic` has the same layout."""
DRAWN = (
    {},
    {"ear.hole_slot": "1 mm", "ear.hole_offset": "1.2 mm", "ear.flare_depth": "0.5 mm"},
    {"ear.grip_length": "120 mm"},
    {"ear.thickness": "0.3 mm"},
    {"ear.thickness": "12 mm"},
    {"pull.angle": "90 deg"},
)
"""Shapes whose drawing is looked at."""


def check(answer: Answer, width: float | None, *, every: bool = False) -> None:
    for name, picture in pictures.table().items():
        if name in DRAWN_ELSEWHERE or not picture.is_of(answer):
            continue
        if name in ("plastic", "thickness") and not every:
            continue  # laid out as "stress" is
        figure, _ = pictures.drawing_of(answer, name, width=width)
        assert faults(figure) == [], f"{name} at {width} mm"


@pytest.mark.parametrize("width", [80.0, 170.0])
def test_labels_keep_clear_on_the_demo(width: float):
    check(quick_answer(), width)


@pytest.mark.parametrize("changes", DRAWN, ids=str)
def test_labels_of_the_drawing_keep_clear_at_extreme_shapes(changes: dict[str, str]):
    joint = fejoint.load(DEMO)
    for path, value in changes.items():
        joint = joint.replace(path, value)
    figure = Figure(figsize=(9.0, 5.5))
    joint_drawing.draw(figure, joint, next(iter(look.THEMES.values())))
    assert faults(figure) == []


def test_dimensions_of_the_drawing_clear_an_ear_whose_hole_is_off_its_axis():
    joint = fejoint.load(DEMO).replace("ear.hole_offset", "3.5 mm")
    figure = Figure(figsize=(9.0, 5.5))
    joint_drawing.draw(figure, joint, next(iter(look.THEMES.values())))
    ear = joint.ears[0]
    _, flat = figure.axes
    shown = {text.get_text(): text.get_position()[1] for text in flat.texts}
    assert shown[f"{ear.grip_length:g} to the grip"] > 0.5 * ear.width - ear.hole_offset
    assert shown[f"{joint.shank.length:g} shank"] < -0.5 * ear.width - ear.hole_offset


@pytest.mark.sampled
def test_labels_of_the_drawing_keep_clear_on_random_joints(draws, tally):
    rng, drawing = np.random.default_rng(5), pictures.table()["drawing"]
    count, lettered = 60 if draws(60) == 60 else 6, 0
    for k in range(count):
        joint = (random_joints, wide_joints)[k % 2].draw(rng)
        for width in (80.0, 120.0, 170.0, 25.4 * look.WIDTH):
            wide = width / look.MM
            with look.styled(look.theme("print")):
                figure = look.figure((wide, drawing.tall(joint, wide)))
                drawing.draw(figure, joint, look.theme("print"))
                assert faults(figure) == [], (k, width)
            # each plate is within the paper
            for axes in figure.axes:
                low, high = axes.get_xlim()
                plates = [p.get_xy()[:, 0] for p in axes.patches if isinstance(p, Polygon)]
                ends = np.concatenate(plates)
                assert low <= ends.min() < ends.max() <= high, (k, width)
            lettered += bool(figure.texts)
    assert 0.5 * 4 * count <= lettered < 4 * count
    tally(f"drawings of {count} random joints keep clear at four widths")


def test_a_lettered_drawing_says_what_a_written_one_does():
    drawing, joint = pictures.table()["drawing"], fejoint.load(DEMO)
    said = {}
    for width in (80.0, 170.0):
        wide = width / look.MM
        with look.styled(look.theme("print")):
            figure = look.figure((wide, drawing.tall(joint, wide)))
            drawing.draw(figure, joint, look.theme("print"))
        texts = [t.get_text() for t in (*figure.texts, *(t for a in figure.axes for t in a.texts))]
        said[width] = " ".join(texts)
    for value in ("25 to the grip", "e 7", "30 shank", "ear: 2", "shank: 6", "hole ⌀4.1", "pin ⌀4",
                  "side gap 0.1", "pin headed, 484 HV", "mm, to scale", "pull"):  # fmt: skip
        assert value in said[170.0]
        assert value in said[80.0]
    assert {"A", "B", "C", "D", "E", "F"} <= set(said[80.0].split())


@pytest.mark.sampled
def test_labels_keep_clear_on_random_joints(draws, tally):
    rng = np.random.default_rng(22)
    count = 60 if draws(60) == 60 else 2
    for k in range(count):
        answer = fejoint.pull(random_joints.draw(rng), refine=0.35)
        for width in (80.0, 170.0) if count == 60 else ((80.0, 170.0)[k % 2],):
            check(answer, width, every=count == 60)
    tally(f"labels of {count} random joints keep clear and on the paper")


def test_labels_that_touch_or_leave_the_paper_are_found():
    with look.styled(look.THEMES["print"]):
        figure = look.figure((3.0, 2.0))
        figure.text(0.5, 0.5, "one")
        figure.text(0.52, 0.5, "other")
        figure.text(0.9, 0.9, "beyond the edge")
        figure.text(0.1, 0.1, "small", fontsize=5.0)
    assert len(faults(figure)) == 3


def test_long_words_and_close_loads_keep_clear_on_the_axis_of_limits():
    plain = json.loads(quick_answer().to_json())
    row = plain["verdict"]["order"][0] | {"later": [], "member": "both ears"}
    loads = (1000.0, 1001.0, 1500.0, 4000.0, 4200.0, 9000.0)
    plain["verdict"]["order"] = [
        row | {"mode": "ear bending", "cause": "bend aside left 1 % of its length", "load_N": load,
               "handbook_load_N": 9 * load, "handbook_note": "too long", "band_N": [load, None]}
        for load in loads
    ]  # fmt: skip
    for width in (60.0, 80.0, 170.0):
        figure, _ = pictures.drawing_of(plain, "limits", width=width)
        assert faults(figure) == []


def test_a_picture_is_as_wide_in_print_as_asked():
    for width in (80.0, 170.0):
        figure, pixels = pictures.drawing_of(quick_answer(), "limits", width=width)
        assert figure.get_size_inches()[0] * 25.4 == pytest.approx(width)
        assert pixels == round(width / 25.4 * 300.0)


def test_the_thinnest_line_of_a_column_is_a_quarter_of_a_point():
    from matplotlib.lines import Line2D

    for name in ("limits", "curve", "stress", "pin"):
        figure, _ = pictures.drawing_of(quick_answer(), name, width=80.0)
        drawn = [x for x in figure.findobj(Line2D) if x.get_linestyle() != "None"]
        assert min(x.get_linewidth() for x in drawn if len(x.get_xdata())) >= 0.25
