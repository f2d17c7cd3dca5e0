"""Which solved plates serve a joint, and which are let go."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest
from support import DEMO

from fejoint import load
from fejoint.analysis.plate_cache import SharedPlates
from fejoint.sections.face.pull import FaceSettings

JOINT = load(DEMO)
ANYWHERE = FaceSettings()


def up_to(stop: float | None) -> tuple:
    return "a case", replace(ANYWHERE, stop_load=stop)


def member(reach: float, part=JOINT.ears[0]):
    """Stand in for a plate whose first stretch went up to a load."""
    first = SimpleNamespace(load=SimpleNamespace(max=lambda: reach))
    plate = SimpleNamespace(first=first, interrupted=False)
    return SimpleNamespace(part=part, plate=plate)


def store(*, exact: bool) -> SharedPlates:
    return SharedPlates(2, 1, exact=exact)


@pytest.mark.parametrize("exact", [True, False])
def test_a_plate_that_ended_by_itself_serves_every_higher_bound(exact):
    plates = store(exact=exact)
    plates[up_to(900.0)] = known = member(700.0)
    assert plates[up_to(None)] is plates[up_to(701.0)] is plates[up_to(5000.0)] is known


def test_a_lower_bound_is_served_only_where_digits_may_differ():
    strict, free = store(exact=True), store(exact=False)
    for plates in (strict, free):
        plates[up_to(900.0)] = member(910.0)
        assert up_to(900.0) in plates
        assert up_to(901.0) not in plates
        assert up_to(None) not in plates
    assert up_to(899.0) not in strict
    assert up_to(899.0) in free
    # and one that ended by itself, below where it ended
    for plates in (strict, free):
        plates[up_to(None)] = member(1200.0)
    assert up_to(1200.0) not in strict
    assert up_to(1200.0) in free


def test_another_case_or_mesh_is_another_plate():
    plates = store(exact=False)
    plates[up_to(None)] = member(700.0)
    assert ("another", ANYWHERE) not in plates
    assert ("a case", replace(ANYWHERE, sides=ANYWHERE.sides + 4)) not in plates


def test_one_pulled_further_takes_the_place_of_those_it_serves_for():
    strict, free = store(exact=True), store(exact=False)
    for plates in (strict, free):
        plates[up_to(800.0)] = member(810.0)
        plates[up_to(900.0)] = member(910.0)
    assert (len(strict), len(free)) == (2, 1)


def test_the_one_of_its_kind_that_was_used_longest_ago_goes_first():
    plates = store(exact=True)
    plates["shank", ANYWHERE] = member(1.0, JOINT.shank)
    for name in "ab":
        plates[name, ANYWHERE] = member(1.0)
    assert plates["a", ANYWHERE]
    plates["c", ANYWHERE] = member(1.0)
    assert [case for case, _ in plates] == ["shank", "a", "c"]


def test_what_is_handed_out_is_told():
    told: list = []
    plates = SharedPlates(1, 1, exact=True, tell=told.append)
    plates[up_to(None)] = known = member(700.0)
    assert plates.get(up_to(900.0)) is known
    assert plates.get(up_to(600.0)) is None
    assert told == [known]


@pytest.mark.parametrize("exact", [True, False])
def test_a_plate_that_was_broken_off_serves_nobody(exact):
    plates = store(exact=exact)
    plates[up_to(900.0)] = known = member(700.0)
    assert up_to(900.0) in plates
    known.plate.interrupted = True
    assert up_to(900.0) not in plates
    plates[up_to(900.0)] = fresh = member(700.0)
    assert plates[up_to(900.0)] is fresh
