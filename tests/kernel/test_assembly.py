from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import triu
from support.one_body import STEEL, affine, distorted_patch, solid, stiffness
from support.pin_in_hole import pair

from fejoint.kernel.assembly import System
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal

SWIFT = Metal(*STEEL, Hardening.swift(290.0, 0.02235, 0.394))


def patch_system(symmetric: bool = True, thickness: float = 1.0) -> tuple[System, np.ndarray]:
    """Two bodies on one patch's nodes, its left side fixed, its right side driven and guided."""
    mesh = distorted_patch()
    bodies = [solid(mesh, SWIFT), solid(mesh, Metal(*STEEL), thickness=thickness)]
    if not symmetric:
        object.__setattr__(bodies[0], "symmetric", False)
    n = 2 * len(mesh.points)
    drive, guide, rigid = np.zeros((3, n))
    right = mesh.nodes_of("right")
    drive[2 * right], guide[2 * right + 1] = 1.0 / len(right), 1.0 / len(right)
    rigid[0::2] = 1.0
    left = mesh.nodes_of("left")
    fixed = np.concatenate([2 * left, 2 * left + 1])
    system = System(n, bodies, drive, rigid, fixed, [guide])
    z = affine(mesh, [[0.05, 0.02], [0.0, -0.01]])
    z[fixed] = 0.0
    return system, z


def whole(matrix, symmetric: bool) -> np.ndarray:
    return (matrix + triu(matrix, 1).T if symmetric else matrix).toarray()


@pytest.mark.parametrize("symmetric", [True, False])
def test_matrix_is_the_derivative_of_the_residual(symmetric):
    system, z = patch_system(symmetric)
    assert system.symmetric == symmetric
    states, multipliers = system.initial_states(), np.array([800.0, -50.0])
    matrix = whole(system.evaluate(z, multipliers, 0.1, states).matrix, symmetric)
    way = np.random.default_rng(1).normal(size=system.n_unknowns)
    n, h = len(system.free), 1e-6

    def residual(step: float) -> np.ndarray:
        moved = z.copy()
        moved[system.free] += step * way[:n]
        return system.evaluate(moved, multipliers + step * way[n:], 0.1, states).residual

    slope = (residual(h) - residual(-h)) / (2 * h)
    assert np.linalg.norm(slope - matrix @ way) < 1e-8 * np.linalg.norm(slope)


def test_terms_add_up_and_the_border_is_the_drive():
    one, z = patch_system()
    two, _ = patch_system(thickness=3.0)
    states, m = one.initial_states(), np.zeros(2)
    a, b = (whole(s.evaluate(z, m, 0.0, states).matrix, True) for s in (one, two))
    n, free = len(one.free), one.free
    elastic = stiffness(one.terms[1], z)[np.ix_(free, free)]
    np.testing.assert_allclose((b - a)[:n, :n], 2.0 * elastic, atol=1e-9 * np.abs(a).max())
    np.testing.assert_allclose(a[:n, n], -one.drive[free])
    np.testing.assert_allclose(a[:n, n + 1], -one.guides[0][free])
    np.testing.assert_array_equal(a[n:, n:], 0.0)


def test_upper_triangle_and_whole_matrix_say_the_same():
    half, z = patch_system(True)
    full, _ = patch_system(False)
    states, m = half.initial_states(), np.zeros(2)
    a = whole(half.evaluate(z, m, 0.0, states).matrix, True)
    b = whole(full.evaluate(z, m, 0.0, states).matrix, False)
    np.testing.assert_allclose(a, b, atol=1e-9 * np.abs(b).max())


def test_one_pattern_serves_every_evaluation():
    system, z = patch_system()
    states, m = system.initial_states(), np.zeros(2)
    first, again = (system.evaluate(k * z, m, 0.0, states).matrix for k in (1.0, 0.5))
    assert first.indices is again.indices
    assert first.indptr is again.indptr


def test_a_pin_that_turns_far_grows_the_pattern_and_loses_no_entry():
    p = pair("meshed", rough=0.0)
    n = len(p.z)
    system = System(n, [p.contact], np.eye(n)[0], np.zeros(n), np.array([0]))
    sizes = []
    for angle in np.linspace(0.0, 2.0, 9):
        pin = p.reference[len(p.secondary_dofs) // 2 :] - [0.06, 0.0]
        c, s = np.cos(angle), np.sin(angle)
        z = p.z.copy()
        z[p.primary_dofs] = (pin @ np.array([[c, s], [-s, c]]) - pin).reshape(-1)
        found = system.evaluate(z, np.zeros(1), 0.0, system.initial_states()).matrix
        sizes.append(found.nnz)
        exact = stiffness(p.contact, z)[1:, 1:]
        np.testing.assert_allclose(
            whole(found, True)[:-1, :-1], exact, atol=1e-10 * np.abs(exact).max()
        )
    assert np.all(np.diff(sizes) >= 0)
    assert sizes[-1] > sizes[0]


def test_a_known_evaluation_spares_the_terms_whose_state_is_the_same(monkeypatch):
    system, z = patch_system()
    states, m = system.initial_states(), np.zeros(2)
    asked = []
    for kind in {type(term) for term in system.terms}:
        evaluate = kind.evaluate
        monkeypatch.setattr(
            kind, "evaluate", lambda self, *a, f=evaluate: asked.append(self) or f(self, *a)
        )
    first = system.evaluate(z, m, 0.0, states)
    before = len(asked)
    other = (states[0], *system.initial_states()[1:])
    again = system.evaluate(z, m, 0.0, other, known=first)
    changed = sum(a is not b for a, b in zip(states, other, strict=True))
    assert len(asked) - before == changed < len(system.terms)
    np.testing.assert_array_equal(again.residual, first.residual)
    system.evaluate(z.copy(), m, 0.0, states, known=first)
    assert len(asked) - before == changed + len(system.terms)
