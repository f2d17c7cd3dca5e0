"""Beddings and springs: balance of forces, and tangents that are derivatives."""

from __future__ import annotations

import numpy as np
import pytest
from support.one_body import assert_second_order, forces, stiffness, tangent_errors

from fejoint.kernel.foundation import Bedding, Spring


class Cubic:
    """Force per length q = 5 t + 20 t^3, of no history."""

    def respond(self, travel, deepest):
        return 5.0 * travel + 20.0 * travel**3, 5.0 + 60.0 * travel**2, deepest


def bedding(sense: float = 1.0) -> Bedding:
    random = np.random.default_rng(2)
    weights = random.uniform(0.1, 1.0, (3, 4))
    dofs = np.array([[0, 1, 2, 3], [2, 3, 4, 5], [4, 5, 6, 7]])
    weights /= weights.sum(axis=1, keepdims=True)
    return Bedding(dofs, weights, np.array([0.5, 1.0, 0.7]), 8, Cubic(), sense)


Z = np.random.default_rng(3).normal(size=9)


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_the_tangent_of_a_bedding_is_the_derivative_of_its_forces(sense: float):
    term = bedding(sense)
    errors = tangent_errors(term, Z, term.initial_state(), (1e-2, 1e-3, 1e-4))
    assert_second_order(errors, 0.1)
    k = stiffness(term, Z)
    np.testing.assert_allclose(k, k.T)


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_a_bedding_pushes_back_on_its_part_with_what_it_carries(sense: float):
    term = bedding(sense)
    f = forces(term, Z)
    assert f.sum() == pytest.approx(0.0, abs=1e-12)
    assert -f[8] == pytest.approx(sense * term.forces(Z, term.initial_state()).sum())


def test_carried_along_with_its_part_a_bedding_feels_nothing():
    term = bedding()
    np.testing.assert_allclose(forces(term, np.full(9, 0.3)), 0.0, atol=1e-12)


def test_the_travel_is_the_weighted_mean_less_the_parts():
    z = np.zeros(9)
    z[:8], z[8] = 0.5, 0.2
    np.testing.assert_allclose(bedding().travel(z), 0.3)
    np.testing.assert_allclose(bedding(-1.0).travel(z), -0.3)


def test_a_spring_obeys_hooke_between_two_unknowns_and_to_the_ground():
    between, ground = Spring(0, 2, 7.0), Spring(1, None, 7.0)
    z = np.array([0.4, 0.4, 0.1])
    np.testing.assert_allclose(forces(between, z, ()), [2.1, 0.0, -2.1])
    np.testing.assert_allclose(forces(ground, z, ()), [0.0, 2.8, 0.0])
    assert between.evaluate(z, None).stored == pytest.approx(0.5 * 7.0 * 0.3**2)
    k = stiffness(between, z, ())
    np.testing.assert_allclose(k @ z, forces(between, z, ()))
