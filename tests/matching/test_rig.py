from __future__ import annotations

import numpy as np
import pytest
from rig_logs import cheap_curve, logged

from fejoint.errors import BadInput
from fejoint.matching import like_for_like, rig
from fejoint.matching.rig import Curve

HELD = {"rp02": 290.0, "rm": 620.0, "uniform_strain": 0.45, "friction": 0.15}
PREDICTED = cheap_curve(HELD)
SCALE = like_for_like.offset_of(PREDICTED, 0.082).load
COMPLIANCE = 1.1e-4


def test_slack_and_compliance_come_off_the_first_part_of_the_pull():
    truth = cheap_curve({**HELD, "rp02": 310.0, "rm": 580.0})
    force, travel = logged(truth, slack=0.35, compliance=COMPLIANCE, noise=15.0, zero=40.0)
    found = rig.find(force, travel, PREDICTED, SCALE)
    assert found.compliance == pytest.approx(COMPLIANCE, rel=0.05)
    assert abs(found.slack - 0.35) < 3.0 * found.slack_sd
    assert abs(found.compliance - COMPLIANCE) < 2.0 * found.compliance_sd
    assert found.zero == pytest.approx(40.0, abs=6.0)
    assert "first part" in found.sentence()


def test_a_stated_stiffness_is_taken_as_it_is():
    force, travel = logged(PREDICTED, slack=0.2, compliance=COMPLIANCE, noise=5.0)
    found = rig.find(force, travel, PREDICTED, SCALE, stiffness=1.0 / COMPLIANCE)
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
    found = rig.find(force, travel, PREDICTED, SCALE, back_compliance=1.0 / 90_000.0)
    assert found.compliance == pytest.approx(COMPLIANCE, rel=0.05)
    assert "unloading" in found.sentence()


def test_a_release_is_found_before_a_break_and_with_its_load():
    force, travel = let_go(
        *logged(PREDICTED, slack=0.35, compliance=COMPLIANCE, noise=0.0), 6000.0, 0.5
    )
    broken = np.append(force, np.zeros(20))
    on = np.append(travel, travel[-1] + 0.01 * np.arange(20))
    found = rig.unloading(broken, on)
    assert found.slope == pytest.approx(COMPLIANCE + 1.0 / 90_000.0, rel=1e-6)
    assert found.load == pytest.approx(6000.0, rel=0.01)


def test_a_break_is_no_unloading():
    force, travel = logged(PREDICTED, slack=0.1, compliance=COMPLIANCE, noise=3.0)
    broken = np.concatenate([force, np.linspace(force[-1], 100.0, 30)])
    on = np.concatenate([travel, travel[-1] + np.linspace(0.0, 0.3, 30)])
    assert rig.unloading(broken, on) is None


def test_a_log_without_a_first_part_is_refused():
    with pytest.raises(BadInput, match="too few rows"):
        rig.find(np.linspace(0.9, 1.2, 9) * SCALE, np.linspace(0.1, 0.5, 9), PREDICTED, SCALE)


def test_offset_load_of_a_log_is_that_of_the_curve_behind_it():
    force, travel = logged(PREDICTED, slack=0.3, compliance=COMPLIANCE, noise=20.0, rows=4000)
    found = rig.find(force, travel, PREDICTED, SCALE)
    f = force - found.zero
    own = like_for_like.joint_curve(f, found.joint_extension(f, travel))
    offset = like_for_like.offset_of(own, 0.082)
    assert offset.load == pytest.approx(SCALE, rel=0.01)
    rms, bias = like_for_like.residual(own, PREDICTED)
    assert rms < 0.01
    assert abs(bias) < 0.005


def test_a_residual_is_the_difference_over_the_largest_load():
    line = Curve(np.array([0.0, 1000.0]), np.array([0.0, 1.0]))
    higher = Curve(np.array([0.0, 1100.0]), np.array([0.0, 1.0]))
    rms, bias = like_for_like.residual(higher, line)
    assert bias == pytest.approx(0.051, abs=1e-3)
    assert rms > bias
