"""The strip of chord thickness is a round bar."""

from __future__ import annotations

import numpy as np
import pytest

from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal
from fejoint.sections.round_bar import bending_moments, shear_slope
from fejoint.textbook import beams

D, E, YIELD = 3.0, 200e3, 1000.0
ELASTIC = Metal(E, 0.3)
PERFECT = Metal(E, 0.3, Hardening.linear(YIELD))


def test_elastic_moment_over_curvature_is_the_round_bars():
    moment = float(bending_moments(D, ELASTIC, [1e-5])[0])
    assert moment / 1e-5 == pytest.approx(E * beams.round_inertia(D), rel=0.005)


def test_moments_beyond_yield_follow_the_closed_form_to_the_full_plastic_moment():
    first = 2.0 * YIELD / (E * D)
    ratios = np.array([1.25, 2.0, 4.0, 30.0])
    moments = bending_moments(D, PERFECT, list(ratios * first))
    yield_moment = beams.round_section_modulus(D) * YIELD
    np.testing.assert_allclose(moments / yield_moment, beams.plastic_bending(ratios), rtol=0.015)
    assert moments[-1] == pytest.approx(beams.full_plastic_moment(D, YIELD), rel=0.015)
    assert moments[-1] / yield_moment == pytest.approx(16.0 / (3.0 * np.pi), rel=0.015)


def test_shear_stiffness_is_nine_tenths_of_the_area():
    slope = shear_slope(D, ELASTIC, (2.0 * D, 3.0 * D))
    assert slope == pytest.approx(beams.shear_stiffness(D, ELASTIC.shear_modulus), rel=0.01)
