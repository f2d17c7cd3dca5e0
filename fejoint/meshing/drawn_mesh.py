"""A drawn plate's curves for gmsh, and where its mesh is finer than the pin's hole asks for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from fejoint.arrays import Floats
from fejoint.meshing.contours import (
    Contour,
    arc_centre,
    arc_middle,
    arc_radius,
    box,
    dense,
    nearest,
    whole_sides,
)

AROUND = 20
"""Elements round a full circle of an opening's or a fillet's edge."""
_SAMPLES = 40
"""Places on a curve from which distances are measured."""
_HALF = 1.0 - 1e-9
"""Bulge of half a turn, from which on gmsh wants an arc in two."""

_Point = tuple[float, float]


def closed(geo: Any, contour: Contour) -> list[int]:
    """Add a closed contour; return its curves in walking order."""
    ends = [geo.addPoint(x, y, 0) for x, y, _ in contour]
    curves: list[int] = []
    for k, (begin, end, bulge) in enumerate(whole_sides(contour)):
        curves += _side(geo, begin, end, bulge, ends[k], ends[(k + 1) % len(ends)])
    return curves


def upper_half(geo: Any, contour: Contour) -> tuple[list[int], int, int]:
    """Add the upper half of a symmetric outside, from the axis at its end to its last corner.

    Returns
    -------
    (list of int, int, int)
        The curves, the point on the axis, and the corner at the grip.
    """
    sides = whole_sides(contour)[:-1]  # the last is held
    size = max(map(abs, box(contour)))
    on = next((k for k, (begin, _, _) in enumerate(sides) if abs(begin[1]) <= 1e-9 * size
               and begin[0] > 0.0), None)  # fmt: skip
    if on is None:
        on = next(k for k, (a, b, _) in enumerate(sides) if a[1] < 0.0 < b[1])
        begin, end, bulge = sides[on]
        middle = arc_middle(begin, end, bulge) if bulge else (0.5 * (begin[0] + end[0]), 0.0)
        sides[on] = ((middle[0], 0.0), end, math.tan(0.5 * math.atan(bulge)))
    way = sides[on:]
    first = geo.addPoint(way[0][0][0], 0.0, 0)
    curves: list[int] = []
    last = first
    for begin, end, bulge in way:
        to = geo.addPoint(*end, 0)
        curves += _side(geo, begin, end, bulge, last, to)
        last = to
    return curves, first, last


def is_above(contour: Contour) -> bool:
    """Whether a contour lies on the positive side of the axis."""
    return box(contour)[1] > 0.0


def finer(
    gmsh: Any, contours: Sequence[Contour], surface: int, growth: float, layers: float
) -> list[int]:
    """Add fields of element sizes near openings and fillets, and where metal is thin.

    Parameters
    ----------
    gmsh : module
        With its geometry synchronised.
    contours : sequence of Contour
        The outside, the pin's hole, and the openings.
    surface : int
        Of the plate.
    growth : float
        Size gained a mm of distance.
    layers : float
        Elements across the thinnest metal.
    """
    outside, _, *openings = contours
    asked: list[tuple[float, Floats]] = []
    for opening in openings:
        row = dense(opening)
        perimeter = float(np.hypot(*np.diff(row, axis=0, append=row[:1]).T).sum())
        thin = nearest(opening, [c for c in contours if c is not opening])[0]
        asked.append((min(perimeter / AROUND, thin / layers), row[:: max(1, len(row) // _SAMPLES)]))
    for begin, end, bulge in whole_sides(outside):
        if bulge < 0.0:  # a fillet or a notch: round the other way
            size = 2.0 * math.pi * arc_radius(begin, end, bulge) / AROUND
            asked.append((size, np.array([begin, arc_middle(begin, end, bulge), end])))
    fields = gmsh.model.mesh.field
    made = []
    for size, places in asked:
        formula = "min(" * (len(places) - 1) + ", ".join(
            f"sqrt((x - ({x:.9f}))^2 + (y - ({y:.9f}))^2)" + (")" if k else "")
            for k, (x, y) in enumerate(places)
        )
        field = fields.add("MathEval")
        fields.setString(field, "F", f"{size:.9f} + {growth:g}*{formula}")
        limited = fields.add("Restrict")
        fields.setNumber(limited, "InField", field)
        fields.setNumbers(limited, "SurfacesList", [surface])
        made.append(limited)
    return made


def _side(geo: Any, begin: _Point, end: _Point, bulge: float, a: int, b: int) -> list[int]:
    """Add one side between two points; an arc of half a turn and more as two."""
    if not bulge:
        return [geo.addLine(a, b)]
    if abs(bulge) >= _HALF:
        middle = arc_middle(begin, end, bulge)
        half = math.tan(0.5 * math.atan(bulge))
        m = geo.addPoint(*middle, 0)
        return [*_side(geo, begin, middle, half, a, m), *_side(geo, middle, end, half, m, b)]
    return [geo.addCircleArc(a, geo.addPoint(*arc_centre(begin, end, bulge), 0), b)]
