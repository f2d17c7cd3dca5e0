"""A metal held out of its plane: closed forms, tangent, volume and agreement with plane stress."""

from __future__ import annotations

import numpy as np
import pytest
from support.bare import bare
from support.one_body import (
    STEEL,
    affine,
    assert_second_order,
    bar,
    distorted_patch,
    solid,
    tangent_errors,
)

from fejoint.kernel.continuation import StepControl, StepSettings, trace_path
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.kinematics import MetalState, respond
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.plasticity import Metal

E, NU = STEEL
YIELD = 300.0
PERFECT = Metal(E, NU, Hardening.linear(YIELD), plane_strain=True)
SWIFT = Metal(E, NU, Hardening.swift(290.0, 0.02235, 0.394), plane_strain=True)


def stretched(metal: Metal, gradients, *, large: bool):
    """Walk one point through displacement gradients (xx, xy, yx, yy)."""
    state = MetalState.virgin(1)
    for gradient in gradients:
        answer = respond(metal, np.array(gradient, float)[:, None], state, large)
        state = answer.state
    return answer


def pulled_bar(metal: Metal, to: float, *, large: bool):
    system, length = bar(metal, large=large)
    solver = LinearSolver(system.symmetric, "superlu")
    settings = StepSettings(first=0.2 * to, longest=0.2 * to, shortest=1e-9)
    path = trace_path(system, solver, [StepControl("travel", to)], settings)
    solver.close()
    assert path.finished
    return path.points[-1], length


def test_elastic_bar_is_stiffer_by_one_over_one_minus_nu_squared():
    point, length = pulled_bar(Metal(E, NU, plane_strain=True), 1e-5, large=False)
    assert point.load == pytest.approx(E / (1.0 - NU**2) * 1e-5 / length, rel=1e-9)
    across = point.states[0].across
    np.testing.assert_allclose(across, NU * point.states[0].stress[0], rtol=1e-8)


def test_a_perfectly_plastic_bar_yields_at_two_over_root_three():
    point, _ = pulled_bar(PERFECT, 0.1, large=False)
    assert point.load == pytest.approx(2.0 / np.sqrt(3.0) * YIELD, rel=1e-4)
    np.testing.assert_allclose(point.states[0].mises, YIELD, rtol=1e-9)


def test_in_simple_shear_it_is_no_other_than_plane_stress():
    free = Metal(E, NU, SWIFT.hardening)
    shear = [(0.0, 0.5 * k, 0.5 * k, 0.0) for k in (0.002, 0.01, 0.03)]
    one, other = (stretched(m, shear, large=False) for m in (SWIFT, free))
    np.testing.assert_allclose(one.stress, other.stress, rtol=1e-10, atol=1e-9)
    np.testing.assert_allclose(one.moduli[5], other.moduli[5], rtol=1e-10)


def test_squeezed_all_round_it_never_yields():
    answer = stretched(PERFECT, [(0.0, 0.0, 0.0, 0.0), (-0.001, 0.0, 0.0, -0.001)], large=False)
    bulk = E / (3.0 * (1.0 - 2.0 * NU))
    # the in-plane squeeze leaves a deviator across, so only the mean stress is Hooke's alone
    mean = (answer.stress[0] + answer.stress[1] + answer.state.across)[0] / 3.0
    assert mean == pytest.approx(-0.002 * bulk, rel=1e-9)


@pytest.mark.parametrize("large", [True, False])
def test_plastic_flow_keeps_the_volume(large: bool):
    path = [(0.1 * k, 0.04 * k, -0.02 * k, -0.08 * k) for k in (0.3, 0.6, 1.0)]
    answer = stretched(SWIFT, path, large=large)
    f = np.eye(2) + np.array(path[-1]).reshape(2, 2)
    strain = np.log(np.linalg.det(f)) if large else np.trace(f) - 2.0
    mean = (answer.stress[0] + answer.stress[1] + answer.state.across)[0] / 3.0
    assert mean == pytest.approx(E / (3.0 * (1.0 - 2.0 * NU)) * strain, rel=1e-8)
    assert answer.state.equivalent[0] > 0.05
    yielded = SWIFT.hardening(answer.state.equivalent)[0]
    np.testing.assert_allclose(answer.state.mises, yielded, rtol=1e-9)


@pytest.mark.parametrize("large", [True, False])
def test_differences_of_the_forces_approach_the_tangent_with_h_squared(large: bool):
    mesh = distorted_patch()
    body = solid(mesh, SWIFT, large=large)
    z = affine(mesh, [[0.02, 0.01], [-0.006, -0.012]])
    state = body.evaluate(z, body.initial_state()).state
    ahead = z + affine(mesh, [[0.008, -0.004], [0.002, 0.003]])
    errors = tangent_errors(body, ahead, state, (1e-5, 1e-6, 1e-7))
    assert_second_order(errors, 0.1)


def test_what_is_stored_comes_back_on_unloading_within_the_yield_surface():
    up = [(0.02, 0.0, 0.0, -0.01), (0.0195, 0.0, 0.0, -0.00975)]
    before, after = (stretched(SWIFT, up[:n], large=False) for n in (1, 2))
    np.testing.assert_array_equal(before.state.equivalent, after.state.equivalent)
    change = 0.5 * (before.stress + after.stress)[:, 0] @ [-0.0005, 0.00025, 0.0]
    assert after.elastic_energy - before.elastic_energy == pytest.approx(change, rel=1e-9)


def test_a_return_that_does_not_converge_is_no_number(monkeypatch):
    law = bare("plane_strain")
    metal = Metal(200e3, 0.3, Hardening.swift(300.0, 0.002, 0.2), plane_strain=True)
    for stress in (900.0, 400.0):
        trial = (stress, 0.0, 3.0 * metal.shear_modulus, metal.hardening.data)
        monkeypatch.setattr(law, "NEWTON_LIMIT", 40)
        assert law.plastic_increment(*trial)[0] > 0.0
        monkeypatch.setattr(law, "NEWTON_LIMIT", 2)
        assert np.isnan(law.plastic_increment(*trial)[0])
