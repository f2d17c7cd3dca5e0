"""What the page takes to solve is bounded, part by part."""

from __future__ import annotations

import pytest
from support import DEMO

import fejoint
from fejoint.errors import BadInput
from fejoint.page import bodies

CASE = fejoint.load(DEMO).to_dict()


def refused(case) -> dict[str, str]:
    with pytest.raises(BadInput) as caught:
        bodies.read_joint(case)
    return {f.field: f.allowed for f in caught.value.faults}


def test_the_demo_is_taken():
    assert bodies.read_joint(CASE).title == CASE["title"]


def test_a_second_ear_of_its_own_is_bounded_like_the_first():
    first, second = CASE["ear"]
    long = second | {"grip_length": bodies.MOST_LONG * second["hole"] + 5.0}
    told = refused(CASE | {"ear": [first, long]})
    assert list(told) == ["ear.2.grip_length"]
    assert f"at most {bodies.MOST_LONG:g} hole diameters on the page" in told["ear.2.grip_length"]
    assert list(refused(CASE | {"ear": [long, long]})) == ["ear.grip_length"]


def test_a_long_pin_and_a_long_path_are_refused():
    shank = CASE["shank"] | {"thickness": bodies.MOST_WIDE * CASE["pin"]["diameter"]}
    legs = [{"displacement": 0.01 * k} for k in range(1, bodies.MOST_LEGS + 2)]
    told = refused(CASE | {"shank": shank, "pull": {"leg": legs}})
    assert set(told) == {"shank.thickness", "pull.leg"}
    assert told["pull.leg"] == f"must be at most {bodies.MOST_LEGS} on the page"
