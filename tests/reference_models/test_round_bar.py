"""The strip of chord thickness bends and shears like a round bar."""

from __future__ import annotations

import numpy as np
import pytest
from support import closed_forms

from fejoint.handbook import beams
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal
from fejoint.reference_models.round_bar import bending_moments, shear_slope

D = 3.0
ELASTIC = Metal(200e3, 0.3)


@pytest.mark.parametrize(("rows", "within"), [(6, 5e-3), (16, 5e-4)])
def test_bending_stiffness_is_that_of_a_round_bar(rows: int, within: float) -> None:
    moment = bending_moments(D, ELASTIC, [1e-6], rows)[0]
    assert moment / 1e-6 == pytest.approx(200e3 * beams.round_inertia(D), rel=within)


def test_shear_stiffness_is_nine_tenths_of_the_areas_whatever_the_lengths() -> None:
    exact = closed_forms.shear_stiffness(D, ELASTIC.shear_modulus)
    for lengths in ((6.0, 9.0), (9.0, 15.0)):
        assert shear_slope(D, ELASTIC, lengths, 16) == pytest.approx(exact, rel=1e-3)


def test_moment_beyond_yield_follows_the_round_bars_closed_form() -> None:
    metal = Metal(200e3, 0.3, Hardening.linear(1000.0))
    ratios = np.array([0.5, 1.25, 2.0, 4.0, 30.0])
    first = 2.0 * 1000.0 / (200e3 * D)
    got = bending_moments(D, metal, list(ratios * first), 16)
    exact = closed_forms.plastic_bending(ratios) * beams.round_section_modulus(D) * 1000.0
    assert got == pytest.approx(exact, rel=2e-3)
