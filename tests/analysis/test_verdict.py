from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fejoint.analysis.definitions import HIGHEST_PULL, HINGE, OFFSET_LOAD, SHEARED
from fejoint.analysis.result import LimitLoad, nothing_gave
from fejoint.analysis.verdict import beside_handbook, verdict
from fejoint.handbook.limit_loads import HandbookLimit
from fejoint.inputs.units import KGF

HOLE = LimitLoad("hole elongation", "ear", 8000.0, OFFSET_LOAD, member="both ears")
TORN = LimitLoad("end tear-out", "ear", 17000.0, HIGHEST_PULL, member="both ears")
BENT = LimitLoad("pin bending", "pin", 12000.0, HINGE)
SHEARED_PIN = LimitLoad("pin shear", "pin", 9000.0, SHEARED)


def test_each_member_has_one_entry_led_by_its_first_limit():
    told = verdict([TORN, BENT, HOLE, SHEARED_PIN])
    assert [p.first for p in told.order] == [HOLE, SHEARED_PIN]
    assert [p.later for p in told.order] == [(TORN,), (BENT,)]


def test_two_ears_that_differ_have_an_entry_each_and_the_sentence_says_which():
    one, two = (
        LimitLoad("hole elongation", "ear", load, OFFSET_LOAD, member=name)
        for name, load in (("ear 2", 900.0), ("ear 1", 1200.0))
    )
    told = verdict([two, one])
    assert [p.first.member for p in told.order] == ["ear 2", "ear 1"]
    assert "the hole in ear 2 stretches first" in told.sentence
    assert "33 % higher, the hole in ear 1 stretches" in told.sentence


def test_margin_is_to_the_next_member_and_not_to_the_same_ones_next_limit():
    assert verdict([HOLE, TORN, BENT]).margin == pytest.approx(12000.0 / 8000.0 - 1.0)
    assert verdict([HOLE, TORN]).margin is None


def test_sentence_names_the_load_in_newtons_and_kilograms_force():
    said = verdict([HOLE, BENT]).sentence
    assert "8,000 N (816 kgf)" in said
    assert "the holes in both ears stretch first" in said
    assert "50 % higher, the pin reaches its plastic hinge" in said
    assert round(8000.0 / KGF) == 816


def test_the_same_members_next_limit_is_told_where_it_is_nearer_than_the_next_members():
    near = LimitLoad("net section", "ear", 8200.0, HIGHEST_PULL, member="both ears")
    said = verdict([HOLE, near, BENT]).sentence
    assert "Next, 2 % higher, both ears neck beside their holes at 8,200 N" in said
    assert "Then, 50 % above the first, the pin reaches its plastic hinge" in said
    assert "neck" not in verdict([HOLE, TORN, BENT]).sentence


def test_a_tie_is_told_as_one():
    close = LimitLoad("shank hole", "shank", 8040.0, OFFSET_LOAD)
    assert "At about the same pull, 8,040 N" in verdict([HOLE, close]).sentence
    assert "0 % higher" not in verdict([HOLE, close]).sentence
    apart = LimitLoad("shank hole", "shank", 8200.0, OFFSET_LOAD)
    assert "2 % higher" in verdict([HOLE, apart]).sentence


def test_what_comes_behind_the_highest_pull_is_not_ordered_as_if_before_it():
    top = LimitLoad("pin bending", "pin", 9000.0, HIGHEST_PULL)
    behind = LimitLoad("pin break", "pin", 8500.0, "stretch used up", past_top=True)
    told = verdict([behind, top])
    assert told.order[0].first == top
    assert told.order[0].later == (behind,)
    assert "breaks" not in told.sentence
    late = LimitLoad("hole elongation", "ear", 8000.0, OFFSET_LOAD, past_top=True)
    assert verdict([late, top]).first == top


def test_behind_the_highest_pull_loads_fall_and_limits_are_met_from_the_highest_down():
    top = LimitLoad("pin bending", "pin", 9000.0, HIGHEST_PULL)
    low, high = (
        LimitLoad("pin break", "pin", load, cause, past_top=True)
        for load, cause in ((8000.0, HINGE), (8500.0, "stretch used up"))
    )
    ear, shank = (
        LimitLoad(mode, part, load, OFFSET_LOAD, past_top=True)
        for mode, part, load in (
            ("hole elongation", "ear", 8700.0),
            ("shank hole", "shank", 8900.0),
        )
    )
    told = verdict([low, ear, top, high, shank])
    assert told.order[0].later == (high, low)
    assert [p.first.member for p in told.order] == ["pin", "shank", "ear"]
    assert told.margin is None


def test_a_joint_that_gave_nowhere_is_not_said_to_give():
    said = verdict([nothing_gave(500.0)]).sentence
    assert said.startswith("Nothing gave up to a pull of 500 N")
    none = verdict([nothing_gave(0.0)], "the pin turned")
    assert none.sentence == "The joint bore no load up to where the pin turned."


def test_handbook_value_stands_beside_the_same_quantity_of_its_own_member_only():
    line = HandbookLimit(
        "hole elongation", "ear", 7000.0, "a code", "1.5 t d fy", "read", "bearing yield",
        "both ears", "too short",
    )  # fmt: skip
    beside = beside_handbook(HOLE, [line])
    assert (beside.handbook_load, beside.handbook_note) == (7000.0, "too short")
    assert beside_handbook(BENT, [line]).handbook_load is None
    assert np.isclose(beside.load, HOLE.load)
    other = LimitLoad("hole elongation", "ear", 8000.0, OFFSET_LOAD, member="ear 1")
    wrong = HandbookLimit("hole elongation", "ear", 1.0, "", "", "", "bearing yield", "ear 2")
    assert beside_handbook(other, [wrong]).handbook_load is None


def test_a_closed_form_of_one_ear_goes_by_the_share_that_it_bears():
    line = HandbookLimit(
        "hole elongation", "ear", 7000.0, "a code", "1.5 t d fy", "read", "bearing yield",
        "ear 1", ears=2,
    )  # fmt: skip
    for share, load, said in ((0.5, 7000.0, False), (0.7, 5000.0, True), (0.35, 10_000.0, True)):
        limit = LimitLoad(
            "hole elongation", "ear", 8000.0, OFFSET_LOAD, member="ear 1", share=share
        )
        found = beside_handbook(limit, [line])
        assert found.handbook_load == pytest.approx(load)
        assert (f"{100 * share:.0f} % of the pull" in found.handbook_source) is said
    alone = replace(line, member="ear", ears=1)
    limit = LimitLoad("hole elongation", "ear", 8000.0, OFFSET_LOAD, share=1.0)
    assert beside_handbook(limit, [alone]).handbook_load == pytest.approx(7000.0)


def test_yield_stands_beside_yield_and_breaking_beside_breaking():
    lines = [
        HandbookLimit("pin shear", "pin", 900.0, "a", "", "", "shear breaking"),
        HandbookLimit("pin shear", "pin", 700.0, "b", "", "", "shear yield"),
    ]
    assert beside_handbook(SHEARED_PIN, lines).handbook_load == 700.0
    through = LimitLoad("pin shear", "pin", 9000.0, HIGHEST_PULL)
    assert beside_handbook(through, lines).handbook_load == 900.0


def test_a_first_limit_that_no_solve_found_is_said_to_be_of_the_handbook():
    first = LimitLoad("hole elongation", "ear", 8000.0, OFFSET_LOAD, source="handbook")
    said = verdict([first, BENT]).sentence
    assert "first (a handbook value, not computed here). Next" in said
    assert "handbook" not in verdict([HOLE, BENT]).sentence
