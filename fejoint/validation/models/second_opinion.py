"""The same meshes given to FElupe, a general-purpose finite-element library of other authors.

FElupe assembles the stiffness of the plate and of the pin; the pin's contact is then solved node on
node as a quadratic programme by an active set: no penalty, no closest-point search, nothing of this
project's kernel. One entry in the gradient of the library's six-node triangle is wrong (version
11.3 has t2 for t3 in the last row; it makes a stress concentration 4 % low), so that the gradient
is written anew here.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.sparse import bmat, csc_array
from scipy.sparse.linalg import splu

from fejoint.arrays import Floats, Ints
from fejoint.kernel.continuation import StepControl
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.gmsh_mesher import EarOutline
from fejoint.meshing.mesh import Mesh
from fejoint.reference_models.open_hole import open_hole
from fejoint.reference_models.stress_recovery import Rim, edge_strains
from fejoint.reference_models.tractions import traction_vector
from fejoint.sections.face.pull import FaceCase, FaceSettings, build, pull
from fejoint.validation.models.contact import STIFFER, read_arc
from fejoint.validation.models.runs import LibraryMissing
from fejoint.validation.reference_case import ReferenceCase

SIDES = 96


def _library() -> Any:
    try:
        import felupe
    except ImportError as gone:
        message = "the second opinion needs the library FElupe: pip install felupe"
        raise LibraryMissing(message) from gone
    return felupe


class _Theirs:
    """Stiffness (symmetric, 2 n x 2 n) and area weights of a mesh, by the library."""

    def __init__(self, points: Floats, triangles: Ints, modulus: float, poisson: float) -> None:
        fem = _library()
        mesh = fem.Mesh(points, triangles, "triangle6")
        region = fem.Region(mesh, _mended(fem), fem.TriangleQuadrature(order=2))
        field = fem.FieldContainer([fem.Field(region, dim=2)])
        law = fem.LinearElasticPlaneStress(E=modulus, nu=poisson)
        solid = fem.SolidBody(law, field)
        self.stiffness = csc_array(solid.assemble.matrix())
        weights = np.asarray(region.h)[:, :, 0] @ np.asarray(region.dV)
        self.areas = np.bincount(triangles.T.ravel(), weights.ravel(), len(points))


def _mended(fem: Any) -> Any:
    """Return the library's six-node triangle with the right gradient."""
    element = fem.QuadraticTriangle()

    def gradient(rs: Floats) -> Floats:
        r, s = rs
        t = 1.0 - r - s
        return np.array(
            [
                [1.0 - 4.0 * t, 1.0 - 4.0 * t],
                [4.0 * r - 1.0, 0.0 * r],
                [0.0 * s, 4.0 * s - 1.0],
                [4.0 * (t - r), -4.0 * r],
                [4.0 * s, 4.0 * r],
                [-4.0 * s, 4.0 * (t - s)],
            ]
        )

    element.gradient = gradient
    return element


def open_hole_again(case: ReferenceCase) -> dict[str, float]:
    """Pull a strip with a hole in both codes."""
    g = case.given
    ours = open_hole(
        g["hole"], g["width"], g["length"], modulus=g["modulus"], poisson=g["poisson"],
        remote=tuple(g["remote"]), sides=SIDES,
    )  # fmt: skip
    mesh = ours.mesh
    theirs = _Theirs(mesh.points, mesh.triangles, g["modulus"], g["poisson"])
    pull_ = traction_vector(mesh.points, mesh.edges["right"], 1.0, np.array([1.0, 0.0]))
    fixed = np.concatenate([2 * mesh.nodes_of("x axis") + 1, 2 * mesh.nodes_of("y axis")])
    z = _solve(theirs.stiffness, pull_, fixed)
    where, strain = edge_strains(mesh.points, mesh.edges["hole"], z)
    rim = Rim.of(np.arctan2(where[:, 1], where[:, 0]), g["modulus"] * strain, 1)
    end = mesh.nodes_of("right")
    return {
        "peak stress, ours over theirs": ours.peak / rim.extremes()[1],
        "stretch, ours over theirs": float(
            (ours.points[-1].z[2 * end] / ours.factors[-1]).mean() / z[2 * end].mean()
        ),
    }


