"""Bodies of 6-node triangles: internal forces and tangent blocks of a metal part."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from skfem import CellBasis, ElementTriP2, MeshTri2

from fejoint.arrays import Floats, Ints
from fejoint.kernel import compiled
from fejoint.kernel.assembly import Response
from fejoint.kernel.kinematics import MetalState, PointResponse, respond
from fejoint.kernel.plasticity import Metal

QUADRATURE_ORDER = 2


@dataclass(frozen=True, eq=False)
class Quadrature:
    """Shape functions of 6-node triangles at their integration points.

    Attributes
    ----------
    values : (6, n_quadrature) array
        Shape functions.
    gradients : (n_elements, n_quadrature, 6, 2) array
        Their gradients by the reference coordinates, 1/mm.
    areas : (n_elements, n_quadrature) array
        Integration weights times the Jacobian, mm2.
    points : (n_elements, n_quadrature, 2) array
        Reference coordinates of the integration points, mm.
    """

    values: Floats
    gradients: Floats
    areas: Floats
    points: Floats

    @classmethod
    def of(cls, points: Floats, triangles: Ints) -> Quadrature:
        """Evaluate on nodes `points` (n, 2) and connectivity `triangles` (n_elements, 6)."""
        basis = CellBasis(
            MeshTri2(points.T, triangles.T), ElementTriP2(), intorder=QUADRATURE_ORDER
        )
        gradients = np.stack([basis.basis[a][0].grad for a in range(6)])  # (6, 2, e, q)
        values = np.stack([np.asarray(basis.basis[a][0])[0] for a in range(6)])
        where = np.einsum("aq,eai->eqi", values, points[triangles])
        return cls(values, np.ascontiguousarray(gradients.transpose(2, 3, 0, 1)), basis.dx, where)


@dataclass(frozen=True, eq=False)
class Solid:
    """A metal body in plane stress (or plane strain, if its metal says so).

    Attributes
    ----------
    metal : Metal
    dofs : (n_elements, 12) array
        Unknowns of each element: node by node, x then y.
    quadrature : Quadrature
    thickness : float or (n_elements, n_quadrature) array
        Out-of-plane thickness, mm.
    large_strain : bool
    """

    metal: Metal
    dofs: Ints
    quadrature: Quadrature
    thickness: float | Floats = 1.0
    large_strain: bool = True
    symmetric: bool = True

    @cached_property
    def volumes(self) -> Floats:
        """Reference volume of every integration point, (n_elements, n_quadrature), mm3."""
        return self.quadrature.areas * self.thickness

    @property
    def n_points(self) -> int:
        """Number of integration points."""
        return int(self.quadrature.areas.size)

    def blocks(self) -> list[tuple[Ints, Ints]]:
        """Rows and columns of the tangent's entries, in the order `evaluate` gives them."""
        m = len(self.dofs)
        shape = (m, 6, 2, 2, 6)  # node, component, component, node
        node_dofs = self.dofs.reshape(m, 6, 2)
        rows = np.broadcast_to(node_dofs[:, :, :, None, None], shape)
        columns = np.broadcast_to(node_dofs.transpose(0, 2, 1)[:, None, None, :, :], shape)
        return [(rows.reshape(-1), columns.reshape(-1))]

    def initial_state(self) -> MetalState:
        """Return the state before any load."""
        return MetalState.virgin(self.n_points)

    def gradient(self, z: Floats) -> Floats:
        """Displacement gradient at the integration points, (4, n_points): xx, xy, yx, yy."""
        m, q = self.quadrature.areas.shape
        moves = z[self.dofs].reshape(m, 6, 2).transpose(0, 2, 1)
        by_point = moves @ self._stacked  # (m, 2, 2 q)
        return np.ascontiguousarray(by_point.reshape(m, 2, 2, q).transpose(1, 2, 0, 3)).reshape(
            4, m * q
        )

    @cached_property
    def _stacked(self) -> Floats:
        """Gradients as (n_elements, 6, 2 n_quadrature) matrices, direction by direction."""
        m, q = self.quadrature.areas.shape
        return np.ascontiguousarray(
            self.quadrature.gradients.transpose(0, 2, 3, 1).reshape(m, 6, 2 * q)
        )

    def point_response(self, z: Floats, state: MetalState) -> PointResponse:
        """Return stress and strain answers at the integration points."""
        return respond(self.metal, self.gradient(z), state, self.large_strain)

    def evaluate(self, z: Floats, state: MetalState) -> Response:
        """Return internal forces, the new state, and the tangent's entries for when they are asked.

        The virtual work is the integral of stress times the spatial gradient of the virtual
        displacement over the reference volume.
        """
        m, n = len(self.dofs), self.n_points
        force, stiffness = np.empty((m, 12)), np.empty((n, 13))
        across = np.empty(n)
        new = MetalState(
            np.empty((3, n)),
            np.empty(n),
            np.empty((3, n)),
            across if self.metal.plane_strain else None,
        )
        energy = compiled.load("metal_pass", "evaluate")(
            z,
            self._body,
            self.metal.data,
            (state.inverse_plastic_metric, state.equivalent),
            (force, stiffness, new.inverse_plastic_metric, new.equivalent, new.stress, across),
        )

        def entries() -> Floats:
            found = np.empty((m, 6, 24))
            compiled.load("metal_pass", "tangent")(self._body[1], stiffness, found)
            return found.reshape(-1)

        return Response(self._flat_dofs, force.reshape(-1), entries, new, float(energy))

    @cached_property
    def _flat_dofs(self) -> Ints:
        return np.ascontiguousarray(self.dofs).reshape(-1)

    @cached_property
    def _body(self) -> tuple[Ints, Floats, Floats, bool]:
        """What the pass reads of the body, in the memory order it wants."""
        return (
            np.ascontiguousarray(self.dofs, np.int64),
            np.ascontiguousarray(self.quadrature.gradients),
            np.ascontiguousarray(self.volumes),
            bool(self.large_strain),
        )
