from __future__ import annotations

import math
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fejoint.errors import SolveStopped
from fejoint.meshing import gmsh_mesher
from fejoint.meshing.gmsh_mesher import EarOutline, ear_half, ear_whole, quarter_plate
from fejoint.meshing.mesh import Mesh, jacobians, strip

PLAIN = EarOutline(12.0, 4.1, 7.0, 25.0)
SQUARE = EarOutline(12.0, 4.1, 7.0, 25.0, "square")
CLIPPED = EarOutline(12.0, 4.1, 7.0, 25.0, "clipped", 3.0)
ENDS = {"round": PLAIN, "square": SQUARE, "clipped": CLIPPED}
ends = pytest.mark.parametrize("outline", ENDS.values(), ids=ENDS)

GAUSS = np.array([[1 / 6, 1 / 6], [2 / 3, 1 / 6], [1 / 6, 2 / 3]])


def area(mesh: Mesh, region: str) -> float:
    """Area of a region of curved triangles (its Jacobian is quadratic: three points are exact)."""
    x, y = GAUSS.T
    zero = 0.0 * x
    by_x = np.stack([4 * (x + y) - 3, 4 * x - 1, zero, 4 * (1 - 2 * x - y), 4 * y, -4 * y], axis=1)
    by_y = np.stack([4 * (x + y) - 3, zero, 4 * y - 1, -4 * x, 4 * x, 4 * (1 - x - 2 * y)], axis=1)
    nodes = mesh.points[mesh.triangles[mesh.regions[region]]]
    dx, dy = (np.einsum("qa,eai->eqi", d, nodes) for d in (by_x, by_y))
    return float((dx[..., 0] * dy[..., 1] - dx[..., 1] * dy[..., 0]).sum() / 6.0)


def closed_form_area(o: EarOutline) -> float:
    body = o.width * (o.grip_length + o.edge_distance)
    if o.end == "round":
        body -= (2.0 - math.pi / 2.0) * (o.width / 2.0) ** 2
    elif o.end == "clipped":
        body -= o.clip**2
    return body - math.pi * o.hole**2 / 4.0


def sides_of(mesh: Mesh) -> dict[tuple[int, int], int]:
    """Directed element sides (start, end) and their middle nodes."""
    t = mesh.triangles
    return {
        (int(a), int(b)): int(m)
        for i, j, k in ((0, 1, 3), (1, 2, 4), (2, 0, 5))
        for a, b, m in t[:, (i, j, k)]
    }


def boundary_sides(mesh: Mesh) -> set[frozenset[int]]:
    sides = sides_of(mesh)
    return {frozenset(s) for s in sides if s[::-1] not in sides}


@ends
def test_area_is_the_closed_form(outline):
    # quadratic sides leave a circle by h^4: 48 of them give its area to 1e-6
    half = ear_half(outline, 48, 4.0)
    assert 2.0 * area(half, "ear") == pytest.approx(closed_form_area(outline), rel=1e-4)
    assert 2.0 * area(half, "pin") == pytest.approx(math.pi * 4.0, rel=1e-4)
    whole = ear_whole(outline, 48, 4.0)
    assert area(whole, "ear") == pytest.approx(2.0 * area(half, "ear"), rel=1e-12)


@ends
def test_all_nodes_of_the_hole_and_of_the_pin_lie_on_their_circles(outline):
    mesh = ear_whole(outline, 48, 4.0)
    for name, radius in (("hole", 2.05), ("pin", 2.0)):
        r = np.linalg.norm(mesh.points[mesh.nodes_of(name)], axis=1)
        np.testing.assert_allclose(r, radius, rtol=1e-7)


def test_all_nodes_of_a_round_end_lie_on_its_arc():
    mesh = ear_half(PLAIN, 48)
    at = mesh.points[mesh.nodes_of("outer")]
    r = np.linalg.norm(at - [PLAIN.edge_distance - 6.0, 0.0], axis=1)
    np.testing.assert_allclose(r[at[:, 0] > 1.0 + 1e-9], 6.0, rtol=1e-7)


