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

from fejoint.kernel.compiled import jit
from fejoint.kernel.finite_strain import (
    large_across,
    large_metric,
    large_trial,
    small_across,
    small_metric,
    small_trial,
    tangent_moduli,
)
from fejoint.kernel.plane_strain import plastic_increments as across_increments
from fejoint.kernel.plane_strain import stress_after as across_stress
from fejoint.kernel.plane_stress import plastic_increments as plane_increments
from fejoint.kernel.plane_stress import stress_after as plane_stress_after

_METAL = "Tuple((boolean, float64, float64, float64, float64[:,::1]))"


@jit()
def new_room(n: Any) -> Any:
    """Return room for n points: trial strains (n, 11), and the searches of `plane_stress.begin`.

    A row of the first has e, f, the strain across, the equivalent plastic strain at the step's
    start, the principal direction (3) and F^-1 (4).
    """
    return np.empty((n, 11)), np.empty((n, 6))


@jit()
def begin_at(u: Any, c: Any, past: Any, kind: Any, trial: Any) -> None:
    """Fill the trial strains of one point, a row of `new_room`, from its displacement gradient."""
    large, plane_strain = kind
    trial[2], trial[3] = 0.0, past
    if large:
        strains, direction, inverse = large_trial(u, c)
        if plane_strain:
            trial[2] = large_across(c)
    else:
        strains, direction, inverse = small_trial(u, c)
        if plane_strain:
            trial[2] = small_across(c)
    trial[0], trial[1] = strains
    for i in range(3):
        trial[4 + i] = direction[i]
    for i in range(4):
        trial[7 + i] = inverse[i]


@jit()
def find_increments(trial: Any, searches: Any, plane_strain: Any, moduli: Any, cells: Any) -> None:
    """Find the plastic strain of the step at some points."""
    if cells.size == 0:
        searches[:, :] = 0.0
    elif plane_strain:
        across_increments(trial, searches, moduli, cells)
    else:
        plane_increments(trial, searches, moduli, cells)


@jit()
def end_at(trial: Any, search: Any, c: Any, moduli: Any, kind: Any) -> Any:
    """Return what the metal answers at one point, a row of `new_room` after `find_increments`.

    Returns
    -------
    tau, moduli, F^-1, C, (equivalent plastic strain, stress across, elastic energy per volume)
        The stress is NaN where the point has no answer.
    """
    e, f, across, past = trial[0], trial[1], trial[2], trial[3]
    direction, inverse = (trial[4], trial[5], trial[6]), (trial[7], trial[8], trial[9], trial[10])
    found = (search[0], search[1], search[2])
    large, plane_strain = kind
    if plane_strain:
        returned = across_stress(e, f, across, found, moduli)
    else:
        returned = plane_stress_after(e, f, found, moduli)
    (s, d), _, (stress_across, elastic_e, elastic_across) = returned
    elastic_f = d / moduli[1]
    energy = 0.25 * (s * elastic_e + d * elastic_f) + 0.5 * stress_across * elastic_across
    if search[0] > 0.0:
        if large:
            c = large_metric(elastic_e, elastic_f, direction, inverse)
        else:
            c = small_metric(e - elastic_e, f - elastic_f, direction, c)
    tau = (0.5 * (s + d * direction[0]), 0.5 * (s - d * direction[0]), 0.5 * d * direction[1])
    tangent_part = tangent_moduli(returned, direction, large)
    return tau, tangent_part, inverse, c, (past + search[0], stress_across, energy)


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
    old_c, past = old
    plane_strain, big_s, two_g, bulk, cells = metal
    elastic, kind = (big_s, two_g, bulk), (large, plane_strain)
    n_elements, n_quadrature = volumes.shape
    trial, searches = new_room(n_quadrature)
    total = 0.0
    for e in range(n_elements):
        force[e, :] = 0.0
        for k in range(n_quadrature):
            p = e * n_quadrature + k
            u = gradient_at(z, dofs[e], gradients[e, k])
            begin_at(u, (old_c[0, p], old_c[1, p], old_c[2, p]), past[p], kind, trial[k])
        find_increments(trial, searches, plane_strain, elastic, cells)
        for k in range(n_quadrature):
            p, w = e * n_quadrature + k, volumes[e, k]
            c = (old_c[0, p], old_c[1, p], old_c[2, p])
            tau, moduli, inverse, c, (equivalent, across, energy) = end_at(
                trial[k], searches[k], c, elastic, kind
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
    """Fill `out` (19, n) for displacement gradients (4, n): see `end_at`."""
    plane_strain, big_s, two_g, bulk, cells = metal
    elastic, kind = (big_s, two_g, bulk), (large, plane_strain)
    trial, searches = new_room(past.size)
    for p in range(past.size):
        u = (gradients[0, p], gradients[1, p], gradients[2, p], gradients[3, p])
        begin_at(u, (c[0, p], c[1, p], c[2, p]), past[p], kind, trial[p])
    find_increments(trial, searches, plane_strain, elastic, cells)
    for p in range(past.size):
        metric = (c[0, p], c[1, p], c[2, p])
        tau, moduli, inverse, metric, rest = end_at(trial[p], searches[p], metric, elastic, kind)
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
