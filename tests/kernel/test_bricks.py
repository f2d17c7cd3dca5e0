"""Hexahedra in logarithmic strain: patch, tangent, objectivity, bars, rings, columns, strips."""

from __future__ import annotations

import numpy as np
import pytest
from support.blocks import at, block, body, face_mean, pulled
from support.one_body import (
    STEEL,
    assert_second_order,
    bar_curve,
    forces,
    stiffness,
    tangent_errors,
)

from fejoint.kernel.assembly import System
from fejoint.kernel.bricks import NODES, BrickBody, shapes
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal

ELASTIC = Metal(*STEEL)
SOFT = Metal(*STEEL, Hardening.swift(300.0, 0.02, 0.3))


def distorted():
    mesh = block((2, 2, 2), (3.0, 2.0, 2.5))
    inner = np.all((mesh.points > 1e-9) & (mesh.points < np.array([3.0, 2.0, 2.5]) - 1e-9), axis=1)
    shift = np.random.default_rng(1).uniform(-0.1, 0.1, mesh.points.shape)
    points = mesh.points + np.where(inner[:, None], shift, 0.0)
    return BrickBody(SOFT, mesh.bricks, points), np.flatnonzero(~inner)


def moved(points, gradient):
    return (points @ np.asarray(gradient).T).reshape(-1)


GRADIENT = np.array([[0.02, 0.013, -0.004], [0.006, -0.015, 0.011], [-0.009, 0.003, 0.01]])


def test_shape_functions_are_one_at_their_own_node():
    assert np.abs(shapes(NODES)[0] - np.eye(20)).max() < 1e-15


def test_shape_gradients_are_those_of_the_functions():
    at_, h = np.random.default_rng(3).uniform(-1, 1, (4, 3)), 1e-6
    for i in range(3):
        step = h * np.eye(3)[i]
        slope = (shapes(at_ + step)[0] - shapes(at_ - step)[0]) / (2 * h)
        assert np.abs(slope - shapes(at_)[1][..., i]).max() < 1e-9


@pytest.mark.parametrize("metal", [ELASTIC, SOFT], ids=["elastic", "plastic"])
def test_patch_of_distorted_bricks_is_uniform(metal):
    patch, outer = distorted()
    patch = BrickBody(metal, patch.nodes, patch.points)
    z = moved(patch.points, GRADIENT)
    answer = patch.evaluate(z, patch.initial_state())
    stress = answer.state.stress
    assert np.abs(stress - stress[0]).max() < 1e-12 * np.abs(stress).max() * 10
    inner = np.setdiff1d(np.arange(len(patch.points)), outer)
    residual = forces(patch, z).reshape(-1, 3)[inner]
    assert np.abs(residual).max() < 1e-12 * np.abs(forces(patch, z)).max()
    assert (answer.state.equivalent > 0.0).all() == (metal is SOFT)


def test_tangent_is_the_derivative_on_a_plastic_path():
    patch, _ = distorted()
    rng = np.random.default_rng(5)
    z = moved(patch.points, GRADIENT) + 0.004 * rng.normal(size=3 * len(patch.points))
    state = patch.evaluate(z, patch.initial_state()).state
    assert (state.equivalent > 0.0).mean() > 0.9
    z = z + moved(patch.points, 0.5 * GRADIENT) + 0.004 * rng.normal(size=len(z))
    steps = (1e-4, 1e-5, 1e-6)
    assert_second_order(tangent_errors(patch, z, state, steps), 0.1)


def test_tangent_is_smooth_at_equal_principal_values():
    cube = BrickBody(SOFT, np.arange(20)[None], NODES)
    for stretch in (np.zeros(3), [0.03, 0.03, -0.02], [0.02, 0.02, 0.02]):
        z = moved(NODES, np.diag(stretch))
        errors = tangent_errors(cube, z, cube.initial_state(), (1e-6,))
        assert errors[0] < 2e-8


def test_tangent_is_symmetric():
    patch, _ = distorted()
    k = stiffness(patch, moved(patch.points, GRADIENT))
    assert np.abs(k - k.T).max() < 1e-12 * np.abs(k).max()


