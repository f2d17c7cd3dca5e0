"""Strains from displacement gradients, and the stress and tangent they bring, point by point.

Large strain: with the deformation gradient F and the inverse plastic metric C (symmetric, I in the
virgin metal) the trial left Cauchy-Green tensor is b = F C F^T; half the logarithm of its principal
values are the trial strains of the return map (plasticity.py). Writing b = m I + h, tanh of the
difference strain is rho = |h|/m, so that nothing ever divides by the gap of equal principal values.
After the step C = F^-1 b_elastic F^-T. Stress is the Kirchhoff stress; integrated over the
*reference* volume it accounts for the thinning of a plane-stress sheet exactly. The tangent relates
the Lie derivative of the Kirchhoff stress to the rate of deformation.

In plane strain the strain across the plane comes from the metric too, since plastic flow keeps the
volume. Small strain: the same return map on the small-strain tensor; C then holds I - 2 plastic
strain.

In-plane symmetric tensors are (3, n) arrays: xx, yy, xy.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel import plane_strain
from fejoint.kernel.plasticity import Metal, Returned, return_map


@dataclass(frozen=True, eq=False)
class MetalState:
    """History of the integration points.

    Attributes
    ----------
    metric : (3, n) array
        Inverse plastic metric in the plane: xx, yy, xy.
    equivalent : (n,) array
        Accumulated equivalent plastic strain.
    stress : (3, n) array
        Kirchhoff stress xx, yy, xy, MPa.
    across : (n,) array or None
        Kirchhoff stress out of the plane, MPa; None in plane stress.
    """

    metric: Floats
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
    return (_large if large else _small)(metal, gradient, state)


def _large(metal: Metal, gradient: Floats, state: MetalState) -> PointResponse:
    fxx, fxy, fyx, fyy = gradient[0] + 1.0, gradient[1], gradient[2], gradient[3] + 1.0
    cxx, cyy, cxy = state.metric
    px, qx = fxx * cxx + fxy * cxy, fxx * cxy + fxy * cyy
    py, qy = fyx * cxx + fyy * cxy, fyx * cxy + fyy * cyy
    bxx, byy, bxy = px * fxx + qx * fxy, py * fyx + qy * fyy, px * fyx + qx * fyy
    mean, half = 0.5 * (bxx + byy), 0.5 * (bxx - byy)
    radius = np.hypot(half, bxy)
    rho = radius / mean
    jacobian = fxx * fyy - fxy * fyx
    determinant = jacobian * jacobian * (cxx * cyy - cxy * cxy)
    bad = ~((rho < 1.0) & (jacobian > 0.0))  # also catches NaN
    if np.any(bad):
        determinant, rho = np.where(bad, np.nan, determinant), np.where(bad, np.nan, rho)
    strain_sum = 0.5 * np.log(determinant)
    strain_diff = np.arctanh(rho)
    cosine, sine = _direction(half, bxy, radius)
    r = _returned(metal, strain_sum, strain_diff, -0.5 * np.log(cxx * cyy - cxy * cxy), state)
    inverse = np.stack([fyy, -fxy, -fyx, fxx]) / jacobian
    # atanh(rho)/rho tends to 1: the smooth form of the shear modulus at equal principal values
    ratio = np.where(rho > 1e-6, strain_diff / np.where(rho > 1e-6, rho, 1.0), 1.0)
    moduli = _moduli(
        r.ss - r.s, r.sd - r.d, r.dd - r.s, 0.5 * (r.shear_secant * ratio - r.s), cosine, sine
    )
    elastic_sum, elastic_diff, energy = _elastic(metal, r)
    metric = _new_metric(state, r.equivalent, inverse, elastic_sum, elastic_diff, cosine, sine)
    stress = _tensor(r.s, r.d, cosine, sine)
    return PointResponse(
        stress, moduli, inverse, MetalState(metric, r.equivalent, stress, r.across_stress), energy
    )


def _small(metal: Metal, gradient: Floats, state: MetalState) -> PointResponse:
    plastic = 0.5 * (np.array([[1.0], [1.0], [0.0]]) - state.metric)
    exx, eyy = gradient[0] - plastic[0], gradient[3] - plastic[1]
    exy = 0.5 * (gradient[1] + gradient[2]) - plastic[2]
    half = 0.5 * (exx - eyy)
    radius = np.hypot(half, exy)
    cosine, sine = _direction(half, exy, radius)
    r = _returned(metal, exx + eyy, 2.0 * radius, plastic[0] + plastic[1], state)
    moduli = _moduli(r.ss, r.sd, r.dd, 0.5 * r.shear_secant, cosine, sine)
    elastic_sum, elastic_diff, energy = _elastic(metal, r)
    elastic = _tensor(elastic_sum, elastic_diff, cosine, sine)
    total = np.stack([gradient[0], gradient[3], 0.5 * (gradient[1] + gradient[2])])
    metric = np.array([[1.0], [1.0], [0.0]]) - 2.0 * (total - elastic)
    metric = np.where(r.equivalent > state.equivalent, metric, state.metric)
    stress = _tensor(r.s, r.d, cosine, sine)
    return PointResponse(
        stress, moduli, None, MetalState(metric, r.equivalent, stress, r.across_stress), energy
    )


def _returned(
    metal: Metal, strain_sum: Floats, strain_diff: Floats, across: Floats, state: MetalState
) -> Returned:
    """Return map of the metal's plane; `across` is the trial strain out of it, in plane strain."""
    if metal.plane_strain:
        return plane_strain.return_map(metal, strain_sum, strain_diff, across, state.equivalent)
    return return_map(metal, strain_sum, strain_diff, state.equivalent)


