"""The whole joint in the round: its mesh, its statics, its energy, and the plane tool beside it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fejoint.kernel.assembly import System
from fejoint.kernel.bricks import BrickBody
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.gmsh_mesher import EarOutline
from fejoint.sections.solid.shaft_grid import half_disc, layered, section_means, shaft
from fejoint.sections.solid.whole_joint import PIN, build
from fejoint.sections.solid.whole_joint_case import (
    SolidPlate,
    WholeJointCase,
    WholeJointSettings,
)
from fejoint.sections.solid.whole_joint_pull import pull, release

SOFT = Metal(193e3, 0.3, Hardening.swift(290.0, 0.02235, 0.394))
BAR = Metal(195e3, 0.3, Hardening.swift(450.0, 0.02, 0.2))
EAR = SolidPlate(EarOutline(14.0, 4.1, 7.0, 12.0), 2.0, SOFT)
SHANK = SolidPlate(EarOutline(16.0, 4.1, 8.0, 14.0), 3.0, BAR)
COARSE = WholeJointSettings(sides=14, layer=0.2, coarse=0.4)
CASE = WholeJointCase(EAR, SHANK, 4.0, BAR, 0.1)


@pytest.mark.parametrize("sectors", [8, 12])
def test_the_disc_is_round(sectors):
    radius, heights = 2.0, np.array([0.0, 0.4, 1.1])
    mesh, surface = shaft(radius, sectors, heights)
    body = BrickBody(BAR, mesh.bricks, mesh.points)
    assert body.volumes.sum() == pytest.approx(0.5 * np.pi * radius**2 * 1.1, rel=2e-4)
    assert surface.shape == (sectors, 2, 8)
    ring = mesh.points[surface]
    assert np.hypot(ring[..., 0], ring[..., 1]) == pytest.approx(radius)
    # neighbours in the grid share an edge, round the pin and along it
    assert np.array_equal(surface[:-1, :, [1, 2]], surface[1:, :, [0, 3]])
    assert np.array_equal(surface[:, 0, [3, 2]], surface[:, 1, [0, 1]])
    a, b = (ring[..., k, :] - ring[..., 0, :] for k in (1, 3))
    outwards = (np.cross(a, b)[..., :2] * ring.mean(axis=2)[..., :2]).sum(axis=-1)
    assert np.all(outwards > 0.0)
    assert len(half_disc(radius, sectors).rim) == sectors


def test_section_means_are_those_of_the_half_disc():
    radius, heights = 2.0, np.array([0.0, 0.4, 1.1])
    mesh, _ = shaft(radius, 12, heights)
    nodes, weights = section_means(mesh.points, mesh.bricks, heights)
    means = np.einsum("k,nki->ni", weights, mesh.points[nodes])
    assert means[:, 0] == pytest.approx(0.0, abs=1e-12)
    assert means[:, 1] == pytest.approx(4.0 * radius / (3.0 * np.pi), rel=1e-4)
    assert means[:, 2] == pytest.approx(heights)


def test_layers_are_graded_between_their_marks():
    marks = np.array([0.0, 3.0, 3.1, 5.1])
    ends = layered(marks, np.array([np.inf, 0.3, 0.3, 0.5]), 0.8)
    assert np.all(np.isin(marks, ends))
    thick = np.diff(ends)
    assert thick.max() <= 0.8 * 1.3
    beside = thick[np.searchsorted(ends, 3.0) - 1]
    assert beside == pytest.approx(0.3, rel=0.3)
    assert thick[0] > 2.0 * beside


@pytest.fixture(scope="module")
def pulled():
    problem = build(CASE, COARSE)
    return pull(problem, [0.02, 0.06], COARSE)


def test_forces_balance_through_the_joint(pulled):
    """Ears, shank, drive: one load; what the guides bear is what the pin's lean pushes out."""
    problem = pulled.problem
    point = pulled.path.points[-1]
    ear = problem.forces(point, 0)[1].sum(axis=0)
    shank = problem.forces(point, 1)[1].sum(axis=0)
    assert pulled.path.finished
    assert ear[0] == pytest.approx(point.load, rel=1e-4)
    assert shank[0] == pytest.approx(-point.load, rel=1e-4)
    for plate in range(2):
        middles, line = problem.bearing(point, plate)
        thick = np.diff(problem.plates[plate].heights)
        # a quarter shows an ear whole and half the shank
        assert line @ thick == pytest.approx(0.5 * pulled.load[-1], rel=1e-4)
        assert len(middles) == len(thick)
    assert ear[2] > 0.0