def test_a_turn_of_the_body_brings_no_stress_and_turns_the_rest():
    patch, _ = distorted()
    a = 0.7
    turn = np.array([[np.cos(a), -np.sin(a), 0.0], [np.sin(a), np.cos(a), 0.0], [0, 0, 1.0]])
    z = moved(patch.points, turn - np.eye(3))
    assert np.abs(patch.evaluate(z, patch.initial_state()).state.stress).max() < 1e-9
    stretched = np.eye(3) + GRADIENT
    plain = patch.evaluate(moved(patch.points, GRADIENT), patch.initial_state()).state
    both = patch.evaluate(moved(patch.points, turn @ stretched - np.eye(3)), patch.initial_state())
    assert both.state.mises == pytest.approx(plain.mises, rel=1e-10)
    assert both.state.equivalent == pytest.approx(plain.equivalent, rel=1e-10)
    assert both.stored == pytest.approx(patch.evaluate(
        moved(patch.points, GRADIENT), patch.initial_state()).stored, rel=1e-10)  # fmt: skip


def test_the_second_step_goes_on_from_the_first():
    cube = BrickBody(SOFT, np.arange(20)[None], NODES)
    way = np.diag([0.05, -0.024, -0.024])
    first = cube.evaluate(moved(NODES, way), cube.initial_state()).state
    again = cube.evaluate(moved(NODES, way), first).state
    assert again.equivalent == pytest.approx(first.equivalent, rel=1e-12)
    assert again.stress == pytest.approx(first.stress, rel=1e-9, abs=1e-7)


def bar(metal, mesh, length):
    n = 3 * len(mesh.points)
    fixed = np.concatenate(
        [3 * at(mesh, 0, 0.0), 3 * at(mesh, 1, 0.0) + 1, 3 * at(mesh, 2, 0.0) + 2]
    )
    drive = np.zeros(n)
    ends = at(mesh, 0, length)
    corners = [k for k in ends if np.sum(np.isclose(mesh.points[k, 1:] % 1.0, 0.0)) == 2]
    middles = np.setdiff1d(ends, corners)
    # consistent load of an 8-node face: -1/12 at corners, 1/3 in the middles
    drive[3 * np.array(corners)], drive[3 * middles] = -1 / 12, 1 / 3
    mode = np.zeros(n)
    mode[0::3] = mesh.points[:, 0] / length
    return System(n, [body(mesh, metal)], drive, mode, fixed)


def test_bar_follows_its_law_past_the_load_maximum():
    mesh = block((1, 1, 1), (2.0, 1.0, 1.0))
    path = pulled(bar(SOFT, mesh, 2.0), 1.2, steps=24)
    law = SOFT.hardening
    stretch, load = bar_curve(lambda p: law(np.asarray(p))[0], STEEL[0], np.linspace(0, 0.6, 4000))
    for point in path.points[1:]:
        expected = np.interp(point.travel / 2.0, stretch, load)
        assert point.load == pytest.approx(expected, rel=2e-4)
    loads = [p.load for p in path.points]
    assert loads[-1] < 0.99 * max(loads)
    assert np.argmax(loads) not in (0, len(loads) - 1)


def ring(metal, count, growth):
    """A quarter slice of a thick tube, radii 1 and 2, in plane strain; pressed from inside."""

    def round_(p):
        r, a = 1.0 + p[:, 0], 0.5 * np.pi * p[:, 1]
        return np.column_stack([r * np.cos(a), r * np.sin(a)])

    mesh = block((count, count, 1), (1.0, 1.0, 0.5), round_)
    n = 3 * len(mesh.points)
    x, y, z = mesh.points.T
    fixed = [3 * np.flatnonzero(np.abs(x) < 1e-9), 3 * np.flatnonzero(np.abs(y) < 1e-9) + 1]
    fixed.append(3 * np.flatnonzero((np.abs(z) < 1e-9) | (np.abs(z - 0.5) < 1e-9)) + 2)
    inside = mesh.hole
    assert np.abs(np.hypot(x, y)[inside] - 1.0).max() < 1e-9
    both = [face_mean(mesh, inside, i, n) for i in range(2)]
    # a uniform pressure acts along the radius: its weights are those of the mean radial way
    radial = np.zeros(n)
    r = np.hypot(x, y)
    for i, c in ((0, x / r), (1, y / r)):
        radial[i::3] = both[i][i::3] * c
    mode = np.zeros(n)
    mode[0::3], mode[1::3] = x / r, y / r
    radial /= radial @ mode
    system = System(n, [body(mesh, metal)], radial, mode, np.unique(np.concatenate(fixed)))
    return system, mesh, growth


