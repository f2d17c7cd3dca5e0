"""Closed contours of plates: straight sides and true arcs, as a cutter takes them.

A contour is a row of corners (x, y, bulge), walked counter-clockwise and closed: the bulge belongs
to the side that begins there and is the tangent of a quarter of the angle that its arc turns by, 0
for a straight side. Millimetres; the pin hole's centre is the origin, x runs towards the end, and a
pull at +90 degrees goes towards positive y.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Sequence

import numpy as np

from fejoint.arrays import Floats

Corner = tuple[float, float, float]
Contour = tuple[Corner, ...]
HALF_TURN = 1.0
"""Bulge of a half circle."""


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


@functools.lru_cache(maxsize=512)
def dense(contour: Contour) -> Floats:
    """Return points along a contour, (n, 2), mm, at most a hundredth of its size apart."""
    row = points(contour)
    low_x, low_y, high_x, high_y = box(contour)
    step = 0.01 * math.hypot(high_x - low_x, high_y - low_y)
    found = []
    for a, b in itertools.pairwise(row):
        count = max(1, math.ceil(float(np.hypot(*(b - a))) / step))
        found.append(a + (b - a) * (np.arange(count) / count)[:, None])
    return np.vstack(found)


def nearest(one: Contour, others: Sequence[Contour]) -> tuple[float, tuple[float, float]]:
    """Return the least distance between a contour and some others, and where on it, mm."""
    from scipy.spatial import cKDTree

    best, place = math.inf, (math.nan, math.nan)
    row = dense(one)
    # those whose boxes lie near come first: the far ones need no look
    for apart, other in sorted(((_boxes_apart(one, c), c) for c in others), key=lambda x: x[0]):
        if apart >= best:
            break
        off = np.asarray(cKDTree(dense(other)).query(row)[0])
        k = int(off.argmin())
        if off[k] < best:
            best, place = float(off[k]), (float(row[k, 0]), float(row[k, 1]))
    return best, place


def _boxes_apart(one: Contour, other: Contour) -> float:
    a, b = box(one), box(other)
    return math.hypot(*(max(a[k] - b[k + 2], b[k] - a[k + 2], 0.0) for k in (0, 1)))


def box(contour: Sequence[Corner]) -> tuple[float, float, float, float]:
    """Return the least and greatest x and y of a contour whose arcs are at most half circles."""
    points = [(x, y) for x, y, _ in contour]
    points += [arc_middle(a[:2], b[:2], a[2]) for a, b in _sides(contour) if a[2]]
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def arc_centre(
    begin: tuple[float, float], end: tuple[float, float], bulge: float
) -> tuple[float, float]:
    """Return the centre of the arc between two corners, mm."""
    (x0, y0), (x1, y1) = begin, end
    # as far off the chord's middle, to the left of the way, as half the chord over tan(turn/2)
    off = 0.5 * (1.0 - bulge * bulge) / (2.0 * bulge)
    return 0.5 * (x0 + x1) - off * (y1 - y0), 0.5 * (y0 + y1) + off * (x1 - x0)


def crossings(contour: Sequence[Corner], x: float) -> list[float]:
    """Return where a contour crosses an upright line, y in mm, rising."""
    found = []
    for begin, end, bulge in whole_sides(contour):
        for (x0, y0), (x1, y1), part in _monotone(begin, end, bulge):
            # half open, so that a corner on the line counts once
            if (x0 <= x) == (x1 <= x):
                continue
            if not part:
                found.append(y0 + (y1 - y0) * (x - x0) / (x1 - x0))
                continue
            cx, cy = arc_centre(begin, end, bulge)
            rise = math.sqrt(max(part * part - (x - cx) ** 2, 0.0))
            found.append(cy + (rise if y0 + y1 > 2.0 * cy else -rise))
    return sorted(found)


def spans_at(contours: Sequence[Contour], x: float) -> list[tuple[float, float]]:
    """Return the stretches of an upright line that lie in the metal.

    Parameters
    ----------
    contours : sequence of Contour
        Of the outside and of every hole.
    x : float
        mm.
    """
    rising = sorted(y for contour in contours for y in crossings(contour, x))
    return list(zip(rising[::2], rising[1::2], strict=False))


def in_spans(spans: Sequence[tuple[float, float]], shares: Floats, *, above: bool) -> Floats:
    """Return places at shares (0 to 1) of the length of some stretches, (n,), y in mm.

    Only what lies above the axis counts where that is asked for.
    """
    kept = [(max(a, 0.0), b) for a, b in spans if b > 0.0] if above else list(spans)
    lengths = np.array([b - a for a, b in kept])
    ends = np.concatenate([[0.0], np.cumsum(lengths)])
    at = shares * ends[-1]
    k = np.clip(np.searchsorted(ends, at, side="right") - 1, 0, len(kept) - 1)
    return np.asarray(np.array([a for a, _ in kept])[k] + at - ends[k])


def within(contour: Sequence[Corner], point: tuple[float, float]) -> bool:
    """Whether a point lies inside a contour."""
    return sum(y > point[1] for y in crossings(contour, point[0])) % 2 == 1


def turned_over(contour: Sequence[Corner]) -> Contour:
    """Return the mirror image about the x axis, walked counter-clockwise again."""
    return reversed_way([(x, -y, -b) for x, y, b in contour])


def reversed_way(contour: Sequence[Corner]) -> Contour:
    """Return a contour walked the other way round."""
    sides = whole_sides(contour)
    return tuple((*end, -bulge) for _, end, bulge in reversed(sides))


def whole_sides(
    contour: Sequence[Corner],
) -> list[tuple[tuple[float, float], tuple[float, float], float]]:
    """Return a contour's sides: where each begins and ends, and its bulge."""
    return [((x0, y0), (x1, y1), b) for (x0, y0, b), (x1, y1, _) in _sides(contour)]


def _monotone(
    begin: tuple[float, float], end: tuple[float, float], bulge: float
) -> list[tuple[tuple[float, float], tuple[float, float], float]]:
    """Split a side where it turns back along x, or from above to below its centre.

    The third value is the arc's radius, 0 for a straight side.
    """
    if not bulge:
        return [(begin, end, 0.0)]
    cx, cy = arc_centre(begin, end, bulge)
    radius = arc_radius(begin, end, bulge)
    start = math.atan2(begin[1] - cy, begin[0] - cx)
    whole = 4.0 * math.atan(bulge)
    quarter = 0.5 * math.pi
    first, last = sorted((start, start + whole))
    cuts = [quarter * k for k in range(math.ceil(first / quarter), math.floor(last / quarter) + 1)]
    inner = [a for a in cuts if first + 1e-12 < a < last - 1e-12]
    angles = inner if whole > 0.0 else inner[::-1]
    points = [(cx + radius * math.cos(a), cy + radius * math.sin(a)) for a in angles]
    ends = [begin, *points, end]
    return [(a, b, radius) for a, b in itertools.pairwise(ends)]


def _sides(contour: Sequence[Corner]) -> list[tuple[Corner, Corner]]:
    return list(zip(contour, [*contour[1:], contour[0]], strict=True))
