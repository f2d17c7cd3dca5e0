"""A bearing law with unloading, slice by slice, in one compiled pass.

The same formulas as sections/bearing_law.py. Importing this module imports numba; see compiled.py.
"""

from __future__ import annotations

import numpy as np
from numba import njit

_OPTIONS = {"error_model": "numpy", "fastmath": {"contract"}}


@njit(**_OPTIONS)
def _cubic(t, knots, c):  # type: ignore[no-untyped-def]
    """Value and slope of a piecewise cubic (4, m) at t, inside its knots."""
    k = np.searchsorted(knots, t, side="right") - 1
    k = min(max(k, 0), knots.size - 2)
    u = t - knots[k]
    value = c[3, k] + u * (c[2, k] + u * (c[1, k] + u * c[0, k]))
    return value, c[2, k] + u * (2.0 * c[1, k] + u * 3.0 * c[0, k])


@njit(**_OPTIONS)
def _loading(t, knots, c):  # type: ignore[no-untyped-def]
    end = knots[-1]
    inside = min(t, end)
    value, slope = _cubic(inside, knots, c)
    force = value + slope * (t - inside)
    if t > end and force < 0.0:
        return 0.0, 0.0
    return force, slope


@njit(**_OPTIONS)
def _side(t, deepest, load_knots, load, back_knots, back, shape_knots, shape):  # type: ignore[no-untyped-def]
    """Force and slope on one side of the hole."""
    if t >= deepest:
        if t < 0.0:
            return 0.0, 0.0
        return _loading(t, load_knots, load)
    if deepest <= 0.0:
        return 0.0, 0.0
    peak, _ = _loading(deepest, load_knots, load)
    end = back_knots[-1]
    springs, _ = _cubic(min(deepest, end), back_knots, back)
    if deepest > end:
        known, _ = _loading(end, load_knots, load)
        springs *= max(peak, 0.0) / max(known, 1e-300)
    springs = max(springs, 1e-12)
    s = (deepest - t) / springs
    if s >= 1.0:
        return 0.0, 0.0
    share, falls = _cubic(max(s, 0.0), shape_knots, shape)
    return peak * share, -peak * falls / springs


@njit(
    "void(float64[::1], float64[:,::1], float64, float64[::1], float64[:,::1], float64[::1],"
    "float64[:,::1], float64[::1], float64[:,::1], float64[::1], float64[::1], float64[:,::1])",
    cache=True,
    **_OPTIONS,
)
def evaluate(  # type: ignore[no-untyped-def]
    travel,
    deepest,
    clearance,
    load_knots,
    load,
    back_knots,
    back,
    shape_knots,
    shape,
    force,
    slope,
    new_deepest,
):
    """Fill force, slope (n,) and the new deepest travels (2, n).

    The law comes as three piecewise cubics: loading, spring-back and shape of the unloading.
    """
    for k in range(travel.size):
        t = travel[k]
        q, rate = _side(
            t, deepest[0, k], load_knots, load, back_knots, back, shape_knots, shape
        )  # fmt: skip
        new_deepest[0, k], new_deepest[1, k] = max(t, deepest[0, k]), deepest[1, k]
        if clearance < np.inf:
            far = -t - clearance
            q_far, rate_far = _side(
                far, deepest[1, k], load_knots, load, back_knots, back, shape_knots, shape
            )  # fmt: skip
            q, rate = q - q_far, rate + rate_far
            new_deepest[1, k] = max(far, deepest[1, k])
        force[k], slope[k] = q, rate
