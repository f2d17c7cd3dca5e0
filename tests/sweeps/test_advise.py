"""Advice: the smallest change that reaches a pull, found on whatever solves the joint."""

from __future__ import annotations

import cheap
import pytest

import fejoint
from fejoint.errors import BadInput
from fejoint.sweeps import search
from fejoint.sweeps.advise import advise
from fejoint.sweeps.sensitivities import sensitivities
from fejoint.sweeps.variation import parse


@pytest.mark.parametrize("goal", [0.5, 3.0, 17.2, 63.0, 99.9, 100.0])
def test_the_search_finds_the_first_step_that_reaches_the_goal(goal):
    asked = []

    def load(k):
        asked.append(k)
        return k + 0.3 * (k % 2)

    found = search.first_that_reaches(load, goal, 100)
    assert found == next(k for k in range(101) if k + 0.3 * (k % 2) >= goal)
    assert len(set(asked)) <= 9


def test_the_search_tells_what_is_out_of_reach():
    assert search.first_that_reaches(float, 101.0, 100) is None
    assert search.first_that_reaches(float, -1.0, 100) == 0


def test_one_dimension_is_changed_by_the_least_step_that_reaches(joint):
    present = cheap.closed_form(joint.to_dict(), {})["load_N"]
    found = advise(joint, 1.1 * present, workers=0, model=cheap.closed_form)
    by_name = {c.dimensions[0].path: c.values[0] for c in found.single}
    # load goes with thickness, with the edge distance's root and with the width to the 0.3
    assert by_name["ear.thickness"] == pytest.approx(2.2)
    assert by_name["ear.edge_distance"] == pytest.approx(8.5)
    assert by_name["ear.width"] == pytest.approx(19.25)
    sizes = [c.size for c in found.single]
    assert sizes == sorted(sizes)
    assert "pin.diameter (holes follow)" in found.short


def test_two_dimensions_change_less_than_either_alone(joint):
    present = cheap.closed_form(joint.to_dict(), {})["load_N"]
    found = advise(joint, 1.2 * present, workers=0, model=cheap.closed_form)
    assert found.double
    assert found.double[0].size < found.single[0].size
    for change in (*found.single, *found.double):
        assert cheap.closed_form(change.joint.to_dict(), {})["load_N"] >= 1.2 * present


def test_only_what_strengthens_the_weak_part_helps(joint):
    present = cheap.closed_form(joint.to_dict(), {})["load_N"]
    soft = joint.replace("pin.hardness", "150 HV")
    weak = cheap.closed_form(soft.to_dict(), {})
    assert weak["mode"] == "pin bending"
    found = advise(soft, 0.97 * present, workers=0, model=cheap.closed_form)
    assert {c.dimensions[0].path for c in found.single} == {"pin.diameter", "pin.hardness"}


def test_limits_and_choice_of_dimensions_are_kept(joint):
    present = cheap.closed_form(joint.to_dict(), {})["load_N"]
    settings = {"workers": 0, "model": cheap.closed_form}
    found = advise(
        joint, 1.1 * present, limits=[parse("ear.thickness=1.5:2.1 mm")],
        only=["ear.thickness", "ear.edge_distance"], **settings,
    )  # fmt: skip
    assert [c.dimensions[0].path for c in found.single] == ["ear.edge_distance"]
    assert list(found.short) == ["ear.thickness"]
    pair = found.double[0]
    assert dict(zip((d.path for d in pair.dimensions), pair.values, strict=True))[
        "ear.thickness"
    ] <= 2.1  # fmt: skip
    with pytest.raises(BadInput, match="must hold the present"):
        advise(joint, 1.0, limits=[parse("ear.thickness=3:4 mm")], **settings)
    with pytest.raises(BadInput, match="must be one of"):
        advise(joint, 1.0, only=["ear.colour"], **settings)


def test_a_target_that_is_reached_asks_for_nothing(joint):
    found = advise(joint, 10.0, margin=0.5, workers=0, model=cheap.closed_form)
    assert found.reached
    assert found.single == found.double == ()


def test_the_margin_raises_the_goal(joint):
    present = cheap.closed_form(joint.to_dict(), {})["load_N"]
    found = advise(
        joint, present, margin=0.1, only=["ear.thickness"], workers=0, model=cheap.closed_form
    )  # fmt: skip
    assert found.single[0].values == (2.2,)


def test_advice_on_the_real_solve_is_confirmed_by_pulling_the_advised_joint(joint):
    short = joint.replace("pull.stop_displacement", "0.35 mm")
    now = fejoint.pull(short, refine=0.25).verdict.first.load
    found = advise(short, 1.04 * now, only=["ear.thickness"], refine=0.25, workers=0)
    change = found.single[0]
    pulled = fejoint.pull(change.joint, refine=0.25)
    assert pulled.verdict.first.load == change.row["load_N"] >= 1.04 * now
    less = change.joint.replace("ear.thickness", change.values[0] - 0.05)
    assert fejoint.pull(less, refine=0.25).verdict.first.load < 1.04 * now


def test_sensitivities_of_power_laws_are_their_exponents(joint):
    found = {
        s.dimension.path: s for s in sensitivities(joint, workers=0, model=cheap.closed_form)
    }  # fmt: skip
    assert found["ear.thickness"].load == pytest.approx(1.0)
    assert found["ear.edge_distance"].load == pytest.approx(0.5)
    assert found["ear.width"].offset_load == pytest.approx(0.3)
    assert found["pin.diameter"].load == pytest.approx(0.0)
    assert next(iter(found)) == "ear.thickness"
    assert found["ear.hole"].load == pytest.approx(0.0)
