from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from fejoint.kernel.hardening import Hardening

STRAINS = np.concatenate([[0.0], np.geomspace(1e-7, 3.9, 400)])

LAWS = {
    "linear": (Hardening.linear(300.0, 1500.0), lambda e: 300.0 + 1500.0 * e),
    "swift": (Hardening.swift(290.0, 0.02235, 0.394), lambda e: 290 * (1 + e / 0.02235) ** 0.394),
    "early swift": (Hardening.swift(400.0, 1e-3, 0.1), lambda e: 400 * (1 + e / 1e-3) ** 0.1),
    "voce": (
        Hardening.voce(200.0, 150.0, 20.0, 40.0),
        lambda e: 200 + 150 * (1 - np.exp(-20 * e)) + 40 * e,
    ),
    "ramberg-osgood": (
        Hardening.ramberg_osgood(250.0, 12.0),
        lambda e: 250 * ((e + 1e-5) / 0.002) ** (1 / 12),
    ),
}


@pytest.mark.parametrize("name", LAWS)
def test_tabulated_stress_is_the_laws(name):
    law, exact = LAWS[name]
    # Ramberg-Osgood's curve bends within its start strain 1e-5, less than the grid's first cell
    early = 3e-3 if name == "ramberg-osgood" else 1e-6
    np.testing.assert_allclose(law(STRAINS)[0], exact(STRAINS), rtol=early)
    later = STRAINS[STRAINS > 2e-4]
    np.testing.assert_allclose(law(later)[0], exact(later), rtol=1e-6)


@pytest.mark.parametrize("name", LAWS)
def test_slope_is_the_derivative_of_the_tabulated_stress(name):
    law, _ = LAWS[name]
    e = np.geomspace(1e-6, 3.9, 300)
    h = 1e-5 * e
    rise = (law(e + h)[0] - law(e - h)[0]) / (2 * h)
    # the second derivative jumps at grid points: there the central difference is only first order
    np.testing.assert_allclose(law(e)[1], rise, rtol=1e-4, atol=1e-6 * law.first_yield)


