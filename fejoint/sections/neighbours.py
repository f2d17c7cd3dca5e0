"""Which points of a plane lie near which others.

SciPy's trees find the same pairs (the tests hold these to them), but take some 5 % of a
pull's time to import. Theirs find the nearest few, for `fejoint check`.
"""

from __future__ import annotations

import numpy as np

from fejoint.arrays import Floats, Ints

_MOST_SQUARES = 2.0**20
"""Squares along a side beyond which they are wider than they need be."""
_AT_ONCE = 512
"""Points looked at together: bounds the memory taken beside the answer."""


def pairs_within(points: Floats, others: Floats, radius: float) -> tuple[Ints, Ints]:
    """Return every pair of a point and another that are at most `radius` apart.

    Parameters
    ----------
    points : (n, 2) array
    others : (m, 2) array
    radius : float

    Returns
    -------
    first, second : (k,) arrays
        Places in `points` and in `others`. Equal arrays give each point with itself too.

    Notes
    -----
    The plane is cut into squares a little wider than the radius, numbered row by row: what is near
    a point lies in three stretches of three squares each.
    """
    if len(points) == 0 or len(others) == 0:
        return np.zeros(0, np.intp), np.zeros(0, np.intp)
    low = np.minimum(points.min(axis=0), others.min(axis=0))
    high = np.maximum(points.max(axis=0), others.max(axis=0))
    # a little wider: rounding must not put a pair at the very radius two squares apart
    side = max(radius * (1.0 + 1e-9), (high - low).max() / _MOST_SQUARES, 1e-300)
    row = int((high[0] - low[0]) / side) + 3  # one empty square at each end
    one, two = (np.floor((p - low) / side).astype(np.int64) for p in (points, others))
    key = two[:, 1] * row + two[:, 0]
    order = np.argsort(key, kind="stable")
    key = key[order]
    x, y = np.ascontiguousarray(others[order].T)
    found = []
    for begin in range(0, len(points), _AT_ONCE):
        block = slice(begin, begin + _AT_ONCE)
        middle = one[block, 1] * row + one[block, 0]
        for up in (-row, 0, row):
            start = np.searchsorted(key, middle + (up - 1), side="left")
            count = np.searchsorted(key, middle + (up + 1), side="right") - start
            place = np.arange(count.sum()) + np.repeat(start - np.cumsum(count) + count, count)
            dx = np.repeat(points[block, 0], count) - x[place]
            dy = np.repeat(points[block, 1], count) - y[place]
            near = np.flatnonzero(dx * dx + dy * dy <= radius * radius)
            mine = np.repeat(np.arange(begin, begin + len(count)), count)[near]
            found.append((mine, order[place[near]]))
    first, second = (np.concatenate(each) for each in zip(*found, strict=True))
    return first, second
