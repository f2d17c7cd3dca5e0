"""Plates pulled on demand: as far as asked, and the same digits whoever asked before."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from support.pulled_faces import CASE

from fejoint.kernel.continuation import StepRequest, Stop, StopReason
from fejoint.sections.face import pull as face
from fejoint.sections.face.plate_response import (
    RELEASED_AT,
    BearingLawGrowth,
    GrowingBearingLaw,
    SolvedPlate,
)

SETTINGS = face.FaceSettings(sides=16)


def solved(load: float = np.inf) -> SolvedPlate:
    return SolvedPlate.from_pull(face.FacePull(face.build(CASE, SETTINGS), SETTINGS), load)


@pytest.fixture(scope="module")
def whole() -> face.FaceHistory:
    return face.pull(face.build(CASE, SETTINGS), SETTINGS)


def test_the_first_stretch_ends_where_the_plate_has_been_let_go_from(whole):
    plate = solved()
    offset = RELEASED_AT[-1]
    assert not plate.ended
    assert plate.first.load[-1] >= offset * 0.99 * plate.releases[1].load[0] / RELEASED_AT[1]
    assert len(plate.first.load) < len(whole.load)
    assert len(plate.releases) == len(RELEASED_AT)


def test_a_bound_on_the_load_ends_it_sooner():
    plate = solved(1500.0)
    assert plate.first.load[-2] < 1500.0 <= plate.first.load[-1]


def test_pausing_changes_no_digit(whole):
    plate = solved()
    while plate.step():
        plate.pause()
    assert plate.ended
    again = plate.history(plate.points)
    for name in ("load", "travel", "local_travel", "elongation", "damage"):
        assert np.array_equal(getattr(again, name), getattr(whole, name)), name
    assert again.path.stopped_because == whole.path.stopped_because


def test_a_law_grows_only_as_far_as_it_is_asked_and_keeps_what_it_said():
    law = GrowingBearingLaw(solved())
    known = np.linspace(0.0, law.final_up_to, 50)
    rest = np.zeros((2, 50))
    before, points = law.respond(known, rest)[0], law.points
    assert not law.reach(0.5 * law.final_up_to)
    assert law.points == points
    further = law.end + 0.05
    assert law.reach(further)
    assert law.final_up_to >= further
    assert law.points > points
    assert np.array_equal(law.respond(known, rest)[0], before)


def test_what_another_joint_asked_for_is_not_seen():
    plate, alone = solved(), GrowingBearingLaw(solved())
    GrowingBearingLaw(plate).reach(2.0)
    after = GrowingBearingLaw(plate)
    for travel in (alone.final_up_to, alone.end + 0.05, alone.end + 0.2):
        assert alone.reach(travel) == after.reach(travel)
        assert (after.points, after.end, after.final_up_to) == (
            alone.points,
            alone.end,
            alone.final_up_to,
        )
        at = np.linspace(0.0, 1.5 * travel, 40)
        ahead = np.full((2, 40), 0.9 * travel)
        for a, b in zip(alone.respond(at, ahead), after.respond(at, ahead), strict=True):
            assert np.array_equal(a, b)


def test_a_plate_that_has_ended_says_so_and_grows_no_more(whole):
    law = GrowingBearingLaw(solved())
    law.reach(np.inf)
    assert law.whole
    assert law.end == law.final_up_to == pytest.approx(whole.local_travel.max(), rel=1e-12)
    assert not law.reach(np.inf)


def test_a_closed_plate_is_the_same_as_far_as_it_goes():
    plate = solved()
    closed = plate.closed(1.2 * plate.first.load[-1])
    assert closed.ended
    assert not closed.step()
    assert closed.first.load[-1] >= 1.2 * plate.first.load[-1]
    open_law, shut = GrowingBearingLaw(plate), GrowingBearingLaw(closed)
    open_law.reach(shut.end - 1e-9)
    at = np.linspace(0.0, float(np.sort(shut.law.travel)[-2]), 30)
    rest = np.zeros((2, 30))
    assert np.array_equal(open_law.respond(at, rest)[0], shut.respond(at, rest)[0])


def test_a_closed_plate_is_closed_for_good():
    plate = solved().closed(1500.0)
    assert plate.closed(9000.0) is plate
    assert not plate.step()


def test_a_plate_whose_law_is_read_against_its_own_travel_has_no_spring_of_its_own(whole):
    plate = solved()
    assert 0.0 < plate.spring < np.inf
    stiff = replace(plate.first, travel=plate.first.local_travel)
    assert SolvedPlate(None, stiff, plate.releases).spring == np.inf


def test_ctrl_c_in_a_plate_ends_the_joint_s_pull_too():
    pull = face.FacePull(face.build(CASE, SETTINGS), SETTINGS)
    plate = SolvedPlate.from_pull(pull, 500.0)
    pull.path.stopped_because = Stop(StopReason.INTERRUPTED)
    with pytest.raises(KeyboardInterrupt):
        plate.step()


def test_a_history_does_not_grow_when_the_plate_goes_on_for_another_joint():
    plate = solved(500.0)
    early = plate.history(plate.points)
    count, stored = len(early.path.points), early.path.points[-1].stored
    GrowingBearingLaw(plate).reach(2.0)
    assert plate.points > count
    for history in (early, plate.first, plate.history(count)):
        assert len(history.path.points) == len(history.load) == count
        assert history.path.points[-1].stored == stored


class Unwanted(Exception):
    """Raised by a joint that is not wanted any more."""


def test_what_a_joint_raises_ends_its_call_and_leaves_the_plate_whole(whole):
    def raises(*_):
        raise Unwanted

    told = []
    plate = solved()
    while not plate.ended:
        points = plate.points
        with pytest.raises(Unwanted):
            plate.step(raises)
        assert plate.points == points + 1
        plate.step(lambda *word: told.append(word))
    assert told
    assert not plate.interrupted
    again = plate.history(plate.points)
    for name in ("load", "travel", "local_travel", "elongation", "damage"):
        assert np.array_equal(getattr(again, name), getattr(whole, name)), name
    assert again.path.stopped_because == whole.path.stopped_because


def test_a_plate_keeps_nothing_of_the_joint_that_pulled_it():
    heard = []
    pull = face.FacePull(face.build(CASE, SETTINGS), SETTINGS)
    plate = SolvedPlate.from_pull(pull, 500.0, progress=lambda *word: heard.append(word))
    count = len(heard)
    assert count > 0
    plate.step()
    assert len(heard) == count


def test_an_error_inside_a_step_breaks_the_plate_off_for_good(monkeypatch):
    plate = solved(500.0)
    points = plate.points

    def no_memory(*_, **__):
        raise MemoryError

    with monkeypatch.context() as patched:
        patched.setattr("fejoint.kernel.continuation.find_equilibrium", no_memory)
        with pytest.raises(MemoryError):
            plate.step()
    assert plate.interrupted
    assert plate.points == points
    assert not plate.history(points).path.finished
    with pytest.raises(KeyboardInterrupt):
        plate.step()


def test_a_law_that_had_to_grow_asks_for_the_step_again():
    asked = []

    def reach(travel):
        asked.append(travel)
        return len(asked) == 1

    ends = object.__new__(BearingLawGrowth)
    ends.place, ends.law = 1, SimpleNamespace(reach=reach, whole=False)
    ends.problem = SimpleNamespace(
        slice_travels=lambda p, place: np.array([0.5, 1.0]) * p.travel,
        bedding=lambda place: SimpleNamespace(lengths=np.ones(2)),
    )
    before, new = SimpleNamespace(travel=0.1), SimpleNamespace(travel=0.2)
    assert ends.on_trial_step(before, new) == StepRequest(0.2)
    assert ends.on_trial_step(before, new) is None
    assert asked[:2] == [0.2, 0.2]
    assert asked[2] > 0.2  # it goes ahead of the next step
