"""The root of a function between two places where it differs in sign.

SciPy has the like (`scipy.optimize.brentq`, to which the tests hold this one), but importing its
optimisers takes some 15 % of a pull's time. So all of the package uses this one.
"""

from __future__ import annotations

from collections.abc import Callable

_MOST = 400
"""Evaluations before the search ends where it is: halving 1e6 to 1e-14 takes 67."""


def root(
    function: Callable[[float], float], low: float, high: float, within: float = 2e-12
) -> float:
    """Return where a continuous function of one number passes through 0.

    Parameters
    ----------
    function : callable
    low, high : float
        Places where it differs in sign, or is 0.
    within : float
        How far the place returned may lie from the root; rounding of the place is added to it.

    Returns
    -------
    float

    Raises
    ------
    ValueError
        If the function has the same sign at both places, or is not a number on the way.

    Notes
    -----
    Inverse quadratic interpolation where it is sure to be good, else halving: Chandrupatla, "A new
    hybrid quadratic/bisection algorithm for finding the zero of a nonlinear function without using
    derivatives", Adv. Eng. Software 28 (1997) 145 (from memory).
    """
    a, b = high, low
    fa, fb = function(a), function(b)
    if fa == 0.0 or fb == 0.0:
        return b if fb == 0.0 else a
    if not ((fa < 0.0 < fb) or (fb < 0.0 < fa)):
        message = f"no change of sign between {low:g} and {high:g}"
        raise ValueError(message)
    t = 0.5
    for _ in range(_MOST):
        # between a, the newest place, and b lies the root; c is the one given up
        new = a + t * (b - a)
        f_new = function(new)
        if f_new != f_new:
            message = f"not a number at {new:g}"
            raise ValueError(message)
        if (f_new > 0.0) == (fa > 0.0):
            c, fc = a, fa
        else:
            c, fc, b, fb = b, fb, a, fa
        a, fa = new, f_new
        best, f_best = (a, fa) if abs(fa) < abs(fb) else (b, fb)
        least = (within + 4e-16 * abs(best)) / abs(b - a)
        if f_best == 0.0 or least > 0.5:
            return best
        t = 0.5
        xi, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
        if phi * phi < xi and (1.0 - phi) ** 2 < 1.0 - xi:
            t = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (
                fc - fb
            )
        t = min(max(t, least), 1.0 - least)
    return best
