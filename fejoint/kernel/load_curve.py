"""Reading a curve of load against elongation: offset load, maximum, value at an event.

The same definitions serve the computed curve and a measured one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.pchip import Monotone
from fejoint.kernel.root import root

_ABOVE = 0.005
"""Share by which a maximum between points may lie above the highest of them."""
OFFSET = 0.02
"""Share of the hole's diameter that defines the offset load (ASTM E238)."""
_FINE = 40
"""Points read between two given ones when the steepest secant is looked for."""


@dataclass(frozen=True)
class OffsetPoint:
    """Where the offset line meets the curve: load (N), elongation (mm), and its slope (N/mm)."""

    load: float
    elongation: float
    slope: float


def rising(load: Floats, elongation: Floats) -> tuple[Floats, Floats]:
    """Return the points, from (0, 0), at which the elongation exceeds all before it."""
    best = np.maximum.accumulate(np.concatenate([[0.0], elongation[:-1]]))
    keep = elongation > best + 1e-12
    return np.concatenate([[0.0], load[keep]]), np.concatenate([[0.0], elongation[keep]])


def offset_point(load: Floats, elongation: Floats, offset: float) -> OffsetPoint | None:
    """Find the offset load: the curve's meeting with the elastic line moved by the offset.

    Parameters
    ----------
    load, elongation : (n,) arrays
        From first touch, N and mm.
    offset : float
        Permanent elongation that the line stands for, mm.

    Returns
    -------
    OffsetPoint or None
        None where the curve ends before it meets the line.

    Notes
    -----
    The elastic slope is the steepest secant from first touch to a point of the curve before the
    offset: contact makes the first touch soft and yielding the rest, so the steepest secant is
    the stiffest that the joint ever is. Definition of the offset: ASTM E238 (bearing yield
    strength at an offset of 2 % of the diameter).
    """
    p, e = rising(load, elongation)
    if len(p) < 3:
        return None
    curve = Monotone(e, p)
    fine = np.interp(np.arange(1, _FINE * (len(e) - 1) + 1) / _FINE, np.arange(len(e)), e)
    early = fine[fine <= max(offset, e[1])]
    slope = float(np.max(curve(early) / early))

    def above(x: float) -> float:
        return float(curve(x)) - slope * (x - offset)

    beyond = fine[fine > offset]
    under = beyond[curve(beyond) <= slope * (beyond - offset)]
    if len(under) == 0:
        return None
    meet = root(above, offset, float(under[0]))
    return OffsetPoint(float(curve(meet)), meet, slope)


def maximum(load: Floats, along: Floats) -> tuple[float, float] | None:
    """Return load and place of the largest load, by a parabola; None if the curve still rises.

    Parameters
    ----------
    load, along : (n,) arrays
        Load and any measure that rises along the curve.
    """
    k = int(np.argmax(load))
    if k in (0, len(load) - 1):
        return None
    x, y = along[k - 1 : k + 2], load[k - 1 : k + 2]
    a, b, c = np.polyfit(x - x[1], y, 2)
    if a >= 0.0:
        return float(y[1]), float(x[1])
    at = float(np.clip(-b / (2.0 * a), x[0] - x[1], x[2] - x[1]))
    # through a sudden fall the parabola would tell of loads that the curve never came near
    top = float(np.clip(c + at * (b + a * at), y[1], (1.0 + _ABOVE) * y[1]))
    return top, float(x[1] + at)


def first_reach(values: Floats, level: float) -> float | None:
    """Return the fractional index at which a rising measure first reaches a level, or None."""
    above = np.flatnonzero(values >= level)
    if len(above) == 0:
        return None
    k = int(above[0])
    if k == 0:
        return 0.0
    return k - 1 + float((level - values[k - 1]) / (values[k] - values[k - 1]))


def at_index(values: Floats, index: float) -> float:
    """Return the value at a fractional index."""
    return float(np.interp(index, np.arange(len(values)), values))
