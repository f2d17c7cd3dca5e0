"""Contact with a rigid shaft, plane and head: distances, balance of forces, tangent, Hertz."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.blocks import at, block, body, lattice, pulled
from support.one_body import STEEL, assert_second_order, forces, stiffness, tangent_errors

from fejoint.kernel.assembly import System
from fejoint.kernel.plasticity import Metal
from fejoint.kernel.rigid_contact import RigidContact, RigidShape
from fejoint.sections.solid.grid import swept

K = 1e4


def against(shape: RigidShape, mesh, faces, centre):
    own = 3 * len(mesh.points) + np.arange(3)
    return RigidContact(mesh.points, faces, shape, np.asarray(centre, float), own, K)


SHAPES = {
    "shaft": (RigidShape("shaft", 0.6), "hole", (-0.55, 0.5, 0.5)),
    "leaning shaft": (RigidShape("shaft", 0.6, slope=0.2), "hole", (-0.5, 0.5, 0.5)),
    "wall": (RigidShape("wall", height=-0.02, side=1.0), "upper", (0.5, 0.5, 1.0)),
    "head": (
        RigidShape("head", 0.45, height=-0.03, side=1.0, rim=0.1), "upper", (0.1, 0.1, 1.0)),
    "head below": (
        RigidShape("head", 0.45, height=0.03, side=-1.0, rim=0.1), "lower", (0.1, 0.1, 0.0)),
}  # fmt: skip


@pytest.fixture(params=SHAPES, ids=list(SHAPES))
def touching(request):
    shape, faces, centre = SHAPES[request.param]
    mesh = block((3, 3, 2))
    term = against(shape, mesh, getattr(mesh, faces), centre)
    rng = np.random.default_rng(2)
    z = 0.01 * rng.normal(size=3 * len(mesh.points) + 3)
    return term, mesh, z, request.param


def test_forces_balance_whatever_the_surface(touching):
    term, _mesh, z, name = touching
    f = forces(term, z).reshape(-1, 3)
    assert np.abs(f[-1]).max() > 0.0
    assert np.abs(f.sum(axis=0)).max() < 1e-12 * np.abs(f).max()
    if name.startswith("head"):  # its rim pushes across as well
        assert np.abs(f[-1, :2]).max() > 1e-3 * np.abs(f[-1, 2])


def test_forces_are_the_energys_slope(touching):
    term, _, z, _ = touching
    way = np.random.default_rng(8).normal(size=len(z))
    h = 1e-7
    a, b = (term.evaluate(z + s * h * way, term.initial_state()).stored for s in (1, -1))
    assert (a - b) / (2 * h) == pytest.approx(forces(term, z) @ way, rel=1e-6)


def test_tangent_is_the_derivative(touching):
    term, _, z, _ = touching
    errors = tangent_errors(term, z, term.initial_state(), (1e-6, 1e-7))
    assert min(errors) < 1e-8
    k = stiffness(term, z)
    assert np.abs(k - k.T).max() < 1e-12 * np.abs(k).max()


@pytest.fixture(params=[0.05, 0.5, 50.0], ids=["slides", "some stick", "sticks"])
def rubbing(request, touching):
    """A frictional twin, moved on from a state with tractions of its own."""
    term, mesh, z, _ = touching
    twin = replace(term, friction=request.param, tangential_stiffness=0.3 * K)
    began = twin.evaluate(0.7 * z, twin.initial_state()).state
    way = 0.003 * np.random.default_rng(5).normal(size=len(z))
    return twin, mesh, z + way, began


def test_friction_is_capped_lies_along_the_surface_and_balances(rubbing):
    term, _mesh, z, began = rubbing
    f = forces(term, z, began).reshape(-1, 3)
    assert np.abs(f.sum(axis=0)).max() < 1e-12 * np.abs(f).max()
    answer = term.evaluate(z, began)
    s = answer.state
    size = np.linalg.norm(s.traction, axis=1)
    assert (size <= term.friction * s.pressure * (1 + 1e-12)).all()
    assert size.max() > 0.0
    assert answer.lost > 0.0 or term.friction > 1.0
    # less the frictionless forces, what is left is what the tractions put on the body
    bare = forces(replace(term, friction=0.0), z, began).reshape(-1, 3)
    given = -(term.weights.reshape(-1) @ s.traction)
    assert (f - bare)[-1] == pytest.approx(given, rel=1e-9)


def test_tangent_of_friction_is_the_derivative(rubbing):
    term, _, z, began = rubbing
    assert min(tangent_errors(term, z, began, (1e-6, 1e-7))) < 1e-8


def test_friction_without_a_tangential_stiffness_is_refused(touching):
    with pytest.raises(ValueError, match="tangential_stiffness above 0"):
        replace(touching[0], friction=0.1)


@pytest.mark.parametrize("way", [(1.0, 0.0), (0.6, -0.8)])
def test_a_plate_that_is_dragged_resists_with_its_share_of_the_pressure(way):
    mesh = block((2, 2, 1))
    free = against(RigidShape("wall", height=-0.01, side=1.0), mesh, mesh.upper, (0.5, 0.5, 1.0))
    term = replace(free, friction=0.2, tangential_stiffness=K)
    z = np.zeros(3 * len(mesh.points) + 3)
    states, lost = term.initial_state(), 0.0
    for far in np.linspace(0.0, 0.1, 11):
        z[-3:-1] = far * np.array(way)
        answer = term.evaluate(z, states)
        states, lost = answer.state, lost + answer.lost
    push = forces(term, z, states)[-3:]
    weight = K * 0.01
    assert push == pytest.approx([0.2 * weight * way[0], 0.2 * weight * way[1], -weight], rel=1e-9)
    # all but the spring's way up to the cap turned into heat
    assert lost == pytest.approx(0.2 * weight * (0.1 - 0.2 * 0.01), rel=1e-9)


def test_what_touched_goes_on_to_touch_in_a_first_guess():
    mesh = block((1, 1, 1))
    term = against(RigidShape("wall", height=-0.01, side=1.0), mesh, mesh.upper, (0.5, 0.5, 1.0))
    z = np.zeros(3 * len(mesh.points) + 3)
    state = term.evaluate(z, term.initial_state()).state
    z[2 : 3 * len(mesh.points) : 3] = -0.02
    assert np.abs(forces(term, z, state)).max() == 0.0
    assert np.abs(forces(term, z, term.assume_closed(state))).max() > 0.0


def test_line_contact_follows_hertz():
    """A rigid cylinder on a half space in plane strain: mean depth from the load's half width."""
    radius, wide, deep = 20.0, 12.0, 12.0

    def graded(p):
        return np.column_stack([deep * p[:, 0] ** 2.2, wide * p[:, 1] ** 2.2])

    mesh = swept(lattice((14, 14), graded), np.array([0.0, 0.2]))
    n = 3 * len(mesh.points)
    own = n + np.arange(3)
    _x, y, _z = mesh.points.T
    metal = Metal(*STEEL)
    modulus = STEEL[0] / (1 - STEEL[1] ** 2)
    shaft = RigidContact(
        mesh.points, mesh.hole, RigidShape("shaft", radius), np.array([-radius, 0.0, 0.1]), own,
        4e3 * modulus / radius,
    )  # fmt: skip
    fixed = [3 * at(mesh, 0, deep), 3 * np.flatnonzero(y < 1e-9) + 1, own[1:]]
    fixed.append(3 * np.arange(len(mesh.points)) + 2)
    drive = np.zeros(n + 3)
    drive[own[0]] = 1.0
    system = System(
        n + 3, [body(mesh, metal), shaft], drive, drive, np.unique(np.concatenate(fixed))
    )
    path = pulled(system, 0.02, steps=8, tolerance=1e-7)
    assert path.finished
    point = path.points[-1]
    line = 2.0 * point.load / 0.2  # both halves, per length
    half_width = np.sqrt(4.0 * line * radius / (np.pi * modulus))
    peak = 2.0 * line / (np.pi * half_width)
    pressure, where = point.states[1].pressure, shaft.positions(point.z)[:, 1]
    assert half_width > 4.0 * np.sort(where)[8]
    inside = where < 0.8 * half_width
    hertz = peak * np.sqrt(1.0 - (where[inside] / half_width) ** 2)
    # face means: raw Gauss values scatter
    got = pressure[inside] @ np.ones(inside.sum()) / inside.sum()
    assert got == pytest.approx(hertz.mean(), rel=0.02)
    # the outermost Gauss point that bears lies within its spacing of the edge
    beyond = np.sort(where[where > half_width])[0]
    assert where[pressure > 0.0].max() <= beyond
    assert where[pressure > 0.0].max() > 0.8 * half_width


def test_second_order_reference_is_met_by_the_shaft():
    mesh = block((2, 2, 1))
    term = against(RigidShape("shaft", 0.6, slope=0.1), mesh, mesh.hole, (-0.45, 0.5, 0.5))
    # all points touch, so no kink spoils the order
    z = np.zeros(3 * len(mesh.points) + 3)
    state = term.initial_state()
    touch = term.evaluate(z, state).state.gap < 0.0
    assert touch.any()
    closed = term.assume_closed(term.evaluate(z, state).state)
    assert_second_order(tangent_errors(term, z, closed, (1e-3, 1e-4, 1e-5)), 0.1)
