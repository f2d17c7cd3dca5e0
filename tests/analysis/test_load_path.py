from __future__ import annotations

import functools
import json
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from support import DEMO, DEMO_CASES

import fejoint
from fejoint.analysis import load_path
from fejoint.analysis.limit_loads import JointReading
from fejoint.analysis.load_path import _release_before, apart, moves_again
from fejoint.analysis.pull import solve_members
from fejoint.analysis.result import Answer
from fejoint.analysis.section_cases import PullSettings
from fejoint.kernel.stop_reason import Stop, StopReason
from fejoint.studies.used_joint import used

PROOF = 6000.0


@functools.cache
def walked(*legs: tuple[str, float], stop: float | None = 0.35) -> Answer:
    case = dict(fejoint.load(DEMO).case)
    case["pull"] = {"leg": [{kind: value} for kind, value in legs]}
    if stop is not None:
        case["pull"]["stop_displacement"] = stop
    return fejoint.pull(fejoint.load(case), refine=0.5)


def proofs() -> Answer:
    return walked(("load", PROOF), ("release", True), ("load", PROOF), ("release", True))


def straight() -> Answer:
    return walked()


def test_every_leg_has_its_row_and_the_joint_is_pulled_on_to_its_end():
    answer = proofs()
    assert [row.leg for row in answer.path] == [
        "to 6,000 N", "release", "to 6,000 N", "release", "to the end",
    ]  # fmt: skip
    assert all(row.reached for row in answer.path)
    loads = [row.load for row in answer.path]
    assert loads[:4] == pytest.approx([PROOF, 0.0, PROOF, 0.0], abs=1e-4 * PROOF)


def test_proof_pull_leaves_a_longer_hole_and_a_second_one_adds_nothing():
    first, _, second, after = proofs().path[:4]
    kept = proofs().path[1].hole_mean
    assert 0.0 < kept < first.hole_mean
    assert proofs().path[1].hole_inner > kept  # the pin bends: the inner face bears more
    assert second.hole_mean == pytest.approx(first.hole_mean, rel=1e-4)
    assert after.hole_mean == pytest.approx(kept, rel=1e-4)


def test_second_pull_follows_the_release_within_half_a_percent():
    assert proofs().path[2].follows_within < 5e-3
    assert proofs().path[4].follows_within < 5e-3


def test_used_joint_moves_again_at_the_load_it_has_seen():
    # offset 0.1 % of the diameter: within the release's own bend of that load
    assert proofs().path[4].moves_again == pytest.approx(PROOF, rel=0.1)
    assert proofs().path[2].moves_again is None  # the second pull goes no further


def test_path_rejoins_the_curve_of_one_long_pull():
    once, again = straight().trace, proofs().trace
    beyond = (again.load > 1.05 * PROOF) & (again.extension <= once.extension[-1])
    expected = PchipInterpolator(once.extension, once.load)(again.extension[beyond])
    assert beyond.sum() > 5
    np.testing.assert_allclose(again.load[beyond], expected, rtol=5e-3)


def test_verdict_after_a_path_is_that_of_one_long_pull():
    once, again = straight(), proofs()
    assert again.verdict.first.mode == once.verdict.first.mode
    for name in ("offset load", "permanent set 2 %"):
        assert again.event(name).load == pytest.approx(once.event(name).load, rel=5e-3)


def test_load_that_leaves_two_percent_lies_below_the_offset_load():
    events = straight()
    assert events.event("permanent set 2 %").load < events.event("offset load").load


def test_friction_only_ever_heats():
    heat = [row.friction_heat for row in proofs().path[:4]]
    assert heat[0] > 0.0
    assert np.all(np.diff(heat) >= 0.0)
    assert proofs().path[2].friction_loop < 0.02


def test_leg_beyond_the_end_is_told_as_not_reached():
    answer = walked(("displacement", 0.1), ("release", True), ("load", 1e6), ("release", True))
    rows = answer.path
    assert [row.reached for row in rows] == [True, True, False]
    assert rows[0].extension == pytest.approx(0.1)
    assert answer.trust.finished


def test_path_may_go_back_to_a_smaller_displacement_and_on_again():
    answer = walked(("displacement", 0.2), ("displacement", 0.14), ("displacement", 0.25))
    assert [row.reached for row in answer.path] == [True] * 4
    assert answer.path[1].load < 0.7 * answer.path[0].load
    assert answer.path[2].load > answer.path[0].load


def test_a_leg_that_pushes_back_is_no_release():
    for low, back in ((0.0, (0, 2)), (40.0, (0, 2)), (-0.9, (0, 2)), (-1.1, None), (-60.0, None)):
        history = SimpleNamespace(load=np.array([100.0, 50.0, low, 80.0]))
        assert _release_before(history, [0, 2, 3], 2) == back
    rising = SimpleNamespace(load=np.array([0.0, 50.0, 60.0, 80.0]))
    assert _release_before(rising, [0, 2, 3], 2) is None


