"""A pin's contact, point by point: forces, tangent entries, new state and energies.

At a secondary point x with its closest point X(s) on the pin (closest_point.py), t = X', m = t.t,
n the outward unit normal, b = n.X'', c = t.X'' and gap g = (x - X).n, let y and Y be the virtual
displacements of x and of X at fixed s, and Y' = dY/ds. From (x - X).t = 0 follow the linear forms

    dg = (y - Y).n ,    (m - g b) ds = (y - Y).t + g n.Y'

    tilt = n.Y' + b ds  (minus |t| times the normal's turn) ,    d(m)/2 = t.Y' + c ds

Pressure (MPa) at depth d = -g: p = k d (1 + d/d0), penalty k (MPa/mm) and soft depth d0 (mm). Its
force is -w p dg at the weight w (mm2), with the tangent

    w (p' dg Dg - p ddg) ,   ddg = g/m tilt Tilt - n.Y' Ds - ds Tilt

where capitals are the same forms of the increment. The tangential traction T (MPa) is a spring kt
(MPa/mm) on the slip |t| (s - s0) since the step's start, capped at friction mu times p:

    trial = T0 + kt |t| share (s - s0) ,   T = trial, or sign(trial) mu p where |trial| > mu p

`share` = g/(g - g0) is the part of the step behind the touch where the point came to touch in it
(g0 > 0), else 1. Its force is w T |t| ds, with the tangent w (|t| ds DT + T D(|t| ds)); the latter
from (m - g b) ds differentiated once more. Wriggers, Computational Contact Mechanics, 2nd ed. 2006,
ch. 4; derived again here, held by finite differences in the tests.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from fejoint.kernel.closest_point import moved_nodes, new_scratch, node_angles, on_circle, on_edge
from fejoint.kernel.compiled import jit

OK, MISSING, BAD = 0, 1, 2
"""Answers of `evaluate`: all well; a pair of edge and span has no place; no finite answer."""

_GAP, _WHERE, _NORMAL, _ALONG, _BEND, _TILT, _HALF, _CHANGE, _LEFT = range(9)
"""Rows of the linear forms: dg, ds, n.Y', t.Y', n.Y'', tilt, d(m)/2, DT, D(m - g b) + |...|."""


@jit()
def secondary_point(z: Any, secondary: Any, e: Any, j: Any) -> Any:
    """Return where Gauss point j of the hole's edge e is now: x, y, mm."""
    dofs, nodes, shapes = secondary[0], secondary[1], secondary[2]
    x = y = 0.0
    for a in range(3):
        h = shapes[j, a]
        x += h * (nodes[e, a, 0] + z[dofs[e, 2 * a]])
        y += h * (nodes[e, a, 1] + z[dofs[e, 2 * a + 1]])
    return x, y


