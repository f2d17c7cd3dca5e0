"""Contact: printed values, load integrals and limits."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from support import closed_forms

from fejoint.handbook import contact

# E1 dR/Q, half angle in degrees, peak pressure q0 R/Q
CONFORMING = [
    (0.0, 84.83, 0.5996),
    (0.5, 69.74, 0.6508),
    (1.0, 60.93, 0.7046),
    (2.0, 50.42, 0.8059),
    (5.0, 36.34, 1.0590),
    (10.0, 27.14, 1.3838),
    (50.0, 12.76, 2.8773),
    (200.0, 6.443, 5.6703),
    (1000.0, 2.889, 12.628),
]


@pytest.mark.parametrize(("clearance", "degrees", "peak"), CONFORMING)
def test_pin_in_hole_half_angle_and_peak_pressure(
    clearance: float, degrees: float, peak: float
) -> None:
    half = contact.conforming_half_angle(clearance)
    assert np.degrees(half) == pytest.approx(degrees, abs=6e-3)
    assert contact.conforming_pressure(0.0, half) == pytest.approx(peak, rel=1e-4)


@pytest.mark.parametrize("degrees", [5.0, 30.0, 60.0, 85.0])
def test_pin_in_hole_pressure_carries_the_load(degrees: float) -> None:
    half = np.radians(degrees)
    load = quad(
        lambda t: float(contact.conforming_pressure(t, half)) * np.cos(t), 0, half, epsabs=1e-11
    )[0]
    assert 2 * load == pytest.approx(1.0, abs=1e-7)


def test_pin_in_hole_meets_the_mean_condition_of_its_integral_equation() -> None:
    """Gap closure inside the contact, independent of the formula and of the printed table.

    Both bodies of one material, plane stress, R = Q = E = 1. Michell's series: under a pressure
    p_n cos(n theta), n >= 2, hole and pin part by 4 n p_n / (n^2 - 1), for n = 0 by 2 p_0 (nu
    cancels); n = 1 is a rigid travel. Inside the arc the parting plus the travel undoes the
    clearance dR (1 - cos theta), up to the travel.
    """
    half = contact.conforming_half_angle(2.0)
    order = np.arange(2, 4000)
    theta = np.linspace(0, half, 20001)
    pressure = contact.conforming_pressure(theta, half)
    p = np.array([2 / np.pi * np.trapezoid(pressure * np.cos(n * theta), theta) for n in order])
    p0 = np.trapezoid(pressure, theta) / np.pi
    inside = np.linspace(0.0, 0.8 * half, 9)
    # radial displacements (unit R = Q = 1, E = 1): plate 1 + nu, disc -(1 - nu), sum 2 at n = 0
    moved = 2 * p0 + np.cos(np.outer(inside, order)) @ (4 * order / (order**2 - 1.0) * p)
    fit = np.linalg.lstsq(np.column_stack([np.ones(9), np.cos(inside)]), moved, rcond=None)[0]
    clearance = -fit[0]
    assert np.ptp(moved - fit[0] - fit[1] * np.cos(inside)) < 2e-3
    assert clearance == pytest.approx(2.0, rel=0.02)


def test_wide_clearance_is_hertz() -> None:
    clearance, modulus, q, r = 1e4, 200e3, 1e-2, 5.0
    play = clearance * q / modulus
    line = closed_forms.hertz_line(q, modulus / 2, r * (r - play) / play)
    half = contact.conforming_half_angle(clearance)
    assert r * half == pytest.approx(line.half_width, rel=1e-3)
    assert np.sqrt(8 / (np.pi * clearance)) == pytest.approx(half, rel=1e-3)
    peak = float(contact.conforming_pressure(0.0, half)) * q / r
    assert peak == pytest.approx(line.peak_pressure, rel=1e-3)


def test_line_contact_shear_peaks_below_the_surface() -> None:
    line = closed_forms.hertz_line(100.0, 1e5, 3.0)
    z = np.linspace(0, 3, 3001) * line.half_width
    sx, sz = closed_forms.line_contact_axis(z, line)
    shear = (sx - sz) / 2
    best = int(np.argmax(shear))
    assert shear[best] / line.peak_pressure == pytest.approx(0.3003, abs=1e-4)
    assert z[best] / line.half_width == pytest.approx(0.786, abs=2e-3)
    load = quad(lambda x: float(line.pressure(x)), -line.half_width, line.half_width)[0]
    assert load == pytest.approx(100.0)


def test_contact_modulus_of_two_like_bodies_is_half() -> None:
    assert contact.contact_modulus(200e3, 0.3, 200e3, 0.3, strain=False) == pytest.approx(100e3)
    assert contact.contact_modulus(200e3, 0.3, 200e3, 0.3) == pytest.approx(100e3 / 0.91)


def test_partial_slip_carries_the_shear_and_its_stick_zone_does_not_stretch() -> None:
    q, t, mu = 100.0, 18.0, 0.3
    line = closed_forms.hertz_line(q, 1e5, 3.0)
    stick = closed_forms.partial_slip_stick_width(line, t, q, mu)
    assert stick / line.half_width == pytest.approx(np.sqrt(0.4))
    a = line.half_width

    def traction(x: float) -> float:
        return float(closed_forms.partial_slip_traction(x, line, t, q, mu))

    load = quad(traction, -a, a, points=[-stick, stick], limit=200)[0]
    assert load == pytest.approx(t, rel=1e-6)
    # surface strain is the Cauchy principal value of the traction over x - s: nought where stuck
    for x in (0.2 * stick, 0.7 * stick):
        inner = quad(traction, -stick, stick, weight="cauchy", wvar=x)[0]

        def far(s: float, x: float = x) -> float:
            return traction(s) / (s - x)

        sides = quad(far, -a, -stick)[0] + quad(far, stick, a)[0]
        assert abs(inner + sides) < 1e-4 * mu * line.peak_pressure
    with pytest.raises(ValueError, match="at most mu"):
        closed_forms.partial_slip_stick_width(line, 31.0, q, mu)


def test_interference_beyond_the_formula_is_refused() -> None:
    with pytest.raises(ValueError, match=r"must be at least -0\.637"):
        contact.conforming_half_angle(-0.64)
    assert contact.conforming_half_angle(-0.63) > 0.9 * np.pi


def test_at_full_shear_no_zone_sticks_and_all_of_it_slides() -> None:
    touch = closed_forms.LineContact(0.5, 300.0)
    x = np.linspace(-0.4, 0.4, 9)
    found = closed_forms.partial_slip_traction(x, touch, 30.0, 100.0, 0.3)
    assert found == pytest.approx(0.3 * touch.pressure(x))
