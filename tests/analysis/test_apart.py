"""A computed limit a factor from its value by hand is told with what the rule leaves out."""

from __future__ import annotations

import pytest
from support import DEMO_CASES

import fejoint
from fejoint.analysis import apart
from fejoint.analysis.definitions import OFFSET_LOAD
from fejoint.analysis.result import LimitLoad
from fejoint.analysis.verdict import beside_handbook
from fejoint.handbook.limit_loads import HandbookLimit


def limit(mode: str, part: str, load: float, note: str = "") -> LimitLoad:
    return LimitLoad(mode, part, load, OFFSET_LOAD, handbook_note=note)


@pytest.mark.parametrize(("ratio", "told"), [(1.49, False), (1.51, True), (1 / 1.49, False),
                                             (1 / 1.51, True)])  # fmt: skip
def test_a_factor_of_one_and_a_half_owes_a_reason(ratio: float, told: bool):
    row = limit("shank hole", "shank", 1000.0 * ratio)
    assert bool(apart.reason(row, 1000.0, "bearing yield")) is told


@pytest.mark.parametrize(("mode", "part", "ratio", "quantity", "joint", "why"), [
    ("shank hole", "shank", 0.35, "bearing yield", {"ears": 1}, apart.TILTED),
    ("shank hole", "shank", 0.35, "bearing yield", {"ears": 2}, apart.CROWDED),
    ("shank hole", "shank", 0.35, "bearing yield", {"even": True}, apart.AT_ONCE),
    ("hole elongation", "ear", 4.0, "bearing yield", {}, apart.HARDENS),
    ("pin bending", "pin", 1.8, "pin hinge", {}, apart.ARM),
    ("pin bending", "pin", 0.5, "pin hinge", {"ears": 1}, apart.TILTED),
    ("pin bending", "pin", 1.8, "pin hinge", {"ears": 1}, apart.ARM),
    ("end dishes", "ear", 0.6, "thin sheet", {}, apart.SHEET),
    ("end dishes", "ear", 0.6, "thin sheet", {"ears": 1}, apart.SHEET),
    ("strip yield", "ear", 0.6, "gross yield", {"ears": 1}, apart.STRIP),
])  # fmt: skip
def test_the_reason_is_that_of_the_limit_and_its_joint(mode, part, ratio, quantity, joint, why):
    assert apart.reason(limit(mode, part, 1000.0 * ratio), 1000.0, quantity, **joint) == why


@pytest.mark.parametrize(("load", "why"), [(350.0, apart.TILTED), (3500.0, apart.HARDENS)])
def test_bounds_are_told_behind_the_reason_which_goes_by_the_side(load: float, why: str):
    row = limit("shank hole", "shank", load, "made for a straight pull")
    told = apart.reason(row, 1000.0, "bearing yield", ears=1)
    assert told.startswith(why)
    assert told.endswith("outside its bounds: made for a straight pull")


def test_a_plate_bears_evenly_under_a_straight_pin_and_unevenly_under_a_bent_one():
    straight, bent = (
        fejoint.pull(fejoint.load(DEMO_CASES / "hard-pin.toml").replace("pin.hardness", pin),
                     refine=0.35).verdict.order
        for pin in ("57 HRC", "150 HV")
    )  # fmt: skip
    told = [x.handbook_apart for row in straight for x in (row.first, *row.later)]
    assert apart.CROWDED not in told
    soft = [x.handbook_apart for row in bent for x in (row.first, *row.later)]
    assert apart.AT_ONCE not in soft


def test_loads_of_one_reason_are_told_in_one_sentence():
    order = [
        {"mode": mode, "member": member, "load_N": load, "handbook_load_N": hand, "later": [],
         "handbook_apart": why}
        for mode, member, load, hand, why in (
            ("hole elongation", "ear", 2000.0, 4000.0, apart.TILTED),
            ("shank hole", "shank", 4317.0, 12375.0, apart.TILTED),
            ("pin bending", "pin", 4000.0, 4000.0, ""),
        )
    ]  # fmt: skip
    assert list(apart.sentences(order)) == [
        "Far from by hand: ear: hole stretches at 2,000 N against 4,000 N; shank: hole stretches "
        f"at 4,320 N against 12,400 N: {apart.TILTED}."
    ]


def test_a_limit_carries_the_reason():
    line = HandbookLimit("shank hole", "shank", 12375.0, "a book", "2 x 1", "from memory",
                         "bearing yield", "shank")  # fmt: skip
    row = limit("shank hole", "shank", 4317.0)
    assert beside_handbook(row, [line], ears=1).handbook_apart == apart.TILTED
    assert beside_handbook(row, [line], ears=2).handbook_apart == apart.CROWDED
