"""Strains from displacement gradients, and the stress and tangent they bring, point by point.

The formulas stand in finite_strain.py, those of the return maps in plane_stress.py and
plane_strain.py. In-plane symmetric tensors are (3, n) arrays: xx, yy, xy.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel import compiled
from fejoint.kernel.plasticity import Metal


@dataclass(frozen=True, eq=False)
class MetalState:
    """History of the integration points.

    Attributes
    ----------
    inverse_plastic_metric : (3, n) array
        C in the plane: xx, yy, xy.
    equivalent : (n,) array
        Accumulated equivalent plastic strain.
    stress : (3, n) array
        Kirchhoff stress xx, yy, xy, MPa.
    across : (n,) array or None
        Kirchhoff stress out of the plane, MPa; None in plane stress.
    """

    inverse_plastic_metric: Floats
    equivalent: Floats
    stress: Floats
    across: Floats | None = None

    @classmethod
    def virgin(cls, n: int) -> MetalState:
        """Return the state of `n` points that have never yielded."""
        return cls(np.repeat([[1.0], [1.0], [0.0]], n, axis=1), np.zeros(n), np.zeros((3, n)))

    @property
    def mises(self) -> Floats:
        """Equivalent stress of Mises, (n,), MPa."""
        xx, yy, xy = self.stress
        zz = 0.0 if self.across is None else self.across
        # differences, so that a common part drops out; zz = 0 gives the plane-stress form
        xx, yy = xx - zz, yy - zz
        return np.asarray(np.sqrt(xx * xx - xx * yy + yy * yy + 3.0 * xy * xy))

    @property
    def triaxiality(self) -> Floats:
        """Mean stress over equivalent stress, (n,); 0 where there is no stress."""
        mises = self.mises
        zz = 0.0 if self.across is None else self.across
        mean = (self.stress[0] + self.stress[1] + zz) / 3.0
        return np.where(mises > 0.0, mean / np.where(mises > 0.0, mises, 1.0), 0.0)


@dataclass(frozen=True, eq=False)
class PointResponse:
    """What the metal answers at every integration point.

    Attributes
    ----------
    stress : (3, n) array
        Kirchhoff stress xx, yy, xy, MPa.
    moduli : (6, n) array
        Symmetric tangent: 11, 22, 12, 13, 23, 33 in the order xx, yy, xy (engineering shear), MPa.
    inverse : (4, n) array or None
        Inverse deformation gradient: xx, xy, yx, yy; None in small strain.
    state : MetalState
        State at the end of the step.
    elastic_energy : (n,) array
        Stored energy per reference volume, MPa.
    """

    stress: Floats
    moduli: Floats
    inverse: Floats | None
    state: MetalState
    elastic_energy: Floats


def respond(metal: Metal, gradient: Floats, state: MetalState, large: bool) -> PointResponse:
    """Return stress, tangent and new state for displacement gradients.

    Parameters
    ----------
    metal : Metal
    gradient : (4, n) array
        Displacement gradient by the reference coordinates: xx, xy, yx, yy (component, direction).
    state : MetalState
        State at the start of the step.
    large : bool
        Logarithmic strain (True) or small strain (False).

    Returns
    -------
    PointResponse
    """
    out = np.empty((19, gradient.shape[1]))
    c, past = state.inverse_plastic_metric, state.equivalent
    gradient = np.ascontiguousarray(gradient, float)
    compiled.load("metal_pass", "respond")(gradient, c, past, metal.data, large, out)
    stress, across = out[:3].copy(), out[17].copy() if metal.plane_strain else None
    new = MetalState(out[13:16].copy(), out[16].copy(), stress, across)
    return PointResponse(stress, out[3:9], out[9:13] if large else None, new, out[18])
