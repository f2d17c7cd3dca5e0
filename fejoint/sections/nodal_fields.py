"""From integration points to nodes: smoothed fields for pictures, files and error estimates."""

from __future__ import annotations

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.elements import Solid

_PLACES = np.array([[0, 0], [1, 0], [0, 1], [0.5, 0], [0.5, 0.5], [0, 0.5]], float)


def at_nodes(solid: Solid, values: Floats, n_nodes: int) -> Floats:
    """Average a field over the elements at every node, each extrapolated linearly.

    Parameters
    ----------
    solid : Solid
        With three integration points an element.
    values : (n_points,) array
        The field at the integration points.
    n_nodes : int
        Nodes of the whole mesh.

    Returns
    -------
    (n_nodes,) array
        NaN at nodes the solid does not have.
    """
    nodes = solid.dofs[:, ::2] // 2
    shapes = solid.quadrature.values
    # barycentric coordinates of the integration points, from the quadratic shape functions
    corner = shapes[:3] + 0.5 * (shapes[3:6] + shapes[[5, 3, 4]])
    x, y = corner[1], corner[2]
    fit = np.linalg.inv(np.stack([np.ones(3), x, y], axis=1))
    to_nodes = np.column_stack([np.ones(6), _PLACES]) @ fit  # (6, 3)
    spread = values.reshape(len(nodes), -1) @ to_nodes.T
    weight = np.repeat(solid.volumes.sum(axis=1), 6)
    total = np.bincount(nodes.ravel(), weight * spread.ravel(), n_nodes)
    count = np.bincount(nodes.ravel(), weight, n_nodes)
    return np.where(count > 0.0, total / np.where(count > 0.0, count, 1.0), np.nan)


def energy_error(solid: Solid, stress: Floats, n_nodes: int) -> float:
    """Estimate the discretisation error of a body's energy, relative.

    Parameters
    ----------
    solid : Solid
    stress : (3, n_points) array
    n_nodes : int

    Returns
    -------
    float
        Energy of the difference between the stress and its smoothed field, over the energy.

    Notes
    -----
    Zienkiewicz and Zhu, "A simple error estimator and adaptive procedure for practical engineering
    analysis", Int. J. Numer. Meth. Engng 24 (1987) 337, squared; the load's error is of this order.
    """
    nodes = solid.dofs[:, ::2] // 2
    smooth = np.stack(
        [(at_nodes(solid, s, n_nodes)[nodes] @ solid.quadrature.values).ravel() for s in stress]
    )
    nu = solid.metal.poisson

    def energy(s: Floats) -> float:
        xx, yy, xy = s
        density = xx * xx + yy * yy - 2.0 * nu * xx * yy + 2.0 * (1.0 + nu) * xy * xy
        return float(density @ solid.volumes.ravel())

    total = energy(stress)
    return energy(stress - smooth) / total if total > 0.0 else 0.0
