"""The whole joint: verdicts of the demo, shares, symmetry, and the limit of a rigid pin."""

from __future__ import annotations

import functools
import json
from dataclasses import replace

import numpy as np
import pytest
from support import DEMO, DEMO_CASES, random_joints

import fejoint
from fejoint.analysis.limit_loads import JointReading
from fejoint.analysis.pull import pull_axial, solve_members
from fejoint.analysis.result import Answer
from fejoint.analysis.section_cases import PullSettings, axial_case
from fejoint.analysis.trust import trust_in
from fejoint.errors import BadInput
from fejoint.inputs.units import figures
from fejoint.joint.model import Joint
from fejoint.kernel.continuation import Path
from fejoint.kernel.load_curve import offset_point
from fejoint.kernel.stop_reason import REQUESTED, Stop, StopReason
from fejoint.measured.failure_modes import judged
from fejoint.output.comparison_table import side_by_side
from fejoint.sections.axial import pull as axial
from fejoint.sections.face import pull as face
from fejoint.sections.face.bearing_law import BearingLaw
from fejoint.studies.sweeps.row import columns_of

CASES = DEMO_CASES
COARSE = PullSettings(refine=0.5)


@functools.cache
def joint(pin: str) -> Joint:
    return fejoint.load(CASES / f"{pin}-pin.toml")


@functools.cache
def pulled(pin: str) -> Answer:
    return fejoint.pull(joint(pin), refine=0.5)


@functools.cache
def unequal(turned: bool = False) -> Answer:
    """The hard-pin joint whose first (turned: second) ear is thinner and looser."""
    place = "ear.2" if turned else "ear.1"
    case = joint("hard").replace(f"{place}.thickness", "1.5 mm")
    case = case.replace(f"{place}.hole", "4.2 mm").replace("pull.stop_displacement", "0.7 mm")
    return fejoint.pull(case, refine=0.5)


def test_the_soft_pin_bends_first():
    first = pulled("soft").verdict.first
    assert (first.mode, first.part) == ("pin bending", "pin")


def test_the_hard_pin_stretches_the_ears_holes_first():
    first = pulled("hard").verdict.first
    assert (first.mode, first.part) == ("hole elongation", "ear")


def test_the_hard_pin_carries_more_before_anything_gives():
    assert pulled("hard").verdict.first.load > 2.5 * pulled("soft").verdict.first.load


@pytest.mark.parametrize("pin", ["soft", "hard"])
def test_the_shanks_force_is_the_ears_at_every_step(pin: str):
    history = pulled(pin).axial
    assert history is not None
    assert history.imbalance() <= 1e-6
    np.testing.assert_allclose(history.shares[:, 1], history.load, rtol=1e-6, atol=1e-3)


@pytest.mark.parametrize("pin", ["soft", "hard"])
def test_equal_ears_share_equally_and_are_solved_once(pin: str):
    answer = pulled(pin)
    assert set(answer.faces) == {"ear", "shank"}
    first, second = answer.pin["ear_shares_N"]
    assert first == pytest.approx(second, rel=1e-6)


def test_every_limit_of_the_demo_has_a_closed_form_beside_it():
    limits = [p.first for p in pulled("hard").verdict.order]
    assert {x.part for x in limits} == {"ear", "pin", "shank"}
    assert all(x.handbook_load and x.handbook_source for x in limits)


def test_the_order_rises_and_the_sentence_names_the_first():
    verdict = pulled("hard").verdict
    loads = [p.first.load for p in verdict.order]
    assert loads == sorted(loads)
    assert verdict.sentence.startswith("At a pull of")
    assert f"{figures(verdict.first.load)} N" in verdict.sentence


def test_of_unequal_ears_each_has_its_own_face_and_share():
    answer = unequal()
    assert set(answer.faces) == {"ear 1", "ear 2", "shank"}
    first, second = answer.pin["ear_shares_N"]
    assert 0.0 < first < second
    assert first + second == pytest.approx(answer.pin["permanent_bend_after_N"], rel=1e-5)


