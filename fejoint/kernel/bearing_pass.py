"""A bearing law with unloading, slice by slice.

The formulas and their symbols stand in sections/face/bearing_law.py. A law comes as three piecewise
cubics, each knots (m,) and coefficients (4, m - 1), the cubic one first: loading, spring-back, and
the shape of the unloading.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from fejoint.kernel.compiled import jit


@jit()
def cubic(x: Any, knots: Any, c: Any) -> Any:
    """Return value and slope of a piecewise cubic at x, inside its knots."""
    k = np.searchsorted(knots, x, side="right") - 1
    k = min(max(k, 0), knots.size - 2)
    u = x - knots[k]
    value = c[3, k] + u * (c[2, k] + u * (c[1, k] + u * c[0, k]))
    return value, c[2, k] + u * (2.0 * c[1, k] + u * 3.0 * c[0, k])


@jit()
def loading(x: Any, knots: Any, c: Any) -> Any:
    """Return force (N/mm) and slope when loading; past the end straight, to no less than 0."""
    end = knots[-1]
    inside = min(x, end)
    value, slope = cubic(inside, knots, c)
    force = value + slope * (x - inside)
    if x > end and force < 0.0:
        return 0.0, 0.0
    return force, slope


@jit()
def spring_back(deepest: Any, law: Any) -> Any:
    """Return the recovery r(m), mm; past the last release it grows as the force does."""
    end = law[2][-1]
    recovery, _ = cubic(min(deepest, end), law[2], law[3])
    if deepest > end:
        peak, _ = loading(deepest, law[0], law[1])
        known, _ = loading(end, law[0], law[1])
        recovery *= max(peak, 0.0) / max(known, 1e-300)
    return max(recovery, 1e-12)


@jit()
def one_side(x: Any, deepest: Any, law: Any) -> Any:
    """Return force (N/mm) and slope on one side of the hole at travel x, mm."""
    if x >= deepest:
        if x < 0.0:
            return 0.0, 0.0
        return loading(x, law[0], law[1])
    if deepest <= 0.0:
        return 0.0, 0.0
    peak, _ = loading(deepest, law[0], law[1])
    recovery = spring_back(deepest, law)
    s = (deepest - x) / recovery
    if s >= 1.0:
        return 0.0, 0.0
    share, falls = cubic(max(s, 0.0), law[4], law[5])
    return peak * share, -peak * falls / recovery


@jit(
    "void(float64[::1], float64[:,::1], float64,"
    "Tuple((float64[::1], float64[:,::1], float64[::1], float64[:,::1], float64[::1],"
    "float64[:,::1])), Tuple((float64[::1], float64[::1], float64[:,::1])))",
)
def evaluate(travel: Any, deepest: Any, clearance: Any, law: Any, out: Any) -> None:
    """Fill `out`: force and slope (n,), and the new deepest travels ahead and back (2, n)."""
    force, slope, new_deepest = out
    for k in range(travel.size):
        x = travel[k]
        q, rate = one_side(x, deepest[0, k], law)
        new_deepest[0, k], new_deepest[1, k] = max(x, deepest[0, k]), deepest[1, k]
        if clearance < np.inf:
            far = -x - clearance
            q_far, rate_far = one_side(far, deepest[1, k], law)
            q, rate = q - q_far, rate + rate_far
            new_deepest[1, k] = max(far, deepest[1, k])
        force[k], slope[k] = q, rate