@pytest.mark.parametrize("sides", [16, 24, 48, 96])
def test_the_hole_has_as_many_sides_as_asked(sides):
    assert len(ear_half(PLAIN, sides).edges["hole"]) == sides // 2
    assert len(ear_whole(PLAIN, sides, 4.0).edges["pin"]) == sides


@ends
@pytest.mark.parametrize("pin", [None, 4.0])
def test_named_edges_are_the_boundary_and_nothing_else(outline, pin):
    for mesh in (ear_half(outline, 24, pin), ear_whole(outline, 24, pin)):
        named = [frozenset(map(int, e[:2])) for edges in mesh.edges.values() for e in edges]
        assert len(named) == len(set(named))
        assert set(named) == boundary_sides(mesh)


def test_middle_nodes_of_named_edges_are_those_of_their_elements():
    for mesh in (ear_half(CLIPPED, 24, 4.0), ear_whole(CLIPPED, 24, 4.0)):
        sides = sides_of(mesh)
        for edges in mesh.edges.values():
            for a, b, m in edges.tolist():
                assert sides.get((a, b), sides.get((b, a))) == m


@pytest.mark.parametrize("mesher", [ear_half, ear_whole])
def test_hole_and_pin_are_walked_counter_clockwise_without_a_gap(mesher):
    mesh = mesher(PLAIN, 48, 4.0)
    for name in ("hole", "pin"):
        e = mesh.edges[name]
        np.testing.assert_array_equal(e[1:, 0], e[:-1, 1])
        if mesher is ear_whole:
            assert e[0, 0] == e[-1, 1]
        angle = np.unwrap(np.arctan2(*mesh.points[np.append(e[:, 0], e[-1, 1])].T[::-1]))
        assert np.all(np.diff(angle) > 0.0)
        middle = np.unwrap(np.arctan2(*mesh.points[e[:, 2]].T[::-1]))
        np.testing.assert_allclose(np.diff(middle), np.diff(middle)[0], rtol=1e-5)


@ends
def test_regions_hold_every_element_once_and_share_no_node(outline):
    for mesh in (ear_half(outline, 24, 4.0), ear_whole(outline, 24, 4.0)):
        together = np.concatenate(list(mesh.regions.values()))
        assert np.array_equal(np.sort(together), np.arange(len(mesh.triangles)))
        ear, pin = (np.unique(mesh.triangles[mesh.regions[k]]) for k in ("ear", "pin"))
        assert not np.intersect1d(ear, pin).size
        assert np.array_equal(np.union1d(ear, pin), np.arange(len(mesh.points)))


@ends
def test_edges_lie_where_their_names_say(outline):
    mesh = ear_half(outline, 24, 4.0)
    at = {name: mesh.points[mesh.nodes_of(name)] for name in mesh.edges}
    np.testing.assert_allclose(at["grip"][:, 0], -25.0)
    for name in ("neck", "tip", "pin axis"):
        np.testing.assert_allclose(at[name][:, 1], 0.0, atol=1e-12)
    assert at["neck"][:, 0].max() < 0.0 < at["tip"][:, 0].min()
    assert at["tip"][:, 0].max() == pytest.approx(outline.edge_distance)
    assert at["outer"][:, 1].max() == pytest.approx(outline.width / 2.0)


@ends
def test_whole_mesh_is_its_own_mirror_image(outline):
    mesh = ear_whole(outline, 48, 4.0)
    image = {tuple(p) for p in np.round(mesh.points * [1.0, -1.0], 12) + 0.0}
    assert image == {tuple(p) for p in np.round(mesh.points, 12) + 0.0}

    def corners(sign: float) -> set[frozenset]:
        at = np.round(mesh.points * [1.0, sign], 12) + 0.0
        return {frozenset(map(tuple, at[t[:3]])) for t in mesh.triangles}

    assert corners(1.0) == corners(-1.0)
    assert jacobians(mesh).min() > 0.0


