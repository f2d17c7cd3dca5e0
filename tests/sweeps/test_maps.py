"""Maps of a load over two dimensions."""

from __future__ import annotations

import cheap
import pytest

from fejoint.errors import BadInput
from fejoint.sweeps import maps
from fejoint.sweeps.plan import Plan
from fejoint.sweeps.run import run
from fejoint.sweeps.variation import parse


@pytest.fixture(scope="module")
def frame(joint):
    soft = joint.replace("pin.hardness", "240 HV")
    varied = (parse("ear.thickness=1:3:6 mm"), parse("ear.edge_distance=5:9:5 mm"))
    return run(Plan(soft, varied), {}, model=cheap.closed_form, workers=0).frame


def test_a_map_names_every_mode_and_marks_the_joint(frame, tmp_path):
    assert frame["mode"].nunique() == 2
    path = maps.draw(
        frame, "ear.thickness_mm", "ear.edge_distance_mm", tmp_path / "map.svg",
        present=(2.0, 7.0), title="Folding fluke anchor",
    )  # fmt: skip
    text = path.read_text()
    for words in ("hole elongation", "pin bending", "the joint as it is", "ear thickness, mm"):
        assert words in text  # each text stands as a comment above its glyphs


def test_scattered_points_make_a_map_too(joint, tmp_path):
    varied = (parse("ear.thickness=1:3 mm"), parse("ear.edge_distance=5:9 mm"))
    rows = Plan(joint, varied, samples=20)
    frame = run(rows, {}, model=cheap.closed_form, workers=0).frame
    path = maps.draw(frame, "ear.thickness_mm", "ear.edge_distance_mm", tmp_path / "map.png")
    assert path.stat().st_size > 10_000


def test_too_few_joints_are_told(frame, tmp_path):
    with pytest.raises(BadInput, match="needs joints that differ"):
        maps.draw(frame[:2], "ear.thickness_mm", "ear.edge_distance_mm", tmp_path / "map.png")
