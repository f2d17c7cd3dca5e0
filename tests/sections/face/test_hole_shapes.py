from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.pulled_faces import CASE, OUTLINE, RIGID, offset_load, pulled

from fejoint.meshing.gmsh_mesher import ear_free, ear_half
from fejoint.sections.face.pull import FaceSettings, build


def shaped(**shape):
    return replace(CASE, outline=replace(OUTLINE, **shape))


def area(mesh, region="ear"):
    from fejoint.kernel.elements import Quadrature

    return Quadrature.from_mesh(mesh.points, mesh.triangles[mesh.regions[region]]).areas.sum()


def test_free_mesh_has_the_area_of_two_halves():
    for end, clip in (("round", 0.0), ("square", 0.0), ("clipped", 3.0)):
        o = replace(OUTLINE, end=end, clip=clip, slot=0.5)
        assert area(ear_free(o, 24)) == pytest.approx(2.0 * area(ear_half(o, 24)), rel=1e-4)


def test_slot_takes_its_length_times_the_diameter():
    lost = area(ear_half(OUTLINE, 24)) - area(ear_half(replace(OUTLINE, slot=0.5), 24))
    assert lost == pytest.approx(0.5 * 0.5 * OUTLINE.hole, rel=1e-4)


def test_hole_off_the_axis_leaves_the_area():
    moved = ear_free(replace(OUTLINE, offset=1.0), 24)
    assert area(moved) == pytest.approx(area(ear_free(OUTLINE, 24)), rel=1e-4)
    assert moved.points[:, 1].max() == pytest.approx(OUTLINE.width / 2.0 - 1.0)


def test_slot_of_zero_length_is_a_round_hole():
    round_hole, slot = ear_half(OUTLINE, 24, 4.0), ear_half(replace(OUTLINE, slot=0.0), 24, 4.0)
    np.testing.assert_array_equal(round_hole.points, slot.points)


def test_vanishing_slot_answers_as_a_round_hole_does():
    assert offset_load(pulled(shaped(slot=0.01), sides=24)) == pytest.approx(
        offset_load(pulled(sides=24)), rel=5e-3
    )


def test_zero_flare_is_none():
    flat = build(replace(CASE, flare_depth=0.0), FaceSettings(sides=24))
    np.testing.assert_array_equal(flat.system.terms[0].thickness, CASE.thickness)
    shallow = pulled(replace(CASE, flare_depth=1e-9), 0.05, sides=24)
    assert shallow.load[-1] == pytest.approx(pulled(CASE, 0.05, sides=24).load[-1], rel=1e-6)


def test_flare_lies_between_its_land_and_the_whole_thickness():
    flared, whole = (
        offset_load(pulled(replace(CASE, flare_depth=d), sides=24)) for d in (0.8, 0.0)
    )
    assert 1.2 / 2.0 * whole < flared < whole
    # the usual rule, thickness less half the depth, is on the safe side of the plane-stress answer
    assert 1.6 / 2.0 * whole < flared


def test_free_mesh_gives_the_offset_load_of_the_mirrored_one():
    for angle in (0.0, 30.0):
        case = replace(CASE, angle=angle)
        free = offset_load(pulled(case, sides=24, free=True))
        assert free == pytest.approx(offset_load(pulled(case, sides=24)), rel=4e-3)


def test_worn_hole_gives_earlier_but_not_when_pushed_back():
    worn, new = shaped(slot=0.3), CASE
    assert offset_load(pulled(worn, sides=24)) < 0.99 * offset_load(pulled(new, sides=24))
    pushed = [offset_load(pulled(replace(c, angle=180.0), sides=24)) for c in (worn, new)]
    assert pushed[0] == pytest.approx(pushed[1], rel=5e-3)


def test_hole_off_the_axis_gives_earlier_and_knows_its_sides():
    off = shaped(offset=1.0)
    assert offset_load(pulled(off, sides=24)) < 0.97 * offset_load(pulled(sides=24))
    up, down = (pulled(replace(off, angle=a), 0.1, sides=24) for a in (40.0, -40.0))
    assert abs(up.load[-1] / down.load[-1] - 1.0) > 5e-3


def test_turning_of_the_ear_alone_is_no_elongation():
    problem = build(replace(RIGID, angle=50.0), FaceSettings(sides=24))
    turn = np.deg2rad(7.0)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    z = np.zeros(problem.system.n_dofs)
    points = problem.mesh.points
    z[: 2 * len(points)] = (points @ rotation.T - points).reshape(-1)
    from fejoint.kernel.newton import EquilibriumPoint

    rest = EquilibriumPoint(0.0, np.zeros(problem.system.n_multipliers), z, ())
    assert problem.elongation(rest) == pytest.approx(0.0, abs=1e-12)
