from __future__ import annotations

import numpy as np
import pytest

from fejoint.kernel.hardening import Hardening
from fejoint.kernel.kinematics import MetalState, respond
from fejoint.kernel.plasticity import Metal

SWIFT = Metal(200e3, 0.3, Hardening.swift(290.0, 0.02235, 0.394))
ELASTIC = Metal(200e3, 0.3)


def rotation(degrees: float):
    a = np.deg2rad(degrees)
    return np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])


def gradients(f):
    """Displacement gradients (4, n) of deformation gradients (n, 2, 2)."""
    return (np.asarray(f) - np.eye(2)).reshape(-1, 4).T.copy()


def tensor(stress):
    xx, yy, xy = stress
    return np.array([[xx, xy], [xy, yy]]).transpose(2, 0, 1)


def stretches(n: int = 60, size: float = 0.3, seed: int = 3):
    return np.eye(2) + np.random.default_rng(seed).uniform(-size, size, (n, 2, 2))


def uniaxial_stress_stretch(metal: Metal, tau: float) -> np.ndarray:
    """Elastic stretch along x and y under uniaxial Kirchhoff stress."""
    return np.diag(np.exp([tau / metal.modulus, -metal.poisson * tau / metal.modulus]))


def test_hencky_bar_in_tension_has_the_closed_form_stress():
    tau = np.array([-50e3, -2e3, 1e3, 80e3])
    f = np.stack([uniaxial_stress_stretch(ELASTIC, t) for t in tau])
    stress = respond(ELASTIC, gradients(f), MetalState.virgin(len(f)), True).stress
    np.testing.assert_allclose(stress[0], tau, rtol=1e-12)
    np.testing.assert_allclose(stress[1:], 0.0, atol=1e-6)


def test_perfectly_plastic_shear_stays_at_yield_over_root_three():
    metal = Metal(200e3, 0.3, Hardening.linear(300.0))
    state = MetalState.virgin(1)
    for shear in np.linspace(0.0, 0.05, 51)[1:]:
        state = respond(metal, np.array([[0.0], [shear], [shear], [0.0]]), state, False).state
    np.testing.assert_allclose(state.stress[:, 0], [0.0, 0.0, 300.0 / np.sqrt(3)], atol=1e-9)
    # elastic shear strain out, the rest is plastic: sqrt(3) eps_p = 2 (shear - tau / 2G)
    plastic = 2.0 * (0.05 - 300.0 / np.sqrt(3) / (2 * metal.shear_modulus)) / np.sqrt(3)
    assert state.equivalent[0] == pytest.approx(plastic, rel=1e-9)


@pytest.mark.parametrize("metal", [ELASTIC, SWIFT], ids=["elastic", "plastic"])
@pytest.mark.parametrize("angle", [30.0, 137.0])
def test_rotated_deformation_rotates_the_stress_and_leaves_the_history(metal, angle):
    r, f = rotation(angle), stretches()
    before = respond(metal, gradients(stretches(seed=8)), MetalState.virgin(len(f)), True).state
    straight = respond(metal, gradients(f), before, True)
    turned = respond(metal, gradients(r @ f), before, True)
    expected = r @ tensor(straight.stress) @ r.T
    np.testing.assert_allclose(tensor(turned.stress), expected, rtol=1e-10, atol=1e-8)
    np.testing.assert_allclose(
        turned.state.inverse_plastic_metric,
        straight.state.inverse_plastic_metric,
        rtol=1e-10,
        atol=1e-12,
    )
    np.testing.assert_allclose(turned.state.equivalent, straight.state.equivalent, atol=1e-12)
    np.testing.assert_allclose(turned.elastic_energy, straight.elastic_energy, rtol=1e-9)


def test_turned_reference_axes_turn_the_plastic_metric_only():
    r, f = rotation(25.0), stretches()
    virgin = MetalState.virgin(len(f))
    straight = respond(SWIFT, gradients(f), virgin, True)
    turned = respond(SWIFT, gradients(f @ r.T), virgin, True)
    np.testing.assert_allclose(turned.stress, straight.stress, rtol=1e-9, atol=1e-7)
    np.testing.assert_allclose(
        tensor(turned.state.inverse_plastic_metric),
        r @ tensor(straight.state.inverse_plastic_metric) @ r.T,
        atol=1e-11,
    )


