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
g_cc along the rim's curve. Importing this module imports numba; see compiled.py.
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


@jit(
    "boolean(float64[::1],"
    "Tuple((int64[:,::1], float64[:,:,::1], float64[:,::1], float64[:,::1])),"
    "Tuple((int64, float64[::1], float64[:,::1], float64[::1], int64[::1], float64)),"
    "float64[::1], boolean, boolean,"
    "Tuple((float64[:,::1], float64[:,:,::1], float64[::1], float64[::1], float64[::1])))",
)
def evaluate(
    z: Any, faces: Any, rigid: Any, old_gap: Any, held: Any, tangent: Any, out: Any
) -> Any:
    """Fill forces, tangent entries, gaps and pressures; return whether all points have a distance.

    Parameters
    ----------
    z : (n_dofs,) array
    faces : dofs (f, 24), nodes (f, 8, 3), shapes (g, 8), weights (f, g)
    rigid : kind, sizes (radius, height, side, rim), rotation (3, 3), centre (3,), its dofs (3,), k
    old_gap : (f g,) array
    held : bool
        Points that touched at the old gaps still do.
    tangent : bool
    out : force (f, 27), entries (f, 27, 27), gap (f g,), pressure (f g,), energy (1,)
        Forces, entries and energy must arrive as zeros.
    """
    dofs, nodes, shapes, weights = faces
    kind, sizes, turn, centre, own, stiffness = rigid
    force, entries, new_gap, pressure, energy = out
    n_faces, n_gauss = weights.shape
    x, y, n, local, first, along = (
        np.empty(3), np.empty(3), np.empty(3), np.empty(3), np.empty(3), np.empty(3),
    )  # fmt: skip
    hessian, h = np.empty((3, 3)), np.empty(9)
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
            if not tangent:
                continue
            # Hessian in the body's frame: round the axis, and along the profile's curve
            along[0], along[1], along[2] = -by_z * first[0], -by_z * first[1], by_r
            for i in range(3):
                for j in range(3):
                    same = 1.0 if i == j and i < 2 else 0.0
                    round_ = by_r * per * (same - first[i] * first[j]) if i < 2 and j < 2 else 0.0
                    hessian[i, j] = local[i] * local[j] + g * (round_ + bend * along[i] * along[j])
            for i in range(3):
                for j in range(3):
                    total = 0.0
                    for p in range(3):
                        for q in range(3):
                            total += turn[p, i] * hessian[p, q] * turn[q, j]
                    total *= w
                    for a in range(9):
                        for b in range(9):
                            entries[face, 3 * a + i, 3 * b + j] += h[a] * h[b] * total
    return True
