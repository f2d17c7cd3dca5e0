"""Advice: the smallest change that reaches a pull, found on whatever solves the joint."""

from __future__ import annotations

import contextlib

import pytest
from support import cheap

import fejoint
from fejoint.errors import BadInput, SolveStopped
from fejoint.studies.sweeps import design_changes, dimensions, search
from fejoint.studies.sweeps import sensitivities as slopes
from fejoint.studies.sweeps.design_changes import advise
from fejoint.studies.sweeps.sensitivities import sensitivities
from fejoint.studies.sweeps.variation import parse


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


@pytest.mark.parametrize(("target", "margin"), [(0.0, 0.1), (float("nan"), 0.1), (5.0, -0.1)])
def test_what_is_no_pull_is_no_target(joint, target, margin):
    with pytest.raises(BadInput, match=r"(target|margin) = .*: must (lie|be a force)"):
        advise(joint, target, margin=margin, workers=0, model=cheap.closed_form)


def test_a_joint_whose_solve_stops_bears_nothing_and_is_asked_once(joint):
    asked = []

    def stops(case, settings):
        asked.append(case)
        message = "no equilibrium"
        raise SolveStopped(message)

    ground = search.SearchSpace(joint.case, dimensions.of(joint)[:1], {}, stops)
    assert ground.load((1,)) == ground.load((1,)) == 0.0
    assert len(asked) == 1


class Ramp:
    """Stands for a ground of one dimension: the load of each step, 0 beyond the list."""

    def __init__(self, loads):
        self.loads, self.rows = loads, {}
        self.dimensions = [type("Step", (), {"step": 0.1})]

    def load(self, steps):
        (k,) = steps
        self.rows[steps] = {"load_N": self.loads[k]}
        return self.loads[k]


@pytest.mark.parametrize(
    ("start", "goal", "found"),
    [
        (3, 25.0, 3),  # right at once
        (5, 25.0, 3),  # two steps too far
        (1, 25.0, 3),  # two steps short
        (2, 0.0, 0),  # needs no change at all
        (4, 55.0, None),  # out of reach
    ],
)
def test_steps_of_the_coarse_mesh_are_put_right_on_the_fine_one(start, goal, found):
    right = search.put_right(Ramp([0.0, 10.0, 20.0, 30.0, 40.0, 50.0]), (start,), goal, (5,))
    assert right == (None if found is None else (found,))


def test_putting_right_ends_after_so_many_solves(monkeypatch):
    monkeypatch.setattr(search, "MOST_FIXES", 2)
    loads = [10.0 * k for k in range(20)]
    assert search.put_right(Ramp(loads), (9,), 25.0, (19,)) == (7,)
    assert search.put_right(Ramp(loads), (2,), 95.0, (19,)) is None


def test_nowhere_to_go_reaches_nothing():
    assert search.first_that_reaches(float, 1.0, 0) is None


@pytest.mark.parametrize(("right", "load"), [(None, 99.0), ((1,), 99.0)])
def test_a_change_that_its_own_solve_does_not_confirm_is_no_advice(joint, monkeypatch, right, load):
    monkeypatch.setattr(search, "put_right", lambda *_: right)
    (thickness,) = [d for d in dimensions.of(joint) if d.path == "ear.thickness"]
    found = design_changes._Found((thickness,), (1,), (5,), 0.0, 0.1, 1)
    row = {"load_N": load}
    change, solves = design_changes._verified((joint.case, found, {}, lambda *_: row, 100.0))
    assert change is None
    assert solves == (0 if right is None else 1)
    monkeypatch.setattr(search, "put_right", lambda *_: (1,))
    row["load_N"] = 101.0
    assert design_changes._verified((joint.case, found, {}, lambda *_: row, 100.0))[0].row == row


def test_other_processes_are_handed_the_jobs_and_let_go(monkeypatch):
    told = []

    @contextlib.contextmanager
    def noted(where):
        told.append(where)
        yield "a connection"
        told.append("ended")

    @contextlib.contextmanager
    def watched(where):
        with noted(where) as connected:
            yield connected, None

    monkeypatch.setattr(design_changes, "pool", noted)
    monkeypatch.setattr(design_changes, "client", watched)
    monkeypatch.setattr(design_changes, "cores", lambda: 5)
    monkeypatch.setattr(design_changes, "submitting", lambda connected: [connected])
    with design_changes._submitting(0, None) as submit:
        assert submit == "a connection"
    with design_changes._submitting(None, None):
        pass
    with design_changes._submitting(3, "tcp://there:1") as submit:
        assert submit == ["a connection"]
    assert told == [0, "ended", 5, "ended", "tcp://there:1", "ended"]


def test_a_dimension_without_two_solved_joints_has_no_sensitivity_but_a_reason(joint):
    d = dimensions.of(joint)[0]
    base, lost = {"load_N": 100.0}, {"load_N": None, "reason": "no equilibrium"}
    less, more = lost | {"value": 0.9 * d.value}, lost | {"value": 1.1 * d.value}
    found = slopes._sensitivity(d, base, less, more)
    assert (found.load, found.modes, found.reason) == (None, (), "no equilibrium")
    silent = {"load_N": None, "value": 0.9 * d.value}
    assert (
        slopes._sensitivity(d, silent, silent, silent).reason == "nothing gave, so no load changes"
    )
    more |= {"load_N": 121.0, "mode": "a"}
    found = slopes._sensitivity(d, base | {"mode": "b"}, less, more)
    assert found.load == pytest.approx(2.0)
    assert found.offset_load is None
    assert found.modes == ("b", "a")


def test_a_joint_without_gap_or_hardness_has_no_such_dimension(joint):
    paths = {d.path for d in dimensions.of(joint)}
    assert {"fit.gap", "pin.hardness"} <= paths
    bare = joint.replace("fit.gap", 0.0)
    case = {k: v for k, v in bare.case.items()} | {"pin": {"diameter": 4.0, "rigid": True}}
    left = {d.path for d in dimensions.of(fejoint.load(case))}
    assert paths - left == {"fit.gap", "pin.hardness"}
