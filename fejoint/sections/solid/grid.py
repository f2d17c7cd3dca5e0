"""The ear's mesh: rings of 8-node quadrilaterals round the hole, swept through the thickness.

Straight rays from the hole's centre meet the ear's outline; along each the element sides grow from
the hole outwards. A block of columns follows towards the grip. All nodes lie on the true curves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.errors import BadInput, Fault
from fejoint.meshing.gmsh_mesher import EarOutline

GROWTH = 1.35
"""Element side over the one before it, outwards from the hole."""
FAR = 1.8
"""Element sides round the hole behind the pin's bearing over those under it."""
BEARING = math.radians(105.0)
"""Angle from the pull within which the pin may bear."""


@dataclass(frozen=True, eq=False)
class BrickMesh:
    """A swept mesh; lengths in mm.

    Attributes
    ----------
    points : (n, 3) array
    bricks : (m, 20) array
        Nodes of the hexahedra, in the order of kernel.bricks.
    lower, upper, hole : (k, 8) arrays
        Faces of the ear's two sides and of the hole's wall.
    """

    points: Floats
    bricks: Ints
    lower: Ints
    upper: Ints
    hole: Ints


@dataclass(frozen=True, eq=False)
class QuadMesh:
    """A plane mesh of 8-node quadrilaterals: corners in turn, then the sides' middles.

    Attributes
    ----------
    points : (n, 2) array
    quads : (m, 8) array
        Counter-clockwise.
    rim : (k, 3) array
        Sides on the hole: two corners and the middle.
    """

    points: Floats
    quads: Ints
    rim: Ints


def outer_radius(o: EarOutline, back: float, angle: Floats) -> Floats:
    """Distance from the hole's centre to the outline (or to the line x = -back), at angles."""
    c, s = np.cos(angle), np.sin(angle)
    half, e = 0.5 * o.width, o.edge_distance
    with np.errstate(divide="ignore", invalid="ignore"):
        far = np.where(s > 1e-14, half / np.where(s > 1e-14, s, 1.0), np.inf)
        far = np.minimum(far, np.where(c > 1e-14, e / np.where(c > 1e-14, c, 1.0), np.inf))
        far = np.minimum(far, np.where(c < -1e-14, back / np.where(c < -1e-14, -c, 1.0), np.inf))
        if o.end == "clipped":
            cut = (e + half - o.clip) / np.where(c + s > 1e-14, c + s, 1.0)
            far = np.minimum(far, np.where(c + s > 1e-14, cut, np.inf))
        if o.end == "round":
            middle = e - half
            under = half**2 - (middle * s) ** 2
            arc = middle * c + np.sqrt(np.maximum(under, 0.0))
            on_arc = (under >= 0.0) & (arc * c >= middle - 1e-12)
            far = np.where(on_arc, np.minimum(far, arc), far)
    return np.asarray(far)


def _breaks(o: EarOutline, back: float) -> list[float]:
    half, e = 0.5 * o.width, o.edge_distance
    corner = {
        "square": [math.atan2(half, e)],
        "clipped": [math.atan2(half - o.clip, e), math.atan2(half, e - o.clip)],
        "round": [math.atan2(half, e - half)],
    }[o.end]
    return sorted({0.0, *corner, math.atan2(half, -back), math.pi})


def _divided(breaks: list[float], side: float) -> Floats:
    """Angles of the rays, between breaks evenly, fine where the pin may bear."""
    angles = [0.0]
    for a, b in pairwise(breaks):
        if b - a < 1e-9:
            continue
        step = side if 0.5 * (a + b) < BEARING else FAR * side
        count = max(1, math.ceil((b - a) / step - 0.25))
        angles += list(a + (b - a) * np.arange(1, count + 1) / count)
    return np.array(angles)


def halves(values: Floats) -> Floats:
    """Values with the middles between them."""
    fine = np.empty(2 * len(values) - 1)
    fine[::2], fine[1::2] = values, 0.5 * (values[1:] + values[:-1])
    return fine


def _graded(first: float, length: float, growth: float = GROWTH) -> Floats:
    """Places from 0 to 1 of element ends that grow from a first side."""
    count = max(2, round(math.log1p(length / first * (growth - 1.0)) / math.log(growth)))
    sides = growth ** np.arange(count)
    return np.concatenate([[0.0], np.cumsum(sides) / sides.sum()])


def refuse_unswept(o: EarOutline) -> None:
    """Refuse a hole that the rings cannot go round.

    Raises
    ------
    BadInput
        If the hole is a slot or off the axis.
    """
    for name, value in (("ear.hole_slot", o.slot), ("ear.hole_offset", o.offset)):
        if value != 0.0:
            mend = "set it to 0 mm, or use `fejoint pull`"
            raise BadInput(Fault(name, f"{value:g} mm", "must be 0 for a solid ear", mend))


