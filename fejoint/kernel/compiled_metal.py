"""The metal's forces, and its tangent where it is asked for, in compiled passes over the elements.

The same formulas as elements.py, kinematics.py and plasticity.py, fused: the first pass keeps of
every point what the second needs, so that a tangent costs no second return map. Importing this
module imports numba; see compiled.py.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from fejoint.kernel.hardening import STRAIN_SCALE

_OPTIONS = {"error_model": "numpy", "fastmath": {"contract"}}
_NEWTON_LIMIT = 40
_TOLERANCE = 1e-12
_CLOSE = 1e-8
"""From here one more step of Newton, nearly straight, comes to rounding."""


@njit(inline="always", **_OPTIONS)
def _law(strain, cell, strains, stresses, slopes, per_cell):  # type: ignore[no-untyped-def]
    """Yield stress, hardening modulus and table cell; see hardening.py."""
    last = strains.size - 1
    if strain >= strains[last]:
        over = strain - strains[last]
        return stresses[last] + slopes[last] * over, slopes[last], last - 1
    if not (strains[cell] <= strain < strains[cell + 1]):
        if cell + 2 <= last and strains[cell + 1] <= strain < strains[cell + 2]:
            cell += 1
        else:
            cell = int(math.asinh(strain / STRAIN_SCALE) * per_cell)
            cell = min(max(cell, 0), last - 1)
    width = strains[cell + 1] - strains[cell]
    per_width = 1.0 / width
    t = (strain - strains[cell]) * per_width
    y0, y1 = stresses[cell], stresses[cell + 1]
    m0, m1 = slopes[cell] * width, slopes[cell + 1] * width
    c2 = 3.0 * (y1 - y0) - 2.0 * m0 - m1
    c3 = 2.0 * (y0 - y1) + m0 + m1
    stress = y0 + t * (m0 + t * (c2 + t * c3))
    return stress, (m0 + t * (2.0 * c2 + t * 3.0 * c3)) * per_width, cell


@njit(inline="always", **_OPTIONS)
def _slip(  # type: ignore[no-untyped-def]
    s2, d2, start, gamma, q, h, cell, low, high, left, a, b, strains, stresses, slopes, per_cell
):  # fmt: skip
    """Find plastic strain of the step, yield stress and modulus there; see plasticity.py.

    The points of an element are iterated side by side, since each waits for its own divisions.
    `left` says which; the rest arrives as for the step's start, `gamma` NaN where there is no root.
    """
    points = s2.size
    for k in range(points):
        if left[k]:
            per_q, per_sigma = 1.0 / q[k], 2.0 / math.sqrt(s2[k] + d2[k])
            rate = 0.25 * (s2[k] * a + d2[k] * b) * per_sigma * per_sigma * per_sigma * per_q
            gamma[k] = (per_q - per_sigma) / (rate + h[k] * per_q * per_q)
            if not gamma[k] > 0.0:
                gamma[k] = (1.0 / per_sigma - q[k]) / b
            low[k], high[k] = 0.0, np.inf
    for turn in range(_NEWTON_LIMIT):
        open_points = 0
        for k in range(points):
            if not left[k]:
                continue
            g = gamma[k]
            q[k], h[k], cell[k] = _law(start[k] + g, cell[k], strains, stresses, slopes, per_cell)
            # few divisions: they are most of the cost
            per_q = 1.0 / q[k]
            x = g * per_q
            below_s, below_d = 1.0 + a * x, 1.0 + b * x
            both = 1.0 / (below_s * below_d)
            by_s, by_d = both * below_d, both * below_s
            ps, pd = s2[k] * by_s * by_s, d2[k] * by_d * by_d
            per_sigma = 2.0 / math.sqrt(ps + pd)
            miss = per_sigma - per_q
            off = abs(miss) * q[k]
            if off <= _TOLERANCE:
                left[k] = False
                continue
            if turn == _NEWTON_LIMIT - 1:
                left[k] = False
                if not off <= 1e-8:
                    gamma[k] = np.nan
                continue
            if miss < 0.0:
                low[k] = g
            else:
                high[k] = g
            cube = per_sigma * per_sigma * per_sigma
            rate = 0.25 * (ps * a * by_s + pd * b * by_d) * cube * (1.0 - x * h[k]) * per_q
            newer = g - miss / (rate + h[k] * per_q * per_q)
            if low[k] < newer < high[k]:
                gamma[k] = newer
                if off <= _CLOSE:
                    left[k] = False
                    q[k], h[k], cell[k] = _law(
                        start[k] + newer, cell[k], strains, stresses, slopes, per_cell
                    )
                    continue
            elif math.isfinite(high[k]):
                gamma[k] = 0.5 * (low[k] + high[k])
            else:
                gamma[k] = 2.0 * low[k] + 1e-9
            open_points += 1
        if open_points == 0:
            break


@njit(
    "float64(float64[::1], int64[:,::1], float64[:,:,:,::1], float64[:,::1], boolean,"
    "float64, float64, float64[::1], float64[::1], float64[::1], float64, float64[:,::1],"
    "float64[::1], float64[:,::1], float64[:,::1], float64[:,::1], float64[::1],"
    "float64[:,::1])",
    cache=True,
    **_OPTIONS,
)
def evaluate(  # type: ignore[no-untyped-def]
    z,
    dofs,
    gradients,
    volumes,
    large,
    big_s,
    two_g,
    strains,
    stresses,
    slopes,
    per_cell,
    metric,
    equivalent,
    force,
    firmness,
    new_metric,
    new_equivalent,
    new_stress,
):
    """Fill forces, what the tangent needs, and the new state; return the elastic energy.

    Parameters are the fields of `Solid` and `MetalState`; an elastic metal has an empty table.
    `firmness` is (points, 13): moduli 11, 22, 12, 13, 23 and 33, the stresses that add to them, the
    inverse deformation gradient. NaN in `force` says that a point has no answer (turned inside out,
    or no root): the rest is then not to be used.
    """
    n_elements, n_quadrature = volumes.shape
    gx, gy = np.empty(6), np.empty(6)
    plastic = strains.size > 0
    a, b = 0.5 * big_s, 1.5 * two_g
    # of the points of one element
    gradient, inverse, way = (
        np.empty((n_quadrature, 4)), np.ones((n_quadrature, 4)), np.ones((n_quadrature, 3)),
    )  # fmt: skip
    trial_s, trial_d, start = (
        np.empty(n_quadrature), np.empty(n_quadrature), np.empty(n_quadrature),
    )  # fmt: skip
    s2, d2, gamma = np.empty(n_quadrature), np.empty(n_quadrature), np.empty(n_quadrature)
    q, h = np.empty(n_quadrature), np.empty(n_quadrature)
    low, high = np.empty(n_quadrature), np.empty(n_quadrature)
    cell, left = np.empty(n_quadrature, np.int64), np.empty(n_quadrature, np.bool_)
    inverse[:, 1:3] = 0.0
    total = 0.0
    for e in range(n_elements):
        for k in range(n_quadrature):
            point = e * n_quadrature + k
            uxx = uxy = uyx = uyy = 0.0
            for n in range(6):
                x, y = gradients[e, k, n, 0], gradients[e, k, n, 1]
                ux, uy = z[dofs[e, 2 * n]], z[dofs[e, 2 * n + 1]]
                uxx += ux * x
                uxy += ux * y
                uyx += uy * x
                uyy += uy * y
            gradient[k, 0], gradient[k, 1], gradient[k, 2], gradient[k, 3] = uxx, uxy, uyx, uyy
            cxx, cyy, cxy = metric[0, point], metric[1, point], metric[2, point]
            ratio = 1.0
            # trial strain: sum, difference, direction (cosine and sine of twice the angle)
            if large:
                fxx, fyy = uxx + 1.0, uyy + 1.0
                px, qx = fxx * cxx + uxy * cxy, fxx * cxy + uxy * cyy
                py, qy = uyx * cxx + fyy * cxy, uyx * cxy + fyy * cyy
                bxx, byy, bxy = px * fxx + qx * uxy, py * uyx + qy * fyy, px * uyx + qx * fyy
                mean, half = 0.5 * (bxx + byy), 0.5 * (bxx - byy)
                radius = math.sqrt(half * half + bxy * bxy)
                rho = radius / mean
                jacobian = fxx * fyy - uxy * uyx
                if not (rho < 1.0 and jacobian > 0.0):
                    force[:] = np.nan
                    return np.nan
                per_jacobian = 1.0 / jacobian
                inverse[k, 0], inverse[k, 1] = fyy * per_jacobian, -uxy * per_jacobian
                inverse[k, 2], inverse[k, 3] = -uyx * per_jacobian, fxx * per_jacobian
                strain_sum = 0.5 * math.log(jacobian * jacobian * (cxx * cyy - cxy * cxy))
                # atanh written with log1p, exact where rho is small
                strain_diff = 0.5 * math.log1p(2.0 * rho / (1.0 - rho))
                if rho > 1e-6:
                    ratio = strain_diff / rho
                shear = bxy
            else:
                exx, eyy = uxx - 0.5 * (1.0 - cxx), uyy - 0.5 * (1.0 - cyy)
                shear = 0.5 * (uxy + uyx) + 0.5 * cxy
                half = 0.5 * (exx - eyy)
                radius = math.sqrt(half * half + shear * shear)
                strain_sum, strain_diff = exx + eyy, 2.0 * radius
            way[k, 0], way[k, 1], way[k, 2] = 1.0, 0.0, ratio
            if radius > 0.0:
                per_radius = 1.0 / radius
                way[k, 0], way[k, 1] = half * per_radius, shear * per_radius
            s, d = big_s * strain_sum, two_g * strain_diff
            trial_s[k], trial_d[k] = s, d
            s2[k], d2[k] = s * s, 3.0 * d * d
            start[k], left[k] = equivalent[point], False
            if plastic:
                trial = 0.5 * math.sqrt(s2[k] + d2[k])
                q[k], h[k], cell[k] = _law(start[k], 0, strains, stresses, slopes, per_cell)
                left[k] = trial > q[k] * (1.0 + _TOLERANCE)
            gamma[k] = 1.0 if left[k] else 0.0
        if plastic:
            _slip(
                s2, d2, start, gamma, q, h, cell, low, high, left,
                a, b, strains, stresses, slopes, per_cell,
            )  # fmt: skip
        for r in range(12):
            force[e, r] = 0.0
        for k in range(n_quadrature):
            point = e * n_quadrature + k
            w = volumes[e, k]
            # return map in sum and difference
            s, d = trial_s[k], trial_d[k]
            ss, sd, dd, secant = big_s, 0.0, two_g, two_g
            if not gamma[k] >= 0.0:
                force[:] = np.nan
                return np.nan
            yields = gamma[k] > 0.0
            if yields:
                x = gamma[k] / q[k]
                below_s, below_d = 1.0 + a * x, 1.0 + b * x
                both = 1.0 / (below_s * below_d)
                by_s, by_d = both * below_d, both * below_s
                s, d = s * by_s, d * by_d
                p, r = a * s * by_s, b * d * by_d
                weight = 0.5 * (p * s + 3.0 * r * d)
                weight += 2.0 * q[k] * q[k] * h[k] / (1.0 - x * h[k])
                per_weight = 1.0 / weight
                ss = big_s * by_s - p * p * per_weight
                sd = -p * r * per_weight
                secant = two_g * by_d
                dd = secant - r * r * per_weight
            cosine, sine, ratio = way[k, 0], way[k, 1], way[k, 2]
            elastic_sum, elastic_diff = s / big_s, d / two_g
            total += 0.25 * w * (s * elastic_sum + d * elastic_diff)
            sxx, syy = 0.5 * (s + d * cosine), 0.5 * (s - d * cosine)
            sxy = 0.5 * d * sine
            new_stress[0, point], new_stress[1, point], new_stress[2, point] = sxx, syy, sxy
            new_equivalent[point] = start[k] + gamma[k]
            ixx, ixy, iyx, iyy = inverse[k, 0], inverse[k, 1], inverse[k, 2], inverse[k, 3]
            cxx, cyy, cxy = metric[0, point], metric[1, point], metric[2, point]
            if yields:
                if large:
                    scale, grown = math.exp(elastic_sum), math.exp(elastic_diff)
                    shrunk = 1.0 / grown
                    bm, bd = 0.5 * scale * (grown + shrunk), 0.5 * scale * (grown - shrunk)
                    bxx, byy, bxy = bm + bd * cosine, bm - bd * cosine, bd * sine
                    px, qx = ixx * bxx + ixy * bxy, ixx * bxy + ixy * byy
                    py, qy = iyx * bxx + iyy * bxy, iyx * bxy + iyy * byy
                    cxx, cyy, cxy = px * ixx + qx * ixy, py * iyx + qy * iyy, px * iyx + qx * iyy
                else:
                    mean, half = 0.5 * elastic_sum, 0.5 * elastic_diff
                    uxx, uyy = gradient[k, 0], gradient[k, 3]
                    shear = 0.5 * (gradient[k, 1] + gradient[k, 2])
                    cxx = 1.0 - 2.0 * (uxx - mean - half * cosine)
                    cyy = 1.0 - 2.0 * (uyy - mean + half * cosine)
                    cxy = -2.0 * (shear - half * sine)
            new_metric[0, point], new_metric[1, point], new_metric[2, point] = cxx, cyy, cxy
            stiff = firmness[point]
            stiff[9], stiff[10], stiff[11], stiff[12] = ixx, ixy, iyx, iyy
            k1, k2, k3, g = ss, sd, dd, 0.5 * secant
            if large:
                k1, k2, k3, g = ss - s, sd - d, dd - s, 0.5 * (secant * ratio - s)
            k1, k2, k3, g = k1 * w, k2 * w, k3 * w, g * w
            cc, sc, ss2 = cosine * cosine, sine * cosine, sine * sine
            sum_part, cross = 0.5 * (k1 + k3 * cc) + g * ss2, k2 * cosine
            odd, even = (0.5 * k3 - g) * sc, 0.5 * k2 * sine
            stiff[0], stiff[1] = sum_part + cross, sum_part - cross
            stiff[2], stiff[5] = 0.5 * (k1 - k3 * cc) - g * ss2, 0.5 * k3 * ss2 + g * cc
            stiff[3], stiff[4] = even + odd, even - odd
            sxx, syy, sxy = sxx * w, syy * w, sxy * w
            stiff[6], stiff[7], stiff[8] = sxx, syy, sxy
            if not large:  # no initial stress in the tangent
                stiff[6] = stiff[7] = stiff[8] = 0.0
            for n in range(6):
                x, y = gradients[e, k, n, 0], gradients[e, k, n, 1]
                gx[n], gy[n] = x * ixx + y * iyx, x * ixy + y * iyy
            for n in range(6):
                force[e, 2 * n] += gx[n] * sxx + gy[n] * sxy
                force[e, 2 * n + 1] += gx[n] * sxy + gy[n] * syy
    return total


@njit(
    "void(float64[:,:,:,::1], float64[:,::1], float64[:,:,::1])",
    cache=True,
    **_OPTIONS,
)
def tangent(gradients, firmness, entries):  # type: ignore[no-untyped-def]
    """Fill the tangent's entries, (elements, 6, 24) as `Solid.blocks` orders them.

    `firmness` is what `evaluate` filled.
    """
    n_elements, n_quadrature = gradients.shape[:2]
    gx, gy = np.empty(6), np.empty(6)
    by_x, by_y = np.empty(24), np.empty(24)
    for e in range(n_elements):
        for k in range(n_quadrature):
            stiff = firmness[e * n_quadrature + k]
            c11, c22, c12, c13, c23, c33 = (
                stiff[0],
                stiff[1],
                stiff[2],
                stiff[3],
                stiff[4],
                stiff[5],
            )
            sxx, syy, sxy = stiff[6], stiff[7], stiff[8]
            ixx, ixy, iyx, iyy = stiff[9], stiff[10], stiff[11], stiff[12]
            for n in range(6):
                x, y = gradients[e, k, n, 0], gradients[e, k, n, 1]
                x, y = x * ixx + y * iyx, x * ixy + y * iyy
                gx[n], gy[n] = x, y
                tx, ty = sxx * x + sxy * y, sxy * x + syy * y
                one, two = c13 * x + c33 * y, c33 * x + c23 * y
                by_x[n], by_y[n] = c11 * x + c13 * y + tx, one + ty
                by_x[6 + n], by_y[6 + n] = c13 * x + c12 * y, two
                by_x[12 + n], by_y[12 + n] = one, c12 * x + c23 * y
                by_x[18 + n], by_y[18 + n] = two + tx, c23 * x + c22 * y + ty
            for n in range(6):
                x, y = gx[n], gy[n]
                if k == 0:
                    for c in range(24):
                        entries[e, n, c] = x * by_x[c] + y * by_y[c]
                else:
                    for c in range(24):
                        entries[e, n, c] += x * by_x[c] + y * by_y[c]
