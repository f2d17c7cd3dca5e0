"""Collapse loads of a pin: limits of each mechanism and their order."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support import closed_forms

from fejoint.handbook import beams, pin_collapse


def test_section_interaction_runs_from_full_moment_to_full_shear() -> None:
    uses = np.linspace(0.0, 1.0, 21)
    moments = np.array([closed_forms.section_interaction(float(v)) for v in uses])
    assert moments[0] == 1.0
    assert moments[-1] == 0.0
    assert np.all(np.diff(moments) < 0)
    assert np.all(np.diff(moments, 2) < 1e-9)  # a yield surface is convex


@pytest.mark.parametrize("clamped", [True, False])
def test_gap_load_goes_to_full_shear_and_to_the_hinges(clamped: bool) -> None:
    d, y = 3.0, 1000.0
    shear = 2 * beams.full_plastic_shear(d, y)
    assert closed_forms.gap_load_with_shear(d, y, 1e-4 * d, clamped=clamped) == pytest.approx(
        shear, rel=1e-3
    )
    moment = beams.full_plastic_moment(d, y)
    hinges = pin_collapse.clamped_gap_load if clamped else pin_collapse.free_gap_load
    assert closed_forms.gap_load_with_shear(d, y, 40 * d, clamped=clamped) == pytest.approx(
        hinges(moment, 40 * d), rel=2e-3
    )


def test_hard_bearing_gives_the_clamped_pin() -> None:
    load = closed_forms.bearing_mechanism_load(4500.0, 3.0, 5.0, 1e7, 8.0, 1e7)
    assert load == pytest.approx(pin_collapse.clamped_gap_load(4500.0, 3.0), rel=1e-3)


def test_soft_bearing_crushes_ear_or_shank() -> None:
    assert closed_forms.bearing_mechanism_load(1e9, 0.1, 2.0, 1000.0, 6.0, 2000.0) == 4000.0
    assert closed_forms.bearing_mechanism_load(1e9, 0.1, 2.0, 1000.0, 1.0, 2000.0) == 2000.0


@given(st.floats(100, 1e4), st.floats(0, 2), st.floats(1, 5), st.floats(300, 5e3), st.floats(2, 10))
def test_collapse_load_grows_with_the_pin_and_falls_with_the_gap(
    moment: float, gap: float, ear: float, bearing: float, shank: float
) -> None:
    load = closed_forms.bearing_mechanism_load(moment, gap, ear, bearing, shank, 2 * bearing)
    more = closed_forms.bearing_mechanism_load(1.1 * moment, gap, ear, bearing, shank, 2 * bearing)
    wider = closed_forms.bearing_mechanism_load(moment, gap + 0.5, ear, bearing, shank, 2 * bearing)
    assert wider <= load <= more


def test_line_hinges_bound_the_gap_load_from_above() -> None:
    d, y = 3.0, 1000.0
    for gap in (0.1, 3.0, 12.0):
        low = closed_forms.gap_load_with_shear(d, y, gap)
        assert low < pin_collapse.line_hinge_gap_load(d, y, gap) < 1.155 * low
    moment = beams.full_plastic_moment(d, y)
    assert pin_collapse.line_hinge_gap_load(d, y, 400 * d) == pytest.approx(
        2 / np.sqrt(3) * pin_collapse.clamped_gap_load(moment, 400 * d), rel=1e-3
    )