def test_whole_mesh_is_sewn_along_the_axis_and_nowhere_else():
    half, whole = ear_half(PLAIN, 24, 4.0), ear_whole(PLAIN, 24, 4.0)
    seam = len(half.nodes_of("neck", "tip", "pin axis"))
    assert len(whole.points) == 2 * len(half.points) - seam
    assert len(np.unique(np.round(whole.points, 9), axis=0)) == len(whole.points)


def test_the_same_outline_gives_the_identical_mesh():
    for mesher in (ear_half, ear_whole):
        first, again = (mesher(CLIPPED, 48, 4.0) for _ in range(2))
        assert np.array_equal(first.points, again.points)
        assert np.array_equal(first.triangles, again.triangles)
        assert all(np.array_equal(first.edges[k], again.edges[k]) for k in first.edges)


def test_elements_grow_away_from_the_hole_and_halve_with_twice_the_sides():
    coarse, fine = ear_half(PLAIN, 48), ear_half(PLAIN, 96)
    assert 2.0 < len(fine.triangles) / len(coarse.triangles) < 4.5
    middle = coarse.points[coarse.triangles[:, :3]].mean(axis=1)
    size = np.sqrt(2.0 * jacobians(coarse)[:, -1])
    far = np.linalg.norm(middle, axis=1) - 2.05
    assert size[far < 0.3].mean() < 0.4 * size[far > 5.0].mean()


def random_outline(rng: np.random.Generator) -> tuple[EarOutline, float, int]:
    """Any ear that a case may ask for, thin ligaments often: see fejoint.joint.rules."""
    hole = float(10.0 ** rng.uniform(-0.5, 1.5))
    # a tenth of the hole is the least metal allowed; half of the draws lie near it
    beside, behind = 0.1 + 10.0 ** rng.uniform(-4.0, 0.7, 2)
    width = hole * (1.0 + 2.0 * beside)
    edge = hole * (0.5 + behind)
    end = str(rng.choice(["round", "square", "clipped"]))
    clip = 0.0
    if end == "round":
        edge = max(edge, hole * 0.6)
    if end == "clipped":
        # the cut keeps a tenth of the hole of metal, and some of the end
        room = (edge + width / 2.0) - math.sqrt(2.0) * 0.6 * hole
        clip = float(rng.uniform(0.0, 1.0) * min(room, width / 2.0, 0.999 * edge))
        if clip <= 0.0:
            end, clip = "square", 0.0
    grip = width * float(rng.uniform(1.0, 4.0))
    pin = hole / float(rng.uniform(1.0001, 2.0))
    return (
        EarOutline(width, hole, edge, grip, end, clip),
        pin,
        int(rng.choice([16, 24, 48, 96])),
    )


@pytest.mark.sampled
def test_no_allowed_ear_has_an_inverted_element(
    draws: Callable[[int], int], tally: Callable[[str], None]
) -> None:
    rng = np.random.default_rng(20)
    count, worst = draws(300), np.inf
    for _ in range(count):
        outline, pin, sides = random_outline(rng)
        mesh = ear_half(outline, sides, pin)
        j = jacobians(mesh)
        assert j.min() > 0.0, outline
        worst = min(worst, float((j.min(axis=1) / j.max(axis=1)).min()))
        assert 2.0 * area(mesh, "ear") == pytest.approx(closed_form_area(outline), rel=2e-3)
    assert worst > 0.05
    tally(f"{count} of {count} ears meshed without an inverted element, worst ratio {worst:.2f}")


@pytest.mark.parametrize("end", ["round", "square", "clipped"])
@pytest.mark.parametrize("metal", [0.1, 0.15])
def test_the_thinnest_ligaments_are_meshed_soundly(end, metal):
    hole = 4.0
    clip = 0.1 if end == "clipped" else 0.0
    o = EarOutline(
        hole * (1 + 2 * metal), hole, hole * (0.5 + metal), hole * (1 + 2 * metal), end, clip
    )
    for sides in (16, 48):
        mesh = ear_half(o, sides, 0.98 * hole)
        assert jacobians(mesh).min() > 0.0
        assert 2.0 * area(mesh, "ear") == pytest.approx(closed_form_area(o), rel=2e-3)