@jit()
def linear_forms(secondary_shapes: Any, normal: Any, g: Any, scratch: Any, forms: Any) -> None:
    """Fill dg, ds, n.Y', t.Y', n.Y'' and tilt on the point's unknowns: 3 nodes, then the span's."""
    _, sign, shapes, frame = scratch
    nx, ny = normal
    tx, ty = frame[1, 0], frame[1, 1]
    b = nx * frame[2, 0] + ny * frame[2, 1]
    below = 1.0 / (tx * tx + ty * ty - g * b)
    for a in range(3):
        h = secondary_shapes[a]
        forms[_GAP, 2 * a], forms[_GAP, 2 * a + 1] = h * nx, h * ny
        forms[_WHERE, 2 * a], forms[_WHERE, 2 * a + 1] = h * tx * below, h * ty * below
    for a in range((forms.shape[1] - 6) // 2):
        r = 6 + 2 * a
        h0, h1, h2 = shapes[0, a], shapes[1, a], shapes[2, a]
        for i in range(2):
            v, t = (nx, tx) if i == 0 else (ny * sign[a], ty * sign[a])
            forms[_GAP, r + i] = -h0 * v
            forms[_NORMAL, r + i], forms[_ALONG, r + i], forms[_BEND, r + i] = (
                h1 * v,
                h1 * t,
                h2 * v,
            )
            forms[_WHERE, r + i] = (g * h1 * v - h0 * t) * below
    for r in range(forms.shape[1]):
        forms[_TILT, r] = forms[_NORMAL, r] + b * forms[_WHERE, r]


@jit()
def pressure_at(depth: Any, law: Any) -> Any:
    """Return pressure (MPa), its slope by the depth (MPa/mm) and the energy stored (N/mm)."""
    stiffness, soft_depth = law[0], law[1]
    return (
        stiffness * depth * (1.0 + depth / soft_depth),
        stiffness * (1.0 + 2.0 * depth / soft_depth),
        stiffness * depth * depth * (0.5 + depth / (3.0 * soft_depth)),
    )


@jit()
def friction_at(
    moved: Any, speed: Any, gaps: Any, old_traction: Any, pressure: Any, law: Any
) -> Any:
    """Return tangential traction and its trial (MPa), whether it slides, share and dshare/dg.

    `moved` is s - s0, `speed` |t|, `gaps` now and at the step's start.
    """
    friction, k = law[2], law[3]
    g, before = gaps
    share, d_share = 1.0, 0.0
    if before > 0.0:
        share, d_share = g / (g - before), -before / (g - before) ** 2
    trial = old_traction + k * speed * share * moved
    if g >= 0.0:
        trial = old_traction
    cap = friction * pressure
    sliding = abs(trial) > cap
    traction = math.copysign(1.0, trial) * cap if sliding else trial
    return traction, trial, sliding, share, d_share


@jit()
def friction_forms(slip: Any, moved: Any, point: Any, law: Any, scratch: Any, forms: Any) -> None:
    """Fill d(m)/2, DT, and D(m - g b) with the part of D((y - Y).t) that ds has."""
    frame = scratch[3]
    nx, ny, g, rate = point
    _, trial, sliding, share, d_share = slip
    tx, ty = frame[1, 0], frame[1, 1]
    m = tx * tx + ty * ty
    speed = math.sqrt(m)
    b, c = nx * frame[2, 0] + ny * frame[2, 1], tx * frame[2, 0] + ty * frame[2, 1]
    third = nx * frame[3, 0] + ny * frame[3, 1]
    friction, k = law[2], law[3]
    for r in range(forms.shape[1]):
        gap, where = forms[_GAP, r], forms[_WHERE, r]
        half = forms[_ALONG, r] + c * where
        forms[_HALF, r] = half
        if sliding:
            forms[_CHANGE, r] = -friction * rate * math.copysign(1.0, trial) * gap
        else:
            forms[_CHANGE, r] = k * (
                share * (speed * where + moved * half / speed) + speed * moved * d_share * gap
            )
        d_b = forms[_BEND, r] + third * where - forms[_TILT, r] * c / m
        forms[_LEFT, r] = 2.0 * half - b * gap - g * d_b


@jit()
def add_pressure_tangent(
    slots: Any, entries: Any, point: Any, pressure: Any, w: Any, f: Any
) -> None:
    """Add w (p' dg Dg - p ddg) at the entries' places, `slots` (k, k)."""
    _, rate, g, m, _ = point
    for r in range(f.shape[1]):
        row_gap, row_where, row_normal, row_tilt = (
            f[_GAP, r], f[_WHERE, r], f[_NORMAL, r], f[_TILT, r]
        )  # fmt: skip
        for q in range(f.shape[1]):
            entries[slots[r, q]] += w * (
                rate * row_gap * f[_GAP, q]
                - pressure
                * (
                    g / m * row_tilt * f[_TILT, q]
                    - row_normal * f[_WHERE, q]
                    - row_where * f[_TILT, q]
                )
            )


@jit()
def add_friction_tangent(
    slots: Any, entries: Any, point: Any, traction: Any, w: Any, f: Any
) -> None:
    """Add w (|t| ds DT + T D(|t| ds)) at the entries' places, `slots` (k, k)."""
    _, _, g, m, b = point
    speed, below = math.sqrt(m), 1.0 / (m - g * b)
    for r in range(f.shape[1]):
        gap, where, normal, along, bend = (
            f[_GAP, r], f[_WHERE, r], f[_NORMAL, r], f[_ALONG, r], f[_BEND, r]
        )  # fmt: skip
        along_form = where / below - g * normal  # (y - Y).t
        for q in range(f.shape[1]):
            # D of (y - Y).t + g n.Y' without what ds brings; Dt split along n and t/|t|
            right = gap * f[_TILT, q] + along_form / m * f[_HALF, q]
            right += normal * f[_GAP, q] - along * f[_WHERE, q]
            right += g * (bend * f[_WHERE, q] - along * f[_TILT, q] / m)
            second = speed * (right - where * f[_LEFT, q]) * below + where * f[_HALF, q] / speed
            entries[slots[r, q]] += w * (speed * where * f[_CHANGE, q] + traction * second)


@jit()
def add_forces(force: Any, first: Any, after: Any, index: Any, size: Any, forms: Any) -> None:
    """Add a dg + c ds to the forces: at `first` of the secondary's nodes, `after` of the span's."""
    by_gap, by_where = size
    for r in range(forms.shape[1]):
        f = by_gap * forms[_GAP, r] + by_where * forms[_WHERE, r]
        if r < 6:
            force[first + r] += f
        else:
            force[after + 2 * index[(r - 6) // 2] + r % 2] += f


@jit()
def slip_since(s: Any, s0: Any, period: Any) -> Any:
    """Return s - s0, the shorter way round where the surface closes (period > 0)."""
    moved = s - s0
    if period > 0.0:
        moved -= period * math.floor(moved / period + 0.5)
    return moved


@jit(
    "int64(float64[::1],"
    "Tuple((int64[:,::1], float64[:,:,::1], float64[:,::1], float64[:,::1])),"
    "Tuple((boolean, boolean, float64[:,::1], int64[:,::1], float64, float64[:,::1], float64)),"
    "UniTuple(float64, 4), UniTuple(float64[::1], 3), boolean,"
    "Tuple((boolean, int64[:,::1], int64[:,:,::1], float64[::1])),"
    "Tuple((float64[::1], float64[::1], float64[::1], float64[::1], int64[::1], float64[::1])))",
)
def evaluate(
    z: Any,
    secondary: Any,
    surface: Any,
    law: Any,
    old: Any,
    assume_closed: Any,
    tangent: Any,
    out: Any,
) -> Any:
    """Fill forces, tangent entries, the new state and the energies (stored, lost, N mm).

    Parameters
    ----------
    z : (n_dofs,) array
    secondary : dofs (e, 6), nodes (e, 3, 2), shapes (j, 3), weights (e, j)
    surface : circle, half, nodes (n, 2), dofs (n, 2), radius, curve (4, 6), period
    law : stiffness, soft depth, friction, tangential stiffness
    old : tangential traction, place and gap (p,) at the step's start
    assume_closed : points that touched in the old state still do
    tangent : whether it is made, rank (e, spans), table (pairs, k, k), entries
    out : force, tangential traction, place, gap, span (p,), energies (2,)
        Forces come on all unknowns of the secondary edge, then all of the primary. `force`,
        entries and energies must arrive as zeros.
    """
    circle, half, rest, primary_dofs, radius, curve, period = surface
    wanted, rank, table, entries = tangent
    force, new_traction, new_where, new_gap, new_span, energy = out
    weights = secondary[3]
    n_edges, gauss = weights.shape
    edge = (moved_nodes(z, rest, primary_dofs), half, curve)
    around = node_angles(edge)
    forms, scratch = np.zeros((9, 8 if circle else 14)), new_scratch()
    frame, status = scratch[3], OK
    for e in range(n_edges):
        for j in range(gauss):
            p, w = e * gauss + j, weights[e, j]
            x, y = secondary_point(z, secondary, e, j)
            if circle:
                s, g, nx, ny, span = on_circle(x, y, edge[0][0], radius, scratch)
            else:
                s, g, nx, ny, span = on_edge(x, y, edge, around, scratch)
            new_traction[p], new_where[p], new_gap[p], new_span[p] = 0.0, s, g, span
            if not math.isfinite(g):
                return BAD
            if g >= 0.0 and not (assume_closed and old[2][p] < 0.0):
                continue
            linear_forms(secondary[2][j], (nx, ny), g, scratch, forms)
            pressure, rate, stored = pressure_at(-g, law)
            energy[0] += w * stored
            m, b = frame[1, 0] ** 2 + frame[1, 1] ** 2, nx * frame[2, 0] + ny * frame[2, 1]
            speed, traction, moved = math.sqrt(m), 0.0, 0.0
            slip = (0.0, 0.0, False, 1.0, 0.0)
            if law[2] > 0.0:
                moved = slip_since(s, old[1][p], period)
                slip = friction_at(moved, speed, (g, old[2][p]), old[0][p], pressure, law)
                traction = slip[0]
                new_traction[p] = traction
                energy[0] += 0.5 * w * traction * traction / law[3]
                energy[1] += w * traction * (slip[1] - traction) / law[3]
            size = (-w * pressure, w * traction * speed)
            add_forces(force, 6 * e, 6 * n_edges, scratch[0], size, forms)
            if not wanted or status == MISSING:
                continue
            pair = rank[e, span]
            if pair < 0:
                status = MISSING
                continue
            point = (0.0, rate, g, m, b)
            add_pressure_tangent(table[pair], entries, point, pressure, w, forms)
            if law[2] > 0.0:
                friction_forms(slip, moved, (nx, ny, g, rate), law, scratch, forms)
                add_friction_tangent(table[pair], entries, point, traction, w, forms)
    return status


@jit(
    "void(float64[::1], float64[:,::1],"
    "Tuple((boolean, boolean, float64[:,::1], int64[:,::1], float64, float64[:,::1], float64)),"
    "float64[:,::1], int64[::1])",
)
def project(z: Any, x: Any, surface: Any, found: Any, span: Any) -> None:
    """Fill the closest points to x (n, 2): place, gap, normal x, y, X' x, y in `found` (n, 6)."""
    circle, half, rest, dofs, radius, curve, _ = surface
    edge = (moved_nodes(z, rest, dofs), half, curve)
    around = node_angles(edge)
    scratch = new_scratch()
    for p in range(x.shape[0]):
        if circle:
            s, g, nx, ny, at = on_circle(x[p, 0], x[p, 1], edge[0][0], radius, scratch)
        else:
            s, g, nx, ny, at = on_edge(x[p, 0], x[p, 1], edge, around, scratch)
        found[p, 0], found[p, 1], found[p, 2], found[p, 3] = s, g, nx, ny
        found[p, 4], found[p, 5], span[p] = scratch[3][1, 0], scratch[3][1, 1], at