def test_a_path_that_pushes_back_compares_nothing_with_it_and_reads_friction_up_to_it():
    # a soft pin that has bent is bent back
    joint = fejoint.load(DEMO_CASES / "soft-pin.toml").replace("ear.hole", 4.0)
    case = dict(joint.replace("shank.hole", 4.0).case)
    legs = [{"displacement": 0.6}, {"displacement": 0.02}, {"displacement": 0.7}]
    case["pull"] = {"leg": legs, "stop_displacement": 0.8}
    rows = fejoint.pull(fejoint.load(case), refine=0.35).path
    assert rows[0].load > 1e3
    assert rows[1].load < -1e3
    assert [row.follows_within for row in rows] == [None] * 4
    assert [row.moves_again for row in rows] == [None] * 4
    assert [row.friction_heat is None for row in rows] == [False, True, True, True]
    assert [bool(row.unread) for row in rows] == [False, True, True, False]


def test_a_path_that_breaks_off_does_not_reach_its_end_and_friction_says_how_far_it_was_read(
    monkeypatch,
):
    answer = proofs()
    assert answer.axial is not None
    path = answer.axial.path
    broken = Stop(StopReason.NO_EQUILIBRIUM, "no equilibrium found")
    monkeypatch.setattr(path, "stopped_because", broken)
    own = load_path.face.pull

    def cut(*arguments):
        walk = own(*arguments)
        del walk.path.legs[2:]
        walk.path.stopped_because = broken
        return walk

    monkeypatch.setattr(load_path.face, "pull", cut)
    joint, settings = answer.joint, PullSettings(0.5)
    members = solve_members(joint, settings)
    reading = JointReading(joint, members, answer.axial, settings.axial(joint))
    rows = load_path.walked(joint, reading, 0, settings.ear(joint))
    assert [row.reached for row in rows] == [True, True, True, True, False]
    assert [row.friction_heat is None for row in rows] == [False, True, True, True, True]
    assert [row.unread for row in rows[1:4]] == ["no equilibrium found"] * 3


def test_path_stands_in_the_answer_with_units():
    rows = json.loads(proofs().to_json())["path"]
    assert rows[1]["load_N"] == pytest.approx(0.0, abs=1.0)
    assert {"hole_mean_mm", "hole_inner_mm", "pin_bend_mm", "moves_again_N"} <= set(rows[1])


def test_joint_used_by_a_given_set_has_it_and_moves_again_near_what_made_it():
    joint = fejoint.load(DEMO).replace("pull.stop_displacement", 0.35)
    kept = proofs().path[1].hole_mean
    answer = used(joint, hole=kept, refine=0.5).answer
    assert answer.path[1].hole_mean == pytest.approx(kept, rel=0.02)
    assert answer.path[0].load == pytest.approx(PROOF, rel=0.01)
    with pytest.raises(fejoint.BadInput, match="must lie between 0"):
        used(joint, hole=100.0, refine=0.5)


def test_answer_names_where_ductility_goes_first():
    rows = {row["plate"]: row for row in json.loads(straight().to_json())["ductility"]}
    ear = rows["both ears"]
    assert 0.0 < ear["used"] < 1.0
    assert ear["mode"] in {"end tear-out", "net section"}
    hole = straight().joint.ears[0].hole
    assert 0.4 * hole < np.hypot(*ear["at_mm"]) < hole


def test_answer_states_what_a_path_leaves_out():
    assert any("isotropic hardening" in said for said in proofs().warnings)
    assert not any("isotropic hardening" in said for said in straight().warnings)


def test_flare_is_told_and_lowers_both_the_answer_and_the_rule_beside_it():
    joint = fejoint.load(DEMO).replace("pull.stop_displacement", 0.3)
    flared = fejoint.pull(joint.replace("ear.flare_depth", "0.6 mm"), refine=0.5)
    assert any("flared hole" in said for said in flared.warnings)
    ear, plain = flared.verdict.first, straight().verdict.first
    assert ear.load < plain.load
    assert ear.handbook_load == pytest.approx(plain.handbook_load * 1.7 / 2.0)


def test_stretches_too_short_to_compare_tell_nothing():
    x, load = np.array([1.0, 0.8, 0.6, 2.0, 3.0]), np.array([10.0, 5.0, 0.0, 20.0, 30.0])
    assert apart(x, load, (0, 2), (3, 4)) is None
    history = SimpleNamespace(load=load, extension=x)
    assert moves_again(history, 3, 4, 0.1) is None