def test_a_joint_seen_from_its_other_side_gives_the_same_verdict():
    one, other = unequal(), unequal(turned=True)
    assert other.verdict.first.mode == one.verdict.first.mode
    assert other.verdict.first.load == pytest.approx(one.verdict.first.load, rel=1e-3)
    np.testing.assert_allclose(other.pin["ear_shares_N"], one.pin["ear_shares_N"][::-1], rtol=2e-3)


def test_a_thinner_ear_lowers_the_load():
    assert unequal().verdict.first.load < pulled("hard").verdict.first.load


def test_rigid_pin_and_shank_without_gaps_carry_twice_one_ears_offset_load():
    case = joint("hard").replace("pin.rigid", True).replace("fit.gap", "0 mm")
    case = case.replace("pull.stop_displacement", "0.5 mm")
    members = solve_members(case, COARSE)
    model = axial_case(case, members)
    rigid = replace(model.plates[1], law=BearingLaw.linear(1e7), spring=np.inf)
    settings = COARSE.axial(case)
    problem = axial.build(
        replace(model, plates=(model.plates[0], rigid, model.plates[2])), settings
    )
    reading = JointReading(case, members, axial.pull(problem, settings), settings)
    history = members[0].history
    alone = offset_point(history.load, history.elongation, face.OFFSET * case.ears[0].hole)
    whole = reading.offset(0)
    assert alone is not None
    assert whole is not None
    assert whole.load == pytest.approx(2.0 * alone.load, rel=0.01)


def test_a_pull_leaves_the_case_that_poses_it_as_it_was():
    """What grows along the path belongs to the problem; a case is a frozen description."""
    case = joint("hard")
    members = solve_members(case, COARSE)
    posed = axial_case(case, members)
    assert all(isinstance(plate.law, BearingLaw) for plate in posed.plates)
    far, rest = np.linspace(0.0, 2.0, 50), np.zeros((2, 50))
    before = [plate.law.respond(far, rest)[0] for plate in posed.plates]
    history = pull_axial(case, members, COARSE, case=posed)
    grown = [
        law.points > len(m.plate.first.load)
        for law, m in zip(history.problem.laws, members, strict=True)
    ]
    assert any(grown)
    after = [plate.law.respond(far, rest)[0] for plate in posed.plates]
    for a, b in zip(before, after, strict=True):
        np.testing.assert_array_equal(a, b)


def test_a_pull_is_as_unfinished_as_the_plate_s_curve_that_ended_it():
    case = joint("hard")
    members = solve_members(case, COARSE)
    history = pull_axial(case, members, COARSE)
    crept = Stop(StopReason.TOO_MANY_STEPS, "crept to travel 1 mm")
    for cause, shown in ((crept, crept), (REQUESTED, None)):
        ended = Stop(StopReason.LAW_ENDED, "the ear 1's face section ended", cause)
        path = Path(history.path.points, ended)
        trust = trust_in(members, 0, replace(history, path=path), ended)
        assert trust.finished == (cause is REQUESTED)
        assert trust.stopped_because == (shown or ended)


def test_an_ear_tears_at_the_sum_over_its_thickness_whatever_the_slices():
    case = joint("hard").replace("ear.edge_distance", "4 mm").replace("pin.hardness", "600 HV")
    members = solve_members(case, COARSE)
    maxima = []
    for slices in (0.5, 1.0):
        history = pull_axial(case, members, PullSettings(slices))
        assert history.path.stopped_because.reason is StopReason.LOAD_MAXIMUM
        maxima.append(history.load.max())
    assert maxima[1] == pytest.approx(maxima[0], rel=0.01)
    assert maxima[1] == pytest.approx(2.0 * members[0].history.load.max(), rel=0.005)


@functools.cache
def single(ends: str) -> Answer:
    table = joint("hard").to_dict()
    table["ear"] = table["ear"][0] if isinstance(table["ear"], list) else table["ear"]
    table["ear"]["count"] = 1
    table["fit"]["gap"] = 0.1
    table["pin"]["ends"] = ends
    table["pull"]["stop_displacement"] = 1.0
    return fejoint.pull(fejoint.load(table), refine=0.5)


def test_single_shear_says_that_it_is_guided_and_fails_at_less_than_half_of_double_shear():
    answer = single("held")
    assert any("single shear" in said for said in answer.warnings)
    assert answer.verdict.first.load < 0.6 * pulled("hard").verdict.first.load


