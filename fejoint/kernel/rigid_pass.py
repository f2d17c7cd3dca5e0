"""Contact of a body's faces with a rigid body of revolution, compiled.

In the rigid body's frame (axis z, centre at the origin) its surface is the zero of a distance
g(r, z) with gradient (g_r, g_z) of length 1, r the distance from the axis:

    shaft   g = r - R
    wall    g = side (h - z)           (a plane across the axis at height h)
    head    a disc of radius R whose face lies at height h, its rim rounded by a radius c: over the
            face g as for a wall; round the rim g = |(r, z) - (R - c, h + side c)| - c; beside the
            head g = r - R

The energy k/2 g^2 a unit of area where g < 0 gives force -k g n on the face and its opposite on
the rigid body, so that forces balance whatever the surface, and the tangent
k (n n' + g H), with the Hessian H = (1 - n n' ...)/rho of a distance: across the axis g_r/r, and
g_cc along the rim's curve.

The rigid body does not turn, so a point's way along it since the step's start is P (x - x0) with x
its place from the body's centre and P = I - n n'. The tangential traction T (MPa) is a spring kt
(MPa/mm) on that way, capped at friction mu times the pressure p = -k g:

    trial = P v ,  v = T0 + kt share (x - x0) ,   T = trial, or trial mu p/|trial| where it slides

with `share` = g/(g - g0) the part of the step behind the touch where the point came to touch in it
(g0 > 0), else 1. With dn = H dx (H without the part along n) follow the tangent's

    dP v = -(n.v) dn - n (dn.v) ,   and, sliding, dT = mu p/|trial| (I - t t') d(trial) - mu k t dg.

Wriggers, Computational Contact Mechanics, 2nd ed. 2006, ch. 5 (from memory); derived here, held by
finite differences in the tests. Importing this module imports numba; see compiled.py.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from fejoint.kernel.compiled import jit

SHAFT, WALL, HEAD = 0, 1, 2


@jit()
def distance(kind: Any, r: Any, z: Any, size: Any, height: Any, side: Any, rim: Any) -> Any:
    """Return g, g_r, g_z and the curvature of the profile (0 where it is straight)."""
    if kind == SHAFT:
        return r - size, 1.0, 0.0, 0.0
    out, up = r - (size - rim), side * (z - height)
    if kind == WALL or out <= 0.0:
        return -up, 0.0, -side, 0.0
    into = up - rim
    if into >= 0.0:
        return r - size, 1.0, 0.0, 0.0
    far = math.sqrt(out * out + into * into)
    return far - rim, out / far, side * into / far, 1.0 / far


@jit()
def drag(
    normal: Any, bend: Any, place: Any, before: Any, law: Any, traction: Any, slope: Any
) -> Any:
    """Fill the tangential traction, (3,) MPa, and its slope over the place, (3, 3); return `share`.

    Parameters
    ----------
    normal, bend : (3,) and (3, 3) arrays
        n and dn/dx.
    place : g, pressure, x (3,)
    before : g0, T0 (3,), x0 (3,)
    law : k, friction, kt
    """
    g, pressure, x = place
    g0, t0, x0 = before
    k, friction, kt = law
    share, d_share = 1.0, 0.0
    if g0 > 0.0:
        share, d_share = g / (g - g0), -g0 / (g - g0) ** 2
    across = 0.0
    for i in range(3):
        traction[i] = t0[i] + kt * share * (x[i] - x0[i])
        across += normal[i] * traction[i]
    for j in range(3):
        # P dv/dx_j + dP/dx_j v
        by_bend, by_share = 0.0, 0.0
        for i in range(3):
            by_bend += bend[i, j] * traction[i]
            by_share += normal[i] * (x[i] - x0[i])
        for i in range(3):
            change = (x[i] - x0[i] - by_share * normal[i]) * d_share * normal[j]
            straight = (1.0 if i == j else 0.0) - normal[i] * normal[j]
            slope[i, j] = kt * (share * straight + change)
            slope[i, j] -= across * bend[i, j] + normal[i] * by_bend
    size = 0.0
    for i in range(3):
        traction[i] -= across * normal[i]
        size += traction[i] * traction[i]
    size, cap = math.sqrt(size), friction * max(pressure, 0.0)
    if size <= cap:
        return share
    scale = cap / size
    for i in range(3):
        traction[i] /= size
    for j in range(3):
        along = 0.0
        for i in range(3):
            along += traction[i] * slope[i, j]
        less = friction * k * normal[j] if pressure > 0.0 else 0.0
        for i in range(3):
            slope[i, j] = scale * (slope[i, j] - traction[i] * along) - less * traction[i]
    for i in range(3):
        traction[i] *= cap
    return share


@jit(
    "boolean(float64[::1],"
    "Tuple((int64[:,::1], float64[:,:,::1], float64[:,::1], float64[:,::1])),"
    "Tuple((int64, float64[::1], float64[:,::1], float64[::1], int64[::1], UniTuple(float64, 3))),"
    "Tuple((float64[::1], float64[:,::1], float64[:,::1])), boolean, boolean,"
    "Tuple((float64[:,::1], float64[:,:,::1], float64[::1], float64[::1], float64[::1],"
    "float64[:,::1], float64[:,::1])))",
)
def evaluate(z: Any, faces: Any, rigid: Any, old: Any, held: Any, tangent: Any, out: Any) -> Any:
    """Fill forces, tangent entries, gaps and pressures; return whether all points have a distance.

    Parameters
    ----------
    z : (n_dofs,) array
    faces : dofs (f, 24), nodes (f, 8, 3), shapes (g, 8), weights (f, g)
    rigid : kind, sizes (radius, height, side, rim), rotation (3, 3), centre (3,), its dofs (3,),
        (k, friction, kt)
    old : gap (f g,), traction (f g, 3), place (f g, 3)
        At the step's start.
    held : bool
        Points that touched at the old gaps still do.
    tangent : bool
    out : force (f, 27), entries (f, 27, 27), gap (f g,), pressure (f g,), energy (2,) stored
        and lost, traction (f g, 3), place (f g, 3)
        Forces, entries and energy must arrive as zeros.
    """
    dofs, nodes, shapes, weights = faces
    kind, sizes, turn, centre, own, law = rigid
    stiffness, friction, drags = law
    old_gap, old_traction, old_place = old
    force, entries, new_gap, pressure, energy, traction, place = out
    n_faces, n_gauss = weights.shape
    x, y, n, local, first, along = (
        np.empty(3), np.empty(3), np.empty(3), np.empty(3), np.empty(3), np.empty(3),
    )  # fmt: skip
    hessian, h, bent, slope = np.empty((3, 3)), np.empty(9), np.empty((3, 3)), np.empty((3, 3))
    for face in range(n_faces):
        for point in range(n_gauss):
            at = face * n_gauss + point
            for i in range(3):
                x[i] = -centre[i] - z[own[i]]
                for a in range(8):
                    x[i] += shapes[point, a] * (nodes[face, a, i] + z[dofs[face, 3 * a + i]])
            for i in range(3):
                y[i] = turn[i, 0] * x[0] + turn[i, 1] * x[1] + turn[i, 2] * x[2]
            r = math.sqrt(y[0] * y[0] + y[1] * y[1])
            g, by_r, by_z, bend = distance(kind, r, y[2], sizes[0], sizes[1], sizes[2], sizes[3])
            if not math.isfinite(g) or (by_r != 0.0 and r < 0.3 * (sizes[0] - sizes[3])):
                return False
            new_gap[at], pressure[at] = g, 0.0
            for i in range(3):
                traction[at, i], place[at, i] = 0.0, x[i]
            if g >= 0.0 and not (held and old_gap[at] < 0.0):
                continue
            w = weights[face, point] * stiffness
            pressure[at] = -stiffness * g
            energy[0] += 0.5 * w * g * g
            per = 1.0 / r if r > 0.0 else 0.0
            first[0], first[1], first[2] = y[0] * per, y[1] * per, 0.0
            local[0], local[1], local[2] = by_r * first[0], by_r * first[1], by_z
            for i in range(3):
                n[i] = turn[0, i] * local[0] + turn[1, i] * local[1] + turn[2, i] * local[2]
            for a in range(9):
                h[a] = shapes[point, a] if a < 8 else -1.0
            for a in range(9):
                for i in range(3):
                    force[face, 3 * a + i] += w * g * h[a] * n[i]
            if not tangent and friction == 0.0:
                continue
            # Hessian in the body's frame: round the axis, and along the profile's curve
            along[0], along[1], along[2] = -by_z * first[0], -by_z * first[1], by_r
            for i in range(3):
                for j in range(3):
                    same = 1.0 if i == j and i < 2 else 0.0
                    round_ = by_r * per * (same - first[i] * first[j]) if i < 2 and j < 2 else 0.0
                    hessian[i, j] = round_ + bend * along[i] * along[j]
            for i in range(3):
                for j in range(3):
                    bent[i, j] = 0.0
                    for p in range(3):
                        for q in range(3):
                            bent[i, j] += turn[p, i] * hessian[p, q] * turn[q, j]
            if friction > 0.0:
                before = (old_gap[at], old_traction[at], old_place[at])
                share = drag(n, bent, (g, pressure[at], x), before, law, traction[at], slope)
                now, slid = 0.0, 0.0
                for i in range(3):
                    now += traction[at, i] ** 2
                    spring = (traction[at, i] - old_traction[at, i]) / drags
                    slid += traction[at, i] * (share * (x[i] - old_place[at, i]) - spring)
                    for a in range(9):
                        force[face, 3 * a + i] += weights[face, point] * h[a] * traction[at, i]
                energy[0] += 0.5 * weights[face, point] * now / drags
                energy[1] += weights[face, point] * slid
            if not tangent:
                continue
            for i in range(3):
                for j in range(3):
                    total = w * (n[i] * n[j] + g * bent[i, j])
                    if friction > 0.0:
                        total += weights[face, point] * slope[i, j]
                    for a in range(9):
                        for b in range(9):
                            entries[face, 3 * a + i, 3 * b + j] += h[a] * h[b] * total
    return True
