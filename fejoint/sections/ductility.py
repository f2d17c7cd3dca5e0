"""How much of a metal's ductility a path has used up.

Damage grows by weight(eta) d(eps_p) / eps_f, with eps_f the local fracture strain ln(A0/Af) of a
smooth tensile bar and eta the triaxiality. The weight exp(1.5 (eta - 1/3)) is the growth of voids
(Rice and Tracey, "On the ductile enlargement of voids in triaxial stress fields", J. Mech. Phys.
Solids 17 (1969) 201); it is kept at 1 for 0 <= eta < 1/3, so that shear is not taken for more
ductile than tension, and falls to 0 at eta = -1/3, below which metal does not tear (Bao and
Wierzbicki, "On the cut-off value of negative triaxiality for fracture", Eng. Fract. Mech. 72 (2005)
1049; both from memory). Metal counts as torn where the mean damage over a disc as wide as the sheet
is thick reaches 1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from fejoint.kernel.kinematics import MetalState
from fejoint.sections.nearby import pairs_within

Floats = NDArray[np.float64]


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


@dataclass(frozen=True, eq=False)
class Averaging:
    """Mean over a disc round every integration point.

    Attributes
    ----------
    matrix : (n, n) csr_array
        Row-wise weights that sum to 1.
    """

    matrix: csr_array

    @classmethod
    def of(
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
        n, radius = len(points), 0.5 * diameter
        inside = np.flatnonzero(np.linalg.norm(points, axis=1) <= reach + radius)
        near = points[inside]
        rows, columns = pairs_within(near, near, radius)
        if mirror:
            own, over = pairs_within(near, near * [1.0, -1.0], radius)
            rows, columns = np.concatenate([rows, own]), np.concatenate([columns, over])
        outside = np.setdiff1d(np.arange(n), inside)
        rows = np.concatenate([inside[rows], outside])
        columns = np.concatenate([inside[columns], outside])
        matrix = csr_array((volumes[columns], (rows, columns)), shape=(n, n))
        total: Floats = np.asarray(matrix.sum(axis=1)).reshape(-1)
        matrix.data /= np.repeat(total, np.diff(matrix.indptr))
        return cls(matrix)

    def __call__(self, damage: Floats) -> Floats:
        """Return the averaged damage, (n,)."""
        return np.asarray(self.matrix @ damage)
