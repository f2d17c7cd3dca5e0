from __future__ import annotations

import numpy as np
import pytest

from fejoint.analysis.result import LimitLoad
from fejoint.analysis.verdict import NOTHING_GAVE, beside_handbook, verdict
from fejoint.handbook.limit_loads import HandbookLimit
from fejoint.inputs.units import KGF

HOLE = LimitLoad("hole elongation", "ear", 8000.0, "offset load")
TORN = LimitLoad("end tear-out", "ear", 17000.0, "load maximum")
BENT = LimitLoad("pin bending", "pin", 12000.0, "plastic hinge")
SHEARED = LimitLoad("pin shear", "pin", 9000.0, "full plastic shear")


def test_each_part_has_one_row_led_by_its_lowest_limit():
    told = verdict([TORN, BENT, HOLE, SHEARED])
    assert [p.first for p in told.order] == [HOLE, SHEARED]
    assert [p.later for p in told.order] == [(TORN,), (BENT,)]


def test_margin_is_to_the_next_part_and_not_to_the_same_parts_next_limit():
    assert verdict([HOLE, TORN, BENT]).margin == pytest.approx(12000.0 / 8000.0 - 1.0)
    assert verdict([HOLE, TORN]).margin is None


def test_sentence_names_the_load_in_newtons_and_kilograms_force():
    said = verdict([HOLE, BENT]).sentence
    assert "8,000 N (816 kgf)" in said
    assert "the holes in the ears stretch first" in said
    assert "50 % higher, the pin bends" in said
    assert round(8000.0 / KGF) == 816


def test_a_joint_that_gave_nowhere_is_not_said_to_give():
    said = verdict([LimitLoad("hole elongation", "ear", 500.0, NOTHING_GAVE)]).sentence
    assert said.startswith("Nothing gave up to a pull of 500 N")


def test_handbook_value_stands_beside_its_own_mode_and_part_only():
    line = HandbookLimit("hole elongation", "ear", 7000.0, "a code", "1.5 t d fy", "read")
    assert beside_handbook(HOLE, [line]).handbook_load == 7000.0
    assert beside_handbook(BENT, [line]).handbook_load is None
    assert np.isclose(beside_handbook(HOLE, [line]).load, HOLE.load)


def test_a_first_limit_that_no_solve_found_is_said_to_be_of_the_handbook():
    first = LimitLoad("hole elongation", "ear", 8000.0, "closed form", source="handbook")
    said = verdict([first, BENT]).sentence
    assert "first (a handbook value, not computed here). Next" in said
    assert "handbook" not in verdict([HOLE, BENT]).sentence
