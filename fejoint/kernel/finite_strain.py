"""Strains from a displacement gradient, and the tangent and history they bring, at one point.

Large strain: with the deformation gradient F and the inverse plastic metric C (symmetric, I in the
virgin metal) the trial left Cauchy-Green tensor is b = F C F^T = m I + h. Half the logarithms of
its principal values are the trial strains of the return map: their sum is log det(b)/2, and their
difference atanh(rho) with rho = |h|/m, so that nothing ever divides by the gap of equal principal
values. Across the plane the plastic volume is kept: -log det(C)/2. After the step
C = F^-1 b_elastic F^-T. Stress is the Kirchhoff stress tau; integrated over the *reference* volume
it accounts for the thinning of a plane-stress sheet exactly. The tangent relates the Lie derivative
of tau to the rate of deformation: with I the identity, D = (cos, -cos, sin) and
R = (-sin, sin, cos) the deviators along and across the first principal direction (cos and sin of
twice its angle):

    k1/2 I I + k2/2 (I D + D I) + k3/2 D D + g R R
    k1 = ds/de - s ,  k2 = ds/df - d ,  k3 = dd/df - s ,  g = (secant f/rho - s)/2

(s, d, e, f, secant: plane_stress.py). Small strain: the same return map on the small-strain tensor,
k1 = ds/de, k2 = ds/df, k3 = dd/df, g = secant/2; C then holds I - 2 plastic strain.

In-plane symmetric tensors are xx, yy, xy; gradients xx, xy, yx, yy (component, direction). A
`principal_direction` is the cosine and sine of twice its angle, and f/rho.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from fejoint.kernel.compiled import jit

_TINY = 1e-6
"""rho below which atanh(rho)/rho is 1: it is 1 + rho^2/3."""


@jit()
def large_trial(u: Any, c: Any) -> Any:
    """Return (e, f, across), principal direction and F^-1; NaN strains where F turns inside out."""
    uxx, uxy, uyx, uyy = u
    cxx, cyy, cxy = c
    fxx, fyy = uxx + 1.0, uyy + 1.0
    px, qx = fxx * cxx + uxy * cxy, fxx * cxy + uxy * cyy
    py, qy = uyx * cxx + fyy * cxy, uyx * cxy + fyy * cyy
    bxx, byy, bxy = px * fxx + qx * uxy, py * uyx + qy * fyy, px * uyx + qx * fyy
    mean, half = 0.5 * (bxx + byy), 0.5 * (bxx - byy)
    radius = math.sqrt(half * half + bxy * bxy)
    rho = radius / mean
    jacobian = fxx * fyy - uxy * uyx
    if not (rho < 1.0 and jacobian > 0.0):
        nan = np.nan
        return (nan, nan, nan), (nan, nan, nan), (nan, nan, nan, nan)
    per_jacobian = 1.0 / jacobian
    inverse = (
        fyy * per_jacobian, -uxy * per_jacobian, -uyx * per_jacobian, fxx * per_jacobian
    )  # fmt: skip
    plastic = cxx * cyy - cxy * cxy
    e = 0.5 * math.log(jacobian * jacobian * plastic)
    # atanh written with log1p, exact where rho is small
    f = 0.5 * math.log1p(2.0 * rho / (1.0 - rho))
    ratio = f / rho if rho > _TINY else 1.0
    cosine, sine = 1.0, 0.0
    if radius > 0.0:
        per_radius = 1.0 / radius
        cosine, sine = half * per_radius, bxy * per_radius
    return (e, f, -0.5 * math.log(plastic)), (cosine, sine, ratio), inverse


@jit()
def small_trial(u: Any, c: Any) -> Any:
    """Return (e, f, across), principal direction and the identity, small strain."""
    uxx, uxy, uyx, uyy = u
    cxx, cyy, cxy = c
    exx, eyy = uxx - 0.5 * (1.0 - cxx), uyy - 0.5 * (1.0 - cyy)
    exy = 0.5 * (uxy + uyx) + 0.5 * cxy
    half = 0.5 * (exx - eyy)
    radius = math.sqrt(half * half + exy * exy)
    cosine, sine = 1.0, 0.0
    if radius > 0.0:
        per_radius = 1.0 / radius
        cosine, sine = half * per_radius, exy * per_radius
    across = 0.5 * (1.0 - cxx) + 0.5 * (1.0 - cyy)
    return (exx + eyy, 2.0 * radius, across), (cosine, sine, 1.0), (1.0, 0.0, 0.0, 1.0)


@jit()
def large_metric(e: Any, f: Any, principal_direction: Any, inverse: Any) -> Any:
    """Return C = F^-1 b F^-T of the elastic strains e and f."""
    cosine, sine, _ = principal_direction
    ixx, ixy, iyx, iyy = inverse
    scale, grown = math.exp(e), math.exp(f)
    shrunk = 1.0 / grown
    bm, bd = 0.5 * scale * (grown + shrunk), 0.5 * scale * (grown - shrunk)
    bxx, byy, bxy = bm + bd * cosine, bm - bd * cosine, bd * sine
    px, qx = ixx * bxx + ixy * bxy, ixx * bxy + ixy * byy
    py, qy = iyx * bxx + iyy * bxy, iyx * bxy + iyy * byy
    return px * ixx + qx * ixy, py * iyx + qy * iyy, px * iyx + qx * iyy


@jit()
def small_metric(e: Any, f: Any, principal_direction: Any, u: Any) -> Any:
    """Return I - 2 plastic strain: the strain less the elastic ones, e and f."""
    cosine, sine, _ = principal_direction
    mean, half = 0.5 * e, 0.5 * f
    return (
        1.0 - 2.0 * (u[0] - mean - half * cosine),
        1.0 - 2.0 * (u[3] - mean + half * cosine),
        -2.0 * (0.5 * (u[1] + u[2]) - half * sine),
    )


@jit()
def tangent_moduli(returned: Any, principal_direction: Any, large: Any) -> Any:
    """Return the tangent's 11, 22, 12, 13, 23, 33 (engineering shear), MPa."""
    (s, d), _, (ss, sd, dd, secant), _ = returned
    cosine, sine, ratio = principal_direction
    k1, k2, k3, g = ss, sd, dd, 0.5 * secant
    if large:
        k1, k2, k3, g = ss - s, sd - d, dd - s, 0.5 * (secant * ratio - s)
    cc, sc, s2 = cosine * cosine, sine * cosine, sine * sine
    both, cross = 0.5 * (k1 + k3 * cc) + g * s2, k2 * cosine
    odd, even = (0.5 * k3 - g) * sc, 0.5 * k2 * sine
    return (
        both + cross, both - cross, 0.5 * (k1 - k3 * cc) - g * s2,
        even + odd, even - odd, 0.5 * k3 * s2 + g * cc,
    )  # fmt: skip
