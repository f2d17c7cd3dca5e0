"""The solid ear: its mesh, its plane limits, balance of forces, supports, both signs."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from support.one_body import forces

from fejoint.errors import BadInput
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.pchip import Monotone
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.gmsh_mesher import EarOutline
from fejoint.sections.face import pull as face
from fejoint.sections.solid.grid import ear_quads, swept
from fejoint.sections.solid.problem import (
    Crookedness,
    SolidCase,
    SolidSettings,
    Support,
    build,
    crooked,
)
from fejoint.sections.solid.pull import pull, with_sign

METAL = Metal(193e3, 0.3, Hardening.swift(290.0, 0.02235, 0.394))
EAR = EarOutline(12.0, 4.1, 7.0, 25.0)
THIN = 0.12 * EAR.hole


def area(o: EarOutline) -> float:
    """Of the ear's face, from its outline."""
    half, hole = 0.5 * o.width, math.pi * o.hole**2 / 4.0
    if o.end == "round":
        return 0.5 * math.pi * half**2 + o.width * (o.edge_distance - half + o.grip_length) - hole
    return o.width * (o.edge_distance + o.grip_length) - hole - o.clip**2


@pytest.mark.parametrize(
    "outline",
    [
        EAR,
        EarOutline(12.0, 4.1, 16.0, 25.0, "square"),
        EarOutline(12.0, 4.1, 7.0, 25.0, "clipped", 3.0),
        EarOutline(20.0, 4.1, 6.0, 25.0),
        EarOutline(12.0, 4.1, 7.0, 7.0),
    ],
    ids=["round", "long", "clipped", "wide", "short"],
)
@pytest.mark.parametrize("whole", [False, True])
def test_mesh_fills_the_ear(outline, whole):
    from fejoint.kernel.bricks import BrickBody

    mesh = swept(ear_quads(outline, 24, whole=whole), np.array([-0.5, 0.0, 0.5]))
    volume = BrickBody(METAL, mesh.bricks, mesh.points).volumes.sum()
    assert volume == pytest.approx(area(outline) * (1.0 if whole else 0.5), rel=2e-5)
    assert np.hypot(*mesh.points[np.unique(mesh.hole), :2].T) == pytest.approx(0.5 * outline.hole)


def test_slot_is_refused_in_one_line():
    with pytest.raises(BadInput, match=r"ear.hole_slot = 1 mm: must be 0"):
        ear_quads(replace(EAR, slot=1.0), 24)


def plane(metal, travel, friction=0.0):
    settings = face.FaceSettings(sides=96, stop_travel=travel, pace=0.5)
    case = face.FaceCase(EAR, 1.0, metal, 4.0, None, friction=friction)
    return face.pull(face.build(case, settings), settings)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("held", "in_plane_strain", "friction"),
    [("flat", False, 0.0), ("plane strain", True, 0.0), ("flat", False, 0.3)],
)
def test_plane_limits_give_the_face_sections_curve(held, in_plane_strain, friction):
    travel, t = 0.6, 0.012 * EAR.hole
    history = plane(replace(METAL, plane_strain=in_plane_strain), travel, friction)
    settings = SolidSettings(sides=48, layers=1, stop_travel=travel, pace=0.5)
    case = SolidCase(EAR, t, METAL, 4.0, held=held, friction=friction)
    solid = pull(build(case, settings), settings)
    assert solid.offset.load / t == pytest.approx(history.offset.load, rel=5e-3)
    flat = Monotone(history.elongation, history.load)
    known = (solid.elongation > 0.02 * EAR.hole) & (solid.elongation < history.elongation[-1])
    assert known.sum() > 8
    assert solid.load[known] / t == pytest.approx(flat(solid.elongation[known]), rel=5e-3)


def test_friction_lifts_the_offset_load_as_it_does_in_the_plane():
    settings = SolidSettings(24, 1, stop_travel=0.3)
    flat = face.FaceSettings(stop_travel=0.3)
    loads = {}
    for friction in (0.0, 0.3):
        solid = pull(
            build(SolidCase(EAR, 1.0, METAL, 4.0, held="flat", friction=friction), settings),
            settings,
        )
        case = face.FaceCase(EAR, 1.0, METAL, 4.0, None, friction=friction)
        twin = face.pull(face.build(case, flat), flat)
        loads[friction] = solid.offset.load, twin.offset.load
    gain, plane_gain = (np.array(loads[0.3]) / np.array(loads[0.0])).tolist()
    assert plane_gain > 1.05
    assert gain == pytest.approx(plane_gain, rel=0.01)


@pytest.fixture(scope="module")
def bare():
    case = SolidCase(EAR, THIN, METAL, 4.0, crooked=Crookedness(0.01 * THIN))
    settings = SolidSettings(sides=24)
    return pull(build(case, settings), settings)


def test_thin_bare_end_loses_nearly_half(bare):
    flat = pull(
        build(replace(bare.problem.case, held="flat"), SolidSettings(24, 1)), SolidSettings(24, 1)
    )
    assert bare.fell
    assert bare.path.finished
    assert 0.5 < bare.greatest / flat.greatest < 0.58
    assert bare.offset.load == pytest.approx(flat.offset.load, rel=3e-3)
    assert 0.9 < bare.leaves / bare.greatest < 1.0
    assert bare.deflection[-1] > 0.3 * THIN
    assert bare.stroke[-1] >= bare.deflection[-1]


