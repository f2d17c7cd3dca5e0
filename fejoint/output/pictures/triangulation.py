"""Quadratic triangles made ready to draw: cut fine, so that curved sides look curved."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from fejoint.arrays import Floats, Ints

CUTS = 4
"""Straight pieces a curved side is drawn with."""


@dataclass(frozen=True, eq=False)
class Patchwork:
    """Straight triangles that stand for quadratic ones.

    Attributes
    ----------
    corners : (m, 3) array
        Numbers of fine points.
    nodes : (k, 6) array
        For every fine point, the nodes it is made of.
    weights : (k, 6) array
        And their shares.
    """

    corners: Ints
    nodes: Ints
    weights: Floats

    @classmethod
    def of(cls, points: Floats, triangles: Ints, cuts: int = CUTS) -> Patchwork:
        """Cut one body's quadratic triangles (m, 6) into `cuts`**2 straight ones each."""
        weights, small = _template(cuts)
        m, p = len(triangles), len(weights)
        corners = (np.arange(m) * p)[:, None, None] + small
        # fine points on a shared side become one point, so that lines of equal value run on
        place = np.einsum("pa,mai->mpi", weights, points[triangles]).reshape(-1, 2)
        grain = 1e-8 * float(np.ptp(place))
        _, first, number = np.unique(
            np.round(place / grain), axis=0, return_index=True, return_inverse=True
        )
        element, local = np.divmod(first, p)
        return cls(number.reshape(-1)[corners].reshape(-1, 3), triangles[element], weights[local])

    def __call__(self, values: Floats) -> Floats:
        """Return nodal values (n,) or (n, 2) at the fine points."""
        picked = values[self.nodes]
        if values.ndim == 1:
            return np.asarray((picked * self.weights).sum(axis=1))
        return np.asarray((picked * self.weights[:, :, None]).sum(axis=1))


@cache
def _template(cuts: int) -> tuple[Floats, Ints]:
    """Shape functions (p, 6) at the fine points of one triangle, and its small triangles."""
    place: dict[tuple[int, int], int] = {}
    for j in range(cuts + 1):
        for i in range(cuts + 1 - j):
            place[i, j] = len(place)
    x, y = np.array(list(place), float).T / cuts
    z = 1.0 - x - y
    weights = np.stack(
        [z * (2 * z - 1), x * (2 * x - 1), y * (2 * y - 1), 4 * z * x, 4 * x * y, 4 * y * z], axis=1
    )
    small = []
    for i, j in place:
        if i + j < cuts:
            small.append((place[i, j], place[i + 1, j], place[i, j + 1]))
        if i + j < cuts - 1:
            small.append((place[i + 1, j], place[i + 1, j + 1], place[i, j + 1]))
    return weights, np.array(small)


def rings(triangles: Ints) -> list[Ints]:
    """Return the closed boundaries of a body of quadratic triangles.

    Parameters
    ----------
    triangles : (m, 6) array

    Returns
    -------
    list of (2 k,) arrays
        Corner and middle nodes in turn, longest ring first; the body lies to the left.
    """
    sides = np.concatenate([triangles[:, s] for s in ([0, 3, 1], [1, 4, 2], [2, 5, 0])])
    _, inverse, count = np.unique(sides[:, 1], return_inverse=True, return_counts=True)
    edge = sides[count[inverse] == 1]
    after = {int(a): (int(m), int(b)) for a, m, b in edge}
    found = []
    while after:
        start = next(iter(after))
        ring, node = [], start
        while node in after:
            middle, end = after.pop(node)
            ring += [node, middle]
            node = end
        found.append(np.array(ring))
    return sorted(found, key=len, reverse=True)


def outline(ring: Ints, positions: Floats, cuts: int = CUTS) -> Floats:
    """Return nodal values, such as positions, along a closed boundary, (k, n_components)."""
    start, middle = positions[ring[0::2]], positions[ring[1::2]]
    end = np.roll(start, -1, axis=0)
    s = (np.arange(cuts) / cuts)[None, :, None]
    a, b, c = (p[:, None, :] for p in (start, middle, end))
    curve = a * (1 - s) * (1 - 2 * s) + b * 4 * s * (1 - s) + c * s * (2 * s - 1)
    closed = curve.reshape(-1, positions.shape[1])
    return np.vstack([closed, closed[:1]])