def test_rigid_rotation_of_strained_metal_brings_no_further_yield():
    f = stretches(size=0.1)
    state = respond(SWIFT, gradients(f), MetalState.virgin(len(f)), True).state
    turned = f
    for _ in range(24):
        turned = rotation(15.0) @ turned
        answer = respond(SWIFT, gradients(turned), state, True)
        np.testing.assert_allclose(answer.state.equivalent, state.equivalent, atol=1e-13)
        state = answer.state
    back = respond(SWIFT, gradients(f), state, True)
    first = respond(SWIFT, gradients(f), MetalState.virgin(len(f)), True)
    np.testing.assert_allclose(back.stress, first.stress, rtol=1e-9, atol=1e-7)


def test_small_and_large_strain_agree_at_tiny_strain():
    metal = Metal(200e3, 0.3, Hardening.linear(1.0, 1000.0))
    rng = np.random.default_rng(2)
    for size in (1e-4, 1e-5):
        move = size * rng.uniform(-1, 1, (4, 50))
        large, small = (respond(metal, move, MetalState.virgin(50), k) for k in (True, False))
        assert np.mean(large.state.equivalent > 0.0) > 0.9
        scale = np.abs(small.stress).max()
        assert np.abs(large.stress - small.stress).max() < 10.0 * size * scale


def test_the_same_strain_again_gives_the_same_stress_and_no_plastic_strain():
    f = stretches()
    for large in (True, False):
        first = respond(SWIFT, gradients(f), MetalState.virgin(len(f)), large)
        again = respond(SWIFT, gradients(f), first.state, large)
        np.testing.assert_allclose(again.stress, first.stress, rtol=1e-9, atol=1e-7)
        np.testing.assert_allclose(again.state.equivalent, first.state.equivalent, atol=1e-12)


def test_plastic_flow_keeps_the_volume():
    """The plane's area grows by its elastic and its plastic part, and by nothing else."""
    f = stretches(size=0.2)
    state = respond(SWIFT, gradients(f), MetalState.virgin(len(f)), True).state
    xx, yy, xy = state.inverse_plastic_metric
    plastic_area = 1.0 / np.sqrt(xx * yy - xy * xy)
    elastic_area = np.exp((state.stress[0] + state.stress[1]) / SWIFT.biaxial_modulus)
    np.testing.assert_allclose(plastic_area * elastic_area, np.linalg.det(f), rtol=1e-10)


def test_mises_and_triaxiality_of_known_stresses():
    stress = np.array([[100.0, 100.0, 0.0, -100.0, 0.0], [0.0, 100, 0, 0, 0], [0, 0, 50.0, 0, 0]])
    state = MetalState(np.zeros((3, 5)), np.zeros(5), stress)
    np.testing.assert_allclose(state.mises, [100, 100, 50 * np.sqrt(3), 100, 0])
    np.testing.assert_allclose(state.triaxiality, [1 / 3, 2 / 3, 0, -1 / 3, 0])


def test_inverted_metal_gives_no_number_instead_of_a_wrong_one():
    flipped = np.array([[-2.5], [0.0], [0.0], [0.0]])
    answer = respond(SWIFT, flipped, MetalState.virgin(1), True)
    assert np.all(np.isnan(answer.stress))


def test_stored_energy_is_the_work_of_the_elastic_stress():
    steps, n = np.linspace(0.0, 1.0, 2001), 2001
    path = np.array([[0.05], [0.03], [-0.02], [-0.01]]) * steps
    answer = respond(ELASTIC, path, MetalState.virgin(n), True)
    f = path.T.reshape(n, 2, 2) + np.eye(2)
    first_piola = tensor(answer.stress) @ np.linalg.inv(f).transpose(0, 2, 1)
    power = (0.5 * (first_piola[1:] + first_piola[:-1]) * np.diff(f, axis=0)).sum()
    assert answer.elastic_energy[-1] == pytest.approx(power, rel=1e-6)