@pytest.mark.parametrize("name", LAWS)
def test_stress_and_slope_are_continuous_at_every_grid_point(name):
    law, _ = LAWS[name]
    e = law.strain[1:-1]
    below, above = law(e * (1 - 1e-12)), law(e * (1 + 1e-12))
    np.testing.assert_allclose(below[0], above[0], rtol=1e-10)
    np.testing.assert_allclose(below[1], above[1], rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize("name", LAWS)
def test_plastic_work_is_the_area_under_the_curve(name):
    law, exact = LAWS[name]
    for end in (1e-3, 0.2, 2.0):
        area = quad(exact, 0.0, end, epsabs=0, epsrel=1e-9, points=(end * 1e-3,))[0]
        rel = 1e-4 if name == "ramberg-osgood" and end < 0.1 else 1e-6  # see above
        assert law.plastic_work(np.array(end)) == pytest.approx(area, rel=rel)


def test_curve_and_work_go_on_straight_beyond_the_table():
    law = Hardening.swift(290.0, 0.02235, 0.394)
    last, stress, slope = law.strain[-1], law.stress[-1], law.slope[-1]
    far = np.array([last + 2.0])
    assert law(far)[0][0] == pytest.approx(stress + 2.0 * slope)
    assert law(far)[1][0] == pytest.approx(slope)
    more = law.plastic_work(far) - law.plastic_work(np.array([last]))
    assert more[0] == pytest.approx(2.0 * stress + 2.0 * slope)


def test_perfectly_plastic_metal_has_one_stress_and_no_slope():
    stress, slope = Hardening.linear(355.0)(STRAINS)
    assert np.all(stress == 355.0)
    assert np.all(slope == 0.0)


def test_table_passes_its_points_and_rises_only_where_they_do():
    strain, stress = np.array([0.0, 0.01, 0.05, 0.2, 1.0]), np.array([200.0, 260, 330, 330, 500])
    law = Hardening.table(strain, stress)
    np.testing.assert_allclose(law(strain)[0], stress, rtol=2e-3)
    fine = np.linspace(0.0, 1.0, 2001)
    assert np.all(np.diff(law(fine)[0]) >= -0.05)
    flat = law(np.linspace(0.06, 0.19, 50))[0]
    np.testing.assert_allclose(flat, 330.0, rtol=1e-3)


@pytest.mark.parametrize(
    ("strain", "stress"),
    [
        ([0.0, 0.1], [200.0]),
        ([0.01, 0.1], [200, 300]),
        ([0, 0.1, 0.1], [1, 2, 3]),
        ([0, 1], [0, 1]),
    ],
)
def test_table_refuses_what_is_no_curve(strain, stress):
    with pytest.raises(ValueError, match="hardening table"):
        Hardening.table(np.array(strain), np.array(stress))


@pytest.mark.parametrize("shape", ["swift", "voce"])
def test_tensile_data_come_back_from_the_law_made_of_them(shape):
    modulus, rp02, rm, ag = 193e3, 300.0, 620.0, 0.45
    law = Hardening.from_tensile(modulus, rp02, rm, ag, shape)
    p = np.linspace(0.0, 1.0, 200_001)
    kirchhoff = law(p)[0]
    total = p + kirchhoff / modulus
    engineering, extension = kirchhoff * np.exp(-total), np.expm1(total)
    peak = int(engineering.argmax())
    assert engineering[peak] == pytest.approx(rm, rel=1e-3)
    # the curve is laid through slope = stress in the *plastic* strain: Ag comes 0.6 % short
    assert extension[peak] - rm / modulus == pytest.approx(ag, rel=0.01)
    proof = np.interp(0.002, extension - engineering / modulus, engineering)
    assert proof == pytest.approx(rp02, rel=1e-3)


@pytest.mark.parametrize("data", [(193e3, 300.0, 620.0, 0.45), (68.9e3, 241.0, 290.0, 0.0991)])
def test_behind_the_neck_a_power_law_goes_on_as_the_saturation_law_that_meets_it(data):
    modulus, _, rm, ag = data
    law, saturating = (Hardening.from_tensile(*data, shape) for shape in ("swift", "voce"))
    total = ag + rm / modulus
    neck = np.log1p(total) - rm * (1.0 + total) / modulus
    before, after = np.linspace(0.0, 0.97 * neck, 50), np.linspace(1.03 * neck, 2.0, 50)
    np.testing.assert_allclose(law(after)[0], saturating(after)[0], rtol=1e-4)
    middle = before[(before > 0.1 * neck) & (before < 0.6 * neck)]
    assert np.all(law(middle)[0] > 1.005 * saturating(middle)[0])  # a curve of its own
    stress, slope = law(np.array([neck - 1e-3, neck + 1e-3]))
    assert stress[1] / stress[0] == pytest.approx(1.002, abs=2e-3)  # no jump
    assert slope[1] == pytest.approx(slope[0], rel=0.05)  # nor a kink
    assert slope[0] == pytest.approx(rm * (1.0 + total), rel=0.02)  # Considere
    assert np.all(np.diff(law(STRAINS)[0]) >= 0.0)
    assert ", from " in law.name


def test_a_power_law_goes_on_where_no_saturation_law_passes():
    data = 200e3, 300.0, 400.0, 0.9
    with pytest.raises(ValueError, match="no Voce curve"):
        Hardening.from_tensile(*data, "voce")
    law = Hardening.from_tensile(*data, "swift")
    assert ", from " not in law.name
    assert law(np.array([2.0]))[1] > 0.0


def test_scaled_curve_is_the_curve_times_the_factor():
    law = Hardening.voce(200.0, 150.0, 20.0)
    for ours, theirs in zip(law.scaled(1.1)(STRAINS), law(STRAINS), strict=True):
        # a slope is a difference of stresses over a cell of 4e-6: rounding leaves 1e-8 of it
        np.testing.assert_allclose(ours, 1.1 * theirs, rtol=1e-12, atol=2e-8)


def test_curves_are_equal_where_every_answer_of_theirs_is():
    strain = STRAINS[:40]
    stress = 300.0 + 100.0 * strain
    curve = Hardening(strain, stress, np.full(40, 100.0), "a")
    renamed = Hardening(strain.copy(), stress.copy(), np.full(40, 100.0), "b")
    assert curve == renamed
    assert hash(curve) == hash(renamed)
    # same points, another way between them
    steeper = Hardening(strain, stress, np.full(40, 150.0), "a")
    assert not np.array_equal(curve(strain + 1e-8)[0], steeper(strain + 1e-8)[0])
    assert curve != steeper
    assert curve != Hardening(strain, stress + 1.0, np.full(40, 100.0), "a")
    assert curve != Hardening(2.0 * strain, stress, np.full(40, 100.0), "a")
    flat = Hardening(strain, stress, np.zeros(40)), Hardening(strain, stress, -np.zeros(40))
    assert flat[0] == flat[1]
    assert hash(flat[0]) == hash(flat[1])
