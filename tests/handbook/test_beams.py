"""Round bars and bedded beams against printed values, quadrature and limits."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from support import closed_forms

from fejoint.handbook import beams

EI = 200e3 * beams.round_inertia(3.0)


def test_round_bar_of_3_mm_at_1000_mpa() -> None:
    assert beams.full_plastic_moment(3.0, 1000.0) == pytest.approx(4500.0)
    assert beams.full_plastic_shear(3.0, 1000.0) == pytest.approx(4081.0, abs=0.5)
    shape = beams.full_plastic_moment(3.0, 1.0) / beams.round_section_modulus(3.0)
    assert shape == pytest.approx(beams.ROUND_SHAPE_FACTOR)
    assert pytest.approx(1.6977, abs=5e-5) == beams.ROUND_SHAPE_FACTOR


@pytest.mark.parametrize("k", [0.5, 1.0, 1.25, 1.5, 2.0, 3.0, 4.0, 10.0])
def test_moment_curvature_is_the_section_integral(k: float) -> None:
    edge = 1.0 / max(k, 1.0)
    elastic = quad(lambda y: k * y * y * np.sqrt(1 - y * y), 0, edge)[0]
    plastic = quad(lambda y: y * np.sqrt(1 - y * y), edge, 1)[0]
    assert closed_forms.plastic_bending(k) == pytest.approx(
        (elastic + plastic) * 16 / np.pi, rel=1e-9
    )


def test_moment_curvature_printed_values() -> None:
    found = closed_forms.plastic_bending([1.25, 1.5, 2, 3, 4, 10])
    assert found == pytest.approx([1.2116, 1.3471, 1.4937, 1.6049, 1.6451, 1.6892], abs=5e-5)


def test_shear_coefficient_is_the_energy_of_the_chord_averaged_stress() -> None:
    # tau = V (r^2 - y^2) / (3 I): energy over that of an even stress
    inertia, area = np.pi / 4, np.pi
    energy = quad(lambda y: ((1 - y * y) / (3 * inertia)) ** 2 * 2 * np.sqrt(1 - y * y), -1, 1)[0]
    assert 1 / (energy * area) == pytest.approx(closed_forms.ROUND_SHEAR_COEFFICIENT)
    assert closed_forms.shear_stiffness(2.0, 1.0) == pytest.approx(0.9 * np.pi)


@pytest.mark.parametrize(
    ("k", "middle", "end", "moment"),
    [
        (2e3, 0.047851, 0.032475, 1401.5),
        (2e4, 0.007673, -0.000648, 964.2),
        (5e4, 0.003796, -0.000927, 734.1),
    ],
)
def test_bedded_beam_printed_values(k: float, middle: float, end: float, moment: float) -> None:
    found = closed_forms.bedded_beam(12.0, k, EI, 1000.0)
    assert (found.middle, found.end) == pytest.approx((middle, end), abs=1e-6)
    assert found.moment == pytest.approx(moment, rel=7e-3)


def test_long_bedded_beam_is_the_infinite_one() -> None:
    found = closed_forms.bedded_beam(60.0, 2e4, EI, 1000.0)
    rate = (2e4 / (4 * EI)) ** 0.25
    assert found.middle == pytest.approx(1000 * rate / 4e4, rel=1e-5)
    assert found.moment == pytest.approx(1000 / (4 * rate), rel=1e-5)


def test_cheeked_pin_values() -> None:
    soft = closed_forms.cheeked_pin(4.0, 0.2, 2.5, 2e4, EI, 1000.0)
    hard = closed_forms.cheeked_pin(4.0, 0.2, 2.5, 2e5, EI, 1000.0)
    rigid = closed_forms.cheeked_pin(4.0, 0.2, 2.5, 1e9, EI, 1000.0)
    assert (soft.middle, soft.end, soft.inner_face) == pytest.approx(
        (0.016854, 0.006133, 0.013673), abs=1e-6
    )
    assert (hard.middle, hard.end, hard.inner_face) == pytest.approx(
        (0.005193, -0.001049, 0.003086), abs=1e-6
    )
    assert rigid.middle == pytest.approx(0.000459, abs=1e-6)
    moments = [one.moment for one in (soft, hard, rigid)]
    assert moments == pytest.approx([1145.8, 793.3, 246.1], rel=2e-3)


def test_cheeked_pin_on_rigid_cheeks_is_the_clamped_beam() -> None:
    clamped = 1000 * 4.4 / 4 - 1000 * 4 / 8 - 1000 * (3 * 4.4**2 - 4**2) / (24 * 4.4)
    assert closed_forms.cheeked_pin(4.0, 0.2, 2.5, 1e13, EI, 1000.0).moment == pytest.approx(
        clamped, rel=0.03
    )
    assert clamped == pytest.approx(201.5, abs=0.05)
