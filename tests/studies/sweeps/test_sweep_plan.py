"""What a sweep is to solve, checked before the first solve."""

from __future__ import annotations

import time

import numpy as np
import pytest

from fejoint.errors import BadInput
from fejoint.studies.sweeps import plan, variation
from fejoint.studies.sweeps.plan import Plan
from fejoint.studies.sweeps.variation import parse


def test_a_grid_holds_its_ends_and_even_steps():
    v = parse("ear.hole=4.0:5.0:11 mm")
    assert v.values == tuple(float(f"{4.0 + 0.1 * k:.12g}") for k in range(11))
    assert v.column == "ear.hole_mm"


def test_a_list_keeps_its_values_and_its_unit():
    assert parse("pin.hardness=200,300.5 HV").values == (200.0, 300.5)
    assert parse("pin.hardness=48 HRC").column == "pin.hardness_HRC"
    assert parse("ear.thickness=0.08,1e-1 in").values == (2.032, 2.54)
    assert parse("fit.friction=10:30:3 %").values == (0.1, 0.2, 0.3)
    assert parse("fit.friction=1e-1,0.2").column == "fit.friction"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("ear.hol=4,5 mm", "did you mean ear.hole?"),
        ("era.hole=4,5 mm", "did you mean ear.hole?"),
        ("ear.hole", "PATH=VALUES UNIT"),
        ("ear.hole=4:5:0 mm", "count from 1"),
        ("ear.hole=4:5:1000000000 mm", "count from 1"),
        ("ear.hole=4;5 mm", "cannot be read"),
        ("ear.hole=4,9e9 mm", "must lie from"),
        ("ear.hole=4,5 kg", "must be a length"),
        ("ear.material=1,2", "holds no number"),
        ("ear.end=1,2", "holds no number"),
        ("pin.hardness=200,300", "scale"),
        ("pin.hardness=200,9000 HV", "hardness"),
        ("title=1", "is not a key"),
    ],
)
def test_a_slip_is_told_with_its_mend(text, told):
    with pytest.raises(BadInput) as caught:
        parse(text)
    assert told in str(caught.value)


def test_a_range_without_samples_is_refused(joint):
    with pytest.raises(BadInput, match="without a count"):
        Plan(joint, (parse("ear.hole=4.1:4.5 mm"),))


def test_a_dimension_varied_twice_is_refused(joint):
    with pytest.raises(BadInput, match="varied twice"):
        Plan(joint, (parse("ear.hole=4.1,4.2 mm"), parse("ear.hole=4.3 mm")))


def test_a_key_that_this_case_lacks_is_refused_before_the_first_solve(joint):
    with pytest.raises(BadInput, match="my strip"):
        Plan(joint, (parse("material.my strip.rm=600,700 MPa"),))


def test_every_joint_of_the_grid_is_there_once(joint):
    rows = Plan(joint, (parse("ear.hole=4.1:4.5:3 mm"), parse("ear.width=12,14 mm")))
    values = [rows.values(k) for k in range(len(rows))]
    assert values == [(h, w) for h in (4.1, 4.3, 4.5) for w in (12.0, 14.0)]
    assert rows.row(3).case["ear"][0]["hole"] == 4.3
    assert rows.row(3).case["ear"][1]["width"] == 14.0


def test_values_reach_the_case_bit_for_bit(joint):
    rows = Plan(joint, (parse("ear.hole=4.1:4.5:17 mm"), parse("fit.friction=0.1:0.2:3")))
    for k in range(len(rows)):
        row = rows.row(k)
        assert row.case["ear"][0]["hole"] == row.inputs["ear.hole_mm"]
        assert row.case["fit"]["friction"] == row.inputs["fit.friction"]


@pytest.mark.parametrize("method", ["latin", "sobol", "halton"])
def test_samples_fill_the_ranges_evenly_and_again_the_same(joint, method):
    varied = (parse("ear.hole=4.1:4.5 mm"), parse("ear.width=12:16 mm"))
    rows = Plan(joint, varied, samples=64, method=method, seed=3)
    values = np.array([rows.values(k) for k in range(64)])
    shares = (values - [4.1, 12.0]) / [0.4, 4.0]
    for column in shares.T:
        counts = np.histogram(column, 8, (0.0, 1.0))[0]
        assert counts.min() >= 6
        assert counts.max() <= 10
    again = Plan(joint, varied, samples=64, method=method, seed=3)
    assert [again.values(k) for k in range(64)] == [tuple(v) for v in values.tolist()]


def test_parts_that_depend_on_each_other_are_changed_together(joint):
    rows = Plan(joint, (parse("pin.diameter=5 mm"), parse("ear.hole=5.2 mm"),
                        parse("shank.hole=5.2 mm")))  # fmt: skip
    assert rows.row(0).reason == ""


def test_a_million_joints_are_estimated_and_refused_at_once(joint):
    start = time.perf_counter()
    rows = Plan(joint, (parse("ear.hole=4.1:4.5:1000 mm"), parse("ear.width=12:16:1000 mm")))
    assert len(rows) == 1_000_000
    with pytest.raises(BadInput) as caught:
        plan.refuse_too_many(len(rows), 1.0, 2, plan.MOST)
    assert time.perf_counter() - start < 1.0
    for word in ("1,000,000 joints", "days", "GB", "--most 1000000"):
        assert word in str(caught.value)
    plan.refuse_too_many(len(rows), 1.0, 2, 1_000_000)


def test_python_values_are_read_as_the_command_line_s():
    assert variation.of("ear.hole", [4.1, "4.2 mm"]) == parse("ear.hole=4.1,4.2 mm")
    assert variation.of("ear.hole", "4.1:4.5:3 mm") == parse("ear.hole=4.1:4.5:3 mm")
    assert variation.of("pin.hardness", ["300 HV", "400 HV"]) == parse("pin.hardness=300,400 HV")


def test_a_plan_of_nothing_by_no_known_method_tells_all_its_faults(joint):
    with pytest.raises(BadInput) as caught:
        Plan(joint, (), samples=0, method="dice")
    found = {f.field: f.allowed for f in caught.value.faults}
    assert found == {
        "--vary": "is missing",
        "--samples": "must be at least 1",
        "--spread": "must be latin, sobol or halton",
    }


def test_samples_of_a_list_take_each_of_its_values_alike(joint):
    rows = Plan(joint, (parse("ear.hole=4.1,4.2,4.3 mm"),), samples=30)
    drawn = [rows.values(k)[0] for k in range(30)]
    assert {x: drawn.count(x) for x in set(drawn)} == {4.1: 10, 4.2: 10, 4.3: 10}


def test_hardnesses_of_two_scales_are_no_dimension():
    with pytest.raises(BadInput, match="one hardness scale"):
        variation.of("pin.hardness", ["300 HV", "40 HRC"])
