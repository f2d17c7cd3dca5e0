"""The metal in three dimensions, point by point and element by element, compiled.

Kinematics: with the deformation gradient F and the inverse plastic metric C of the step's start the
trial left Cauchy-Green tensor b = F C F^T has principal values l_i and directions n_i; the trial
strains are e_i = ln(l_i)/2. Law (J2, isotropic hardening), K bulk and G shear modulus:

    s_i = 2 G (e_i - e), e the mean      q = sqrt(3/2 s.s)        trial Mises stress
    q - 3 G g = y(p + g)                                          g: plastic strain of the step
    t_i = 3 K e + r s_i,  r = 1 - 3 G g/q                         principal Kirchhoff stresses

Tangent (Lie derivative of the Kirchhoff stress by the rate of deformation), in the principal frame,
with m_i = sqrt(3/2) s_i/|s| the flow direction's components times sqrt(3/2), h = dy/dp:

    dt_i/de_j = K + 2 G r (d_ij - 1/3) - 4 G^2 (1/(3 G + h) - g/q) m_i m_j   (plastic)
    normal    a_ij = dt_i/de_j - 2 t_i d_ij
    shear     g_ij = (t_i l_j - t_j l_i)/(l_i - l_j) = G r atanh(x)/x - (t_i + t_j)/2,
              x = (l_i - l_j)/(l_i + l_j)

since t_i - t_j = 2 G r (e_i - e_j) = 2 G r atanh(x): nothing divides by the gap of equal principal
values. After Simo, "Algorithms for static and dynamic multiplicative plasticity that preserve the
classical return mapping schemes", Comp. Meth. Appl. Mech. Engng 99 (1992) 61 (from memory); the
shear form is derived here.

Symmetric tensors are in the order xx, yy, zz, xy, yz, zx. Importing this module imports numba; see
compiled.py.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from fejoint.kernel.compiled import jit
from fejoint.kernel.plane_stress import yield_stress_at

_TABLE = "Tuple((float64[::1], float64[::1], float64[::1], float64))"
_NEWTON_LIMIT = 60
_TOLERANCE = 1e-12
_SWEEPS = 12


@jit()
def _turn(a: Any, v: Any, p: Any, q: Any, k: Any) -> Any:
    """Turn the symmetric a (3, 3) so that a[p, q] becomes zero, and with it the columns of v."""
    if a[p, q] == 0.0:
        return
    theta = (a[q, q] - a[p, p]) / (2.0 * a[p, q])
    t = math.copysign(1.0, theta) / (abs(theta) + math.sqrt(theta * theta + 1.0))
    c = 1.0 / math.sqrt(t * t + 1.0)
    s = t * c
    a[p, p] -= t * a[p, q]
    a[q, q] += t * a[p, q]
    a[p, q] = a[q, p] = 0.0
    akp, akq = a[k, p], a[k, q]
    a[k, p] = a[p, k] = c * akp - s * akq
    a[k, q] = a[q, k] = s * akp + c * akq
    for i in range(3):
        vip, viq = v[i, p], v[i, q]
        v[i, p], v[i, q] = c * vip - s * viq, s * vip + c * viq


@jit()
def principal(a: Any, v: Any) -> Any:
    """Turn the symmetric a (3, 3) to its principal axes, the columns of v (Jacobi's method).

    a ends as the diagonal of principal values. Equal values need no care.
    """
    for i in range(3):
        for j in range(3):
            v[i, j] = 1.0 if i == j else 0.0
    scale = abs(a[0, 0]) + abs(a[1, 1]) + abs(a[2, 2])
    for _ in range(_SWEEPS):
        if abs(a[0, 1]) + abs(a[0, 2]) + abs(a[1, 2]) <= 1e-18 * scale:
            break
        _turn(a, v, 0, 1, 2)
        _turn(a, v, 0, 2, 1)
        _turn(a, v, 1, 2, 0)


@jit()
def slip(q: Any, past: Any, shear: Any, table: Any) -> Any:
    """Solve q - 3 G g = y(past + g) for the step's plastic strain g; return g and dy/dp there.

    g is 0 for an elastic step and NaN where no root is found.
    """
    y, h, cell = yield_stress_at(past, 0, table)
    if q <= y * (1.0 + _TOLERANCE):
        return 0.0, h
    low, high = 0.0, q / (3.0 * shear)
    g = min((q - y) / (3.0 * shear + max(h, 0.0)), high)
    for _ in range(_NEWTON_LIMIT):
        y, h, cell = yield_stress_at(past + g, cell, table)
        miss = q - 3.0 * shear * g - y
        if abs(miss) <= _TOLERANCE * q:
            return g, h
        if miss > 0.0:
            low = g
        else:
            high = g
        g += miss / (3.0 * shear + h)
        if not low <= g <= high:
            g = 0.5 * (low + high)
    return (g if abs(miss) <= 1e-9 * q else np.nan), h


@jit()
def _inverse(f: Any, inverse: Any) -> Any:
    """Fill the inverse of f (3, 3); return its determinant."""
    c0 = f[1, 1] * f[2, 2] - f[1, 2] * f[2, 1]
    c1 = f[1, 2] * f[2, 0] - f[1, 0] * f[2, 2]
    c2 = f[1, 0] * f[2, 1] - f[1, 1] * f[2, 0]
    det = f[0, 0] * c0 + f[0, 1] * c1 + f[0, 2] * c2
    per = 1.0 / det
    inverse[0, 0], inverse[1, 0], inverse[2, 0] = c0 * per, c1 * per, c2 * per
    inverse[0, 1] = (f[0, 2] * f[2, 1] - f[0, 1] * f[2, 2]) * per
    inverse[1, 1] = (f[0, 0] * f[2, 2] - f[0, 2] * f[2, 0]) * per
    inverse[2, 1] = (f[0, 1] * f[2, 0] - f[0, 0] * f[2, 1]) * per
    inverse[0, 2] = (f[0, 1] * f[1, 2] - f[0, 2] * f[1, 1]) * per
    inverse[1, 2] = (f[0, 2] * f[1, 0] - f[0, 0] * f[1, 2]) * per
    inverse[2, 2] = (f[0, 0] * f[1, 1] - f[0, 1] * f[1, 0]) * per
    return det


@jit()
def _congruent(f: Any, c: Any, out: Any) -> Any:
    """Fill f c f^T for a symmetric c of six numbers; out is (3, 3)."""
    for i in range(3):
        x, y, z = f[i, 0], f[i, 1], f[i, 2]
        px = x * c[0] + y * c[3] + z * c[5]
        py = x * c[3] + y * c[1] + z * c[4]
        pz = x * c[5] + y * c[4] + z * c[2]
        for j in range(3):
            out[i, j] = px * f[j, 0] + py * f[j, 1] + pz * f[j, 2]


@jit()
def _six(v: Any, d: Any, out: Any) -> Any:
    """Fill the symmetric tensor of principal values d along the columns of v as six numbers."""
    for k in range(6):
        out[k] = 0.0
    for m in range(3):
        x, y, z = v[0, m], v[1, m], v[2, m]
        out[0] += d[m] * x * x
        out[1] += d[m] * y * y
        out[2] += d[m] * z * z
        out[3] += d[m] * x * y
        out[4] += d[m] * y * z
        out[5] += d[m] * z * x


@jit(
    "float64(float64[::1], Tuple((int64[:,::1], float64[:,:,:,::1], float64[:,::1])),"
    f"Tuple((float64, float64, {_TABLE})), Tuple((float64[:,::1], float64[::1])),"
    "Tuple((float64[:,::1], float64[:,::1], float64[:,::1], float64[::1], float64[:,::1])))",
)
def evaluate(z: Any, body: Any, metal: Any, old: Any, out: Any) -> Any:
    """Fill forces, what the tangent needs, and the new state; return the elastic energy.

    Parameters
    ----------
    z : (n_dofs,) array
    body : dofs (e, 60), gradients (e, k, 20, 3), volumes (e, k)
    metal : K, G, and the hardening table, empty for an elastic metal
    old : C (points, 6), equivalent plastic strain (points,)
    out : force (e, 60), kept (points, KEPT), C, equivalent plastic strain, Kirchhoff stress
        NaN in `force` says that a point has no answer (turned inside out, or no root): the rest is
        then not to be used.
    """
    dofs, gradients, volumes = body
    bulk, shear, table = metal
    metric, equivalent = old
    force, kept, new_metric, new_equivalent, new_stress = out
    n_elements, n_quadrature, n_nodes, _ = gradients.shape
    f, inverse, b, v = np.empty((3, 3)), np.empty((3, 3)), np.empty((3, 3)), np.empty((3, 3))
    e, s, t, l = np.empty(3), np.empty(3), np.empty(3), np.empty(3)  # noqa: E741
    six, pushed = np.empty(6), np.empty((3, 3))
    plastic = table[0].size > 0
    total = 0.0
    for element in range(n_elements):
        for r in range(3 * n_nodes):
            force[element, r] = 0.0
        for k in range(n_quadrature):
            point = element * n_quadrature + k
            w = volumes[element, k]
            for i in range(3):
                for j in range(3):
                    f[i, j] = 1.0 if i == j else 0.0
            for a in range(n_nodes):
                x, y = gradients[element, k, a, 0], gradients[element, k, a, 1]
                c = gradients[element, k, a, 2]
                for i in range(3):
                    u = z[dofs[element, 3 * a + i]]
                    f[i, 0] += u * x
                    f[i, 1] += u * y
                    f[i, 2] += u * c
            det = _inverse(f, inverse)
            _congruent(f, metric[point], b)
            principal(b, v)
            for i in range(3):
                l[i] = b[i, i]
            if not (det > 0.0 and l[0] > 0.0 and l[1] > 0.0 and l[2] > 0.0):
                force[:] = np.nan
                return np.nan
            for i in range(3):
                e[i] = 0.5 * math.log(l[i])
            volume = e[0] + e[1] + e[2]
            for i in range(3):
                s[i] = 2.0 * shear * (e[i] - volume / 3.0)
            square = s[0] * s[0] + s[1] * s[1] + s[2] * s[2]
            q = math.sqrt(1.5 * square)
            g, h = 0.0, 0.0
            if plastic:
                g, h = slip(q, equivalent[point], shear, table)
                if not g >= 0.0:
                    force[:] = np.nan
                    return np.nan
            left = 1.0
            if g > 0.0:
                left = 1.0 - 3.0 * shear * g / q
            for i in range(3):
                t[i] = bulk * volume + left * s[i]
            total += w * (0.5 * bulk * volume * volume + left * left * square / (4.0 * shear))
            new_equivalent[point] = equivalent[point] + g
            _six(v, t, six)
            for i in range(6):
                new_stress[point, i] = six[i]
                new_metric[point, i] = metric[point, i]
            # forces: stress on the spatial gradients
            for a in range(n_nodes):
                x, y = gradients[element, k, a, 0], gradients[element, k, a, 1]
                c = gradients[element, k, a, 2]
                gx = x * inverse[0, 0] + y * inverse[1, 0] + c * inverse[2, 0]
                gy = x * inverse[0, 1] + y * inverse[1, 1] + c * inverse[2, 1]
                gz = x * inverse[0, 2] + y * inverse[1, 2] + c * inverse[2, 2]
                force[element, 3 * a] += w * (six[0] * gx + six[3] * gy + six[5] * gz)
                force[element, 3 * a + 1] += w * (six[3] * gx + six[1] * gy + six[4] * gz)
                force[element, 3 * a + 2] += w * (six[5] * gx + six[4] * gy + six[2] * gz)
            own = kept[point]
            for i in range(3):
                own[18 + i] = t[i]
                own[30 + i] = l[i]
                for j in range(3):
                    own[3 * i + j] = v[i, j]
                    own[21 + 3 * i + j] = inverse[i, j]
            fall = 0.0
            if g > 0.0:
                fall = 4.0 * shear * shear * (1.0 / (3.0 * shear + h) - g / q) * 1.5 / square
            both = bulk - 2.0 * shear * left / 3.0
            own[9] = both + 2.0 * shear * left - fall * s[0] * s[0]
            own[10] = both + 2.0 * shear * left - fall * s[1] * s[1]
            own[11] = both + 2.0 * shear * left - fall * s[2] * s[2]
            own[12] = both - fall * s[0] * s[1]
            own[13] = both - fall * s[1] * s[2]
            own[14] = both - fall * s[2] * s[0]
            own[15] = own[16] = own[17] = shear * left
            if g > 0.0:
                # what stays elastic, pulled back
                for i in range(3):
                    e[i] = math.exp(2.0 * (volume / 3.0 + left * s[i] / (2.0 * shear)))
                _six(v, e, six)
                _congruent(inverse, six, pushed)
                new_metric[point, 0] = pushed[0, 0]
                new_metric[point, 1] = pushed[1, 1]
                new_metric[point, 2] = pushed[2, 2]
                new_metric[point, 3] = pushed[0, 1]
                new_metric[point, 4] = pushed[1, 2]
                new_metric[point, 5] = pushed[2, 0]
    return total


@jit()
def _steep(x: Any) -> Any:
    """Return atanh(x)/x, 1 at 0."""
    if abs(x) < 1e-4:
        square = x * x
        return 1.0 + square * (1.0 / 3.0 + square / 5.0)
    return 0.5 * math.log1p(2.0 * x / (1.0 - x)) / x


@jit()
def moduli(own: Any, c: Any) -> Any:
    """Fill the tangent c (6, 6) of a point in the order xx, yy, zz, xy, yz, zx (tensor shears).

    `own` (KEPT,) is what `evaluate` kept of it.
    """
    normal = np.empty((3, 6))
    skew = np.empty((3, 6))
    shear = np.empty(3)
    for m in range(3):
        x, y, z = own[m], own[3 + m], own[6 + m]
        normal[m, 0], normal[m, 1], normal[m, 2] = x * x, y * y, z * z
        normal[m, 3], normal[m, 4], normal[m, 5] = x * y, y * z, z * x
        n = (m + 1) % 3
        u, v, w = own[n], own[3 + n], own[6 + n]
        skew[m, 0], skew[m, 1], skew[m, 2] = 2.0 * x * u, 2.0 * y * v, 2.0 * z * w
        skew[m, 3], skew[m, 4], skew[m, 5] = x * v + y * u, y * w + z * v, z * u + x * w
        li, lj = own[30 + m], own[30 + n]
        ratio = _steep((li - lj) / (li + lj))
        shear[m] = own[15 + m] * ratio - 0.5 * (own[18 + m] + own[18 + n])
    a00, a11, a22 = own[9] - 2.0 * own[18], own[10] - 2.0 * own[19], own[11] - 2.0 * own[20]
    a01, a12, a20 = own[12], own[13], own[14]
    for i in range(6):
        n0, n1, n2 = normal[0, i], normal[1, i], normal[2, i]
        r0 = a00 * n0 + a01 * n1 + a20 * n2
        r1 = a01 * n0 + a11 * n1 + a12 * n2
        r2 = a20 * n0 + a12 * n1 + a22 * n2
        s0, s1, s2 = shear[0] * skew[0, i], shear[1] * skew[1, i], shear[2] * skew[2, i]
        for j in range(6):
            c[i, j] = (
                r0 * normal[0, j] + r1 * normal[1, j] + r2 * normal[2, j]
                + s0 * skew[0, j] + s1 * skew[1, j] + s2 * skew[2, j]
            )  # fmt: skip


@jit(
    "void(float64[:,:,:,::1], float64[:,::1], float64[:,::1], float64[:,::1], float64[:,:,::1])",
)
def tangent(gradients: Any, volumes: Any, kept: Any, stress: Any, entries: Any) -> Any:
    """Fill the tangent's entries, (elements, 3 nodes, 3 nodes).

    `kept` and `stress` are what `evaluate` filled.
    """
    n_elements, n_quadrature, n_nodes, _ = gradients.shape
    c, g = np.empty((6, 6)), np.empty((n_nodes, 3))
    place = np.array([[0, 3, 5], [3, 1, 4], [5, 4, 2]])
    half = np.empty((3, 3, 3 * n_nodes))
    for element in range(n_elements):
        entries[element] = 0.0
        for k in range(n_quadrature):
            point = element * n_quadrature + k
            own, t, w = kept[point], stress[point], volumes[element, k]
            moduli(own, c)
            for a in range(n_nodes):
                x, y = gradients[element, k, a, 0], gradients[element, k, a, 1]
                z = gradients[element, k, a, 2]
                for i in range(3):
                    g[a, i] = x * own[21 + i] + y * own[24 + i] + z * own[27 + i]
            for p in range(3):
                for i in range(3):
                    row = place[i, p]
                    for j in range(3):
                        c0, c1, c2 = c[row, place[j, 0]], c[row, place[j, 1]], c[row, place[j, 2]]
                        if i == j:
                            c0 += t[place[p, 0]]
                            c1 += t[place[p, 1]]
                            c2 += t[place[p, 2]]
                        for a in range(n_nodes):
                            half[p, i, 3 * a + j] = w * (c0 * g[a, 0] + c1 * g[a, 1] + c2 * g[a, 2])
            for a in range(n_nodes):
                gx, gy, gz = g[a, 0], g[a, 1], g[a, 2]
                for i in range(3):
                    for q in range(3 * n_nodes):
                        entries[element, 3 * a + i, q] += (
                            gx * half[0, i, q] + gy * half[1, i, q] + gz * half[2, i, q]
                        )
