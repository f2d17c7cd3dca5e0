"""How much of a metal's ductility a path has used up.

Damage grows by weight(eta) d(eps_p) / eps_f, with eps_f the local fracture strain ln(A0/Af) of a
smooth tensile bar and eta the triaxiality. The weight exp(1.5 (eta - 1/3)) is the growth of voids
(Rice and Tracey, "On the ductile enlargement of voids in triaxial stress fields", J. Mech. Phys.
Solids 17 (1969) 201); it stays 1 for 0 <= eta < 1/3, so that shear is not taken for more
ductile than tension, and falls to 0 at eta = -1/3, below which metal does not tear (Bao and
Wierzbicki, "On the cut-off value of negative triaxiality for fracture", Eng. Fract. Mech. 72 (2005)
1049; both from memory). Metal counts as torn where the mean damage over a disc as wide as the sheet
is thick reaches 1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array

from fejoint.arrays import Bools, Floats, Ints
from fejoint.kernel.kinematics import MetalState
from fejoint.sections.neighbours import pairs_within


def weight(triaxiality: Floats) -> Floats:
    """Return how fast ductility is used at a triaxiality, 1 in simple tension."""
    eta = np.asarray(triaxiality, float)
    tension = np.exp(1.5 * (np.minimum(eta, 5.0) - 1.0 / 3.0))
    pressed = np.clip(3.0 * eta + 1.0, 0.0, 1.0)
    return np.where(eta >= 1.0 / 3.0, tension, pressed)


def growth(before: MetalState, after: MetalState, fracture_strain: float) -> Floats:
    """Return the damage that a step adds at every point, (n,); never negative."""
    mean = 0.5 * (weight(before.triaxiality) + weight(after.triaxiality))
    return mean * (after.equivalent - before.equivalent) / fracture_strain


SQUARES = 24
"""Squares to the radius of the averaging disc: points of one square are averaged before."""


@dataclass(frozen=True, eq=False)
class Averaging:
    """Mean over a disc round every integration point.

    What lies together in one small square is averaged first, so that the work is bounded however
    fine the mesh; on an everyday mesh every point has a square of its own.

    Attributes
    ----------
    matrix : (m, m) csr_array
        Row-wise weights of the squares, that sum to 1.
    square : (n,) array
        Square of every point.
    share : (n,) array
        Every point's share of its square's volume.
    """

    matrix: csr_array
    square: Ints
    share: Floats

    @classmethod
    def from_points(
        cls, points: Floats, volumes: Floats, diameter: float, mirror: bool, reach: float = np.inf
    ) -> Averaging:
        """Build for points (n, 2) of given volumes (n,).

        Parameters
        ----------
        points, volumes : arrays
        diameter : float
            Of the disc, mm.
        mirror : bool
            The points are the upper half of a body symmetric in the x axis.
        reach : float
            Distance from the origin beyond which a point stands for itself alone, mm.
        """
        radius = 0.5 * diameter
        inside = np.linalg.norm(points, axis=1) <= reach + radius
        square = _squares(points, radius / SQUARES, inside)
        total: Floats = np.bincount(square, volumes).astype(float)
        share = volumes / total[square]
        middles: Floats = np.stack([np.bincount(square, share * x) for x in points.T], axis=1)
        close = np.zeros(len(total), bool)
        close[square[inside]] = True
        own, alone = np.flatnonzero(close), np.flatnonzero(~close)
        near = middles[own]
        rows, columns = pairs_within(near, near, radius)
        if mirror:
            mine, over = pairs_within(near, near * [1.0, -1.0], radius)
            rows, columns = np.concatenate([rows, mine]), np.concatenate([columns, over])
        rows = np.concatenate([own[rows], alone])
        columns = np.concatenate([own[columns], alone])
        matrix = csr_array((total[columns], (rows, columns)), shape=(len(total), len(total)))
        sums: Floats = np.asarray(matrix.sum(axis=1)).reshape(-1)
        matrix.data /= np.repeat(sums, np.diff(matrix.indptr))
        return cls(matrix, square, share)

    def __call__(self, damage: Floats) -> Floats:
        """Return the averaged damage, (n,)."""
        mean = np.bincount(self.square, self.share * damage)
        return np.asarray((self.matrix @ mean)[self.square])


def _squares(points: Floats, side: float, inside: Bools) -> Ints:
    """Return the number of every point's square; a point not inside has one of its own."""
    across = np.floor((points - points.min(axis=0)) / side).astype(np.int64)
    keys = across[:, 0] * (across[:, 1].max() + 1) + across[:, 1]
    keys[~inside] = -1 - np.flatnonzero(~inside)
    return np.asarray(np.unique(keys, return_inverse=True)[1], np.intp)
