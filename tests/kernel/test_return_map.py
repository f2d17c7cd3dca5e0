from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from support.bare import bare

from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal

LAWS = {
    "swift": Hardening.swift(290.0, 0.02235, 0.394),
    "steep": Hardening.ramberg_osgood(250.0, 8.0),
    "perfect": Hardening.linear(355.0),
    "voce": Hardening.voce(200.0, 300.0, 30.0),
    "softening": Hardening.table(np.array([0.0, 0.2, 2.0]), np.array([400.0, 380.0, 250.0])),
}


@dataclass(frozen=True)
class Returned:
    """Stress sum and difference, plastic strain, derivatives by the trial strains; each (n,)."""

    s: np.ndarray
    d: np.ndarray
    equivalent: np.ndarray
    ss: np.ndarray
    sd: np.ndarray
    dd: np.ndarray
    shear_secant: np.ndarray


def return_map(metal: Metal, e, f, past) -> Returned:
    """Return many points by the law of one, in bare Python."""
    law, rows = bare("plane_stress").return_map, []
    for point in zip(e.tolist(), f.tolist(), past.tolist(), strict=True):
        stress, dgamma, slopes, _ = law(*point, metal.data)
        rows.append((*stress, point[2] + dgamma, *slopes))
    return Returned(*np.array(rows).T)


def trials(seed: int = 1, n: int = 200):
    """Trial strains from just above yield to far beyond any step, with every stress ratio."""
    rng = np.random.default_rng(seed)
    size = 10.0 ** rng.uniform(-3.0, 0.0, n)
    angle = rng.uniform(0.0, np.pi, n)
    return size * np.cos(angle), size * np.abs(np.sin(angle)), rng.uniform(0.0, 1.0, n) ** 3


@pytest.mark.parametrize("name", LAWS)
def test_stress_lies_on_the_yield_surface_or_inside(name):
    metal = Metal(200e3, 0.3, LAWS[name])
    e, f, past = trials()
    r = return_map(metal, e, f, past)
    mises = 0.5 * np.sqrt(r.s**2 + 3.0 * r.d**2)
    limit = metal.hardening(r.equivalent)[0]
    moved = r.equivalent > past
    assert moved.sum() > 50
    np.testing.assert_allclose(mises[moved], limit[moved], rtol=1e-10)
    assert np.all(mises[~moved] <= limit[~moved] * (1 + 1e-10))
    assert np.all(r.equivalent >= past)


@pytest.mark.parametrize("name", LAWS)
def test_plastic_strain_follows_the_flow_rule(name):
    metal = Metal(200e3, 0.3, LAWS[name])
    e, f, past = trials(2)
    r = return_map(metal, e, f, past)
    q, g = metal.hardening(r.equivalent)[0], r.equivalent - past
    np.testing.assert_allclose(
        e - r.s / metal.biaxial_modulus, g * r.s / (2 * q), rtol=1e-8, atol=1e-13
    )
    np.testing.assert_allclose(
        f - r.d / (2 * metal.shear_modulus), 3 * g * r.d / (2 * q), rtol=1e-8, atol=1e-13
    )


@pytest.mark.parametrize("name", LAWS)
def test_moduli_are_the_derivatives_of_the_stress(name):
    metal = Metal(200e3, 0.3, LAWS[name])
    e, f, past = trials(3)
    past = np.maximum(past, 1e-4)
    r = return_map(metal, e, f, past)
    inside = r.equivalent > past + 1e-5  # not on the kink at first yield
    h = 1e-6
    for de, df, by in ((h, 0.0, (r.ss, r.sd)), (0.0, h, (r.sd, r.dd))):
        up, down = (return_map(metal, e + k * de, f + k * df, past) for k in (1, -1))
        for value, name_ in zip(by, ("s", "d"), strict=True):
            slope = (getattr(up, name_) - getattr(down, name_)) / (2 * h)
            miss = np.abs(value - slope)[inside]
            assert miss.max() < 3e-4 * metal.modulus
            assert np.median(miss) < 1e-6 * metal.modulus


def test_shear_secant_is_difference_stress_over_trial_strain():
    metal = Metal(200e3, 0.3, LAWS["swift"])
    e, f, past = trials(4)
    r = return_map(metal, e, f, past)
    np.testing.assert_allclose(r.shear_secant * f, r.d, rtol=1e-10)


def test_elastic_metal_never_yields():
    e, f, past = trials(5)
    metal = Metal(200e3, 0.3, None)
    r = return_map(metal, e, f, past)
    assert np.array_equal(r.equivalent, past)
    np.testing.assert_allclose(r.s, metal.biaxial_modulus * e)
    np.testing.assert_allclose(r.d, 2 * metal.shear_modulus * f)


def test_a_second_return_from_the_returned_strain_changes_nothing():
    metal = Metal(200e3, 0.3, LAWS["swift"])
    e, f, past = trials(6)
    r = return_map(metal, e, f, past)
    again = return_map(
        metal, r.s / metal.biaxial_modulus, r.d / (2 * metal.shear_modulus), r.equivalent
    )
    np.testing.assert_allclose(again.equivalent, r.equivalent, rtol=0, atol=1e-12)
    np.testing.assert_allclose(again.s, r.s, rtol=1e-10, atol=1e-8)


@pytest.mark.parametrize("name", ["perfect", "swift"])
def test_trial_steps_of_any_size_are_returned(name):
    metal = Metal(200e3, 0.3, LAWS[name])
    size = np.geomspace(1e-3, 50.0, 300)
    for ratio in (0.0, 0.3, 1.0, 3.0, -0.7):
        r = return_map(metal, ratio * size, size, np.zeros_like(size))
        assert np.all(np.isfinite(r.s))
        mises = 0.5 * np.sqrt(r.s**2 + 3 * r.d**2)
        moved = r.equivalent > 0.0
        assert moved.sum() > 250
        np.testing.assert_allclose(mises[moved], metal.hardening(r.equivalent)[0][moved], rtol=1e-8)


def test_equal_biaxial_stress_has_no_difference_and_a_finite_shear_modulus():
    metal = Metal(200e3, 0.3, LAWS["swift"])
    r = return_map(metal, np.array([0.01]), np.array([0.0]), np.array([0.0]))
    assert r.d[0] == 0.0
    assert 0.0 < r.shear_secant[0] < 2 * metal.shear_modulus
    assert r.dd[0] == pytest.approx(r.shear_secant[0])


def test_a_return_that_does_not_converge_is_no_number(monkeypatch):
    law = bare("plane_stress")
    metal = Metal(200e3, 0.3, Hardening.swift(300.0, 0.002, 0.2))
    for e, f in ((900.0 / 2.8e5, 200.0 / 1.5e5), (1400.0 / 2.8e5, 100.0 / 1.5e5)):
        trial = (3.0 * e, 3.0 * f, 0.0, metal.data)
        monkeypatch.setattr(law, "NEWTON_LIMIT", 40)
        assert law.return_map(*trial)[1] > 0.0
        monkeypatch.setattr(law, "NEWTON_LIMIT", 1)
        assert np.isnan(law.return_map(*trial)[1])
