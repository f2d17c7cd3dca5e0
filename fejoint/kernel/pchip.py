"""Monotone piecewise cubics: through every point, and with no bump that the points do not have.

SciPy has the same curve (`scipy.interpolate.PchipInterpolator`, to which the tests hold this one),
but takes some 15 % of a pull's time to import with all that it drags along. So all of the package
uses this one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fejoint.arrays import Floats


class Monotone:
    """A curve through points, smooth to its first derivative, monotone wherever the points are.

    Parameters
    ----------
    x, y : (n,) arrays
        At least two points; x rises.

    Attributes
    ----------
    x : (n,) array
        The knots.
    c : (4, n - 1) array
        Coefficients of every piece, the cubic one first, by the distance from its left knot.

    Raises
    ------
    ValueError
        If there are fewer than two points, x does not rise, or the lengths differ.

    Notes
    -----
    The slope at an inner point is the weighted harmonic mean of the secants beside it, 0 where they
    differ in sign (Fritsch and Butland, "A method for constructing local monotone piecewise cubic
    interpolants", SIAM J. Sci. Stat. Comput. 5 (1984) 300, from memory); at an end it is that of a
    parabola through three points, held within what keeps the curve monotone.
    """

    def __init__(self, x: ArrayLike, y: ArrayLike) -> None:
        self.x, values = np.array(x, float), np.asarray(y, float)
        if self.x.ndim != 1 or len(self.x) < 2 or values.shape != self.x.shape:
            message = "a monotone curve needs two equal columns of at least 2 points"
            raise ValueError(message)
        width = np.diff(self.x)
        if not np.all(width > 0.0):
            message = "the places of a monotone curve's points must rise"
            raise ValueError(message)
        secant = np.diff(values) / width
        slope = _slopes(width, secant)
        bend = (slope[:-1] + slope[1:] - 2.0 * secant) / width
        self.c: Floats = np.stack(
            [bend / width, (secant - slope[:-1]) / width - bend, slope[:-1], values[:-1]]
        )

    def __call__(self, x: ArrayLike, derivative: int = 0) -> Floats:
        """Return values or first derivatives; beyond its ends the last pieces go on.

        Parameters
        ----------
        x : array, any shape
        derivative : {0, 1}

        Returns
        -------
        array of the same shape
        """
        at = np.asarray(x, float)
        piece = np.searchsorted(self.x, at, side="right") - 1
        piece = np.clip(piece, 0, len(self.x) - 2)
        t = at - self.x[piece]
        c3, c2, c1, c0 = self.c[:, piece]
        if derivative == 0:
            return np.asarray(c0 + t * (c1 + t * (c2 + t * c3)))
        return np.asarray(c1 + t * (2.0 * c2 + t * 3.0 * c3))


def _slopes(width: Floats, secant: Floats) -> Floats:
    """Slopes at the points, from the distances and secants between them."""
    if len(secant) == 1:
        return np.repeat(secant, 2)
    slope = np.zeros(len(secant) + 1)
    before, after = secant[:-1], secant[1:]
    same = np.sign(before) * np.sign(after) > 0.0
    w_before, w_after = 2.0 * width[1:] + width[:-1], width[1:] + 2.0 * width[:-1]
    inverse = w_before[same] / before[same] + w_after[same] / after[same]
    slope[1:-1][same] = (w_before + w_after)[same] / inverse
    slope[0] = _end_slope(width[0], width[1], secant[0], secant[1])
    slope[-1] = _end_slope(width[-1], width[-2], secant[-1], secant[-2])
    return slope


def _end_slope(width: float, next_width: float, secant: float, next_secant: float) -> float:
    slope = ((2.0 * width + next_width) * secant - width * next_secant) / (width + next_width)
    if np.sign(slope) != np.sign(secant):
        return 0.0
    if np.sign(secant) != np.sign(next_secant) and abs(slope) > 3.0 * abs(secant):
        return 3.0 * secant
    return slope
