from __future__ import annotations

import functools

import pytest
from support import DEMO

import fejoint
from fejoint.errors import BadInput
from fejoint.handbook.limit_loads import oblique_load
from fejoint.output.pictures import theme as look
from fejoint.studies.directions import Direction, Directions


@functools.cache
def rows() -> dict[float, Direction]:
    joint = fejoint.load(DEMO).replace("pull.stop_displacement", "0.5 mm")
    found = fejoint.directions(joint, [30.0, -30.0, 0.0, 180.0, 90.0], refine=0.5)
    return {row.angle: row for row in found}


def test_directions_come_by_rising_angle():
    assert list(rows()) == [-30.0, 0.0, 30.0, 90.0, 180.0]


def test_pulls_to_both_sides_bear_alike():
    up, down = rows()[30.0], rows()[-30.0]
    assert up.hole_load == pytest.approx(down.hole_load, rel=1e-4)
    assert up.joint_load == pytest.approx(down.joint_load, rel=1e-4)


def test_straight_direction_is_the_plain_pull():
    joint = fejoint.load(DEMO).replace("pull.stop_displacement", "0.5 mm")
    plain = fejoint.pull(joint, refine=0.5).event("offset load").load
    assert rows()[0.0].hole_load == pytest.approx(plain, rel=1e-9)


def test_back_thrust_bears_more_than_the_pull_and_sideways_bends_the_ear():
    assert rows()[180.0].hole_load > rows()[0.0].hole_load > rows()[30.0].hole_load
    assert rows()[90.0].hole_load is None
    assert rows()[90.0].joint_load < 0.5 * rows()[0.0].joint_load


def test_handbook_interaction_meets_both_ends_and_says_nothing_of_back_thrust():
    along, across = rows()[0.0], rows()[90.0]
    assert along.interaction_load == pytest.approx(along.joint_load)
    assert across.interaction_load == pytest.approx(across.joint_load)
    expected = oblique_load(along.joint_load, across.joint_load, 30.0)
    assert rows()[30.0].interaction_load == pytest.approx(expected)
    assert rows()[180.0].interaction_load is None


def test_angle_out_of_range_is_refused():
    with pytest.raises(BadInput, match="-180 deg to 180 deg"):
        fejoint.directions(fejoint.load(DEMO), [200.0])


@pytest.mark.parametrize("theme", ["print", "dark"])
def test_polar_picture_is_drawn_in_every_theme(theme, tmp_path):
    found = Directions(fejoint.load(DEMO), tuple(rows().values()))
    text = look.save(found.plot(title="drawn", theme=theme), tmp_path / "round.svg").read_text()
    assert "drawn" in text
    assert list(found.frame["angle_deg"]) == [row.angle for row in found] == list(rows())
    assert found.sentence in text
    assert "<svg" in text
    assert all(row.to_dict()["angle_deg"] == row.angle for row in rows().values())
