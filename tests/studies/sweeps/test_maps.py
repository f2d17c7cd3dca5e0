"""Maps of a load over two dimensions."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.axes import Axes
from support import cheap

from fejoint.errors import BadInput
from fejoint.output.pictures import theme as look
from fejoint.studies.sweeps import maps
from fejoint.studies.sweeps.plan import Plan
from fejoint.studies.sweeps.run import run
from fejoint.studies.sweeps.variation import parse


@pytest.fixture(scope="module")
def frame(joint):
    soft = joint.replace("pin.hardness", "240 HV")
    varied = (parse("ear.thickness=1:3:6 mm"), parse("ear.edge_distance=5:9:5 mm"))
    return run(Plan(soft, varied), {}, model=cheap.closed_form, workers=0).frame


def test_a_map_names_every_mode_and_marks_the_joint(frame, tmp_path):
    assert frame["mode"].nunique() == 2
    figure = maps.draw(
        frame, "ear.thickness_mm", "ear.edge_distance_mm", present=(2.0, 7.0),
        title="Folding fluke anchor",
    )  # fmt: skip
    text = look.save(figure, tmp_path / "map.svg").read_text()
    for words in ("hole stretches", "pin bends", "the joint as it is", "ear thickness, mm"):
        assert words in text  # each text stands as a comment above its glyphs


def test_scattered_points_make_a_map_too(joint, tmp_path):
    varied = (parse("ear.thickness=1:3 mm"), parse("ear.edge_distance=5:9 mm"))
    rows = Plan(joint, varied, samples=20)
    frame = run(rows, {}, model=cheap.closed_form, workers=0).frame
    figure = maps.draw(frame, "ear.thickness_mm", "ear.edge_distance_mm")
    path = look.save(figure, tmp_path / "map.png")
    assert path.stat().st_size > 10_000


def test_the_border_runs_where_the_loads_cross_and_the_joints_first_load_is_drawn(frame):
    axes, bar = maps.draw(frame, "ear.thickness_mm", "ear.edge_distance_mm").axes
    assert bar.get_ylabel() == "joint first gives, N (pull on the whole joint)"
    joint = frame.iloc[0]
    bend = frame[frame["mode"] == "pin bending"]["load_N"].iloc[0]
    hole = joint["offset_load_N"] / joint["ear.thickness_mm"] / joint["ear.edge_distance_mm"] ** 0.5
    border = [line for line in axes.lines if line.get_linewidth() == 1.6]
    assert len(border) > 4
    for line in border:
        for thickness, end in line.get_xydata():
            assert hole * thickness * end**0.5 == pytest.approx(bend, rel=0.02)
    solved = next(line for line in axes.lines if line.get_marker() == ".")
    assert len(solved.get_xdata()) == len(frame)


def test_where_the_next_mode_is_not_known_the_border_runs_between_the_joints(frame):
    blind = frame.assign(next_mode=None, margin_to_next=None)
    for table in (blind, frame.drop(columns=["next_mode", "margin_to_next"])):
        axes = maps.draw(table, "ear.thickness_mm", "ear.edge_distance_mm").axes[0]
        border = [line for line in axes.lines if line.get_linewidth() == 1.6]
        steps = [np.ptp(line.get_xydata(), axis=0) for line in border]
        assert border
        assert all(min(step) == 0.0 for step in steps)


@pytest.mark.parametrize("theme", ["print", "dark"])
def test_every_label_is_whole_and_clear_of_the_others(frame, theme):
    # levels that meet the upper edge at a steep angle, where a label was cut off
    figure = maps.draw(
        frame, "ear.thickness_mm", "ear.edge_distance_mm", present=(2.0, 7.0), theme=theme
    )
    axes = figure.axes[0]
    room = axes.get_window_extent()
    boxes = [text.get_window_extent() for text in axes.texts]
    values = [text for text in axes.texts if text.get_text().replace(",", "").isdigit()]
    assert len(values) >= 4
    for text in axes.texts:
        box = text.get_window_extent()
        assert room.x0 <= box.x0 < box.x1 <= room.x1
        assert room.y0 <= box.y0 < box.y1 <= room.y1
    for k, text in enumerate(axes.texts):
        if text in values:
            near = [other for j, other in enumerate(boxes) if j != k]
            assert text.get_window_extent().count_overlaps(near) == 0
    inks = {text.get_color() for text in values}
    assert inks == {look.THEMES[theme].ink, look.THEMES[theme].paper}


def test_too_few_joints_are_told(frame):
    with pytest.raises(BadInput, match="needs joints that differ"):
        maps.draw(frame[:2], "ear.thickness_mm", "ear.edge_distance_mm")


def test_a_map_of_three_dimensions_is_cut_where_the_third_is_nearest(joint, tmp_path):
    texts = ("ear.thickness=1,2,3 mm", "ear.edge_distance=5,7,9 mm", "ear.width=12,14,16 mm")
    varied = map(parse, texts)
    frame = run(Plan(joint, tuple(varied)), {}, model=cheap.closed_form, workers=0).frame
    cut = maps._cut(frame, {"ear.width_mm": 14.6})
    assert set(cut["ear.width_mm"]) == {14.0}
    assert len(cut) == 9
    figure = maps.draw(
        frame, "ear.thickness_mm", "ear.edge_distance_mm", others={"ear.width_mm": 14.6},
        title="Folding fluke anchor",
    )  # fmt: skip
    path = look.save(figure, tmp_path / "map.svg")
    assert "Folding fluke anchor, at ear width, mm 14" in path.read_text()


def test_a_column_s_unit_is_spoken_apart():
    assert maps.spoken("ear.edge_distance_mm") == "ear edge distance, mm"
    assert maps.spoken("fit.friction") == "fit friction"
    assert maps.spoken("fracture_strain") == "fracture strain"


def test_contours_without_room_for_a_label_stay_without(frame, tmp_path, monkeypatch):
    called = []
    monkeypatch.setattr(maps.map_labels, "CLEAR", 1000.0)
    monkeypatch.setattr(Axes, "clabel", lambda *a, **k: called.append(a))
    figure = maps.draw(frame, "ear.thickness_mm", "ear.edge_distance_mm")
    path = look.save(figure, tmp_path / "map.svg")
    assert "hole stretches" in path.read_text()
    assert called == []