def test_grip_takes_what_the_pin_gives(bare):
    """With a head and the shank too: balance of all forces at an equilibrium."""
    case = replace(bare.problem.case, below=Support(0.02), above=Support(0.02, 3.0))
    settings = SolidSettings(sides=24, stop_travel=0.9)
    problem = build(case, settings)
    history = pull(problem, settings)
    point = history.path.points[-1]
    x = problem.mesh.points[:, 0]
    grip = np.flatnonzero(np.abs(x + EAR.grip_length) < 1e-6)
    n = len(point.z)
    total = sum(
        forces(term, point.z, state).reshape(-1, 3)
        for term, state in zip(problem.system.terms, point.states, strict=True)
    )
    assert len(total) == n // 3
    pressed = [s.pressure.max() for s in point.states[1:]]
    assert min(pressed[1:]) > 0.0  # both supports bear
    assert -total[grip, 0].sum() == pytest.approx(point.load, rel=1e-4)
    # across the plane: what the supports give, the grip takes
    assert total[:-1, 2].sum() + total[-1, 2] == pytest.approx(
        total[grip, 2].sum() + total[-1, 2], abs=1e-3 * point.load
    )


def test_signs_are_mirror_images_of_a_bare_ear(bare):
    other = with_sign(bare.problem.case, -1.0)
    settings = SolidSettings(sides=24, stop_travel=0.5)
    down, up = (pull(build(c, settings), settings) for c in (other, bare.problem.case))
    assert down.load == pytest.approx(up.load, rel=1e-6)
    assert down.deflection == pytest.approx(-up.deflection, abs=1e-6)


def test_head_keeps_what_a_bare_end_loses(bare):
    case = replace(bare.problem.case, below=Support(0.0), above=Support(0.0, 1.75 * 4.1))
    settings = SolidSettings(sides=24, stop_travel=2.0)
    held = pull(build(case, settings), settings)
    assert held.load.max() > 1.4 * bare.greatest


def test_half_and_whole_agree_on_a_straight_pull():
    case = SolidCase(EAR, THIN, METAL, 4.0, crooked=Crookedness(0.02 * THIN))
    settings = SolidSettings(sides=16, layers=1, stop_travel=0.2)
    half = pull(build(case, settings), settings)
    nearly = pull(build(replace(case, angle=1e-7), settings), settings)
    assert nearly.problem.share == 1.0
    common = np.linspace(0.02, 0.19, 5)
    a, b = (Monotone(h.travel, h.load)(common) for h in (half, nearly))
    assert a == pytest.approx(b, rel=2e-3)


def test_oblique_pull_is_solved_whole():
    case = SolidCase(EAR, 0.8, METAL, 4.0, angle=60.0)
    settings = SolidSettings(sides=16, layers=1, stop_travel=0.25)
    history = pull(build(case, settings), settings)
    assert history.path.finished
    assert history.elongation[-1] > 0.03
    point = history.path.points[-1]
    across = point.z[-3:-1] @ [-math.sin(math.radians(60.0)), math.cos(math.radians(60.0))]
    assert abs(across) < 1e-9


def test_crookedness_has_the_stated_size_at_the_tip():
    points = np.array([[7.0, 0.0, 0.0], [0.0, 0.0, 0.0], [-25.0, 0.0, 0.0]])
    curl = crooked(SolidCase(EAR, 1.0, METAL, 4.0, crooked=Crookedness(0.3)), points)
    tilt = crooked(SolidCase(EAR, 1.0, METAL, 4.0, crooked=Crookedness(0.3, "tilt")), points)
    assert curl[:, 2] == pytest.approx([0.3, 0.0, 0.0])
    assert tilt[:, 2] == pytest.approx([0.3, 0.3 * 25 / 32, 0.0])


def test_ductility_ends_the_pull():
    case = SolidCase(EAR, 0.8, METAL, 4.0, held="flat", fracture_strain=0.4)
    settings = SolidSettings(16, 1, stop_travel=3.0)
    history = pull(build(case, settings), settings)
    assert "ductility exhausted" in str(history.path.stopped_because)


def test_end_leaves_its_plane_a_tenth_of_its_thickness_out(bare):
    k = int(np.argmax(bare.deflection >= 0.1 * THIN))
    assert k > 1
    expected = np.interp(0.1 * THIN, bare.deflection[k - 1 : k + 1], bare.load[k - 1 : k + 1])
    assert bare.leaves == pytest.approx(expected, rel=1e-9)


def test_ear_crooked_towards_its_shank_without_gap_is_not_pressed_at_rest():
    case = SolidCase(EAR, THIN, METAL, 4.0, Support(0.0), None, Crookedness(-0.02 * THIN))
    settings = SolidSettings(sides=16, layers=1, stop_travel=0.1)
    problem = build(case, settings)
    touching = problem.supports[0]
    assert touching.initial_state().gap.min() >= 0.0
    history = pull(problem, settings)
    assert history.path.finished
    assert history.load[-1] > 300.0
