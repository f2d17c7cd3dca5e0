"""The picture of the bent pin: its plates with their holes, heads and names."""

from __future__ import annotations

import dataclasses

import matplotlib.colors
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.patches import Polygon
from support import DEMO
from support.labels import faults
from support.pulled import quick_answer

import fejoint
from fejoint.analysis.result import Answer
from fejoint.output import pictures
from fejoint.output.pictures import pin_holes
from fejoint.output.pictures import theme as look

PRINT = look.theme("print")


@pytest.fixture(scope="module")
def turned_pin() -> Answer:
    """Pull one slotted and flared ear on a headed pin that turns."""
    table = fejoint.load(DEMO).to_dict()
    ear = table["ear"][0] | {"hole_slot": 1.0, "edge_distance": 9.0, "flare_depth": 0.5}
    return fejoint.pull(table | {"ear": [ear], "fit": table["fit"] | {"gap": 0.2}}, refine=0.35)


@pytest.fixture(scope="module")
def hard_pin() -> Answer:
    return fejoint.pull(DEMO, refine=0.35)


@pytest.fixture(scope="module")
def unborne() -> Answer:
    """Pull a thin pin across a gap so wide that it turns before it bears."""
    table = fejoint.load(DEMO).to_dict()
    ear = table["ear"][0] | {"thickness": 0.5, "hole": 1.9}
    return fejoint.pull(
        table
        | {"ear": [ear], "fit": {"gap": 10.0, "friction": 0.0}}
        | {"pin": {"diameter": 1.0, "material": "soft stainless wire", "ends": "free"}}
        | {"shank": {"thickness": 2.0, "hole": 1.8, "material": "A4-70 bolt shank"}},
        refine=0.35,
    )


@pytest.fixture(scope="module")
def slender() -> Answer:
    """Pull a pin that is long for its width, and hardly at all."""
    joint = fejoint.load(DEMO).replace("ear.thickness", "8 mm")
    return fejoint.pull(joint.replace("pull.stop_displacement", "0.02 mm"), refine=0.35)


def filled(axes: Axes, colour: str) -> list[Polygon]:
    shapes = [p for p in axes.patches if isinstance(p, Polygon) and p.get_fill()]
    return [p for p in shapes if p.get_facecolor() == matplotlib.colors.to_rgba(colour)]


def panels_of(answer: Answer, width: float) -> list[Axes]:
    figure, _ = pictures.drawing_of(answer, "pin", width=width)
    assert faults(figure) == []
    return [axes for axes in figure.axes if filled(axes, PRINT.metal)]


@pytest.mark.parametrize("angle", [0.0, 25.0, -70.0, 90.0, 140.0, 180.0])
def test_the_wall_behind_the_pin_is_the_slot_s(angle: float):
    ear = fejoint.load(DEMO).ears[0]
    slotted = dataclasses.replace(ear, hole_slot=1.0)
    way = np.array([np.cos(np.deg2rad(angle)), np.sin(np.deg2rad(angle))])
    seat = np.array([1.0 if way[0] > 1e-9 else 0.0, 0.0])
    x, y = seat - pin_holes.behind(slotted, angle) * way
    assert np.hypot(x - np.clip(x, 0.0, 1.0), y) == pytest.approx(0.5 * ear.hole)
    assert pin_holes.behind(ear, angle) == pytest.approx(0.5 * ear.hole)


def test_a_slot_is_seen_behind_the_pin_and_a_flare_is_said_to_be_left_out(turned_pin: Answer):
    ear = turned_pin.joint.ears[0]
    axes, *_ = panels_of(turned_pin, 170.0)
    near, far = (p.get_xy()[:, 0] for p in filled(axes, PRINT.metal)[:2])
    assert near.min() - far.max() == pytest.approx(ear.hole + ear.hole_slot, rel=0.02)
    # a stretch of the ear is seen beyond it
    assert far.max() - axes.get_xlim()[0] > 0.2 * turned_pin.joint.pin.diameter
    words = {a: pictures.drawing_of(a, "pin")[0] for a in (turned_pin, quick_answer())}
    for answer, figure in words.items():
        said = " ".join(a.get_xlabel() for a in figure.axes).replace("\n", " ")
        assert ("flares bear nothing and are left out" in said) is (answer is turned_pin)


def test_bearing_is_told_by_the_way_that_the_pin_pushes(turned_pin: Answer):
    figure, _ = pictures.drawing_of(turned_pin, "pin", width=80.0)
    said = {t.get_text() for axes in figure.axes for t in axes.texts}
    assert "← on plates →" in said
    assert not said & {"on ears", "on shank"}


def test_heads_lie_behind_the_plates(turned_pin: Answer):
    for axes in panels_of(turned_pin, 170.0):
        heads = [p.get_zorder() for p in filled(axes, PRINT.steel)]
        assert len(heads) == 2
        assert max(heads) < min(p.get_zorder() for p in filled(axes, PRINT.metal))


@pytest.mark.parametrize("width", [80.0, 170.0])
@pytest.mark.parametrize("case", ["turned_pin", "hard_pin", "unborne", "slender"])
def test_every_plate_is_named_beside_the_pin(case: str, width: float, request):
    answer = request.getfixturevalue(case)
    named = set()
    names = {"shank", "ear"} if len(answer.joint.ears) == 1 else {"shank", "ear 1", "ear 2"}
    for axes in panels_of(answer, width):
        (pin,) = (line for line in axes.lines if line.get_zorder() == 7)
        rim = axes.transData.transform(pin.get_xydata())
        metal = [axes.transData.transform(p.get_xy()) for p in filled(axes, PRINT.metal)]
        for text in axes.texts:
            if text.get_text() not in names:
                continue
            named.add(text.get_text())
            # with the ground that it stands on
            box = text.get_window_extent().padded(axes.figure.dpi / 72.0)
            level = np.abs(rim[:, 1] - 0.5 * (box.y0 + box.y1)) < 0.5 * box.height
            assert np.all((rim[level, 0] < box.x0) | (rim[level, 0] > box.x1))
            y = 0.5 * (box.y0 + box.y1)
            held = [m for m in metal if m[:, 1].min() < y < m[:, 1].max()
                    and m[:, 0].min() < box.x0 and box.x1 < m[:, 0].max()]  # fmt: skip
            assert held
    assert named == names


def test_a_pin_that_bears_nothing_has_no_colour_and_all_its_shank_is_shown(unborne: Answer):
    figure, _ = pictures.drawing_of(unborne, "pin", width=80.0)
    section, *_ = figure.axes
    (image,) = section.collections
    assert image.norm.vmax >= 0.01 * unborne.joint.pin.material.rp02
    low, _ = section.get_ylim()
    assert low < min(p.get_xy()[:, 1].min() for p in filled(section, PRINT.metal))
