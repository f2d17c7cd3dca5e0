"""A round bar that leans in its bedding: where it bears, what it turns, and the tangent."""

from __future__ import annotations

import numpy as np
import pytest
from support.one_body import assert_second_order, forces, stiffness, tangent_errors

from fejoint.kernel.leaning import Axis, LeaningBedding

CUTS = np.array([-0.2, 0.2, 0.4, 0.6, 1.2, 1.6, 2.0, 2.6, 2.65, 3.1])
AXIS = Axis(CUTS, np.arange(9))
PLACES = AXIS.middles
R, REACH = 0.8, 0.7


class Cubic:
    """Force per length q = 5 t + 20 t^3, of no history."""

    def respond(self, travel, deepest):
        return 5.0 * travel + 20.0 * travel**3, 5.0 + 60.0 * travel**2, deepest


def bedding(sense: float = 1.0, reach: float = REACH) -> LeaningBedding:
    slices = np.array([0.4, 0.8, 1.3, 1.9])
    return LeaningBedding(AXIS, R, reach, slices, np.array([0.5, 0.4, 0.5, 0.6]), 9, Cubic(), sense)


def bowed(sense: float = 1.0) -> np.ndarray:
    z = np.zeros(10)
    z[:9] = sense * (0.3 + 0.4 * PLACES - 0.06 * PLACES**2)
    z[9] = 0.1
    return z


@pytest.mark.parametrize("sense", [1.0, -1.0])
@pytest.mark.parametrize("reach", [REACH, 0.15])
def test_the_tangent_is_the_derivative_of_the_forces_and_symmetric(sense: float, reach: float):
    term = bedding(sense, reach)
    errors = tangent_errors(term, bowed(sense), term.initial_state(), (1e-3, 1e-4, 1e-5))
    assert_second_order(errors, 0.1)
    k = stiffness(term, bowed(sense))
    np.testing.assert_allclose(k, k.T, atol=1e-12)


def test_a_straight_bar_stands_before_its_bed_as_a_slanted_round_does():
    # a line at distance R from one that leans by its slope s
    slope = 0.35
    z = np.concatenate([slope * PLACES, [0.0]])
    term = bedding()
    thicker = R * (np.sqrt(1.0 + slope**2) - 1.0)
    np.testing.assert_allclose(term.travel(z), slope * term.places + thicker, atol=1e-12)
    sections = term.places + R * slope / np.sqrt(1.0 + slope**2)
    np.testing.assert_allclose(term.bearing_sections(z), sections, atol=1e-12)


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_beyond_its_reach_more_lean_moves_the_bearing_section_no_further(sense: float):
    term = bedding(sense, 0.15)
    there = 0.15 / np.sqrt(R**2 - 0.15**2)
    for slope in (0.9 * there, there, 1.1 * there, 3.0 * there):
        z = np.concatenate([sense * slope * PLACES, [0.0]])
        further = np.minimum(R * slope / np.sqrt(1.0 + slope**2), 0.15)
        np.testing.assert_allclose(term.bearing_sections(z) - term.places, further, atol=1e-9)
        if slope > there:
            front = slope * (term.places + 0.15) + np.sqrt(R**2 - 0.15**2) - R
            np.testing.assert_allclose(term.travel(z), front)


def test_a_bar_that_does_not_lean_is_borne_where_it_stands():
    z = np.concatenate([np.full(9, 0.4), [0.1]])
    term = bedding()
    np.testing.assert_allclose(term.travel(z), 0.3, atol=1e-14)
    np.testing.assert_allclose(term.bearing_sections(z), term.places, atol=1e-12)


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_forces_on_axis_and_part_balance_and_act_at_the_bearing_sections(sense: float):
    term, z = bedding(sense), bowed(sense)
    f = forces(term, z)
    assert f.sum() == pytest.approx(0.0, abs=1e-12)
    each = term.forces(z, term.initial_state())
    assert -f[9] == pytest.approx(sense * each.sum())
    np.testing.assert_allclose(term.on_axis(z, term.initial_state()), -f[:9])
    assert f[:9] @ PLACES == pytest.approx(sense * each @ term.bearing_sections(z))


def test_the_bearing_section_lies_the_radius_times_the_slope_further_along():
    # both ways: an ear is borne further in, the shank further out
    term, z = bedding(), bowed()
    further = term.bearing_sections(z) - term.places
    slope = np.gradient(z[:9], PLACES)
    at = np.interp(term.bearing_sections(z), PLACES, slope)
    np.testing.assert_allclose(further, R * at / np.sqrt(1.0 + at**2), rtol=0.05)
    behind = bedding(-1.0).bearing_sections(z) - term.places
    assert np.all(behind < 0.0)


def at(x: float, v: np.ndarray) -> tuple[float, float, np.ndarray]:
    """Value, slope and shares of the axis' curve at x, by what a thin bar shows of it."""
    here = LeaningBedding(AXIS, 1e-9, 9e-10, np.array([x]), np.ones(1), 9, Cubic())
    _, front, columns, value, slope, _ = here._fronts(np.append(v, 0.0))
    return float(front[0]), float((slope * v[columns]).sum()), value[0]


def test_a_straight_axis_stays_straight_beyond_its_ends_too():
    for x in (-0.25, -0.1, 0.3, 1.1, 2.62, 3.1, 3.2):
        value, slope, _ = at(x, 0.2 + 0.7 * PLACES)
        assert value == pytest.approx(0.2 + 0.7 * x, abs=1e-8)
        assert slope == pytest.approx(0.7, abs=1e-9)


def test_the_axis_has_no_kink_and_never_bears_the_other_way():
    rough = np.sin(5.0 * PLACES)
    for cut in CUTS[1:-1]:
        (v, left, shares), (v_behind, right, _) = (at(cut + e, rough) for e in (-1e-8, 1e-8))
        assert left == pytest.approx(right, abs=1e-5)
        assert v == pytest.approx(v_behind, abs=1e-6)
        assert shares.min() >= -1e-12
        assert shares.sum() == pytest.approx(1.0)
    for x in np.linspace(PLACES[0], PLACES[-1], 50):
        assert at(float(x), rough)[2].min() >= -1e-7
