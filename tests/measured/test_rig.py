from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.rig_logs import cheap_curve, logged

from fejoint.analysis.result import LimitLoad, PartLimits
from fejoint.errors import BadInput
from fejoint.measured import comparison, log_ends, rig_compliance
from fejoint.measured.log_record import Log
from fejoint.measured.rig_compliance import Curve

HELD = {"rp02": 290.0, "rm": 620.0, "uniform_strain": 0.45, "friction": 0.15}
PREDICTED = cheap_curve(HELD)
SCALE = comparison.offset_of(PREDICTED, 0.082).load
COMPLIANCE = 1.1e-4


@pytest.mark.parametrize("shape", [lambda x: x, lambda x: x**1.6, lambda x: 1.0 - np.exp(-4.0 * x)])
@pytest.mark.parametrize("rows", [12, 45, 300, 4000])
def test_a_pull_from_its_first_row_on_is_no_zero_of_the_load_cell(rows, shape):
    rng = np.random.default_rng(rows)
    ramp = 8800.0 * shape(np.linspace(0.0, 1.0, rows))
    for noise in (0.0, 5.0, 17.0):
        zero = rig_compliance.zero_of(ramp + noise * rng.normal(size=rows))
        assert abs(zero) < 5e-3 * 8800.0
    at_rest = np.concatenate([np.full(rows // 4, 0.0), ramp]) + 80.0
    if rows >= 45:
        assert rig_compliance.zero_of(at_rest) == pytest.approx(80.0, abs=10.0)


def test_slack_and_compliance_come_off_the_first_part_of_the_pull():
    truth = cheap_curve({**HELD, "rp02": 310.0, "rm": 580.0})
    force, travel = logged(truth, slack=0.35, compliance=COMPLIANCE, noise=15.0, zero=40.0)
    found = rig_compliance.find(force, travel, PREDICTED, SCALE)
    assert found.compliance == pytest.approx(COMPLIANCE, rel=0.05)
    assert abs(found.slack - 0.35) < 3.0 * found.slack_sd
    assert abs(found.compliance - COMPLIANCE) < 2.0 * found.compliance_sd
    assert found.zero == pytest.approx(40.0, abs=6.0)
    assert "first part" in found.sentence()


def test_a_stated_stiffness_is_taken_as_it_is():
    force, travel = logged(PREDICTED, slack=0.2, compliance=COMPLIANCE, noise=5.0)
    found = rig_compliance.find(force, travel, PREDICTED, SCALE, stiffness=1.0 / COMPLIANCE)
    assert found.compliance == COMPLIANCE
    assert found.compliance_sd == 0.0
    assert found.slack == pytest.approx(0.2, abs=0.01)
    assert "as stated" in found.sentence()


def let_go(force, travel, at, to):
    """Put a release from a load to a share of it, and the reload, into a log."""
    k = int(np.flatnonzero(force > at)[0])
    slope = COMPLIANCE + 1.0 / 90_000.0
    down = np.linspace(at, to * at, 60)
    path = np.concatenate([down, down[::-1]])
    back = travel[k] + (path - at) * slope
    return (
        np.concatenate([force[:k], path, force[k:]]),
        np.concatenate([travel[:k], back, travel[k:]]),
    )


def test_an_unloading_tells_the_compliance_whatever_the_law_is():
    weak = cheap_curve({**HELD, "rp02": 200.0, "rm": 450.0})
    force, travel = let_go(*logged(weak, slack=0.35, compliance=COMPLIANCE, noise=3.0), 6000, 0.3)
    found = rig_compliance.find(force, travel, PREDICTED, SCALE, back_compliance=1.0 / 90_000.0)
    assert found.compliance == pytest.approx(COMPLIANCE, rel=0.05)
    assert "unloading" in found.sentence()


def test_a_release_is_found_before_a_break_and_with_its_load():
    force, travel = let_go(
        *logged(PREDICTED, slack=0.35, compliance=COMPLIANCE, noise=0.0), 6000.0, 0.5
    )
    broken = np.append(force, np.zeros(20))
    on = np.append(travel, travel[-1] + 0.01 * np.arange(20))
    found = rig_compliance.unloading(broken, on)
    assert found.slope == pytest.approx(COMPLIANCE + 1.0 / 90_000.0, rel=1e-6)
    assert found.load == pytest.approx(6000.0, rel=0.01)


def test_a_break_is_no_unloading():
    force, travel = logged(PREDICTED, slack=0.1, compliance=COMPLIANCE, noise=3.0)
    broken = np.concatenate([force, np.linspace(force[-1], 100.0, 30)])
    on = np.concatenate([travel, travel[-1] + np.linspace(0.0, 0.3, 30)])
    assert rig_compliance.unloading(broken, on) is None


def test_a_log_without_a_first_part_is_refused():
    with pytest.raises(BadInput, match="too few rows"):
        rig_compliance.find(
            np.linspace(0.9, 1.2, 9) * SCALE, np.linspace(0.1, 0.5, 9), PREDICTED, SCALE
        )


def test_offset_load_of_a_log_is_that_of_the_curve_behind_it():
    force, travel = logged(PREDICTED, slack=0.3, compliance=COMPLIANCE, noise=20.0, rows=4000)
    found = rig_compliance.find(force, travel, PREDICTED, SCALE)
    f = force - found.zero
    own = comparison.joint_curve(f, found.joint_extension(f, travel))
    offset = comparison.offset_of(own, 0.082)
    assert offset.load == pytest.approx(SCALE, rel=0.01)
    rms, bias = comparison.residual(own, PREDICTED)
    assert rms < 0.01
    assert abs(bias) < 0.005


def test_a_residual_is_the_difference_over_the_largest_load():
    line = Curve(np.array([0.0, 1000.0]), np.array([0.0, 1.0]))
    higher = Curve(np.array([0.0, 1100.0]), np.array([0.0, 1.0]))
    rms, bias = comparison.residual(higher, line)
    assert bias == pytest.approx(0.051, abs=1e-3)
    assert rms > bias


def test_an_unloading_after_a_sudden_drop_is_still_found():
    force, travel = logged(PREDICTED, slack=0.1, compliance=COMPLIANCE, noise=0.0)
    low, high = 0.2 * float(force.max()), 0.5 * float(force.max())
    k = int(np.flatnonzero(force > high)[0])
    # the sample slips: the force falls while the travel goes on
    drop = np.concatenate([np.linspace(high, low, 30), np.linspace(low, high, 30)])
    on = travel[k] + np.linspace(0.0, 0.2, 60)
    force = np.concatenate([force[:k], drop, force[k:]])
    travel = np.concatenate([travel[:k], on, travel[k:] + 0.2])
    assert rig_compliance.unloading(force, travel) is None
    found = rig_compliance.unloading(*let_go(force, travel, 1.6 * high, 0.2))
    assert found.load == pytest.approx(1.6 * high, rel=0.01)
    assert found.slope == pytest.approx(COMPLIANCE + 1.0 / 90_000.0, rel=1e-3)


def test_a_joint_stiffer_than_predicted_leaves_no_stretch_to_the_rig():
    truth = cheap_curve(HELD, stiffness=250_000.0)
    force, travel = logged(truth, slack=0.2, compliance=0.0, noise=1.0)
    found = rig_compliance.find(force, travel, PREDICTED, SCALE)
    assert found.compliance == 0.0
    assert found.how == "from the first part of the pull (none found)"


def test_a_curve_ends_where_the_load_has_fallen_to_a_break():
    x = np.linspace(0.01, 1.0, 100)
    force = np.where(x < 0.6, 1000.0 * x, 600.0 - 4000.0 * (x - 0.6))
    whole = comparison.joint_curve(force, x)
    assert whole.extension[-1] < 0.6 + 0.25 * (1.0 - log_ends.BROKEN)
    assert whole.load[-1] >= 0.9 * log_ends.BROKEN * 600.0


def test_a_log_with_hardly_a_row_beyond_first_touch_is_no_curve():
    few = comparison.joint_curve(np.array([1.0, 2.0, 3.0]), np.array([-0.1, 0.0, 0.1]))
    assert few.load.tolist() == few.extension.tolist() == [0.0]
    assert comparison.residual(few, PREDICTED) == (None, None)


def test_a_release_of_the_joint_is_stiffer_than_its_pull_and_gives_the_rig_s_stretch(expected):
    history, load = expected.answer.axial, 0.8 * expected.offset.load
    back = comparison.back_compliance(history, load)
    pulled = float(np.interp(load, history.load, history.extension)) / load
    assert 0.3 * pulled < back < pulled
    assert comparison.back_compliance(history, 1e9) > 0.0  # from the end of the pull
    force, travel = logged(expected.curve, slack=0.2, compliance=COMPLIANCE, noise=2.0)
    k = int(np.flatnonzero(force > load)[0])
    down = np.linspace(load, 0.2 * load, 60)
    path = np.concatenate([down, down[::-1]])
    force = np.concatenate([force[:k], path, force[k:]])
    let = travel[k] + (path - load) * (COMPLIANCE + back)
    travel = np.concatenate([travel[:k], let, travel[k:]])
    log = Log("pull.csv", "curve", force, travel, None, float(force.max()), len(force), (), ())
    matched = comparison.match(log, expected)
    assert matched.rig.compliance == pytest.approx(COMPLIANCE, rel=0.03)
    assert "from the unloading in the log" in matched.rig.how
    assert comparison.sample_names([matched]) == ["pull.csv"]


def test_a_joint_that_cannot_be_followed_back_tells_no_compliance(expected, monkeypatch):
    monkeypatch.setattr(comparison.axial, "release", lambda *_: None)
    assert comparison.back_compliance(expected.answer.axial, 3000.0) is None


def test_a_pin_that_shears_by_the_handbook_ends_the_prediction(expected):
    answer = expected.answer
    load = 0.6 * expected.most
    sheared = LimitLoad("pin shear", "pin", load, "full plastic shear", handbook_load=1.2 * load)
    order = (PartLimits(answer.verdict.order[0].first, (sheared,)),)
    told = replace(answer, verdict=replace(answer.verdict, order=order))
    found = comparison.expect(told)
    assert (found.most, found.most_mode) == (1.2 * load, "pin shear")
    assert found.curve.load[-1] >= 1.2 * load * (1.0 - 1e-9) > found.curve.load[-2]
