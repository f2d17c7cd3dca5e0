"""A pin's contact, point by point, in one compiled pass.

The same formulas as contact.py, masters.py and contact_forms.py. Importing this module imports
numba; see compiled.py.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

_OPTIONS = {"error_model": "numpy", "fastmath": {"contract"}}

OK, MISSING, BAD = 0, 1, 2
"""Answers of `evaluate`: all well; a pair of edge and span has no place; no finite answer."""


@njit(**_OPTIONS)
def _stencil(span, n, half, index, sign):  # type: ignore[no-untyped-def]
    """Fill the four nodes round a span and the sign of their y; see masters.py."""
    for a in range(4):
        i = span - 1 + a
        sign[a] = 1.0
        if half:
            if i < 0:
                i, sign[a] = -i, -1.0
            elif i > n - 1:
                i, sign[a] = 2 * (n - 1) - i, -1.0
        else:
            i %= n
        index[a] = i


@njit(**_OPTIONS)
def _at(s, nodes, half, curve, index, sign, shapes, frame):  # type: ignore[no-untyped-def]
    """Fill shapes (4, 4) and frame (4, 2): X(s) and three derivatives; return the span."""
    n = nodes.shape[0]
    spans = n - 1 if half else n
    floor = math.floor(s)
    if half:
        floor = min(max(floor, 0.0), spans - 1.0)
    u = s - floor
    span = int(floor)
    if not half:
        span %= spans
    _stencil(span, n, half, index, sign)
    frame[:, :] = 0.0
    for a in range(4):
        c = curve[a]
        shapes[0, a] = c[0] + u * (c[1] + u * (c[2] + u * (c[3] + u * (c[4] + u * c[5]))))
        shapes[1, a] = c[1] + u * (2 * c[2] + u * (3 * c[3] + u * (4 * c[4] + u * 5 * c[5])))
        shapes[2, a] = 2 * c[2] + u * (6 * c[3] + u * (12 * c[4] + u * 20 * c[5]))
        shapes[3, a] = 6 * c[3] + u * (24 * c[4] + u * 60 * c[5])
        x, y = nodes[index[a], 0], nodes[index[a], 1] * sign[a]
        for d in range(4):
            frame[d, 0] += shapes[d, a] * x
            frame[d, 1] += shapes[d, a] * y
    return span


@njit(**_OPTIONS)
def _angles(nodes, half, angles):  # type: ignore[no-untyped-def]
    """Fill the nodes' rising angles round the edge's middle (one more for a whole edge)."""
    n = nodes.shape[0]
    mx = my = 0.0
    if half:
        mx = 0.5 * (nodes[0, 0] + nodes[n - 1, 0])
    else:
        for a in range(n):
            mx += nodes[a, 0] / n
            my += nodes[a, 1] / n
    for a in range(n):
        angles[a] = math.atan2(nodes[a, 1] - my, nodes[a, 0] - mx)
    if half:
        angles[n - 1] = math.pi
        for a in range(1, n):
            angles[a] = max(angles[a], angles[a - 1])
    else:
        angles[n] = angles[0] + 2.0 * math.pi
        for a in range(1, n + 1):
            turn = angles[a] - angles[a - 1]
            angles[a] -= 2.0 * math.pi * math.floor(turn / (2.0 * math.pi) + 0.5)
    return mx, my


@njit(
    "int64(float64[::1], int64[:,::1], float64[:,:,::1], float64[:,::1], float64[:,::1],"
    "boolean, boolean, float64[:,::1], int64[:,::1], float64, float64[:,::1],"
    "float64, float64, float64, float64, float64[::1], float64[::1], float64[::1], boolean,"
    "boolean, int64[:,::1], int64[:,:,::1],"
    "float64[::1], float64[::1], float64[::1], float64[::1], float64[::1], int64[::1],"
    "float64[::1])",
    cache=True,
    **_OPTIONS,
)
def evaluate(  # type: ignore[no-untyped-def]
    z,
    secondary_dofs,
    slave_nodes,
    slave_shapes,
    weights,
    circle,
    half,
    master_nodes,
    primary_dofs,
    radius,
    curve,
    stiffness,
    soft_depth,
    friction,
    tangential_stiffness,
    old_drag,
    old_where,
    old_gap,
    held,
    tangent,
    rank,
    table,
    force,
    entries,
    new_drag,
    new_where,
    new_gap,
    new_span,
    energy,
):
    """Fill forces, tangent entries, the new state and the energies (stored, lost).

    Parameters are the fields of `PinContact`, its secondary, primary and places, and of
    `ContactState`. Forces come on all unknowns of the secondary edge, then all of the primary.
    `force`, `entries` and `energy` must arrive as zeros. With `held`, points that touched in the
    old state still do.
    """
    n_edges, gauss = weights.shape
    n = master_nodes.shape[0]
    nodes = np.empty((n, 2))
    for a in range(n):
        for i in range(2):
            nodes[a, i] = master_nodes[a, i] + z[primary_dofs[a, i]]
    angles = np.empty(n + 1)
    mx = my = 0.0
    per_span = 1 if circle else 4
    spans = 1 if circle else n - 1 if half else n
    n_angles = n if half else n + 1
    period = 0.0 if half else float(spans)
    if circle:
        period = 2.0 * math.pi
    else:
        mx, my = _angles(nodes, half, angles)
    k = 6 + 2 * per_span
    index, sign = np.zeros(4, np.int64), np.ones(4)
    shapes, frame = np.zeros((4, 4)), np.zeros((4, 2))
    shapes[0, 0] = 1.0
    f_gap, f_where, f_normal = np.zeros(k), np.zeros(k), np.zeros(k)
    f_along, f_bend, f_tilt, f_half = np.zeros(k), np.zeros(k), np.zeros(k), np.zeros(k)
    f_change, f_left = np.zeros(k), np.zeros(k)
    status = OK
    for e in range(n_edges):
        for j in range(gauss):
            point = e * gauss + j
            x = y = 0.0
            for a in range(3):
                h = slave_shapes[j, a]
                x += h * (slave_nodes[e, a, 0] + z[secondary_dofs[e, 2 * a]])
                y += h * (slave_nodes[e, a, 1] + z[secondary_dofs[e, 2 * a + 1]])
            # closest point
            span = 0
            if circle:
                ax, ay = x - nodes[0, 0], y - nodes[0, 1]
                far = math.sqrt(ax * ax + ay * ay)
                nx, ny = ax / far, ay / far
                g, s = far - radius, math.atan2(ny, nx)
                frame[1, 0], frame[1, 1] = -ny * radius, nx * radius
                frame[2, 0], frame[2, 1] = -nx * radius, -ny * radius
                frame[3, 0], frame[3, 1] = ny * radius, -nx * radius
            else:
                angle = math.atan2(y - my, x - mx)
                if half:
                    angle = abs(angle)
                else:
                    turns = (angle - angles[0]) / (2.0 * math.pi)
                    angle = angles[0] + 2.0 * math.pi * (turns - math.floor(turns))
                after = int(np.searchsorted(angles[:n_angles], angle))
                after = min(max(after, 1), n_angles - 1)
                wide = angles[after] - angles[after - 1]
                part = (angle - angles[after - 1]) / wide if wide > 0.0 else 0.0
                s = after - 1 + min(max(part, 0.0), 1.0)
                for _ in range(25):
                    if not math.isfinite(s):
                        return BAD
                    _at(s, nodes, half, curve, index, sign, shapes, frame)
                    ax, ay = x - frame[0, 0], y - frame[0, 1]
                    miss = ax * frame[1, 0] + ay * frame[1, 1]
                    length2 = frame[1, 0] ** 2 + frame[1, 1] ** 2
                    bend = length2 - (ax * frame[2, 0] + ay * frame[2, 1])
                    # Gauss-Newton beyond the centre of curvature, where Newton would run away
                    change = miss / max(bend, 0.3 * length2)
                    change = min(max(change, -2.0), 2.0)
                    s += change
                    if half:
                        s = min(max(s, 0.0), float(spans))
                    if abs(change) < 1e-9:
                        break
                if not math.isfinite(s):
                    return BAD
                span = _at(s, nodes, half, curve, index, sign, shapes, frame)
                length = math.sqrt(frame[1, 0] ** 2 + frame[1, 1] ** 2)
                nx, ny = frame[1, 1] / length, -frame[1, 0] / length
                g = (x - frame[0, 0]) * nx + (y - frame[0, 1]) * ny
            new_where[point], new_gap[point], new_span[point] = s, g, span
            new_drag[point] = 0.0
            if not math.isfinite(g):
                return BAD
            apart = g >= 0.0
            if apart and not (held and old_gap[point] < 0.0):
                continue
            # forms
            w = weights[e, j]
            tx, ty = frame[1, 0], frame[1, 1]
            m = tx * tx + ty * ty
            root = math.sqrt(m)
            b = nx * frame[2, 0] + ny * frame[2, 1]
            c = tx * frame[2, 0] + ty * frame[2, 1]
            below = 1.0 / (m - g * b)
            for a in range(3):
                h = slave_shapes[j, a]
                f_gap[2 * a], f_gap[2 * a + 1] = h * nx, h * ny
                f_where[2 * a], f_where[2 * a + 1] = h * tx * below, h * ty * below
            for a in range(per_span):
                r = 6 + 2 * a
                h0, h1, h2 = shapes[0, a], shapes[1, a], shapes[2, a]
                for i in range(2):
                    v, t = (nx, tx) if i == 0 else (ny * sign[a], ty * sign[a])
                    f_gap[r + i] = -h0 * v
                    f_normal[r + i], f_along[r + i], f_bend[r + i] = h1 * v, h1 * t, h2 * v
                    f_where[r + i] = (g * h1 * v - h0 * t) * below
            depth = -g
            pressure = stiffness * depth * (1.0 + depth / soft_depth)
            rate = stiffness * (1.0 + 2.0 * depth / soft_depth)
            energy[0] += w * stiffness * depth * depth * (0.5 + depth / (3.0 * soft_depth))
            # friction
            drag, trial, sliding = 0.0, 0.0, False
            share, d_share, moved = 1.0, 0.0, 0.0
            if friction > 0.0:
                moved = s - old_where[point]
                if period > 0.0:
                    moved -= period * math.floor(moved / period + 0.5)
                before = old_gap[point]
                if before > 0.0:
                    share = g / (g - before)
                    d_share = -before / (g - before) ** 2
                trial = old_drag[point] + tangential_stiffness * root * share * moved
                cap = friction * pressure
                if apart:
                    trial = old_drag[point]
                sliding = abs(trial) > cap
                drag = trial
                if sliding:
                    drag = math.copysign(1.0, trial) * cap
                new_drag[point] = drag
                energy[0] += 0.5 * w * drag * drag / tangential_stiffness
                energy[1] += w * drag * (trial - drag) / tangential_stiffness
            for r in range(k):
                f = -w * pressure * f_gap[r] + w * drag * root * f_where[r]
                if r < 6:
                    force[6 * e + r] += f
                else:
                    force[6 * n_edges + 2 * index[(r - 6) // 2] + r % 2] += f
            if not tangent:
                continue
            pair = rank[e, span]
            if pair < 0:
                status = MISSING
            if status == MISSING:
                continue
            third = nx * frame[3, 0] + ny * frame[3, 1]
            for r in range(k):
                f_tilt[r] = f_normal[r] + b * f_where[r]
            if friction > 0.0:
                for r in range(k):
                    f_half[r] = f_along[r] + c * f_where[r]
                    if sliding:
                        f_change[r] = -friction * rate * math.copysign(1.0, trial) * f_gap[r]
                    else:
                        f_change[r] = tangential_stiffness * (
                            share * (root * f_where[r] + moved * f_half[r] / root)
                            + root * moved * d_share * f_gap[r]
                        )
                    d_b = f_bend[r] + third * f_where[r] - f_tilt[r] * c / m
                    f_left[r] = 2.0 * f_half[r] - b * f_gap[r] - g * d_b
            for r in range(k):
                row_gap, row_where, row_normal, row_tilt = (
                    f_gap[r], f_where[r], f_normal[r], f_tilt[r]
                )  # fmt: skip
                row_along, row_bend = f_along[r], f_bend[r]
                along_form = row_where / below - g * row_normal
                for q in range(k):
                    v = rate * row_gap * f_gap[q] - pressure * (
                        g / m * row_tilt * f_tilt[q]
                        - row_normal * f_where[q]
                        - row_where * f_tilt[q]
                    )
                    if friction > 0.0:
                        right = row_gap * f_tilt[q] + along_form / m * f_half[q]
                        right += row_normal * f_gap[q] - row_along * f_where[q]
                        right += g * (row_bend * f_where[q] - row_along * f_tilt[q] / m)
                        second = root * (right - row_where * f_left[q]) * below
                        second += row_where * f_half[q] / root
                        v += root * row_where * f_change[q] + drag * second
                    entries[table[pair, r, q]] += w * v
    return status
