from __future__ import annotations

from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest
from support.one_body import assert_second_order, forces, stiffness, tangent_errors
from support.pin_in_hole import PENALTY, PIN, Pair, pair

from fejoint.kernel.closest_point import curve_point, new_scratch
from fejoint.kernel.contact_surface import CURVE

masters = pytest.mark.parametrize("primary", ["circle", "meshed"])


def curve_at(p: Pair, places) -> np.ndarray:
    """X and its first three derivatives at places along a meshed pin's edge, (n, 4, 2)."""
    edge = p.contact.primary
    now = (edge.nodes + p.z[edge.dofs], edge.half, CURVE)
    frames = []
    for s in places:
        scratch = new_scratch()
        curve_point(s, now, scratch)
        frames.append(scratch[3])
    return np.array(frames)


@masters
def test_gap_of_undeformed_circles_is_exact(primary):
    p = pair(primary, rough=0.0, push=0.05)
    x = p.contact.secondary.positions(p.z)
    found = p.contact.primary.project(x, p.z)
    exact = np.linalg.norm(x - [0.05, 0.0], axis=1) - PIN
    # the smooth curve through 48 nodes leaves its circle by 2e-5 of the radius
    np.testing.assert_allclose(found.gap, exact, atol=1e-12 if primary == "circle" else 4e-5)


def test_projection_finds_the_closest_point_of_a_deformed_pin():
    p = pair("meshed", rough=5e-3)
    x = p.contact.secondary.positions(p.z)
    found = p.contact.primary.project(x, p.z)
    s = np.linspace(0, 48, 48 * 400, endpoint=False)
    curve = curve_at(p, s)[:, 0]
    near = np.linalg.norm(x[:, None, :] - curve, axis=2).min(axis=1)
    half_spacing = 0.55 * np.linalg.norm(np.diff(curve, axis=0), axis=1).max()
    assert np.all(np.abs(found.gap) <= near + 1e-12)
    assert np.all(near <= np.hypot(found.gap, half_spacing))


def test_the_normal_of_a_meshed_pin_has_no_jumps():
    p = pair("meshed", rough=5e-3)
    at = np.arange(48.0)
    before, after = curve_at(p, at - 1e-9), curve_at(p, at + 1e-9)
    np.testing.assert_allclose(before[:, :2], after[:, :2], atol=1e-7)


@pytest.mark.parametrize("half", [False, True], ids=["whole", "half"])
@masters
def test_frictionless_tangent_is_the_derivative_and_symmetric(primary, half):
    p = pair(primary, half=half)
    state = p.settled()
    assert (forces(p.contact, p.z, state) != 0.0).sum() >= 20
    active = np.arange(len(p.z))
    if half:
        active = np.setdiff1d(active, np.flatnonzero(p.reference[:, 1] == 0.0) * 2 + 1)
    errors = tangent_errors(p.contact, p.z, state, (1e-5, 1e-6, 1e-7), active=active)
    assert_second_order(errors[:2], 0.1, floor=1e-7)
    assert min(errors) < 1e-8, errors
    k = stiffness(p.contact, p.z, state)
    assert np.abs(k - k.T).max() < 1e-10 * np.abs(k).max()


@masters
def test_frictionless_forces_are_the_slope_of_the_penalty_energy(primary):
    p = pair(primary)
    state = p.settled()
    way, h = np.random.default_rng(2).normal(size=len(p.z)), 1e-6
    up, down = (p.contact.evaluate(p.z + k * h * way, state).stored for k in (1, -1))
    assert (up - down) / (2 * h) == pytest.approx(forces(p.contact, p.z, state) @ way, rel=1e-6)