def _solve(stiffness: csc_array, load: Floats, fixed: Ints) -> Floats:
    free = np.setdiff1d(np.arange(len(load)), fixed)
    z = np.zeros(len(load))
    z[free] = splu(csc_array(stiffness[free][:, free])).solve(load[free])
    return z


def pin_contact_again(case: ReferenceCase) -> dict[str, float]:
    """Pull an ear on a neat elastic pin in both codes."""
    g = case.given
    metal = Metal(g["modulus"], g["poisson"])
    outline = EarOutline(g["width"], g["hole"], g["edge_distance"], g["grip_length"])
    face = FaceCase(outline, 1.0, metal, g["pin"], metal, large_strain=False)
    settings = FaceSettings(sides=SIDES, stop_at_maximum=False)
    problem = build(face, settings)
    # the library's contact gives no way: the everyday stiffness adds 1.3 % to an elastic travel
    problem = problem.with_stiffer_contact(STIFFER)
    history = pull(problem, settings, legs=[StepControl("load", g["load"])])
    ours = read_arc(problem, history.path.points[-1])
    peak, travel = _pressed(problem.mesh, g["load"] / problem.share, g["modulus"], g["poisson"])
    return {
        "peak pressure, ours over theirs": ours.peak / peak,
        "pin travel, ours over theirs": float(history.travel[-1]) / travel,
    }


def _pressed(mesh: Mesh, load: float, modulus: float, poisson: float) -> tuple[float, float]:
    """Return peak pressure and mean pin travel of a half model, contact node on node."""
    whole = _Theirs(mesh.points, mesh.triangles, modulus, poisson)
    pin = _Theirs(mesh.points, mesh.triangles[mesh.regions["pin"]], modulus, poisson)
    share = pin.areas / pin.areas.sum()
    force = np.zeros(2 * len(mesh.points))
    force[0::2] = load * share
    grip, on_axis = mesh.nodes_of("grip"), mesh.nodes_of("neck", "tip", "pin axis")
    fixed = np.concatenate([2 * grip, 2 * grip + 1, 2 * on_axis + 1])
    free = np.setdiff1d(np.arange(len(force)), fixed)
    hole, partner = _pairs(mesh)
    normal = mesh.points[hole] / np.linalg.norm(mesh.points[hole], axis=1, keepdims=True)
    gaps = np.zeros((len(hole), len(force)))
    row = np.arange(len(hole))
    for i in range(2):
        gaps[row, 2 * hole + i] = normal[:, i]
        gaps[row, 2 * partner + i] = -normal[:, i]
    active = normal[:, 0] > 0.0
    for _ in range(50):
        rows = csc_array(gaps[active][:, free])
        blocks: Any = [[whole.stiffness[free][:, free], -rows.T], [rows, None]]
        system = csc_array(bmat(blocks))
        right = np.concatenate([force[free], np.zeros(int(active.sum()))])
        answer = splu(system).solve(right)
        z, pushes = np.zeros(len(force)), np.zeros(len(hole))
        z[free] = answer[: len(free)]
        pushes[active] = answer[len(free) :]
        new = np.where(active, pushes > 0.0, gaps @ z < 0.0)
        if np.array_equal(new, active):
            break
        active = new  # pragma: no cover - of a neat pin the first guess holds
    nodal = traction_vector(mesh.points, mesh.edges["hole"], 1.0, np.array([1.0, 0.0]))
    pressure = pushes / nodal[2 * hole]
    angle = np.abs(np.arctan2(normal[:, 1], normal[:, 0]))
    near = angle < 0.4
    peak = np.polyfit(angle[near] ** 2, pressure[near], 1)[1]
    return float(peak), float(share @ z[0::2])


def _pairs(mesh: Mesh) -> tuple[Ints, Ints]:
    """Nodes of the hole and the pin's nodes at the same places (a neat fit before any load)."""
    from scipy.spatial import cKDTree

    hole, pin = mesh.nodes_of("hole"), mesh.nodes_of("pin")
    far, near = cKDTree(mesh.points[pin]).query(mesh.points[hole])
    assert float(np.max(far)) < 1e-6 * float(np.ptp(mesh.points[hole, 0]))
    return hole, pin[near]