def ear_quads(o: EarOutline, sides: int, *, whole: bool = False) -> QuadMesh:
    """Mesh an ear's face, its upper half or the whole.

    Parameters
    ----------
    o : EarOutline
        With a round hole on its axis.
    sides : int
        Element sides that the bearing part of the hole's edge would have round the whole hole.
    whole : bool

    Raises
    ------
    BadInput
        If the hole is a slot or off the axis.
    """
    refuse_unswept(o)
    r, half = 0.5 * o.hole, 0.5 * o.width
    back = max(half, half - o.edge_distance + 0.5 * half)
    if o.grip_length < 1.3 * back:
        back = o.grip_length
    angles = halves(_divided(_breaks(o, back), 2.0 * math.pi / sides))
    outer = outer_radius(o, back, angles)
    places = halves(_graded(math.pi * o.hole / sides, min(o.thinnest, 0.6 * (back - r))))
    radius = r + places[None, :] * (outer[:, None] - r)
    way = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    ring = radius[:, :, None] * way[:, None, :]  # (angles, places, 2)
    lattices = [ring]
    if back < o.grip_length:
        edge = ring[angles >= math.atan2(half, -back) - 1e-9, -1]  # top to axis, at x = -back
        first = back - r if back - r > 0.2 * half else 0.5 * half
        along = halves(_graded(0.35 * first, o.grip_length - back, 1.6))
        x = -back - along * (o.grip_length - back)
        block = np.empty((len(edge), len(x), 2))
        block[:, :, 0], block[:, :, 1] = x[None, :], edge[:, 1][:, None]
        lattices.append(block)
    if whole:
        lattices += [lattice[::-1] * [1.0, -1.0] for lattice in lattices]
    return joined(lattices, r)


def joined(lattices: list[Floats], r: float) -> QuadMesh:
    """Merge lattices (odd in both ways) of nodes into one mesh."""
    points, quads, start = [], [], 0
    for lattice in lattices:
        m, n = lattice.shape[:2]
        number = start + np.arange(m * n).reshape(m, n)
        a, b = np.arange(0, m - 1, 2)[:, None], np.arange(0, n - 1, 2)[None, :]
        # first index turns counter-clockwise, second goes outwards
        cell = [(0, 0), (0, 2), (2, 2), (2, 0), (0, 1), (1, 2), (2, 1), (1, 0)]
        quads.append(np.stack([number[a + i, b + j] for i, j in cell], axis=2).reshape(-1, 8))
        points.append(lattice.reshape(-1, 2))
        start += m * n
    every, all_quads = np.vstack(points), np.vstack(quads)
    scale = 1e-9 * np.ptp(every[:, 0])
    _, first, inverse = np.unique(
        np.round(every / scale).astype(np.int64), axis=0, return_index=True, return_inverse=True
    )
    used, numbered = np.unique(inverse.reshape(-1)[all_quads], return_inverse=True)
    nodes, all_quads = every[first[used]], numbered.reshape(-1, 8)
    on_hole = np.abs(np.linalg.norm(nodes, axis=1) - r) < 1e-6 * r
    rim = []
    for p, q, middle in ((0, 1, 4), (1, 2, 5), (2, 3, 6), (3, 0, 7)):
        side = all_quads[:, [p, q, middle]]
        rim.append(side[on_hole[side].all(axis=1)])
    return QuadMesh(nodes, all_quads, np.vstack(rim))


def swept(quads: QuadMesh, heights: Floats) -> BrickMesh:
    """Sweep a plane mesh through heights (layers + 1,) of element ends, mm."""
    n, q = len(quads.points), quads.quads
    levels = halves(heights)
    points = np.column_stack([np.tile(quads.points, (len(levels), 1)), np.repeat(levels, n)])
    bricks, hole = [], []
    for k in range(len(heights) - 1):
        low, middle, high = (2 * k * n, (2 * k + 1) * n, (2 * k + 2) * n)
        c, m = q[:, :4], q[:, 4:]
        bricks.append(np.hstack([low + c, high + c, low + m, high + m, middle + c]))
        a, b, ab = quads.rim.T
        hole.append(
            np.stack(
                [low + a, low + b, high + b, high + a, low + ab, middle + b, high + ab, middle + a],
                axis=1,
            )
        )
    top = (len(levels) - 1) * n
    every = np.vstack(bricks)
    used, numbered = np.unique(every, return_inverse=True)
    number = np.full(len(points), -1, np.intp)
    number[used] = np.arange(len(used))
    return BrickMesh(
        points[used],
        numbered.reshape(-1, 20),
        number[q],
        number[top + q],
        number[np.vstack(hole)],
    )
