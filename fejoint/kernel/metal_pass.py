"""A metal body's forces, and its tangent where it is factorised: the loops over its elements.

Virtual work is the integral of the Kirchhoff stress tau times the spatial gradient of the virtual
displacement over the reference volume: node n of an element has the force

    f_n = sum over points of w tau g_n ,   g_n = F^-T dN_n/dX

with w the point's reference volume (mm3), and the nodes n and m the tangent
sum w (B_n' c B_m + (g_n tau g_m) I), c the moduli of finite_strain.py. Small strain has F = I and
no initial stress in the tangent. The first pass keeps of every point what the second needs, so a
tangent costs no second return map.

Tuples: `body` is dofs (e, 12), gradients (e, k, 6, 2), volumes (e, k), large; `metal` as
`Metal.data`; a point's history is C (xx, yy, xy) and the equivalent plastic strain.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from fejoint.kernel import plane_strain, plane_stress
from fejoint.kernel.compiled import jit
from fejoint.kernel.finite_strain import (
    large_metric,
    large_trial,
    small_metric,
    small_trial,
    tangent_moduli,
)

_TABLE = "Tuple((float64[::1], float64[::1], float64[::1], float64))"
_METAL = f"Tuple((boolean, float64, float64, float64, {_TABLE}))"
_across_map = plane_strain.return_map
_plane_map = plane_stress.return_map


@jit()
def respond_at(u: Any, c: Any, past: Any, metal: Any, large: Any) -> Any:
    """Return what the metal answers at one point to a displacement gradient (xx, xy, yx, yy).

    Returns
    -------
    tau, moduli, F^-1, C, (equivalent plastic strain, stress across, elastic energy per volume)
        The stress is NaN where the point has no answer.
    """
    if large:
        strains, direction, inverse = large_trial(u, c)
    else:
        strains, direction, inverse = small_trial(u, c)
    e, f, across = strains
    if metal[0]:
        returned = _across_map(e, f, across, past, metal)
    else:
        returned = _plane_map(e, f, past, metal)
    (s, d), dgamma, _, (stress_across, elastic_e, elastic_across) = returned
    elastic_f = d / metal[2]
    energy = 0.25 * (s * elastic_e + d * elastic_f) + 0.5 * stress_across * elastic_across
    if dgamma > 0.0:
        if large:
            c = large_metric(elastic_e, elastic_f, direction, inverse)
        else:
            c = small_metric(elastic_e, elastic_f, direction, u)
    tau = (0.5 * (s + d * direction[0]), 0.5 * (s - d * direction[0]), 0.5 * d * direction[1])
    moduli = tangent_moduli(returned, direction, large)
    return tau, moduli, inverse, c, (past + dgamma, stress_across, energy)


@jit()
def gradient_at(z: Any, dofs: Any, gradients: Any) -> Any:
    """Return the displacement gradient of an element at one of its points."""
    uxx = uxy = uyx = uyy = 0.0
    for n in range(6):
        x, y = gradients[n, 0], gradients[n, 1]
        ux, uy = z[dofs[2 * n]], z[dofs[2 * n + 1]]
        uxx += ux * x
        uxy += ux * y
        uyx += uy * x
        uyy += uy * y
    return uxx, uxy, uyx, uyy


@jit()
def add_point_forces(gradients: Any, inverse: Any, stress: Any, force: Any) -> None:
    """Add the forces of a point's stress, times its volume, on the element's nodes."""
    ixx, ixy, iyx, iyy = inverse
    sxx, syy, sxy = stress
    for n in range(6):
        x, y = gradients[n, 0], gradients[n, 1]
        gx, gy = x * ixx + y * iyx, x * ixy + y * iyy
        force[2 * n] += gx * sxx + gy * sxy
        force[2 * n + 1] += gx * sxy + gy * syy


@jit(
    "float64(float64[::1],"
    "Tuple((int64[:,::1], float64[:,:,:,::1], float64[:,::1], boolean)),"
    f"{_METAL}, Tuple((float64[:,::1], float64[::1])),"
    "Tuple((float64[:,::1], float64[:,::1], float64[:,::1], float64[::1], float64[:,::1],"
    "float64[::1])))",
)
def evaluate(z: Any, body: Any, metal: Any, old: Any, out: Any) -> Any:
    """Fill forces, what the tangent needs, and the new state; return the elastic energy, N mm.

    Parameters
    ----------
    z : (n_dofs,) array
    body, metal : see the module's head
    old : C (3, points), equivalent plastic strain (points,)
    out : force (e, 12), stiffness (points, 13), C, equivalent plastic strain, tau, stress across
        `stiffness` is the moduli, the stress that adds to them, and F^-1, the first two times the
        volume. NaN in `force` says that a point has no answer (turned inside out, or no root): the
        rest is then not to be used.
    """
    dofs, gradients, volumes, large = body
    force, stiffness, new_c, new_equivalent, new_stress, new_across = out
    total = 0.0
    for e in range(volumes.shape[0]):
        force[e, :] = 0.0
        for k in range(volumes.shape[1]):
            p, w = e * volumes.shape[1] + k, volumes[e, k]
            u = gradient_at(z, dofs[e], gradients[e, k])
            c = (old[0][0, p], old[0][1, p], old[0][2, p])
            tau, moduli, inverse, c, (equivalent, across, energy) = respond_at(
                u, c, old[1][p], metal, large
            )
            if not math.isfinite(tau[0]):
                force[:] = np.nan
                return np.nan
            total += w * energy
            stress = (w * tau[0], w * tau[1], w * tau[2])
            for i in range(3):
                new_stress[i, p], new_c[i, p] = tau[i], c[i]
                stiffness[p, 6 + i] = stress[i] if large else 0.0
            new_equivalent[p], new_across[p] = equivalent, across
            for i in range(6):
                stiffness[p, i] = w * moduli[i]
            for i in range(4):
                stiffness[p, 9 + i] = inverse[i]
            add_point_forces(gradients[e, k], inverse, stress, force[e])
    return total


@jit(
    f"void(float64[:,::1], float64[:,::1], float64[::1], {_METAL}, boolean, float64[:,::1])",
)
def respond(gradients: Any, c: Any, past: Any, metal: Any, large: Any, out: Any) -> None:
    """Fill `out` (19, n) for displacement gradients (4, n): see `respond_at`."""
    for p in range(past.size):
        u = (gradients[0, p], gradients[1, p], gradients[2, p], gradients[3, p])
        metric = (c[0, p], c[1, p], c[2, p])
        tau, moduli, inverse, metric, rest = respond_at(u, metric, past[p], metal, large)
        for i in range(3):
            out[i, p], out[13 + i, p], out[16 + i, p] = tau[i], metric[i], rest[i]
        for i in range(6):
            out[3 + i, p] = moduli[i]
        for i in range(4):
            out[9 + i, p] = inverse[i]


@jit("void(float64[:,:,:,::1], float64[:,::1], float64[:,:,::1])")
def tangent(gradients: Any, stiffness: Any, entries: Any) -> None:
    """Fill the tangent's entries, (elements, 6, 24) as `Solid.blocks` orders them.

    `stiffness` is what `evaluate` filled.
    """
    n_elements, n_quadrature = gradients.shape[:2]
    gx, gy = np.empty(6), np.empty(6)
    by_x, by_y = np.empty(24), np.empty(24)
    for e in range(n_elements):
        for k in range(n_quadrature):
            stiff = stiffness[e * n_quadrature + k]
            c11, c22, c12 = stiff[0], stiff[1], stiff[2]
            c13, c23, c33 = stiff[3], stiff[4], stiff[5]
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
