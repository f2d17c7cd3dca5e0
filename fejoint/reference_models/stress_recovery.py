"""Stresses where an engineer asks for them: on a hole's edge, and anywhere between Gauss points.

On an edge with a known normal stress the strain along the edge is read off the displacements of the
edge's nodes, at the two Gauss points of every side, where the slope of a quadratic is one order
better than elsewhere. Anywhere else a quadratic is fitted to the stresses at the nearest
integration points.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fejoint.arrays import Floats, Ints

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

_BEST = 1.0 / np.sqrt(3.0)
"""Where the slope of a quadratic interpolation is best, in a side's own coordinate -1 to 1."""
NEIGHBOURS = 18
"""Integration points in a fit of six coefficients."""


def edge_strains(points: Floats, edges: Ints, z: Floats) -> tuple[Floats, Floats]:
    """Return the strain along quadratic sides, small displacements.

    Parameters
    ----------
    points : (n, 2) array
        Nodes, mm.
    edges : (k, 3) array
        Start, end and middle node of every side.
    z : (2 n or more,) array
        Displacements, mm.

    Returns
    -------
    where : (2 k, 2) array
        Positions, two a side, in order along the edge.
    strain : (2 k,) array
    """
    s = np.array([-_BEST, _BEST])
    shapes = np.stack([0.5 * s * (s - 1.0), 0.5 * s * (s + 1.0), 1.0 - s * s], axis=1)
    slopes = np.stack([s - 0.5, s + 0.5, -2.0 * s], axis=1)
    nodes = points[edges]
    moves = z[2 * edges[:, :, None] + np.arange(2)]
    along, moved = slopes @ nodes, slopes @ moves
    strain = (along * moved).sum(axis=-1) / (along * along).sum(axis=-1)
    return (shapes @ nodes).reshape(-1, 2), strain.reshape(-1)


@dataclass(frozen=True, eq=False)
class Rim:
    """A quantity round a whole hole: a periodic cubic through its best points.

    Attributes
    ----------
    curve : CubicSpline
        Of the eccentric angle, radians: the edge point is (a cos, b sin).
    """

    curve: CubicSpline

    @classmethod
    def of(cls, angles: Floats, values: Floats, symmetry: int | None = None) -> Rim:
        """Build from values at eccentric angles (radians).

        Parameters
        ----------
        angles, values : (k,) arrays
            Round the whole hole, or in its first quadrant.
        symmetry : {1, -1}, optional
            Given for a first quadrant: the values keep (1) or change (-1) their sign in a mirror
            on either axis.
        """
        from scipy.interpolate import CubicSpline

        if symmetry is not None:
            parts = [(angles, 1), (np.pi - angles, symmetry), (np.pi + angles, 1)]
            parts.append((-angles, symmetry))
            angles = np.concatenate([a for a, _ in parts])
            values = np.concatenate([sign * values for _, sign in parts])
        angles = np.mod(angles, 2.0 * np.pi)
        order = np.argsort(angles)
        angles, values = angles[order], values[order]
        closed = np.append(angles, angles[0] + 2.0 * np.pi)
        return cls(CubicSpline(closed, np.append(values, values[0]), bc_type="periodic"))

    def __call__(self, angle: float | Floats) -> Floats:
        """Return the quantity at eccentric angles, radians."""
        first = self.curve.x[0]
        return np.asarray(self.curve(first + np.mod(np.asarray(angle) - first, 2.0 * np.pi)))

    def extremes(self) -> tuple[float, float]:
        """Return the least and the greatest value."""
        fine = self(np.linspace(0.0, 2.0 * np.pi, 20001))
        return float(fine.min()), float(fine.max())


def fitted(targets: Floats, samples: Floats, values: Floats) -> Floats:
    """Return values at points from a quadratic fitted to the nearest samples of each.

    Parameters
    ----------
    targets : (m, 2) array
    samples : (n, 2) array
    values : (c, n) array

    Returns
    -------
    (c, m) array
    """
    from scipy.spatial import cKDTree

    targets = np.atleast_2d(targets)
    found = cKDTree(samples).query(targets, k=min(NEIGHBOURS, len(samples)))
    far, near = np.asarray(found[0]), np.asarray(found[1])
    reach = far[:, -1:]
    x, y = ((samples[near] - targets[:, None, :]) / reach[:, :, None]).transpose(2, 0, 1)
    weight = np.exp(-2.0 * (far / reach) ** 2)
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
    first = np.linalg.pinv(weight[:, :, None] * terms)[:, 0, :] * weight
    return np.asarray(np.einsum("mk,cmk->cm", first, values[:, near]))