def test_lame_ring_widens_as_the_closed_form():
    system, _mesh, _ = ring(ELASTIC, 4, 0.0)
    travel = 1e-5
    path = pulled(system, travel, steps=1, tolerance=1e-7)
    area = 0.5 * np.pi * 0.5
    pressure = path.points[-1].load / area
    e, nu = STEEL
    a, b = 1.0, 2.0
    # u(a) = (1 + nu) p a/E [(1 - 2 nu) a^2 + b^2]/(b^2 - a^2), plane strain
    widens = (1 + nu) * pressure * a / e * ((1 - 2 * nu) * a**2 + b**2) / (b**2 - a**2)
    assert travel == pytest.approx(widens, rel=2e-3)


def test_ring_collapses_at_hills_pressure():
    y = 240.0
    system, _, _ = ring(Metal(*STEEL, Hardening.linear(y)), 4, 0.0)
    path = pulled(system, 0.012, steps=12, tolerance=1e-7)
    assert path.finished
    pressure = max(p.load for p in path.points) / (0.5 * np.pi * 0.5)
    # Hill, The Mathematical Theory of Plasticity (1950), ch. V: p = 2 Y/sqrt(3) ln(b/a)
    assert pressure == pytest.approx(2.0 * y / np.sqrt(3.0) * np.log(2.0), rel=0.02)


def test_clamped_strip_buckles_at_eulers_load():
    length, width, t = 40.0, 2.0, 0.5
    mesh = block((8, 2, 2), (length, width, t))
    n = 3 * len(mesh.points)
    x, _y, _z = mesh.points.T
    end = at(mesh, 0, length)
    fixed = [3 * at(mesh, 0, 0.0) + i for i in range(3)]
    metal = Metal(STEEL[0], 0.0)
    # a little crooked; the free end is pressed with its mean way
    points = mesh.points + np.column_stack([0 * x, 0 * x, 0.01 * t * (x / length) ** 2])
    drive = np.zeros(n)
    drive[3 * end] = -1.0 / len(end)
    mode = np.zeros(n)
    mode[0::3] = -x / length
    system = System(
        n, [BrickBody(metal, mesh.bricks, points)], drive, mode, np.unique(np.concatenate(fixed))
    )
    euler = np.pi**2 * STEEL[0] * width * t**3 / 12.0 / (4.0 * length**2)
    shortens = euler * length / (STEEL[0] * width * t)
    path = pulled(system, 6.0 * shortens, steps=40, tolerance=1e-6)
    loads = np.array([p.load for p in path.points])
    tip = int(end[0])
    bent = np.array([abs(p.z[3 * tip + 2]) for p in path.points])
    assert bent[-1] > t
    late = bent > 0.5 * t
    # Southwell: what was crooked by w0 bends by w at P = Pe w/(w + w0)
    expected = euler * bent[late] / (bent[late] + 0.01 * t)
    assert loads[late] == pytest.approx(expected, rel=0.01)


def test_cantilever_strip_bends_as_a_plate():
    length, width, t = 20.0, 2.0, 0.5
    mesh = block((6, 2, 2), (length, width, t))
    n = 3 * len(mesh.points)
    end = at(mesh, 0, length)
    fixed = np.unique(np.concatenate([3 * at(mesh, 0, 0.0) + i for i in range(3)]))
    drive = np.zeros(n)
    drive[3 * end + 2] = 1.0 / len(end)
    mode = np.zeros(n)
    mode[2::3] = (mesh.points[:, 0] / length) ** 2
    system = System(n, [body(mesh, Metal(STEEL[0], 0.0))], drive, mode, fixed)
    way = 0.1
    load = pulled(system, way, steps=1, tolerance=1e-6).points[-1].load
    inertia = width * t**3 / 12.0
    shear = 1.2 * length / (0.5 * STEEL[0] * width * t)
    assert way / load == pytest.approx(length**3 / (3.0 * STEEL[0] * inertia) + shear, rel=2e-3)
