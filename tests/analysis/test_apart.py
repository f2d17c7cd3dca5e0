"""A computed limit a factor from its value by hand is told with what the rule leaves out."""

from __future__ import annotations

import pytest

from fejoint.analysis import apart
from fejoint.analysis.definitions import OFFSET_LOAD
from fejoint.analysis.result import LimitLoad
from fejoint.analysis.verdict import beside_handbook
from fejoint.handbook.limit_loads import HandbookLimit


@pytest.mark.parametrize(("ratio", "told"), [(1.49, False), (1.51, True), (1 / 1.49, False),
                                             (1 / 1.51, True)])  # fmt: skip
def test_a_factor_of_one_and_a_half_owes_a_reason(ratio: float, told: bool):
    assert bool(apart.reason("shank", 1000.0 * ratio, 1000.0, 2)) is told


def test_the_reason_is_that_of_the_joint():
    assert apart.reason("shank", 4317.0, 12375.0, 1) == apart.TILTED
    assert apart.reason("shank", 4317.0, 12375.0, 2) == apart.CROWDED
    assert apart.reason("ear", 4000.0, 1000.0, 2) == apart.HARDENS
    assert apart.reason("pin", 2910.0, 1640.0, 2) == apart.ARM


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
    limit = LimitLoad("shank hole", "shank", 4317.0, OFFSET_LOAD)
    assert beside_handbook(limit, [line], 1).handbook_apart == apart.TILTED
    assert beside_handbook(limit, [line], 2).handbook_apart == apart.CROWDED
