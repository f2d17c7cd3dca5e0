"""Loading, unloading, reloading and the far side of a plate's bearing law."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
from support.bare import bare_load
from support.pulled_faces import CASE, pulled

from fejoint.kernel import compiled
from fejoint.kernel.continuation import Path
from fejoint.kernel.load_curve import rising
from fejoint.kernel.stop_reason import Stop, StopReason
from fejoint.sections.face import pull as face
from fejoint.sections.face import unloading
from fejoint.sections.face.bearing_law import BearingLaw
from fejoint.sections.face.unloading import Release, release

TRAVEL = np.linspace(0.0, 0.5, 26)
LAW = BearingLaw(
    TRAVEL,
    2000.0 * np.tanh(TRAVEL / 0.1),
    0.1,
    np.array([0.1, 0.3]),
    np.array([0.05, 0.08]),
    (1.0 - np.linspace(0.0, 1.0, 21)) ** 1.5,
)


def walk(law: BearingLaw, travels) -> tuple[np.ndarray, np.ndarray]:
    """Forces along a walk of one slice, and its history at the end."""
    state, forces = np.zeros((2, 1)), []
    for travel in travels:
        force, _, state = law.respond(np.array([travel]), state)
        forces.append(force[0])
    return np.array(forces), state


def test_a_virgin_slice_follows_the_loading_curve():
    forces, _ = walk(LAW, TRAVEL)
    np.testing.assert_allclose(forces, LAW.force, rtol=1e-12)


def test_let_go_it_is_free_one_recovery_below_its_deepest_travel():
    deep, back = 0.3, 0.08
    forces, _ = walk(LAW, [deep, deep - 0.5 * back, deep - back, deep - 1.1 * back])
    peak = LAW.loading(np.array([deep]))[0][0]
    assert forces[1] == pytest.approx(peak * 0.5**1.5, rel=1e-3)
    assert forces[2] == pytest.approx(0.0, abs=1e-9)
    assert forces[3] == 0.0


def test_reloading_goes_back_up_the_unloading_curve_and_on_along_the_loading_curve():
    down = [0.3, 0.27, 0.25, 0.2]
    forces, _ = walk(LAW, [*down, 0.25, 0.27, 0.3, 0.4])
    np.testing.assert_allclose(forces[4:7], forces[[2, 1, 0]], rtol=1e-12)
    assert forces[7] == pytest.approx(LAW.loading(np.array([0.4]))[0][0])


def test_the_far_side_of_the_hole_bears_by_the_same_curve_after_the_clearance():
    ahead, _ = walk(LAW, [0.02, 0.2])
    behind, state = walk(LAW, [-0.1 - 0.02, -0.1 - 0.2])
    np.testing.assert_allclose(behind, -ahead)
    np.testing.assert_allclose(state, [[0.0], [0.2]])
    between, _ = walk(LAW, [-0.05])
    assert between[0] == 0.0


def test_with_infinite_clearance_nothing_bears_behind():
    forces, _ = walk(BearingLaw.linear(1e4), [-0.5, 0.5])
    assert forces[0] == 0.0
    assert forces[1] == pytest.approx(5e3)


def test_with_infinite_clearance_bare_answers_as_compiled(monkeypatch: pytest.MonkeyPatch):
    law = BearingLaw.linear(1e4)
    travel, state = np.array([-0.5, 0.2, 0.4]), np.array([[0.0, 0.3, 0.0], [0.1, 0.0, 0.0]])
    fast = law.respond(travel, state)
    monkeypatch.setattr(compiled, "load", bare_load)
    for a, b in zip(fast, law.respond(travel, state), strict=True):
        np.testing.assert_allclose(a, b, atol=1e-9)


@pytest.mark.parametrize("deepest", [0.0, 0.07, 0.25, 0.45])
def test_the_slope_is_the_derivative_of_the_force(deepest: float):
    travel = np.random.default_rng(1).uniform(-0.4, 0.45, 60)
    state = np.tile([[deepest], [0.15]], 60)
    h = 1e-6
    # a kink between the two sides of a difference is no error of the slope
    kinks = np.array([0.0, deepest, -0.1, -0.25, TRAVEL[-1]])
    smooth = np.abs(travel[:, None] - kinks).min(axis=1) > 1e-3
    back = LAW._spring_back(min(deepest, 0.3)) * (1.0 if deepest <= 0.3 else np.nan)
    if np.isfinite(back):
        smooth &= np.abs(travel - (deepest - back)) > 1e-3
    _, slope, _ = LAW.respond(travel, state)
    ahead, behind = (LAW.respond(travel + s * h, state)[0] for s in (1.0, -1.0))
    difference = (ahead - behind) / (2.0 * h)
    close = np.isclose(slope, difference, rtol=1e-4, atol=1e-2)
    assert close[smooth].all()


def test_the_force_is_continuous_where_loading_turns_to_unloading():
    state = np.array([[0.3], [0.0]])
    forces, _, _ = LAW.respond(np.array([0.3 - 1e-9]), state)
    assert forces[0] == pytest.approx(LAW.loading(np.array([0.3]))[0][0], rel=1e-6)


def test_compiled_and_bare_answer_the_same(monkeypatch: pytest.MonkeyPatch):
    random = np.random.default_rng(2)
    travel = random.uniform(-0.6, 0.7, 400)
    state = random.uniform(0.0, 0.6, (2, 400)) * (random.random((2, 400)) < 0.7)
    fast = LAW.respond(travel, state)
    monkeypatch.setattr(compiled, "load", bare_load)
    for a, b in zip(fast, LAW.respond(travel, state), strict=True):
        np.testing.assert_allclose(a, b, rtol=1e-11, atol=1e-11 * np.abs(b).max())


def test_rising_drops_what_turns_back():
    force, travel = rising(np.arange(5.0), np.array([0.0, 0.1, 0.2, 0.15, 0.3]))
    np.testing.assert_allclose(travel, [0.0, 0.1, 0.2, 0.3])
    np.testing.assert_allclose(force, [0.0, 1.0, 2.0, 4.0])


@lru_cache
def measured() -> tuple[BearingLaw, Release]:
    history = pulled(CASE, 0.4, sides=24)
    settings = face.FaceSettings(sides=24)
    places = [history.point_at_load(load) for load in (2000.0, 3700.0)]
    releases = [r for k in places if (r := release(history, k, settings)) is not None]
    return BearingLaw.from_pull(history, releases), releases[-1]


def test_a_law_read_from_a_face_section_repeats_its_curve():
    history, (law, _) = pulled(CASE, 0.4, sides=24), measured()
    forces, _ = walk(law, history.local_travel)
    np.testing.assert_allclose(forces * CASE.thickness, history.load, atol=1.0)


def test_and_its_unloading_within_a_few_percent_of_the_peak():
    law, let_go = measured()
    forces, _ = walk(law, let_go.local_travel)
    miss = np.abs(forces * CASE.thickness - let_go.load) / let_go.load[0]
    assert miss.max() < 0.04
    assert miss[-1] < 1e-6


def test_a_plate_that_cannot_be_followed_back_has_no_release(monkeypatch: pytest.MonkeyPatch):
    history = pulled()
    lost = Path([history.path.points[-1]], Stop(StopReason.NO_EQUILIBRIUM))
    monkeypatch.setattr(unloading, "trace_path", lambda *_, **__: lost)
    assert release(history, len(history.load) - 1) is None
