"""A solid ear at one moment: fields at its nodes, made whole by its mirror images."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel.bricks import CORNERS, NODES, BrickState
from fejoint.kernel.newton import EquilibriumPoint
from fejoint.sections.solid.problem import BODY, SolidProblem


@dataclass(frozen=True, eq=False)
class SolidFields:
    """Fields on a whole ear.

    Attributes
    ----------
    points, displacement : (n, 3) arrays
        Nodes at rest and their way, mm.
    bricks : (m, 20) array
    plastic_strain, von_mises : (n,) arrays
        Equivalent plastic strain, and Mises stress (Kirchhoff), MPa.
    """

    points: Floats
    displacement: Floats
    bricks: Ints
    plastic_strain: Floats
    von_mises: Floats


def at_nodes(bricks: Ints, values: Floats, n_nodes: int) -> Floats:
    """Average a field (8 n_elements,) over the elements at every node, each extrapolated."""
    places = NODES * np.sqrt(3.0)
    spread = np.prod(0.5 * (1.0 + places[:, None, :] * CORNERS), axis=2)  # (20, 8)
    at = (values.reshape(-1, 8) @ spread.T).reshape(-1)
    total = np.bincount(bricks.reshape(-1), at, n_nodes)
    return np.asarray(total / np.bincount(bricks.reshape(-1), minlength=n_nodes))


def fields(problem: SolidProblem, point: EquilibriumPoint) -> SolidFields:
    """Return the fields of a point of a pull, on the whole ear."""
    mesh, state = problem.mesh, point.states[BODY]
    assert isinstance(state, BrickState)
    n = len(mesh.points)
    found = SolidFields(
        mesh.points,
        point.z[: 3 * n].reshape(n, 3),
        mesh.bricks,
        np.maximum(at_nodes(mesh.bricks, state.equivalent, n), 0.0),
        np.maximum(at_nodes(mesh.bricks, state.mises, n), 0.0),
    )
    if problem.case.angle % 180.0 == 0.0:
        found = _mirrored(found, 1)
    return _mirrored(found, 2) if problem.case.held == "flat" else found


def _mirrored(half: SolidFields, axis: int) -> SolidFields:
    """Add the mirror image across an axis; nodes on the mirror appear twice."""
    sign = np.ones(3)
    sign[axis] = -1.0
    # the lower face goes on top where the image turns over, so that volumes stay positive
    order = [4, 5, 6, 7, 0, 1, 2, 3, 12, 13, 14, 15, 8, 9, 10, 11, 16, 17, 18, 19]
    n = len(half.points)
    return SolidFields(
        np.vstack([half.points, half.points * sign]),
        np.vstack([half.displacement, half.displacement * sign]),
        np.vstack([half.bricks, half.bricks[:, order] + n]),
        np.tile(half.plastic_strain, 2),
        np.tile(half.von_mises, 2),
    )