def test_the_moment_is_that_of_the_stresses_in_the_pins_middle(pulled):
    problem, point = pulled.problem, pulled.path.points[-1]
    alone = System(
        problem.system.n_dofs, [problem.bodies[PIN]], *[point.z * 0] * 2, np.zeros(0, int)
    )
    state = pulled.path.points[-2].states[PIN]
    inner = alone.evaluate(point.z, np.zeros(1), 0.0, (state,)).internal
    at_middle = np.unique(problem.bodies[PIN].nodes)
    at_middle = at_middle[np.abs(problem.points[at_middle, 2]) < 1e-9]
    x = problem.points[at_middle, 0] + point.z[3 * at_middle]
    arm = x - problem.axis(point)[0, 0]
    by_stress = 2.0 * float(inner[3 * at_middle + 2] @ arm)
    moment = problem.moments(point)
    assert abs(moment[0]) == pytest.approx(abs(by_stress), rel=1e-3)
    assert abs(moment[0]) == np.abs(moment).max() == pulled.moment[-1]
    assert abs(moment[-1]) < 1e-9 * abs(moment[0])


def test_the_work_is_stored_or_spent(pulled):
    assert abs(pulled.energy_gap) < 0.01
    assert pulled.problem.stored_and_spent(pulled.path.points[-1])[1] > 0.0


def test_a_hole_grows_most_at_the_side_of_the_gap(pulled):
    point = pulled.path.points[-1]
    for plate, inner in ((0, 0), (1, -1)):
        grown = pulled.problem.elongations(point, plate)[1]
        assert grown[inner] == grown.max()
        assert grown.min() < pulled.elongation[-1, plate] < grown.max()


def test_the_pin_keeps_less_bend_than_it_had(pulled):
    let_go = release(pulled, len(pulled.load) - 1, COARSE)
    assert let_go is not None
    kept = pulled.problem.bend(let_go)
    assert 0.0 < kept < 0.5 * pulled.sag[-1]


def test_guides_hold_an_ear_that_would_slide_out():
    """Without them the lean of the pin pushes the ear out, along the pin."""
    out = {}
    for guided in (True, False):
        problem = build(replace(CASE, guided=guided), COARSE)
        history = pull(problem, [0.06], COARSE)
        assert history.path.finished
        face = np.unique(problem.plates[0].mesh.upper)
        out[guided] = history.path.points[-1].z[3 * face + 2].max()
    assert out[True] < 0.01
    assert out[False] > 2.0 * out[True]


@pytest.mark.stress
def test_single_shear_shares_one_load():
    """Both plates are there whole; the pin turns in its clearance before it bears."""
    close = [replace(p, thickness=2.0, outline=replace(p.outline, hole=4.02)) for p in (EAR, SHANK)]
    problem = build(WholeJointCase(*close, 4.0, BAR, 0.1, double=False), COARSE)
    assert problem.share == 2.0
    first, last = problem.plates[1].heights[[0, -1]]
    assert (first, last) == (pytest.approx(2.1), pytest.approx(4.1))
    history = pull(problem, [0.05], COARSE)
    assert history.path.finished
    point = history.path.points[-1]
    ear, shank = (problem.forces(point, k)[1].sum(axis=0) for k in range(2))
    assert ear[0] == pytest.approx(point.load, rel=1e-4)
    assert shank[0] == pytest.approx(-point.load, rel=1e-4)
    # without friction a pin that leans is pushed out along its axis: the guide of its mean bears it
    assert ear[2] + shank[2] == pytest.approx(point.multipliers[1], rel=1e-3)
    bends = problem.moments(point)
    assert np.abs(bends[[0, -1]]).max() < 0.05 * np.abs(bends).max()
