"""Every change of the first part to give is narrowed and told."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from fejoint.analysis.result import LimitLoad
from fejoint.studies.pin_hardness.crossings import CLOSE, _meeting, crossings, next_hardnesses
from fejoint.studies.pin_hardness.point import PinPoint

LAWS: dict[tuple[str, str], Callable[[float], float]] = {
    ("pin bending", "pin"): lambda h: 25.0 * h,
    ("hole elongation", "ear"): lambda h: 8000.0 + 0.5 * h,
    ("pin break", "pin"): lambda h: 8250.0 - 4.0 * (h - 500.0),
}


def point(hardness: float, laws=LAWS) -> PinPoint:
    limits = [LimitLoad(mode, part, law(hardness), "x") for (mode, part), law in laws.items()]
    limits.sort(key=lambda x: x.load)
    return PinPoint(hardness, 3.2 * hardness, tuple(limits), None, None, None, False, "", 0.0)


def narrowed(points: list[PinPoint], laws=LAWS) -> tuple[list[PinPoint], int]:
    solves = 0
    for _ in range(12):
        wanted = next_hardnesses(points)
        if not wanted:
            return points, solves
        solves += len(wanted)
        points = sorted([*points, *(point(h, laws) for h in wanted)], key=lambda p: p.hardness)
    pytest.fail("not narrowed in 12 rounds")


def test_soft_bends_then_the_ear_gives_then_the_hard_pin_breaks():
    points, _ = narrowed([point(150.0 + 450.0 * k / 11) for k in range(12)])
    first, second = crossings(points)
    assert (first.softer[0], first.harder[0]) == ("pin bending", "hole elongation")
    assert (second.softer[0], second.harder[0]) == ("hole elongation", "pin break")
    assert first.hardness == pytest.approx(8000.0 / 24.5, rel=1e-3)
    assert second.hardness == pytest.approx(2250.0 / 4.5, rel=1e-3)
    assert first.load == pytest.approx(8000.0 + 0.5 * first.hardness, rel=1e-3)
    for c in (first, second):
        assert c.between[0] <= c.hardness <= c.between[1]
        assert c.between[1] - c.between[0] <= CLOSE * c.between[1]


def test_straight_limits_take_one_round_of_two_solves_a_crossing():
    _, solves = narrowed([point(150.0 + 450.0 * k / 11) for k in range(12)])
    assert solves <= 6


def test_two_changes_between_two_points_are_both_found():
    points, _ = narrowed([point(150.0), point(600.0)])
    assert [c.harder[0] for c in crossings(points)] == ["hole elongation", "pin break"]


def test_a_limit_that_is_only_reached_on_one_side_is_found_by_halving():
    def laws(hardness: float):
        keep = dict(LAWS)
        if hardness < 330.0:
            del keep["hole elongation", "ear"]
        return {k: v for k, v in keep.items() if k[0] != "pin break"}

    points = [point(h, laws(h)) for h in (150.0, 600.0)]
    for _ in range(12):
        wanted = next_hardnesses(points)
        points = sorted([*points, *(point(h, laws(h)) for h in wanted)], key=lambda p: p.hardness)
    (only,) = crossings(points)
    assert only.hardness == pytest.approx(330.0, rel=CLOSE)


def test_without_a_change_nothing_more_is_solved():
    points = [point(150.0), point(200.0)]
    assert next_hardnesses(points) == []
    assert crossings(points) == ()


def test_firsts_whose_lead_does_not_grow_are_met_in_the_middle():
    one, two = ("pin bending", "pin"), ("hole elongation", "ear")
    a = point(200.0, {one: lambda h: 100.0, two: lambda h: 100.0})
    b = point(300.0, {two: lambda h: 100.0, one: lambda h: 100.0})
    assert (a.first.mode, b.first.mode) == ("pin bending", "hole elongation")
    assert _meeting(a, b) == 250.0