def test_holding_a_single_shear_pin_stiffens_the_joint():
    held, free = single("held").trace, single("free").trace
    travel = 0.5 * min(held.extension[-1], free.extension[-1])
    stiff, soft = (np.interp(travel, c.extension, c.load) for c in (held, free))
    assert stiff > 1.02 * soft


def test_a_free_single_shear_pin_turns_until_its_holes_hold_it():
    history = single("free").axial
    assert history is not None
    assert history.load[1] == pytest.approx(0.0, abs=1e-3)
    assert history.load.max() > 1000.0
    assert history.imbalance() <= 1e-6


@pytest.mark.parametrize(
    ("name", "value"),
    [("refine", 0.0), ("refine", float("nan")), ("refine", 1e9), ("pace", -1.0),
     ("pace", float("inf")), ("pace", "fast"), ("refine", None), ("refine", True),
     ("refine", 10**400), ("refine", 1 + 2j), ("solver", "best"), ("solver", None)],
)  # fmt: skip
def test_settings_that_no_solve_could_have_are_refused_before_it(name, value):
    with pytest.raises(BadInput, match=f"{name} = .* must be"):
        fejoint.pull(joint("hard"), **{name: value})


def test_a_joint_that_gave_nowhere_says_so_wherever_its_first_limit_is_told():
    joint = fejoint.load(DEMO).replace("pull.stop_displacement", "0.02 mm")
    answer = fejoint.pull(joint, refine=0.35)
    told = answer.to_dict()["verdict"]
    (row,) = told["order"]
    assert told["first_to_give"] == row["mode"] == row["title"] == "nothing gave"
    assert told["member"] == row["member"] == row["part"] == "joint"
    assert row["cause"] == "largest load reached"
    assert columns_of(answer)["mode"] == "nothing gave"
    assert "hole stretches" not in json.dumps(told)
    assert judged("hole elongation", answer).startswith("hole elongation seen; not predicted")
    said = dict(side_by_side([answer.to_dict()]))
    assert said["first to give"] == ["nothing gave"]
    assert not any(name.endswith("gives at") for name in said)


@pytest.mark.parametrize("stop", [1e-6, 1e-4])
def test_a_pull_by_next_to_nothing_bears_in_proportion(stop):
    loads = [
        fejoint.pull(joint("hard").replace("pull.stop_displacement", s), refine=0.35).trace.load
        for s in (stop, 2e-4)
    ]
    assert loads[0][-1] == pytest.approx(loads[1][-1] * stop / 2e-4, rel=0.01)


@pytest.mark.parametrize("asked", [0.1, 1.0, 3.0])
def test_a_small_load_that_was_asked_for_is_told_as_borne(asked):
    answer = fejoint.pull(joint("hard").replace("pull.stop_load", asked), refine=0.35)
    assert answer.verdict.first.load == pytest.approx(asked, rel=1e-3)
    assert answer.verdict.sentence.startswith("Nothing gave up to a pull of ")
    assert not any("asked to stop" in said for said in answer.warnings)


def test_a_load_that_was_asked_for_is_met_while_contact_closes():
    drawn = random_joints.draw(np.random.default_rng([4, 447]))
    answer = fejoint.pull(drawn, refine=0.35)
    assert answer.trace.load[-1] == pytest.approx(drawn.pull.stop_load, rel=2e-3)


def test_a_load_below_the_shortest_step_ends_at_that_step_and_not_at_the_next():
    answer = fejoint.pull(joint("hard").replace("pull.stop_load", 0.001), refine=0.35)
    assert 0.001 < answer.trace.load[-1] < 0.1
    said = "asked to stop at 0.001 N, which the shortest step goes past: it ended at 0.04"
    assert any(told.startswith(said) for told in answer.warnings)


def test_an_ear_that_bends_aside_is_pulled_as_far_as_was_asked():
    aside = joint("hard").replace("pull.angle", 87.0).replace("ear.grip_length", 60.0)
    answer = fejoint.pull(aside.replace("pull.stop_displacement", 1.0), refine=0.35)
    assert answer.trust.stopped_because.reason is StopReason.REQUESTED
    assert answer.trace.extension[-1] == pytest.approx(1.0, rel=2e-3)
    assert answer.trust.broken == ()
