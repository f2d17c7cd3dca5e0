"""How a log ends: broken, let go, stopped by the rig, or beyond what its load cell can tell."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from fejoint.kernel.load_curve import OffsetPoint
from fejoint.measured import log_ends, rig_compliance
from fejoint.measured.comparison import Matched

TOP, STIFF = 6000.0, 9000.0


def pulled(rows: int = 400, *, noise: float = 0.0, top: float = TOP):
    """Return a pull, softer and softer, and the travel of joint and rig."""
    rng = np.random.default_rng(rows)
    force = top * np.linspace(0.0, 1.0, rows) ** 0.8
    travel = force / STIFF + 0.4 * (force / TOP) ** 4
    return force, travel + noise * rng.normal(size=rows)


def ended(how: str, rows: int = 400, noise: float = 0.0):
    force, travel = pulled(rows, noise=noise)
    top, at = force[-1], travel[-1]
    if how == "let go":
        f = np.linspace(top, 0.0, rows // 2)
        x = at - (top - f) / STIFF
    elif how == "broken":
        f = top * np.array([0.7, 0.3, 0.1, 0.02])
        x = at + 0.01 * np.arange(1, 5)
    elif how == "stopped by itself":
        f, x = top * np.array([0.98, 0.95, 0.9]), at + 0.01 * np.arange(1, 4)
    elif how == "torn by a third and let go":
        f = np.concatenate([[0.7 * top], np.linspace(0.7 * top, 0.0, 40)])
        x = at + np.concatenate([[0.01], 0.01 - (0.7 * top - f[1:]) / STIFF])
    elif how == "broken and driven back":
        f = np.concatenate([[0.4 * top, 0.02 * top], np.zeros(30)])
        x = at + np.concatenate([[0.01, 0.02], -np.linspace(0.0, at, 30)])
    else:
        f, x = np.array([]), np.array([])
    rng = np.random.default_rng(1)
    return np.concatenate([force, f]), np.concatenate([travel, x + noise * rng.normal(size=len(x))])


@pytest.mark.parametrize("noise", [0.0, 0.002])
@pytest.mark.parametrize(
    ("how", "fell"),
    [("let go", False), ("broken", True), ("stopped by itself", True), ("stopped", False),
     ("broken and driven back", True), ("torn by a third and let go", True)],
)  # fmt: skip
def test_a_break_is_told_from_a_release_and_a_stop(how, fell, noise):
    force, travel = ended(how, noise=noise)
    assert log_ends.fell_away(force, travel) is fell


@pytest.mark.parametrize(("how", "fell"), [("let go", False), ("broken", True), ("stopped", False)])
def test_without_travel_a_fall_as_slow_as_the_rise_is_no_break(how, fell):
    force, _ = ended(how)
    assert log_ends.fell_away(force, None) is fell


@pytest.mark.parametrize("seed", range(8))
def test_a_break_logged_in_many_rows_is_no_unloading(seed):
    force, travel = pulled(2000)
    f = np.linspace(TOP, 0.1 * TOP, 11)
    rng = np.random.default_rng(seed)
    x = travel[-1] + np.arange(11) * 2e-5
    travel = np.concatenate([travel, x])
    travel += 0.002 * rng.normal(size=len(travel))
    force = np.concatenate([force, f])
    assert rig_compliance.unloading(force, travel) is None
    assert log_ends.fell_away(force, travel)


def test_an_unloading_that_is_one_is_read():
    force, travel = ended("let go", noise=0.001)
    back = rig_compliance.unloading(force, travel)
    assert 1.0 / back.slope == pytest.approx(STIFF, rel=0.02)


def test_a_load_cell_at_its_end_is_told_from_a_plateau_and_a_halt():
    force, travel = pulled()
    cut = np.minimum(force, 5000.0)
    assert log_ends.clipped(cut, travel)
    assert not log_ends.clipped(force, travel)
    # a joint that flows at one load, in steps of the log's resolution
    slow = np.round(TOP * (1.0 - np.exp(-np.linspace(0.0, 9.0, 600))) / 50.0) * 50.0
    assert not log_ends.clipped(slow, np.linspace(0.0, 6.0, 600))
    # a rig that holds still at its highest load
    still = np.concatenate([travel, np.full(200, travel[-1])])
    assert not log_ends.clipped(np.concatenate([force, np.full(200, TOP)]), still)


@pytest.mark.parametrize("level", [40.0, 400.0])
def test_a_preload_that_is_held_is_no_zero_and_slack_under_a_false_zero_is(level):
    force, travel = pulled()
    held = np.concatenate([np.full(200, level), level + force])
    still = np.concatenate([np.zeros(200), travel])
    zero = rig_compliance.zero_of(held, still)
    assert zero == (pytest.approx(level) if level < 0.01 * held.max() else 0.0)
    slack = np.concatenate([np.linspace(0.0, 0.5, 200), 0.5 + travel])
    assert rig_compliance.zero_of(held, slack) == pytest.approx(level, rel=0.05)


@pytest.mark.parametrize("rows", [60, 400, 4000])
@pytest.mark.parametrize("slip", [0.0, 0.05, 0.4])
def test_a_slip_is_told_and_an_even_pull_is_none(slip, rows):
    force, travel = pulled(rows, noise=0.001)
    at = int(np.argmax(force > 0.5 * TOP))
    travel[at:] += slip
    found = rig_compliance._slip(force, travel, 0.05 * TOP)
    if slip > 0.3 * 60 / rows:  # among few rows a small one does not stand out
        assert found[0] == pytest.approx(slip, abs=0.06)
        assert found[1] == pytest.approx(0.5 * TOP, rel=0.05)
    elif not slip:
        assert found is None


def test_samples_one_behind_the_other_with_the_drive_back_are_parted():
    force, travel = pulled()
    broken = np.concatenate([force, TOP * np.array([0.4, 0.02])])
    away = np.concatenate([travel, travel[-1] + np.array([0.01, 0.02])])
    back = np.linspace(away[-1], 0.0, 50)
    two = np.concatenate([broken, np.zeros(50), 1.1 * broken])
    along = np.concatenate([away, back, away])
    (start,) = log_ends.broken_and_again(two, along)
    assert len(broken) + 45 <= start <= len(broken) + 51
    # let go and pulled again: one sample
    let_go = np.linspace(TOP, 0.0, 100)
    way = travel[-1] - (TOP - let_go) / STIFF
    whole = np.concatenate([force, let_go, np.zeros(50), 1.1 * broken])
    path = np.concatenate([travel, way, np.linspace(way[-1], 0.0, 50), away])
    assert log_ends.broken_and_again(whole, path) == []


def test_a_release_that_a_break_begins_is_no_unloading_of_the_joint():
    force, travel = pulled(noise=0.001)
    after = np.linspace(0.52 * TOP, 0.0, 200)
    back = travel[-1] - 2.0 * (0.52 * TOP - after) / STIFF  # torn, it is half as stiff
    whole = np.concatenate([force, after]), np.concatenate([travel, back])
    assert rig_compliance.unloading(*whole) is None


def test_a_rig_that_runs_faster_for_a_while_slips_not():
    force, travel = pulled(400)
    keep = np.r_[0:150, 170:400]  # twenty rows lost: far travel, and as much load
    assert rig_compliance._slip(force[keep], travel[keep], 0.05 * TOP) is None
    assert rig_compliance._slip(force, travel, 0.05 * TOP) is None


def test_another_compliance_goes_through_the_same_early_part():
    rig = rig_compliance.Rig(0.0, 0.3, 0.01, 1e-4, 5e-6, "somehow", 2000.0)
    other = rig.with_compliance(1.2e-4)
    at = np.array([2000.0]), np.array([1.0])
    assert other.joint_extension(*at) == pytest.approx(rig.joint_extension(*at))
    assert other.slack < rig.slack


@pytest.mark.parametrize(
    ("band", "unsure"), [((950.0, 1050.0), False), ((700.0, 1300.0), True), (None, True)]
)
def test_an_offset_load_is_concluded_where_the_rig_is_known(band, unsure):
    offset = OffsetPoint(1000.0, 0.1, 1e4)
    log = SimpleNamespace(force=np.zeros(9))
    assert Matched(log, None, None, offset, 1.0, offset_band=band).unsure is unsure
    assert not Matched(log, None, None, None, 1.0).unsure
