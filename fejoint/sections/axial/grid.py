"""The pin's grid along its axis, the weights of its mean displacements, and its symmetry."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel.assembly import Mirror
from fejoint.kernel.elements import Solid
from fejoint.meshing.mesh import Mesh

if TYPE_CHECKING:
    from fejoint.kernel.leaning import Axis
    from fejoint.sections.axial.case import AxialCase, AxialSettings


def mirror(
    case: AxialCase, cuts: Floats, mesh: Mesh, n_dofs: int, axis: Axis | None = None
) -> Mirror | None:
    """Return the symmetry about the shank's middle, or None where there is none.

    A pin that bends off to one side would be missed: nothing pushes it there.
    """
    first, *_, last = case.plates
    alike = (
        len(case.plates) == 3
        and case.shank == 1
        and (first.thickness, first.law, first.spring) == (last.thickness, last.law, last.spring)
    )
    gaps = np.diff(case.faces.reshape(-1))[1::2]
    even = alike and case.ends != "held" and np.isclose(gaps[0], gaps[1], rtol=1e-9, atol=1e-12)
    if not even or not np.allclose(cuts, cuts[-1] - cuts[::-1], rtol=0.0, atol=1e-9 * cuts[-1]):
        return None
    n_nodes, columns = len(mesh.points), 2 * (len(cuts) - 1) + 1
    node = np.arange(n_nodes).reshape(columns, -1)
    lead = np.where(np.arange(columns)[:, None] <= columns // 2, node, node[::-1]).reshape(-1)
    image, sign = np.arange(n_dofs), np.ones(n_dofs)
    for i in range(2):
        image[i : 2 * n_nodes : 2] = 2 * lead + i
    own = lead == np.arange(n_nodes)
    middle = node[columns // 2]
    sign[0 : 2 * n_nodes : 2] = np.where(own, 1.0, -1.0)
    sign[2 * middle] = -1.0
    image[2 * n_nodes + 2] = 2 * n_nodes
    if axis is not None:
        image[axis.dofs] = np.minimum(axis.dofs, axis.dofs[::-1])
    return Mirror(image, sign)


def cuts_of(case: AxialCase, settings: AxialSettings) -> Floats:
    """Grid lines along the pin: short columns at the plates' faces, where the shear is."""
    marks = np.unique(np.concatenate([[0.0], case.faces.ravel()]))
    fine = case.diameter / (16.0 * settings.slices)
    coarse = case.diameter / (5.0 * settings.slices)
    cuts = [marks[0]]
    for begin, end in itertools.pairwise(marks):
        if end - begin < 1e-9 * case.diameter:
            continue
        half = [0.0]
        step = min(fine, 0.5 * (end - begin))
        while half[-1] + step < 0.5 * (end - begin):
            half.append(half[-1] + step)
            step = min(1.35 * step, coarse)
        left = np.array(half) if len(half) > 1 else np.zeros(1)
        # stretched so that the two graded halves meet in the middle
        left = left * (0.5 * (end - begin) / (left[-1] + step)) if left[-1] > 0 else left
        both = np.concatenate([begin + left, [0.5 * (begin + end)], (end - left)[::-1]])
        cuts.extend(both[1:])
    return np.unique(np.round(np.array(cuts), 12))


def column_means(mesh: Mesh, pin: Solid, cuts: Floats) -> tuple[Ints, Floats]:
    """Unknowns and weights of the mean lateral displacement of every column of elements.

    Returns
    -------
    dofs, weights : (n_columns, k) arrays
        k is the number of nodes of a column.
    """
    column = np.searchsorted(cuts, pin.quadrature.points[:, 0, 0]) - 1
    nodes = pin.dofs[:, ::2] // 2
    share = np.einsum("aq,eq->ea", pin.quadrature.values, pin.volumes)
    dofs, weights = [], []
    for k in range(len(cuts) - 1):
        own = column == k
        where, number = np.unique(nodes[own], return_inverse=True)
        w = np.bincount(number.ravel(), share[own].ravel())
        dofs.append(2 * where + 1)
        weights.append(w / w.sum())
    return np.array(dofs), np.array(weights)


def mean_along(mesh: Mesh, pin: Solid, n_dofs: int) -> Floats:
    """Weights of the pin's mean displacement along its axis."""
    weights = np.zeros(n_dofs)
    share = np.einsum("aq,eq->ea", pin.quadrature.values, pin.volumes)
    np.add.at(weights, pin.dofs[:, ::2], share / share.sum())
    weights[np.abs(weights) < 1e-12] = 0.0
    return weights
