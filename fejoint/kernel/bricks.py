"""Bodies of 20-node hexahedra: internal forces and tangent blocks of a metal part in the round.

Nodes of an element: corners of the lower face, corners of the upper face, then the middles of the
lower edges, of the upper edges and of the upright ones (the order of VTK's quadratic hexahedron).
Eight integration points: with twenty nodes these neither lock in bending nor when plastic flow
keeps the volume.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel import compiled
from fejoint.kernel.assembly import Response
from fejoint.kernel.hardening import Table
from fejoint.kernel.plasticity import Metal

CORNERS = np.array(
    [
        [-1, -1, -1], [1, -1, -1], [1, 1, -1], [-1, 1, -1],
        [-1, -1, 1], [1, -1, 1], [1, 1, 1], [-1, 1, 1],
    ],
    float,
)  # fmt: skip
"""Corners of the reference cube, (8, 3)."""
_EDGES = [
    (0, 1), (1, 2), (2, 3), (3, 0), (4, 5), (5, 6), (6, 7), (7, 4), (0, 4), (1, 5), (2, 6), (3, 7),
]  # fmt: skip
NODES = np.vstack([CORNERS, [0.5 * (CORNERS[a] + CORNERS[b]) for a, b in _EDGES]])
"""All nodes of the reference cube, (20, 3)."""


def shapes(at: Floats) -> tuple[Floats, Floats]:
    """Return shape functions (n, 20) and their gradients (n, 20, 3) at points (n, 3) of the cube.

    Serendipity functions: (1 + x x_a)(1 + y y_a)(1 + z z_a)(x x_a + y y_a + z z_a - 2)/8 at a
    corner, (1 - x^2)(1 + y y_a)(1 + z z_a)/4 in the middle of an edge along x.
    """
    at = np.asarray(at, float)
    along = 1.0 + at[:, None, :] * NODES  # (n, 20, 3)
    slope = np.broadcast_to(NODES, along.shape).copy()
    factor, by = along.copy(), slope.copy()
    middle = NODES == 0.0
    bubble = np.broadcast_to(1.0 - at[:, None, :] ** 2, along.shape)
    falls = np.broadcast_to(-2.0 * at[:, None, :], along.shape)
    factor = np.where(middle, bubble, factor)
    by = np.where(middle, falls, by)
    scale = np.where(middle.any(axis=1), 0.25, 0.125)
    rest = np.where(middle.any(axis=1), 1.0, along.sum(axis=2) - 5.0)
    values = scale * factor.prod(axis=2) * rest
    gradients = np.empty(along.shape)
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        others = factor[..., j] * factor[..., k]
        more = np.where(middle.any(axis=1), 0.0, NODES[:, i])
        gradients[..., i] = scale * others * (by[..., i] * rest + factor[..., i] * more)
    return values, gradients


KEPT = 33
"""Numbers that the tangent needs of a point: directions (9), dt/de (6), secant shear (3), principal
stresses (3), inverse deformation gradient (9), principal values of Cauchy-Green (3)."""
GAUSS = CORNERS / np.sqrt(3.0)
"""Integration points of the reference cube, (8, 3); all weigh 1."""


@dataclass(frozen=True, eq=False)
class BrickState:
    """History of the integration points; tensors are in the order xx, yy, zz, xy, yz, zx.

    Attributes
    ----------
    metric : (n, 6) array
        Inverse plastic metric.
    equivalent : (n,) array
        Accumulated equivalent plastic strain.
    stress : (n, 6) array
        Kirchhoff stress, MPa.
    """

    metric: Floats
    equivalent: Floats
    stress: Floats

    @classmethod
    def virgin(cls, n: int) -> BrickState:
        """Return the state of `n` points that have never yielded."""
        return cls(np.tile([1.0, 1.0, 1.0, 0.0, 0.0, 0.0], (n, 1)), np.zeros(n), np.zeros((n, 6)))

    @property
    def mises(self) -> Floats:
        """Equivalent stress of Mises, (n,), MPa."""
        xx, yy, zz, xy, yz, zx = self.stress.T
        straight = (xx - yy) ** 2 + (yy - zz) ** 2 + (zz - xx) ** 2
        return np.asarray(np.sqrt(0.5 * straight + 3.0 * (xy * xy + yz * yz + zx * zx)))

    @property
    def triaxiality(self) -> Floats:
        """Mean stress over equivalent stress, (n,); 0 where there is no stress."""
        mises = self.mises
        mean = self.stress[:, :3].mean(axis=1)
        return np.where(mises > 0.0, mean / np.where(mises > 0.0, mises, 1.0), 0.0)


@dataclass(frozen=True, eq=False)
class BrickBody:
    """A metal body of 20-node hexahedra in logarithmic strain; its passes are compiled.

    Attributes
    ----------
    metal : Metal
    nodes : (n_elements, 20) array
        Nodes of each element; unknowns are 3 node, 3 node + 1, 3 node + 2.
    points : (n_nodes, 3) array
        Positions of the nodes at rest, mm.
    """

    metal: Metal
    nodes: Ints
    points: Floats
    symmetric: bool = True

    @cached_property
    def dofs(self) -> Ints:
        """Unknowns of each element, (n_elements, 60): node by node, x, y, z."""
        return np.ascontiguousarray(
            (3 * self.nodes[:, :, None] + np.arange(3)).reshape(len(self.nodes), 60), np.int64
        )

    @cached_property
    def _mapped(self) -> tuple[Floats, Floats]:
        by_cube = shapes(GAUSS)[1]  # (8, 20, 3)
        x = self.points[self.nodes]  # (e, 20, 3)
        jacobian = np.einsum("qar,eai->eqir", by_cube, x)
        det = np.linalg.det(jacobian)
        if not np.all(det > 0.0):
            message = "a hexahedron is turned inside out"
            raise ValueError(message)
        gradients = np.einsum("qar,eqri->eqai", by_cube, np.linalg.inv(jacobian))
        return np.ascontiguousarray(gradients), np.ascontiguousarray(det)

    @property
    def gradients(self) -> Floats:
        """Shape gradients by the reference position, (n_elements, 8, 20, 3), 1/mm."""
        return self._mapped[0]

    @property
    def volumes(self) -> Floats:
        """Reference volume of every integration point, (n_elements, 8), mm3."""
        return self._mapped[1]

    @cached_property
    def places(self) -> Floats:
        """Reference positions of the integration points, (n_points, 3), mm."""
        where = np.einsum("qa,eai->eqi", shapes(GAUSS)[0], self.points[self.nodes])
        return np.asarray(where.reshape(-1, 3))

    @property
    def n_points(self) -> int:
        """Number of integration points."""
        return 8 * len(self.nodes)

    def blocks(self) -> list[tuple[Ints, Ints]]:
        """Rows and columns of the tangent's entries, in the order `evaluate` gives them."""
        shape = (len(self.nodes), 60, 60)
        rows = np.broadcast_to(self.dofs[:, :, None], shape)
        columns = np.broadcast_to(self.dofs[:, None, :], shape)
        return [(rows.reshape(-1), columns.reshape(-1))]

    def initial_state(self) -> BrickState:
        """Return the state before any load."""
        return BrickState.virgin(self.n_points)

    def evaluate(self, z: Floats, state: BrickState) -> Response:
        """Return internal forces, the new state, and the tangent's entries for when they are asked.

        The formulas stand in brick_pass.py.
        """
        evaluate, tangent = (compiled.load("brick_pass", n) for n in ("evaluate", "tangent"))
        n = self.n_points
        force, kept = np.empty((len(self.nodes), 60)), np.empty((n, KEPT))
        new = BrickState(np.empty((n, 6)), np.empty(n), np.empty((n, 6)))
        energy = evaluate(
            z,
            (self.dofs, self.gradients, self.volumes),
            self._law,
            (state.metric, state.equivalent),
            (force, kept, new.metric, new.equivalent, new.stress),
        )

        def entries() -> Floats:
            found = np.empty((len(self.nodes), 60, 60))
            tangent(self.gradients, self.volumes, kept, new.stress, found)
            return found.reshape(-1)

        return Response(self._flat_dofs, force.reshape(-1), entries, new, float(energy))

    @cached_property
    def _flat_dofs(self) -> Ints:
        return self.dofs.reshape(-1)

    @cached_property
    def _law(self) -> tuple[float, float, Table]:
        """The metal as plain numbers; an elastic one has an empty table."""
        metal, none = self.metal, np.empty(0)
        bulk = metal.modulus / (3.0 * (1.0 - 2.0 * metal.poisson))
        table = (none, none, none, 0.0) if metal.hardening is None else metal.hardening.data
        return bulk, metal.shear_modulus, table
