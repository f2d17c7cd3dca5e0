"""Where a leaning round bar bears, slice by slice, compiled; formulas stand in leaning.py.

Importing this module imports numba; see compiled.py.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from fejoint.kernel.compiled import jit

TURNS = 60
"""Most steps of that search. It brackets, so it ends; mostly it takes 3."""
CLOSE = 1e-14
"""Step over the radius at which it ends."""


@jit()
def curve(x: Any, v: Any, axis: Any) -> Any:
    """Return slope and bend of the axis at x, its column there, and how far x lies into it."""
    cuts, first, c = axis
    k = min(max(np.searchsorted(cuts, x, side="left") - 1, 0), cuts.size - 2)
    u = x - cuts[k]
    slope, bend = 0.0, 0.0
    for a in range(3):
        nodal = v[first[k] + a]
        slope += nodal * (c[k, 1, a] + u * 2.0 * c[k, 2, a])
        bend += nodal * 2.0 * c[k, 2, a]
    return slope, bend, k, u


@jit()
def foremost(place: Any, v: Any, sense: Any, radius: Any, reach: Any, axis: Any) -> Any:
    """Return the section that bears at a place, and -f'' there: inf where reach ends the search."""
    steepest = reach / math.sqrt(radius * radius - reach * reach)
    low, high = place - reach, place + reach
    if sense * curve(high, v, axis)[0] >= steepest:
        return high, np.inf
    if sense * curve(low, v, axis)[0] <= -steepest:
        return low, np.inf
    x, falls = place, np.inf
    for _ in range(TURNS):
        slope, bend, _, _ = curve(x, v, axis)
        off = place - x
        root = math.sqrt(radius * radius - off * off)
        rate = sense * slope + off / root
        if rate > 0.0:
            low = x
        else:
            high = x
        falls = radius * radius / (root * root * root) - sense * bend
        # a bar bent more sharply than its radius has no single foremost section there
        new = x + rate / falls if falls > 0.0 else low - 1.0
        if new < low or new > high:
            new = 0.5 * (low + high)
        step = abs(new - x)
        x = new
        if step <= CLOSE * radius:
            break
    return x, falls


@jit(
    "void(float64[::1], float64[::1], Tuple((float64, float64, float64)),"
    "Tuple((float64[::1], int64[::1], float64[:,:,::1])),"
    "Tuple((float64[::1], float64[::1], int64[:,::1], float64[:,::1], float64[:,::1],"
    "float64[::1])))",
)
def evaluate(v: Any, places: Any, bar: Any, axis: Any, out: Any) -> None:
    """Fill sections, fronts, columns, shares in v and v', and -f''.

    Parameters
    ----------
    v : (n,) array
        Displacements of the axis' columns.
    places : (k,) array
        Of the slices.
    bar : sense, radius, reach
    axis : cuts (n + 1,), first of a column's three (n,), curves (n, 3 powers, 3)
    out : section (k,), front (k,), columns (k, 3), value (k, 3), slope (k, 3), falls (k,)
    """
    sense, radius, reach = bar
    _, first, c = axis
    section, front, columns, value, slope, falls = out
    for i in range(places.size):
        x, sharp = foremost(places[i], v, sense, radius, reach, axis)
        _, _, k, u = curve(x, v, axis)
        off = places[i] - x
        ahead = math.sqrt(radius * radius - off * off) - radius
        for a in range(3):
            columns[i, a] = first[k] + a
            value[i, a] = c[k, 0, a] + u * (c[k, 1, a] + u * c[k, 2, a])
            slope[i, a] = c[k, 1, a] + u * 2.0 * c[k, 2, a]
            ahead += sense * v[first[k] + a] * value[i, a]
        section[i], front[i], falls[i] = x, ahead, sharp
