from __future__ import annotations

import pickle
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from support.one_body import bar
from support.pulled_faces import CASE, OUTLINE, pulled

from fejoint.kernel.continuation import StepControl, StepSettings, trace_path
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.kinematics import MetalState
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.plasticity import Metal
from fejoint.kernel.stop_reason import Stop, StopReason
from fejoint.sections import damage as ductility
from fejoint.sections.damage import Averaging, growth, weight
from fejoint.sections.face.pull import PLATE, build
from fejoint.sections.observers import Ductility


def test_weight_is_one_in_tension_and_shear_and_none_in_compression():
    assert weight(np.array(1.0 / 3.0)) == pytest.approx(1.0)
    np.testing.assert_allclose(weight(np.array([0.0, 0.2])), 1.0)
    np.testing.assert_allclose(weight(np.array([-1.0 / 3.0, -0.6])), 0.0, atol=1e-12)
    assert weight(np.array(-1.0 / 6.0)) == pytest.approx(0.5)
    # Rice and Tracey: exp(1.5 (eta - 1/3)); equal biaxial tension has eta = 2/3
    assert weight(np.array(2.0 / 3.0)) == pytest.approx(np.exp(0.5))


def test_weight_rises_without_a_jump():
    eta = np.linspace(-1.0, 2.0, 3001)
    w = weight(eta)
    assert np.all(np.diff(w) >= 0.0)
    assert np.diff(w).max() < 0.02


def test_bar_pulled_to_its_fracture_strain_has_used_its_ductility():
    stress = np.array([[400.0], [0.0], [0.0]])
    states = [MetalState(np.ones((3, 1)), np.array([p]), stress) for p in (0.0, 0.5, 1.2)]
    total = sum(growth(a, b, 1.2) for a, b in pairwise(states))
    assert total == pytest.approx(1.0)


def test_pressed_metal_uses_no_ductility():
    stress = np.array([[-400.0], [-400.0], [0.0]])
    a, b = (MetalState(np.ones((3, 1)), np.array([p]), stress) for p in (0.0, 0.5))
    assert growth(a, b, 1.0)[0] == 0.0


def averaging(problem, reach: float = np.inf) -> tuple[Averaging, np.ndarray]:
    plate = problem.system.terms[PLATE]
    where = plate.quadrature.points.reshape(-1, 2)
    volumes = plate.volumes.reshape(-1)
    return Averaging.from_points(where, volumes, 2.0, problem.half, reach), where


@pytest.mark.parametrize("reach", [np.inf, 6.0])
@pytest.mark.parametrize("whole", [False, True], ids=["half", "whole"])
def test_averaging_keeps_a_constant(whole, reach):
    from fejoint.sections.face.pull import FaceSettings

    problem = build(CASE, FaceSettings(sides=24, whole=whole))
    average, where = averaging(problem, reach)
    np.testing.assert_allclose(average.matrix.sum(axis=1), 1.0, rtol=1e-12)
    assert average.matrix.data.min() > 0.0
    np.testing.assert_allclose(average(np.full(len(where), 0.7)), 0.7)


def test_averaging_of_the_half_mirrors_what_it_does_not_mesh():
    from fejoint.sections.face.pull import FaceSettings

    half, whole = (build(CASE, FaceSettings(sides=24, whole=w)) for w in (False, True))
    ours, at = averaging(half)
    theirs, everywhere = averaging(whole)

    def damage(x):
        return np.exp(-np.abs(x[:, 1])) * (1.0 + 0.3 * np.cos(x[:, 0]))

    upper = theirs(damage(everywhere))[: len(at)]
    np.testing.assert_allclose(everywhere[: len(at)], at, atol=1e-12)
    np.testing.assert_allclose(ours(damage(at)), upper, rtol=1e-9)


def test_averaging_spreads_a_point_over_the_disc_and_no_further():
    from fejoint.sections.face.pull import FaceSettings

    problem = build(CASE, FaceSettings(sides=24, whole=True))
    average, where = averaging(problem)
    k = int(np.argmin(np.linalg.norm(where - [0.0, 3.0], axis=1)))
    one = np.zeros(len(where))
    one[k] = 1.0
    touched = average(one) > 0.0
    np.testing.assert_array_equal(touched, np.linalg.norm(where - where[k], axis=1) <= 1.0)


def test_damage_never_heals_and_ends_the_pull_when_used_up():
    history = pulled(replace(CASE, fracture_strain=0.3), None, sides=24)
    assert history.path.stopped_because == Stop(
        StopReason.DUCTILITY_EXHAUSTED, "ductility exhausted"
    )
    assert np.all(np.diff(history.damage) >= 0.0)
    assert history.damage[-1] >= 1.0 > history.damage[-2]
    assert np.linalg.norm(history.torn_at) < 1.5 * OUTLINE.hole


def test_damage_belongs_to_its_point_and_goes_on_from_it():
    """Whoever observes: a second path adds to what the first left, in this process or another."""
    system, _ = bar(Metal(200e3, 0.3, Hardening.swift(290.0, 0.02235, 0.394)))
    steps = StepSettings(first=1e-2, longest=0.05, shortest=1e-9, force_scale=1.0)
    legs = [StepControl("travel", 0.2), StepControl("travel", 0.4)]

    def traced(legs, start=None):
        observer = Ductility(0, 2.0, lambda damage: damage)
        path = trace_path(system, LinearSolver(True), legs, steps, [observer], start)
        return observer.damage(path.points[-1]), path.points[-1]

    whole, _ = traced(legs)
    half, middle = traced(legs[:1])
    rest, _ = traced(legs[1:], pickle.loads(pickle.dumps(middle)))
    assert 0.0 < half.max() < whole.max()
    np.testing.assert_allclose(rest, whole, rtol=1e-9)


def test_ductility_is_used_in_inverse_proportion_to_the_fracture_strain():
    a, b = (pulled(replace(CASE, fracture_strain=f), 0.3, sides=24) for f in (1.0, 2.0))
    np.testing.assert_allclose(a.damage, 2.0 * b.damage, rtol=1e-9)


def test_points_that_lie_together_are_averaged_as_one_and_nearly_as_apart(monkeypatch):
    random = np.random.default_rng(2)
    where = random.uniform(-2.0, 2.0, (12000, 2))
    volumes = random.uniform(0.5, 1.5, len(where))
    damage = np.exp(-np.linalg.norm(where, axis=1))

    def averaged() -> tuple[np.ndarray, int]:
        average = Averaging.from_points(where, volumes, 2.0, mirror=False)
        return average(damage), average.matrix.nnz

    coarse, few = averaged()
    monkeypatch.setattr(ductility, "SQUARES", 1000)
    exact, many = averaged()
    assert few < 0.4 * many
    np.testing.assert_allclose(coarse.max(), exact.max(), rtol=2e-3)
    np.testing.assert_allclose(coarse, exact, rtol=0.06)


def test_an_everyday_mesh_has_every_point_in_a_square_of_its_own():
    average, where = averaging(build(CASE))
    assert len(np.unique(average.square)) == len(where)
    np.testing.assert_array_equal(average.share, 1.0)
