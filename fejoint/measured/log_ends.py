"""How a log ends: broken, let go, stopped, or with a load cell that could follow no further."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from fejoint.arrays import Floats

BROKEN = 0.8
"""Share of the largest load below which a joint has let go of it."""
FELL = 0.93
"""The same where the log ends there and the rig never ran back: many rigs stop themselves."""
BACK = 0.3
"""Share of the travel that an elastic joint gives back, from which a fall is a release."""
SLOWER = 3.0
"""Times as fast as it rose that a load may fall, by the rows, and be let go: a break is faster."""
_STRETCHES = (0.1, 0.25, 0.4, 0.55)
_ROWS = 8
"""Identical readings in a row at the largest load from which a load cell may be at its end."""


def line(force: Floats, travel: Floats, to: int) -> float:
    """Return the least compliance of stretches of a pull on its way up, mm/N; 0 for none.

    The stiffest stretch is the most elastic one.
    """
    f, x = force[: to + 1], travel[: to + 1]
    at = [int(np.argmax(f >= share * f[-1])) for share in _STRETCHES]
    slopes = [
        float(x[high] - x[low]) / float(f[high] - f[low])
        for low, high in pairwise(at) if high > low and f[high] > f[low] and x[high] > x[low]
    ]  # fmt: skip
    return min(slopes, default=0.0)


def fell_away(force: Floats, travel: Floats | None) -> bool:
    """Say whether the load fell away from its largest by itself, and was not let go.

    With travel: the rig did not run back while the load fell. Without: it fell much faster, by the
    rows, than it had risen.

    Parameters
    ----------
    force : (n,) array
        N.
    travel : (n,) array or None
        mm.
    """
    top = int(np.argmax(force))
    highest = float(force[top])
    low = np.flatnonzero(force[top:] < BROKEN * highest)
    end = top + int(low[0]) if len(low) else len(force) - 1
    if travel is None:
        if not len(low):
            return False
        # rows in which it had risen by as much
        below = np.flatnonzero(force[:top] < BROKEN * highest)
        rose = top - int(below[-1]) if len(below) else top
        begin = top + int(np.flatnonzero(force[top : end + 1] > 0.97 * highest)[-1])
        return end - begin <= max(rose / SLOWER, 2.0)
    fall = highest - float(force[end])
    back = float(travel[top : end + 1].max() - travel[end])
    let_go = back > BACK * line(force, travel, top) * fall and back > _jitter(travel)
    return not let_go and (bool(len(low)) or float(force[-1]) < FELL * highest)


def broken_and_again(force: Floats, travel: Floats) -> list[int]:
    """Return the rows at which another sample's pull begins in a log that shows the drive back.

    A pull broke, the rig drove back to where it had begun, and a load as high as half the largest
    came again: that is another sample, while one let go and pulled again is the same.
    """
    top, span = float(force.max()), float(np.ptp(travel))
    rest = (np.abs(force) < 0.03 * top) & (travel < float(travel[0]) + 0.1 * span)
    loaded = force > 0.5 * top
    starts: list[int] = []
    begin = 0
    while True:
        high = np.flatnonzero(loaded[begin:])
        if not len(high):
            return starts
        after = begin + int(high[0])
        quiet = np.flatnonzero(rest[after:])
        if not len(quiet):
            return starts
        back = after + int(quiet[0])
        more = np.flatnonzero(loaded[back:])
        if not len(more) or not fell_away(force[begin:back], travel[begin:back]):
            return starts
        # from the last row at rest before it rises again
        begin = back + int(np.flatnonzero(rest[back : back + int(more[0])])[-1])
        begin = back + int(np.argmin(travel[back : begin + 1]))
        starts.append(begin)


def clipped(force: Floats, travel: Floats | None) -> bool:
    """Say whether the largest load is a row of identical readings that a rising load ran into."""
    top = float(force.max())
    at = np.flatnonzero(force >= top * (1.0 - 1e-9))
    runs = np.split(at, np.flatnonzero(np.diff(at) > 1) + 1)
    longest = max(runs, key=len)
    begin, count = int(longest[0]), len(longest)
    before = max(_ROWS, count // 4)
    if count < _ROWS or begin < before:
        return False
    if travel is not None and float(travel[longest[-1]] - travel[begin]) <= _jitter(travel):
        return False  # a rig that stands still
    steps = np.abs(np.diff(force))
    resolution = float(np.min(steps[steps > 0.0], initial=np.inf))
    rise = top - float(force[begin - before])
    return rise > 5.0 * resolution and rise > 2e-3 * top


def _jitter(travel: Floats) -> float:
    """Return what a travel may seem to move by itself, mm: six of its typical second steps."""
    return 6.0 * float(np.median(np.abs(np.diff(travel, 2)))) if len(travel) > 2 else 0.0
