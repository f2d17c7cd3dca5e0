"""Proof pulls of a face section, and pulls until metal tears or the hole is half as long again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.pulled_faces import CASE, HARD, OUTLINE, offset_load, plastic_work, pulled

from fejoint.kernel.continuation import StepControl
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.load_curve import offset_point
from fejoint.kernel.plasticity import Metal
from fejoint.kernel.stop_reason import Stop, StopReason
from fejoint.sections.face.pull import FaceSettings, build, pull
from fejoint.sections.face.unloading import release
from fejoint.sections.observers import Reached

PROOF = 4000.0
SOFT = Metal(200e3, 0.3, Hardening.linear(250.0, 500.0))


def proof_pulls(case, count: int, pace: float = 1.0):
    how = FaceSettings(sides=24, pace=pace, stop_at_maximum=False)
    legs = [StepControl("load", PROOF), StepControl("release", 0.02)] * count
    return pull(build(case, how), how, legs)


def energy_miss(history) -> float:
    """External work by trapezoid less stored, plastic and friction energy, over that work."""
    work = np.trapezoid(history.load, history.travel)
    end, share = history.path.points[-1], history.problem.share
    left = share * (end.stored + end.lost) + plastic_work(history, end)
    return float((work - left) / work)


@pytest.mark.parametrize("friction", [0.0, 0.15])
def test_energy_is_kept_over_ten_proof_pulls_and_better_at_half_the_step(friction):
    case = replace(CASE, friction=friction)
    usual, half = (abs(energy_miss(proof_pulls(case, 10, pace))) for pace in (1.0, 0.5))
    assert usual < 1e-2
    assert half < 0.5 * usual


def test_proof_pulls_without_friction_settle_at_once():
    history = proof_pulls(CASE, 4)
    kept = history.elongation[history.path.legs[1::2]]
    assert kept[0] > 0.015 * OUTLINE.hole
    np.testing.assert_allclose(kept, kept[0], rtol=2e-3)


def test_friction_heats_on_every_leg_and_most_on_the_first():
    history = proof_pulls(replace(CASE, friction=0.15), 3)
    lost = np.array([history.path.points[k].lost for k in history.path.legs])
    heat = np.diff(np.concatenate([[0.0], lost]))
    assert np.all(heat > 0.0)
    assert heat[0] > 5.0 * heat[2]


def test_released_from_the_offset_load_the_hole_keeps_more_than_two_percent():
    history = pulled(CASE, 0.3, sides=24)
    load = offset_load(history)
    let_go = release(history, history.point_at_load(load))
    assert let_go.set > 0.02 * OUTLINE.hole
    first_over = next(
        k for k in range(1, len(history.load))
        if release(history, k).set >= 0.02 * OUTLINE.hole
    )  # fmt: skip
    assert history.load[first_over - 1] < load


def test_damage_only_grows_over_proof_pulls_and_only_ahead():
    history = proof_pulls(replace(CASE, fracture_strain=0.5), 3)
    at = history.damage[history.path.legs]
    assert np.all(np.diff(history.damage) >= 0.0)
    assert at[0] > 0.0
    np.testing.assert_allclose(at, at[0], rtol=0.02)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("case", "mode"),
    [
        (replace(CASE, fracture_strain=0.5), "wide"),
        (replace(CASE, fracture_strain=0.4, outline=replace(OUTLINE, width=8.0)), "narrow"),
    ],
    ids=["end tear-out", "net section"],
)
def test_load_that_exhausts_ductility_is_stable_over_three_refinements(case, mode):
    histories = [pulled(case, None, sides=sides) for sides in (24, 48, 96)]
    loads = [h.load[-1] for h in histories]
    assert all(h.path.stopped_because.reason is StopReason.DUCTILITY_EXHAUSTED for h in histories)
    assert max(loads) < 1.03 * min(loads)
    ahead = [h.torn_at[0] / np.linalg.norm(h.torn_at) for h in histories]
    assert all(x > 0.5 for x in ahead) if mode == "wide" else all(abs(x) < 0.5 for x in ahead)


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("sides", [48, 96])
@pytest.mark.parametrize("pin", [SOFT, HARD], ids=["soft", "hard"])
def test_pin_of_any_hardness_runs_to_half_the_hole_without_a_stall(pin, sides, draws):
    if pin is SOFT and sides == 96 and draws(sides) < sides:
        pytest.skip("the soft pin on the fine mesh takes 15 s: scripts/stress runs it")
    how = FaceSettings(sides=sides, stop_travel=1.5 * OUTLINE.hole, stop_at_maximum=False)
    problem = build(replace(CASE, pin_metal=pin), how)
    stop = Stop(StopReason.FAR_ENOUGH, "half the hole")
    half = Reached(problem.elongation, 0.5 * OUTLINE.hole, stop)
    history = pull(problem, how, observers=[half])
    assert str(history.path.stopped_because) == "half the hole"
    assert max(p.residual for p in history.path.points) < 1e-6
    assert len(history.load) < 200
    assert offset_point(history.load, history.elongation, 0.02 * OUTLINE.hole) is not None