@pytest.mark.parametrize(("end", "clip"), [("round", 0.0), ("clipped", 15.0)])
def test_an_end_that_reaches_past_the_grip_is_refused(end, clip):
    with pytest.raises(SolveStopped, match="past its 4 mm"):
        ear_half(EarOutline(40.0, 4.0, 2.4, 4.0, end, clip), 24, 3.9)


@pytest.mark.parametrize("axes", [(2.0, 2.0), (1.0, 2.0), (3.0, 1.0)])
def test_quarter_plate_has_its_area_and_its_elliptic_hole(axes):
    mesh = quarter_plate(10.0, 15.0, axes, 48)
    exact = 150.0 - math.pi * axes[0] * axes[1] / 4.0
    assert area(mesh, "plate") == pytest.approx(exact, rel=1e-4)
    at = mesh.points[mesh.nodes_of("hole")]
    np.testing.assert_allclose(((at / axes) ** 2).sum(axis=1), 1.0, rtol=1e-5)
    named = {frozenset(map(int, e[:2])) for edges in mesh.edges.values() for e in edges}
    assert named == boundary_sides(mesh)


def test_strip_fills_its_rectangle_and_names_its_sides():
    mesh = strip(np.array([0.0, 1.0, 3.0, 4.0]), np.array([-1.0, 0.0, 2.0]))
    assert area(mesh, "strip") == pytest.approx(12.0)
    assert jacobians(mesh).min() > 0.0
    for name, axis, value in (("left", 0, 0), ("right", 0, 4), ("bottom", 1, -1), ("top", 1, 2)):
        np.testing.assert_allclose(mesh.points[mesh.nodes_of(name), axis], value)
    named = {frozenset(map(int, e[:2])) for edges in mesh.edges.values() for e in edges}
    assert named == boundary_sides(mesh)


@pytest.mark.parametrize(
    "way", ["mesh()", "t = threading.Thread(target=mesh); t.start(); t.join()"]
)
def test_a_program_that_meshes_keeps_its_own_handlers(way: str) -> None:
    code = (
        "import os, signal, threading; from fejoint.meshing.gmsh_mesher import quarter_plate\n"
        "signal.signal(signal.SIGTERM, lambda *_: print('my own way'))\n"
        "def mesh(): quarter_plate(2.0, 4.0, (1.0, 1.0), 8)\n"
        f"{way}\n"
        "os.kill(os.getpid(), signal.SIGTERM)\n"
        "there, here = os.pipe(); os.close(there)\n"
        "try: os.write(here, b'a word to nobody')\n"
        "except BrokenPipeError: print('and I am told')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=60
    )
    assert (done.returncode, done.stdout) == (0, "my own way\nand I am told\n")


def test_an_inverted_element_is_told_with_its_place():
    mesh = strip(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0]))
    assert gmsh_mesher._checked(mesh) is mesh
    triangles = mesh.triangles.copy()
    triangles[2] = triangles[2][[0, 2, 1, 5, 4, 3]]
    x, y = mesh.points[triangles[2, :3]].mean(axis=0)
    with pytest.raises(SolveStopped, match=f"near x {x:.3g}, y {y:.3g} mm; ask for a finer mesh"):
        gmsh_mesher._checked(replace(mesh, triangles=triangles))


def test_a_program_that_has_gmsh_open_keeps_it_and_its_models():
    code = (
        "import gmsh; from fejoint.meshing.gmsh_mesher import quarter_plate\n"
        "gmsh.initialize(interruptible=False); gmsh.option.setNumber('General.Terminal', 0)\n"
        "gmsh.model.add('mine')\n"
        "mesh = quarter_plate(2.0, 4.0, (1.0, 1.0), 8)\n"
        "print(gmsh.isInitialized(), 'fejoint' in gmsh.model.list(), 'mine' in gmsh.model.list())"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.stdout.split() == ["1", "False", "True"], done.stderr
