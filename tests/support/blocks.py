"""Blocks of 20-node hexahedra for tests: a mapped lattice, its faces, and a pull on one of them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel.assembly import System
from fejoint.kernel.bricks import BrickBody
from fejoint.kernel.continuation import trace_path
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.newton import StepControl, StepSettings
from fejoint.kernel.plasticity import Metal
from fejoint.sections.solid.grid import BrickMesh, QuadMesh, swept


def lattice(counts: tuple[int, int], move: Callable[[Floats], Floats] = lambda p: p) -> QuadMesh:
    """The unit square in cells, each node moved by a mapping of (n, 2) to (n, 2)."""
    m, n = (2 * c + 1 for c in counts)
    x, y = np.meshgrid(np.linspace(0, 1, m), np.linspace(0, 1, n), indexing="ij")
    points = np.column_stack([x.reshape(-1), y.reshape(-1)])
    number = np.arange(m * n).reshape(m, n)
    a, b = np.arange(0, m - 1, 2)[:, None], np.arange(0, n - 1, 2)[None, :]
    cell = [(0, 0), (2, 0), (2, 2), (0, 2), (1, 0), (2, 1), (1, 2), (0, 1)]
    quads = np.stack([number[a + i, b + j] for i, j in cell], axis=2).reshape(-1, 8)
    used, numbered = np.unique(quads, return_inverse=True)
    quads = numbered.reshape(-1, 8)
    sides = [quads[:, [3, 0, 7]][: counts[1]]]
    return QuadMesh(move(points[used]), quads, np.vstack(sides))


def block(
    counts: tuple[int, int, int],
    size: tuple[float, float, float] = (1.0, 1.0, 1.0),
    move: Callable[[Floats], Floats] | None = None,
) -> BrickMesh:
    """A box of a size in counts of elements; its `hole` faces are those at x = 0."""
    mesh = swept(
        lattice(counts[:2], move or (lambda p: p * size[:2])),
        np.linspace(0.0, size[2], counts[2] + 1),
    )
    return mesh


def at(mesh: BrickMesh, axis: int, place: float) -> Ints:
    """Nodes in a plane across an axis."""
    return np.flatnonzero(np.abs(mesh.points[:, axis] - place) < 1e-9)


def face_mean(mesh: BrickMesh, faces: Ints, axis: int, n_dofs: int) -> Floats:
    """Weights of the mean displacement of faces along an axis, as a uniform traction gives it."""
    from fejoint.kernel.rigid_contact import RigidContact, RigidShape

    none = np.zeros(3, np.intp)
    term = RigidContact(mesh.points, faces, RigidShape("wall"), np.zeros(3), none, 1.0)
    weights = np.zeros(n_dofs)
    nodal = np.einsum("fg,ga->fa", term.weights, term._shapes)
    np.add.at(weights, 3 * faces + axis, nodal)
    return weights / term.weights.sum()


def body(mesh: BrickMesh, metal: Metal) -> BrickBody:
    return BrickBody(metal, mesh.bricks, mesh.points)


def pulled(system: System, travel: float, steps: int = 8, tolerance: float = 1e-9):
    """Trace a system to a travel in even steps."""
    length = abs(travel) / steps
    settings = StepSettings(length, length, 1e-6 * length, tolerance, force_scale=1e-6)
    return trace_path(
        system, LinearSolver(system.symmetric), [StepControl("travel", travel)], settings
    )
