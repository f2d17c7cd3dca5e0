"""Sides of a drawing, joined to closed contours: what was mended is told, what cannot be refused.

A side is where it begins and ends and its bulge, as in `fejoint.meshing.contours`; mm.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from fejoint.arrays import Bools, Floats
from fejoint.errors import BadInput, Fault
from fejoint.meshing.contours import (
    Contour,
    arc_middle,
    area,
    dense,
    reversed_way,
    within,
)

Point = tuple[float, float]
Side = tuple[Point, Point, float]

MOST_SIDES = 20_000
"""Sides of a drawing that are read."""
_EXACT = 1e-7
"""Distance below which two ends are the same, mm."""


@dataclass
class Drawing:
    """What a drawing's file holds.

    Attributes
    ----------
    name : str
        Of the file.
    sides : list of Side
        In the file's own unit, y up.
    unit : float or None
        Of the file, mm; None where it does not say.
    said : list of str
        What was left out or mended.
    """

    name: str
    sides: list[Side] = field(default_factory=list)
    unit: float | None = None
    said: list[str] = field(default_factory=list)

    def tell_left_out(self, kinds: Counter[str]) -> None:
        """Note what is no line."""
        if kinds:
            told = ", ".join(f"{n} {kind}" for kind, n in sorted(kinds.items()))
            self.said.append(f"left out, as no edges: {told}")

    def box(self) -> tuple[float, float]:
        """Return how wide and high it is, in its own unit."""
        ends = np.array([p for s in self.sides for p in (*s[:2], arc_middle(*s))])
        wide, high = np.ptp(ends, axis=0)
        return float(wide), float(high)

    def scaled(self, by: float) -> list[Side]:
        """Return the sides in mm."""
        return [((a[0] * by, a[1] * by), (b[0] * by, b[1] * by), c) for a, b, c in self.sides]


def arc_of(begin: Point, middle: Point, end: Point) -> Side:
    """Return the arc through three points, a straight side where they lie on a line."""
    (x0, y0), (x1, y1), (x2, y2) = begin, middle, end
    turn = math.atan2(y2 - y1, x2 - x1) - math.atan2(y1 - y0, x1 - x0)
    # half the angle that the arc turns by, as both chords see it
    turn = (turn + math.pi) % (2.0 * math.pi) - math.pi
    bulge = math.tan(0.5 * turn)
    return begin, end, 0.0 if abs(bulge) < 1e-12 else bulge


def through(points: Sequence[Point]) -> Iterator[Side]:
    """Give arcs through points of a smooth curve, two steps each."""
    for k in range(0, len(points) - 1, 2):
        if k + 2 < len(points):
            yield arc_of(points[k], points[k + 1], points[k + 2])
        else:
            yield points[k], points[k + 1], 0.0


def closed(sides: Sequence[Side], join: float, where: str) -> tuple[list[Contour], list[str]]:
    """Join sides to closed contours, walked counter-clockwise.

    Parameters
    ----------
    sides : sequence of Side
        mm.
    join : float
        Distance of two ends that are joined, mm.
    where : str
        The field, for messages.

    Returns
    -------
    (list of Contour, list of str)
        And what was mended.

    Raises
    ------
    BadInput
        If a contour is open, lines branch, or one crosses itself or another.
    """
    if len(sides) > MOST_SIDES:
        raise _no(where, f"{len(sides):,} sides", f"must be at most {MOST_SIDES:,}", "simplify it")
    said = []
    kept = [s for s in sides if math.dist(s[0], s[1]) > _EXACT]
    if gone := len(sides) - len(kept):
        said.append(f"{gone} {_lines(gone)} of no length left out")
    alone = {_same(s): s for s in kept}
    if doubled := len(kept) - len(alone):
        said.append(f"{doubled} doubled {_lines(doubled)} removed")
    contours, gap = _chained(list(alone.values()), join, where)
    if gap > _EXACT * 10.0:
        said.append(f"gaps of up to {gap:.2g} mm closed")
    contours = [c if area(c) > 0.0 else reversed_way(c) for c in contours]
    _refuse_crossings(contours, where)
    return contours, said


def nested(contours: Sequence[Contour], where: str) -> tuple[Contour, list[Contour]]:
    """Return the outside and the holes of one part.

    Raises
    ------
    BadInput
        If there is none, or more than one part.
    """
    if not contours:
        raise _no(where, "", "holds no closed line", "draw the part's outside")
    outside = max(contours, key=area)
    holes = [c for c in contours if c is not outside]
    for hole in holes:
        x, y, _ = hole[0]
        if not within(outside, (x, y)):
            allowed = f"must hold one part, and another lies at {_place((x, y))}"
            raise _no(where, "", allowed, "draw each part into a file of its own")
        if any(within(other, (x, y)) for other in holes if other is not hole):
            allowed = f"has a line within a hole, at {_place((x, y))}"
            raise _no(where, "", allowed, "take it out")
    return outside, holes


def _same(side: Side) -> tuple[int, ...]:
    """Return what is equal for a side and its double, whichever way it runs."""
    (a, b, bulge) = side
    if b < a:
        a, b, bulge = b, a, -bulge
    return tuple(round(v * 1e5) for v in (*a, *b, bulge))


def _chained(sides: list[Side], join: float, where: str) -> tuple[list[Contour], float]:
    """Chain sides end to end; return contours and the widest gap that was closed, mm."""
    from scipy.spatial import cKDTree

    ends = np.array([p for a, b, _ in sides for p in (a, b)])
    tree = cKDTree(ends)
    mate: dict[int, int] = {}
    widest = 0.0
    for k, near in enumerate(tree.query_ball_point(ends, join)):
        others = [m for m in near if m != k]
        # at a crossing the very same point is meant, not one that is merely near
        exact = [m for m in others if math.dist(ends[k], ends[m]) <= _EXACT * 10.0]
        others = exact if exact else others
        if len(others) > 1:
            place = _place((float(ends[k][0]), float(ends[k][1])))
            allowed = f"branches: {len(others) + 1} lines meet at {place}"
            raise _no(where, "", allowed, "leave two, or give a smaller join")
        if not others:
            raise _no(where, "", _open(ends, k, join), "close it, or give a larger join")
        mate[k] = others[0]
    left = set(range(len(sides)))
    contours = []
    while left:
        first = min(left)
        corners, at = [], 2 * first
        while at // 2 in left:
            side = at // 2
            left.remove(side)
            a, _, bulge = sides[side]
            forth = at % 2 == 0
            begin = a if forth else sides[side][1]
            corners.append((*begin, bulge if forth else -bulge))
            out = 2 * side + (1 if forth else 0)
            if mate.get(mate[out]) != out:
                place = _place((float(ends[out][0]), float(ends[out][1])))
                raise _no(where, "", f"branches at {place}", "leave two lines there")
            widest = max(widest, math.dist(ends[out], ends[mate[out]]))
            at = mate[out]
        contours.append(tuple(corners))
    return contours, widest


def _open(ends: Floats, k: int, join: float) -> str:
    off = np.hypot(*(ends - ends[k]).T)
    off[k] = np.inf
    off[k ^ 1] = np.inf
    place = _place((float(ends[k][0]), float(ends[k][1])))
    if not np.isfinite(off.min()):
        return f"is open at {place}"
    return f"is open at {place}: the nearest end is {off.min():.3g} mm away, beyond {join:.3g} mm"


def _refuse_crossings(contours: Sequence[Contour], where: str) -> None:
    rows = [dense(c) for c in contours]
    for k, row in enumerate(rows):
        for other in range(k, len(rows)):
            at = _crossing(row, rows[other], same=other == k)
            if at is not None:
                what = "itself" if other == k else "another line"
                allowed = f"crosses {what} at {_place(at)}"
                raise _no(where, "", allowed, "draw each edge once")


def _crossing(one: Floats, two: Floats, *, same: bool) -> Point | None:
    """Return where two closed rows of points cross, None where they do not."""
    a, b = one, np.roll(one, -1, axis=0)
    c, d = two, np.roll(two, -1, axis=0)
    if not same:
        near = _reaching(a, b, two)
        other = _reaching(c, d, one)
        a, b, c, d = a[near], b[near], c[other], d[other]
        if len(a) == 0 or len(c) == 0:
            return None
    for start in range(0, len(a), 400):
        p, r = a[start : start + 400, None], (b - a)[start : start + 400, None]
        q, s = c[None], (d - c)[None]
        cross = r[..., 0] * s[..., 1] - r[..., 1] * s[..., 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            t = ((q - p)[..., 0] * s[..., 1] - (q - p)[..., 1] * s[..., 0]) / cross
            u = ((q - p)[..., 0] * r[..., 1] - (q - p)[..., 1] * r[..., 0]) / cross
        hit = (t >= 0.0) & (t < 1.0) & (u >= 0.0) & (u < 1.0)
        if same:  # neighbours meet where one ends
            k, m = np.arange(start, start + len(p))[:, None], np.arange(len(c))[None]
            hit &= (np.abs(k - m) > 1) & (np.abs(k - m) < len(c) - 1)
        if np.any(hit):
            k, m = np.argwhere(hit)[0]
            x, y = p[k, 0] + t[k, m] * r[k, 0]
            return float(x), float(y)
    return None


def _reaching(begin: Floats, end: Floats, row: Floats) -> Bools:
    """Say which pieces, (n, 2) from `begin` to `end`, reach into the box round a row of points."""
    low, high = np.minimum(begin, end), np.maximum(begin, end)
    inside: Bools = np.all((low <= row.max(axis=0)) & (high >= row.min(axis=0)), axis=1)
    return inside


def _place(point: Point) -> str:
    return f"{point[0]:.4g}, {point[1]:.4g} mm"


def _lines(count: int) -> str:
    return "line" if count == 1 else "lines"


def _no(where: str, value: str, allowed: str, mend: str) -> BadInput:
    return BadInput(Fault(where, value, allowed, mend))