def _elastic(metal: Metal, r: Returned) -> tuple[Floats, Floats, Floats]:
    """Sum and difference of the elastic strains in the plane, and the stored energy."""
    diff = r.d / (2.0 * metal.shear_modulus)
    if r.elastic is None or r.across_stress is None:
        total = r.s / metal.biaxial_modulus
        return total, diff, 0.25 * (r.s * total + r.d * diff)
    total, across = r.elastic
    return total, diff, 0.25 * (r.s * total + r.d * diff) + 0.5 * r.across_stress * across


def _direction(half: Floats, shear: Floats, radius: Floats) -> tuple[Floats, Floats]:
    """Cosine and sine of twice the first principal direction's angle."""
    round_ = radius > 0.0
    safe = np.where(round_, radius, 1.0)
    return np.where(round_, half / safe, 1.0), shear / safe


def _tensor(total: Floats, diff: Floats, cosine: Floats, sine: Floats) -> Floats:
    """Symmetric tensor from the sum and difference of its principal values."""
    a, b = 0.5 * total, 0.5 * diff
    return np.stack([a + b * cosine, a - b * cosine, b * sine])


def _moduli(k1: Floats, k2: Floats, k3: Floats, g: Floats, cosine: Floats, sine: Floats) -> Floats:
    """Tangent k1/2 II + k2/2 (ID + DI) + k3/2 DD + g RR in the basis of DESIGN section 2.

    I is the identity, D the deviator (cos, -cos, sin), R the rotated deviator (-sin, sin, cos).
    """
    cc, sc, s2 = cosine * cosine, sine * cosine, sine * sine
    m = np.empty((6, len(k1)))
    both, cross = 0.5 * (k1 + k3 * cc) + g * s2, k2 * cosine
    m[0], m[1] = both + cross, both - cross
    m[2] = 0.5 * (k1 - k3 * cc) - g * s2
    odd, even = (0.5 * k3 - g) * sc, 0.5 * k2 * sine
    m[3], m[4] = even + odd, even - odd
    m[5] = 0.5 * k3 * s2 + g * cc
    return m


def _new_metric(
    state: MetalState,
    equivalent: Floats,
    inverse: Floats,
    elastic_sum: Floats,
    elastic_diff: Floats,
    cosine: Floats,
    sine: Floats,
) -> Floats:
    """Pull the elastic left Cauchy-Green tensor back; points that did not yield keep theirs."""
    moved = np.flatnonzero(equivalent > state.equivalent)
    if len(moved) == 0:
        return state.metric
    scale, turn = np.exp(elastic_sum[moved]), elastic_diff[moved]
    b = _tensor(
        2.0 * scale * np.cosh(turn), 2.0 * scale * np.sinh(turn), cosine[moved], sine[moved]
    )
    ixx, ixy, iyx, iyy = inverse[:, moved]
    px, qx = ixx * b[0] + ixy * b[2], ixx * b[2] + ixy * b[1]
    py, qy = iyx * b[0] + iyy * b[2], iyx * b[2] + iyy * b[1]
    metric = state.metric.copy()
    metric[0, moved] = px * ixx + qx * ixy
    metric[1, moved] = py * iyx + qy * iyy
    metric[2, moved] = px * iyx + qx * iyy
    return metric
