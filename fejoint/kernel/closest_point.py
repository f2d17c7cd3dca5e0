"""The closest point of a pin's surface to a point of the hole, as scalar functions.

A meshed pin's surface is the curve X(s) of contact_surface.py, s counted in spans. Its point
closest to x is the root of

    r(s) = (x - X).X' ,    dr/ds = -(X'.X' - (x - X).X'')

found by Newton from the node nearest by angle. Beyond the centre of curvature the slope changes its
sign and Newton would run away: there 0.3 X'.X' takes its place (Gauss-Newton). On a rigid circle of
radius R about c the closest point lies along n = (x - c)/|x - c|, and s is the angle.

Tuples: `edge` is (nodes (n, 2) where they are now, half, curve (4, 6)); `scratch` is (index (4,),
sign (4,), shapes (4, 4), frame (4, 2)): the span's nodes and signs of their y, the shape functions
and their first three derivatives by s, and X with its first three derivatives, mm.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from fejoint.kernel.compiled import jit

_MOST_TURNS = 25
_WITHIN = 1e-9
"""Of a span: far below what moves a gap's last digit, since r(s) is quadratic there."""


@jit()
def stencil(span: Any, n: Any, half: Any, index: Any, sign: Any) -> None:
    """Fill the four nodes round a span and the sign of their y (mirror images have -1)."""
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


@jit()
def curve_point(s: Any, edge: Any, scratch: Any) -> Any:
    """Fill `scratch` for the place s of a meshed pin's edge; return its span."""
    nodes, half, curve = edge
    index, sign, shapes, frame = scratch
    n = nodes.shape[0]
    spans = n - 1 if half else n
    floor = float(math.floor(s))
    if half:
        floor = min(max(floor, 0.0), spans - 1.0)
    u = s - floor
    span = int(floor)
    if not half:
        span %= spans
    stencil(span, n, half, index, sign)
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


@jit()
def node_angles(edge: Any) -> Any:
    """Return the edge's middle x and y, and the rising angles of its nodes round it.

    A whole edge has the first node's angle once more, a turn on.
    """
    nodes, half = edge[0], edge[1]
    n = nodes.shape[0]
    angles = np.empty(n if half else n + 1)
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
            turn = (angles[a] - angles[a - 1]) / (2.0 * math.pi)
            if not math.isfinite(turn):
                break
            angles[a] -= 2.0 * math.pi * math.floor(turn + 0.5)
    return mx, my, angles


@jit()
def first_guess(x: Any, y: Any, half: Any, around: Any) -> Any:
    """Return the place whose angle round the edge's middle is that of the point (x, y)."""
    mx, my, angles = around
    angle = math.atan2(y - my, x - mx)
    if half:
        angle = abs(angle)
    else:
        turns = (angle - angles[0]) / (2.0 * math.pi)
        angle = angles[0] + 2.0 * math.pi * (turns - math.floor(turns))
    after = int(np.searchsorted(angles, angle))
    after = min(max(after, 1), angles.size - 1)
    wide = angles[after] - angles[after - 1]
    part = (angle - angles[after - 1]) / wide if wide > 0.0 else 0.0
    return after - 1 + min(max(part, 0.0), 1.0)


@jit()
def on_edge(x: Any, y: Any, edge: Any, around: Any, scratch: Any) -> Any:
    """Return place, gap (mm), normal x and y, and span; fill `scratch` there. NaN: none found."""
    nodes, half = edge[0], edge[1]
    frame = scratch[3]
    if not math.isfinite(x + y + around[0] + around[1]):
        return np.nan, np.nan, np.nan, np.nan, 0
    s = first_guess(x, y, half, around)
    for _ in range(_MOST_TURNS):
        curve_point(s, edge, scratch)
        ax, ay = x - frame[0, 0], y - frame[0, 1]
        miss = ax * frame[1, 0] + ay * frame[1, 1]
        length2 = frame[1, 0] ** 2 + frame[1, 1] ** 2
        bend = length2 - (ax * frame[2, 0] + ay * frame[2, 1])
        change = miss / max(bend, 0.3 * length2)
        change = min(max(change, -2.0), 2.0)
        s += change
        if not math.isfinite(s):
            return np.nan, np.nan, np.nan, np.nan, 0
        if half:
            s = min(max(s, 0.0), float(nodes.shape[0] - 1))
        if abs(change) < _WITHIN:
            break
    span = curve_point(s, edge, scratch)
    length = math.sqrt(frame[1, 0] ** 2 + frame[1, 1] ** 2)
    nx, ny = frame[1, 1] / length, -frame[1, 0] / length
    return s, (x - frame[0, 0]) * nx + (y - frame[0, 1]) * ny, nx, ny, span


@jit()
def on_circle(x: Any, y: Any, centre: Any, radius: Any, scratch: Any) -> Any:
    """Return place (an angle), gap (mm), normal x and y, and span 0; fill X' to X'''."""
    frame = scratch[3]
    ax, ay = x - centre[0], y - centre[1]
    far = math.sqrt(ax * ax + ay * ay)
    nx, ny = ax / far, ay / far
    frame[1, 0], frame[1, 1] = -ny * radius, nx * radius
    frame[2, 0], frame[2, 1] = -nx * radius, -ny * radius
    frame[3, 0], frame[3, 1] = ny * radius, -nx * radius
    return math.atan2(ny, nx), far - radius, nx, ny, 0


@jit()
def moved_nodes(z: Any, nodes: Any, dofs: Any) -> Any:
    """Return where nodes (n, 2) of unknowns (n, 2) are now, mm."""
    now = np.empty(nodes.shape)
    for a in range(nodes.shape[0]):
        for i in range(2):
            now[a, i] = nodes[a, i] + z[dofs[a, i]]
    return now


@jit()
def new_scratch() -> Any:
    """Return room for one point: index, sign, shapes, frame; a circle's one shape function is 1."""
    shapes = np.zeros((4, 4))
    shapes[0, 0] = 1.0
    return np.zeros(4, np.int64), np.ones(4), shapes, np.zeros((4, 2))
