"""Closed contours of plates, as a cutter takes them: straight sides and true arcs.

A contour is a row of corners (x, y, bulge), walked counter-clockwise and closed: the bulge belongs
to the side that begins there and is the tangent of a quarter of the angle that its arc turns by, 0
for a straight side. Millimetres; the hole's centre is the origin, x runs towards the end, and a
pull at +90 degrees goes towards positive y.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from fejoint.arrays import Floats
from fejoint.joint.parts import Ear, Shank

Corner = tuple[float, float, float]
Contour = tuple[Corner, ...]
HALF_TURN = 1.0
"""Bulge of a half circle."""


def outside(part: Ear | Shank) -> Contour:
    """Return the contour of a plate from where it is held to its end."""
    length = part.length if isinstance(part, Shank) else part.grip_length
    axis = 0.0 if isinstance(part, Shank) else -part.hole_offset
    half, end, clip = 0.5 * part.width, part.edge_distance, part.clip
    low, high = axis - half, axis + half
    if part.end == "round":
        back = end - half
        tip: Contour = ((back, low, HALF_TURN), (back, high, 0.0))
    elif part.end == "clipped":
        tip = (
            (end - clip, low, 0.0), (end, low + clip, 0.0),
            (end, high - clip, 0.0), (end - clip, high, 0.0),
        )  # fmt: skip
    else:
        tip = ((end, low, 0.0), (end, high, 0.0))
    return ((-length, low, 0.0), *tip, (-length, high, 0.0))


def hole(part: Ear | Shank, wider: float = 0.0) -> Contour:
    """Return the contour of a plate's hole: two half circles, drawn apart by a slot.

    Parameters
    ----------
    part : Ear or Shank
    wider : float
        Added to its radius, mm.
    """
    r, slot = 0.5 * part.hole + wider, 0.0 if isinstance(part, Shank) else part.hole_slot
    if slot == 0.0:
        return ((r, 0.0, HALF_TURN), (-r, 0.0, HALF_TURN))
    return ((slot, -r, HALF_TURN), (slot, r, 0.0), (0.0, r, HALF_TURN), (0.0, -r, 0.0))


def area(contour: Sequence[Corner]) -> float:
    """Return the area within a contour, mm2; negative where it is walked clockwise."""
    total = 0.0
    for (x0, y0, bulge), (x1, y1, _) in _sides(contour):
        total += 0.5 * (x0 * y1 - x1 * y0)
        if bulge:
            # the segment between the chord and its arc
            angle = 4.0 * math.atan(bulge)
            radius = arc_radius((x0, y0), (x1, y1), bulge)
            total += 0.5 * radius * radius * (angle - math.sin(angle))
    return total


def arc_radius(begin: tuple[float, float], end: tuple[float, float], bulge: float) -> float:
    """Return the radius of the arc between two corners, mm."""
    return math.dist(begin, end) * (1.0 + bulge * bulge) / (4.0 * abs(bulge))


def arc_middle(
    begin: tuple[float, float], end: tuple[float, float], bulge: float
) -> tuple[float, float]:
    """Return the point half way along the arc between two corners, mm."""
    (x0, y0), (x1, y1) = begin, end
    # the arc stands off its chord by half the chord times the bulge, to the right of the way
    return (
        0.5 * (x0 + x1) + 0.5 * bulge * (y1 - y0),
        0.5 * (y0 + y1) - 0.5 * bulge * (x1 - x0),
    )


def points(contour: Sequence[Corner]) -> Floats:
    """Return a contour as a closed row of points, (n, 2), mm, 2 degrees of an arc a step."""
    row: list[Floats] = []
    for (x, y, bulge), (*end, _) in _sides(contour):
        begin = np.array([x, y])
        row.append(begin[None])
        if bulge:
            whole = 4.0 * math.atan(bulge)
            chord = np.array(end) - begin
            normal = np.array([-chord[1], chord[0]])
            centre = begin + 0.5 * chord + 0.5 / math.tan(0.5 * whole) * normal
            turn = whole * np.arange(1, steps := math.ceil(abs(math.degrees(whole)) / 2.0)) / steps
            arm = begin - centre
            row.append(centre + np.outer(np.cos(turn), arm)
                       + np.outer(np.sin(turn), [-arm[1], arm[0]]))  # fmt: skip
    return np.vstack([*row, row[0]])


def box(contour: Sequence[Corner]) -> tuple[float, float, float, float]:
    """Return the least and greatest x and y of a contour whose arcs are at most half circles."""
    points = [(x, y) for x, y, _ in contour]
    points += [arc_middle(a[:2], b[:2], a[2]) for a, b in _sides(contour) if a[2]]
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def _sides(contour: Sequence[Corner]) -> list[tuple[Corner, Corner]]:
    return list(zip(contour, [*contour[1:], contour[0]], strict=True))
