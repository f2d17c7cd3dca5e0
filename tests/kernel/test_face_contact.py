"""Contact of two deformable bodies: balance, slope of the energy, tangent, sliding over faces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.blocks import at, block, body, face_mean, pulled
from support.one_body import STEEL, assert_second_order, forces, stiffness, tangent_errors

from fejoint.kernel.assembly import SparsityChanged, System
from fejoint.kernel.face_contact import FaceContact, second_derivatives
from fejoint.kernel.plasticity import Metal
from fejoint.kernel.rigid_contact import face_shapes
from fejoint.sections.solid.grid import BrickMesh
from fejoint.sections.solid.shaft_grid import shaft

K = 1e4


def stacked(upper=(2, 2, 1), lower=(5, 4, 1), shift=(0.2, 0.15, -0.01)):
    """A block that sinks into a larger one by 0.01; its contact with it."""
    small, large = block(upper, (0.5, 0.6, 0.4)), block(lower, (1.0, 1.0, 0.5))
    n = len(large.points)
    points = np.vstack([large.points, small.points + np.array([*shift[:2], 0.5 + shift[2]])])
    target = large.upper.reshape(*lower[:2], 8)
    return FaceContact(points, small.lower + n, target, K), large, small


def moved(points, size=0.004, seed=3):
    return size * np.random.default_rng(seed).normal(size=3 * len(points))


def settled(term, z):
    """The state in which every point belongs to the face that its foot lies on."""
    state = term.initial_state()
    for _ in range(3):
        state = term.evaluate(z, state).state
    return state


@pytest.fixture
def touching():
    term, *_ = stacked()
    z = moved(term.points)
    return term, z, settled(term, z)


def test_shape_functions_have_these_second_derivatives():
    spot, h = np.array([[0.3, -0.45], [-0.8, 0.6]]), 1e-6
    aa, bb, ab = second_derivatives(spot)
    slopes = [
        (face_shapes(spot + h * way)[1] - face_shapes(spot - h * way)[1]) / (2 * h)
        for way in np.eye(2)
    ]
    assert aa == pytest.approx(slopes[0][..., 0], abs=1e-8)
    assert bb == pytest.approx(slopes[1][..., 1], abs=1e-8)
    assert ab == pytest.approx(slopes[0][..., 1], abs=1e-8)


def test_forces_and_their_moments_balance(touching):
    term, z, state = touching
    f = forces(term, z, state).reshape(-1, 3)
    where = term.points + z.reshape(-1, 3)
    assert np.abs(f[:, :2]).max() > 1e-3 * np.abs(f[:, 2]).max()
    assert np.abs(f.sum(axis=0)).max() < 1e-12 * np.abs(f).max()
    # the force at a point acts along the line to its foot, so it turns nothing
    assert np.abs(np.cross(where, f).sum(axis=0)).max() < 1e-10 * np.abs(f).max()


def test_forces_are_the_energys_slope(touching):
    term, z, state = touching
    way, h = np.random.default_rng(8).normal(size=len(z)), 1e-7
    a, b = (term.evaluate(z + s * h * way, state).stored for s in (1, -1))
    assert (a - b) / (2 * h) == pytest.approx(forces(term, z, state) @ way, rel=1e-6)


def test_tangent_is_symmetric_and_second_order(touching):
    term, z, state = touching
    k = stiffness(term, z, state)
    assert np.abs(k).max() > 0.0
    assert np.abs(k - k.T).max() < 1e-12 * np.abs(k).max()
    # what touches stays held, so that no point spoils the order by letting go
    held = term.assume_closed(replace(state, gap=np.minimum(state.gap, -1e-9)))
    assert_second_order(tangent_errors(term, z, held, (1e-4, 1e-5, 1e-6)), 0.1)


def test_a_gap_bears_nothing_unless_it_is_held():
    term, *_ = stacked(shift=(0.2, 0.15, 0.01))
    z = np.zeros(3 * len(term.points))
    state = term.initial_state()
    assert state.gap == pytest.approx(0.01)
    assert np.abs(forces(term, z, state)).max() == 0.0
    closed = replace(state, gap=np.full_like(state.gap, -0.01))
    assert np.abs(forces(term, z, closed)).max() == 0.0
    assert np.abs(forces(term, z, term.assume_closed(closed))).max() > 0.0


def test_a_point_beside_the_target_bears_nothing():
    term, *_ = stacked(shift=(3.0, 0.15, -0.01))
    assert np.abs(forces(term, np.zeros(3 * len(term.points)))).max() == 0.0


def test_points_slide_from_face_to_face():
    """On a plane the forces do not change on the way; the pattern takes in what lies further on."""
    term, large, _ = stacked(lower=(8, 8, 1), shift=(0.05, 0.1, -0.01))
    z, n = np.zeros(3 * len(term.points)), 3 * len(large.points)
    state = settled(term, z)
    stiffness(term, z, state)
    first, faces, grown = forces(term, z, state)[n:], state.face, False
    for _ in range(8):
        z[n::3] += 0.05
        response = term.evaluate(z, state)
        try:
            response.tangent()
        except SparsityChanged:
            grown = True
        assert forces(term, z, state)[n:] == pytest.approx(first, rel=1e-9)
        state = response.state
    assert grown
    assert np.all(state.face[:, 0] > faces[:, 0])
    assert np.abs(state.foot).max() <= 1.0 + 1e-12
    assert tangent_errors(term, z, term.assume_closed(state), (1e-5,))[0] < 1e-6


def test_the_gap_to_a_round_surface_converges_to_the_circles():
    """Quadratic faces leave the circle by the fourth power of their side."""
    angle = np.linspace(0.3, 2.7, 7)
    ring = np.array([[2.05 * np.cos(a), 2.05 * np.sin(a), h] for h in (0.3, 1.6) for a in angle])
    missed = []
    for sectors in (8, 16):
        pin, surface = shaft(2.0, sectors, np.linspace(0.0, 2.0, 4))
        n = len(pin.points)
        # faces whose eight nodes are one: a cloud of points
        faces = n + np.repeat(np.arange(len(ring)), 8).reshape(-1, 8)
        term = FaceContact(np.vstack([pin.points, ring]), faces, surface, K)
        state = settled(term, np.zeros(3 * len(term.points)))
        missed.append(np.abs(state.gap - 0.05).max())
    assert missed[1] < 1e-5
    assert missed[0] / missed[1] > 12.0


def test_pressed_blocks_carry_one_pressure():
    """Unlike grids, a lower block wider than the upper: mean pressure is the load's."""
    metal = Metal(*STEEL)
    term, large, small = stacked(upper=(3, 3, 2), lower=(5, 5, 2), shift=(0.25, 0.2, 0.0))
    n = len(large.points)
    upper = BrickMesh(
        term.points, small.bricks + n, small.lower + n, small.upper + n, small.hole + n
    )
    n_dofs = 3 * len(term.points)
    drive = -face_mean(upper, upper.upper, 2, n_dofs)
    rigid = np.zeros(n_dofs)
    rigid[3 * np.arange(n, len(term.points)) + 2] = -1.0
    top = n + at(small, 2, 0.4)
    fixed = np.concatenate([3 * at(large, 2, 0.0) + i for i in range(3)] + [3 * top, 3 * top + 1])
    lower = replace(large, points=term.points)
    terms = [body(lower, metal), body(upper, metal), replace(term, stiffness=50.0 * STEEL[0])]
    path = pulled(System(n_dofs, terms, drive, rigid, np.unique(fixed)), 1e-3, steps=2)
    assert path.finished
    state = path.points[-1].states[2]
    weights = terms[2].weights.reshape(-1)
    assert state.pressure @ weights == pytest.approx(path.points[-1].load, rel=1e-4)
    assert np.all(state.pressure > 0.0)
