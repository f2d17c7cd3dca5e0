"""Published rules for thin plates, worked by hand."""

from __future__ import annotations

import math

import pytest

from fejoint.handbook import thin_plates as thin


@pytest.mark.parametrize(
    ("ratio", "factor"), [(9.9, 3.0), (10.0, 3.0), (16.0, 2.4), (22.0, 1.8), (30.0, 1.8)]
)
def test_sheet_factor_by_diameter_over_thickness(ratio, factor):
    assert thin.sheet_factor(ratio) == pytest.approx(factor)


def test_sheet_bearing_of_three_places():
    # d 12, t 1, fu 400: C = 4 - 1.2 = 2.8, so 13,440 N with washers
    loads = [thin.sheet_bearing(p, 12.0, 1.0, 400.0) for p in thin.SHEET_FACTORS]
    assert loads == pytest.approx([1.33 * 13440.0, 13440.0, 0.75 * 13440.0])


@pytest.mark.parametrize(
    ("ligament", "thickness", "expected"),
    [(5.0, 2.0, 5.0), (9.0, 2.0, 8.0), (40.0, 20.0, 0.6 * 1.2 * math.sqrt(0.5) * 40.0)],
)
def test_each_bound_of_the_ligament_counts(ligament, thickness, expected):
    found = thin.effective_ligament(ligament, 20.0, thickness, 300.0, 360.0)
    assert found == pytest.approx(expected)
    tension = thin.pin_plate_tension(ligament, 20.0, thickness, 300.0, 360.0)
    assert tension == pytest.approx(2.0 * thickness * 360.0 * expected)


def test_single_plane_by_hand_and_its_clearance():
    # R 30, be 15, Dh 20, t 10, Fu 400: 1.13 * 20 + 0.92 * 15/1.75 = 30.4857 mm
    neat = thin.pin_plate_single_plane(30.0, 15.0, 19.0, 20.0, 10.0, 400.0)
    assert neat == pytest.approx(400.0 * 30.485714 * 10.0)
    loose = thin.pin_plate_single_plane(30.0, 15.0, 16.0, 20.0, 10.0, 400.0)
    assert loose / neat == pytest.approx(1.0 - 0.275 * 0.6)


def test_double_plane_by_hand():
    # a = 20, Dp 18, phi 49.5 deg: 20 + 9 (1 - 0.64945) = 23.1550 mm
    found = thin.pin_plate_double_plane(30.0, 18.0, 20.0, 10.0, 400.0)
    assert found == pytest.approx(0.7 * 400.0 * 2.0 * 23.15505 * 10.0, rel=1e-5)


def test_eyebar_counts_eight_thicknesses():
    assert [thin.eyebar_width(w, 2.0) for w in (15.0, 17.0)] == [15.0, 16.0]