def slid(p: Pair, angle: float) -> np.ndarray:
    """The unknowns after the pin has turned (a circle: moved) by so much against the hole."""
    z = p.z.copy()
    x = p.places(z)
    if len(p.primary_dofs) == 2:
        z[p.secondary_dofs] += (
            (x[: len(p.secondary_dofs) // 2] - [0.06, 0.0]) @ np.array([[0, 1], [-1, 0]]) * angle
        ).reshape(-1)
    else:
        pin = x[len(p.secondary_dofs) // 2 :] - [0.06, 0.0]
        z[p.primary_dofs] += (pin @ np.array([[0, 1], [-1, 0]]) * angle).reshape(-1)
    return z


@pytest.mark.parametrize(
    ("friction", "angle", "sliding"),
    [(50.0, 1e-3, False), (0.05, 5e-3, True)],
    ids=["stick", "slip"],
)
@pytest.mark.parametrize("half", [False, True], ids=["whole", "half"])
@masters
def test_friction_tangent_is_the_derivative(primary, half, friction, angle, sliding):
    p = pair(primary, friction, half=half)
    state = p.settled()
    z = slid(p, angle)
    p.settled(z)
    drag = p.contact.evaluate(z, state).state.tangential_traction
    gap = p.contact.primary.project(p.contact.secondary.positions(z), z).gap
    cap = friction * PENALTY * np.maximum(-gap, 0.0)
    on = gap < 0.0
    at_cap = np.isclose(np.abs(drag[on]), cap[on])
    assert at_cap.mean() == (1.0 if sliding else pytest.approx(0.0, abs=0.1))
    active = np.arange(len(z))
    if half:
        active = np.setdiff1d(active, np.flatnonzero(p.reference[:, 1] == 0.0) * 2 + 1)
    errors = tangent_errors(p.contact, z, state, (1e-5, 1e-6, 1e-7), active=active)
    assert_second_order(errors[:2], 0.1, floor=1e-7)
    assert min(errors) < 1e-8, errors


@masters
def test_contact_forces_balance_with_and_without_friction(primary):
    for friction in (0.0, 0.3):
        p = pair(primary, friction)
        state = p.settled()
        z = slid(p, 2e-3)
        p.settled(z)
        f = forces(p.contact, z, state).reshape(-1, 2)
        size = np.abs(f).sum()
        assert np.abs(f.sum(axis=0)).max() < 1e-12 * size
        if primary == "meshed":  # a circle takes no turning
            x = p.places(z)
            assert abs((x[:, 0] * f[:, 1] - x[:, 1] * f[:, 0]).sum()) < 1e-10 * size


def test_half_a_contact_answers_as_the_whole_does():
    for friction in (0.0, 0.2):
        half = pair("meshed", friction, half=True, rough=0.0)
        whole = pair("meshed", friction, rough=0.0)
        totals = []
        for p in (half, whole):
            state = p.settled()
            z = p.z.copy()
            n = len(p.secondary_dofs) // 2
            x = p.reference
            z[0::2] += 1e-3 * x[:, 1] ** 2 + np.where(np.arange(len(x)) >= n, 5e-3, 0.0)
            z[1::2] += 2e-3 * x[:, 1] * np.where(np.arange(len(x)) < n, 1.0, -1.0)
            p.settled(z)
            r = p.contact.evaluate(z, state)
            f = np.bincount(r.dofs, r.forces, len(z)).reshape(-1, 2)
            totals.append(np.array([f[:n, 0].sum(), np.abs(f[:n]).sum(), r.stored, r.lost]))
        # on the mirror the half carries half of the node's force, and no y force counts
        np.testing.assert_allclose(2.0 * totals[0][[0, 2, 3]], totals[1][[0, 2, 3]], rtol=1e-9)


@masters
def test_drag_never_exceeds_friction_times_pressure_and_never_gives_energy(primary):
    p = pair(primary, 0.2)
    state = p.settled()
    rng = np.random.default_rng(3)
    z = p.z
    for _ in range(15):
        z = slid(p, rng.uniform(-4e-3, 4e-3))
        p.settled(z)
        r = p.contact.evaluate(z, state)
        gap = p.contact.primary.project(p.contact.secondary.positions(z), z).gap
        assert np.all(
            np.abs(r.state.tangential_traction)
            <= 0.2 * PENALTY * np.maximum(-gap, 0.0) * (1 + 1e-12)
        )
        assert r.lost >= 0.0
        state = r.state


def test_drag_goes_against_the_slip_of_the_hole_past_the_pin():
    p = pair("circle", 0.2, rough=0.0)
    state = p.settled()
    z = slid(p, 1e-3)  # the hole's edge turns counter-clockwise
    f = forces(p.contact, z, state)[p.secondary_dofs].reshape(-1, 2)
    x = p.places(z)[: len(f)] - [0.06, 0.0]
    # internal forces: what must be applied to hold the edge there, so it drives the turning on
    assert (x[:, 0] * f[:, 1] - x[:, 1] * f[:, 0]).sum() > 0.0


def test_frictionless_is_the_limit_of_small_friction():
    smooth = pair("meshed")
    base = forces(smooth.contact, slid(smooth, 3e-3), smooth.settled())
    misses = []
    for mu in (1e-2, 1e-4):
        p = pair("meshed", mu)
        misses.append(np.abs(forces(p.contact, slid(p, 3e-3), p.settled()) - base).max())
    assert misses[1] == pytest.approx(misses[0] / 100.0, rel=1e-3)


def test_a_pin_without_touch_answers_nothing():
    p = pair("meshed", rough=0.0, push=0.0)
    r = p.contact.evaluate(p.z, p.contact.initial_state())
    assert np.all(r.tangent() == 0.0)
    assert not np.any(r.forces)
    assert r.stored == r.lost == 0.0


def test_a_changed_stiffness_is_a_new_contact_and_counts_after_an_evaluation():
    p = pair("meshed")
    soft = forces(p.contact, p.z, p.settled())
    with pytest.raises(FrozenInstanceError):
        p.contact.stiffness = 2.0 * PENALTY
    stiff = replace(p.contact, stiffness=2.0 * PENALTY)
    np.testing.assert_allclose(forces(stiff, p.z, stiff.initial_state()), 2.0 * soft, rtol=1e-12)
    rough = replace(p.contact, friction=0.3)
    turned = forces(rough, slid(p, 2e-3), p.settled())
    assert np.abs(turned - forces(p.contact, slid(p, 2e-3), p.settled())).max() > 1.0


@pytest.mark.parametrize("stiffness", [0.0, -1.0, np.nan])
def test_friction_without_a_tangential_stiffness_is_refused(stiffness):
    p = pair("circle")
    with pytest.raises(ValueError, match=r"friction 0\.3 needs a tangential_stiffness above 0"):
        replace(p.contact, friction=0.3, tangential_stiffness=stiffness)
    smooth = replace(p.contact, tangential_stiffness=stiffness)
    response = smooth.evaluate(p.z, smooth.initial_state())
    assert np.isfinite(response.stored)
    assert response.lost == 0.0
