"""Elastic plates with holes, and rings: stress fields and stress concentrations.

Polar angles run from the x axis; stresses are tension positive, in the unit of the load given.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fejoint.arrays import Floats


def kirsch_polar(
    radius: ArrayLike, angle: ArrayLike, hole_radius: float, sx: float, sy: float, sxy: float
) -> tuple[Floats, Floats, Floats]:
    """Return the stresses round a circular hole in an infinite plate, polar components.

    Parameters
    ----------
    radius, angle : array, shapes that broadcast
        Polar coordinates from the hole's centre; angle in radians from the x axis.
    hole_radius : float
        a, in the unit of `radius`.
    sx, sy, sxy : float
        Remote stresses.

    Returns
    -------
    sr, st, srt : arrays
        Radial, hoop and shear stress.

    Notes
    -----
    Source: Kirsch, "Die Theorie der Elastizitaet und die Beduerfnisse der Festigkeitslehre", VDI
    Zeitschrift 42, 1898; in Timoshenko and Goodier, Theory of Elasticity. Status: uniaxial field
    read in a stored text; the superposition checked against the field equations.
    """
    ratio = (hole_radius / np.asarray(radius, float)) ** 2
    theta = np.asarray(angle, float)
    mean, half = 0.5 * (sx + sy), 0.5 * (sx - sy)
    # the remote deviator seen along theta and across it
    along = half * np.cos(2 * theta) + sxy * np.sin(2 * theta)
    across = -half * np.sin(2 * theta) + sxy * np.cos(2 * theta)
    sr = mean * (1 - ratio) + along * (1 - 4 * ratio + 3 * ratio**2)
    st = mean * (1 + ratio) - along * (1 + 3 * ratio**2)
    srt = across * (1 + 2 * ratio - 3 * ratio**2)
    return sr, st, srt


def kirsch(
    x: ArrayLike, y: ArrayLike, hole_radius: float, sx: float, sy: float, sxy: float
) -> tuple[Floats, Floats, Floats]:
    """Return the stresses round a circular hole in an infinite plate, Cartesian components.

    Arguments as in `kirsch_polar`, with points x, y from the hole's centre. Returns sxx, syy,
    sxy at the points.
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    theta = np.arctan2(y, x)
    sr, st, srt = kirsch_polar(np.hypot(x, y), theta, hole_radius, sx, sy, sxy)
    c, s = np.cos(theta), np.sin(theta)
    return (
        sr * c**2 + st * s**2 - 2 * srt * s * c,
        sr * s**2 + st * c**2 + 2 * srt * s * c,
        (sr - st) * s * c + srt * (c**2 - s**2),
    )


def inglis_hoop(
    eccentric_angle: ArrayLike, along: float, across: float, pull_angle: float
) -> Floats:
    """Return the edge stress of an elliptic hole in an infinite plate, over the remote tension.

    Parameters
    ----------
    eccentric_angle : array
        eta of the edge points (along cos eta, across sin eta), radians.
    along, across : float
        Semi-axes on x and y; `along` greater than `across`.
    pull_angle : float
        beta between the tension and the x axis, radians.

    Notes
    -----
    sigma/S = (sinh 2u + cos 2 beta - exp(2u) cos 2(beta - eta)) / (cosh 2u - cos 2 eta), with
    tanh u = across/along. Source: Inglis, "Stresses in a plate due to the presence of cracks and
    sharp corners", Trans. Inst. Naval Architects 55, 1913; in Timoshenko and Goodier. Status:
    from memory; limits and the 45-degree case checked against an independent mapping solution.
    """
    eta = np.asarray(eccentric_angle, float)
    u = np.arctanh(across / along)
    return np.asarray(
        (np.sinh(2 * u) + np.cos(2 * pull_angle) - np.exp(2 * u) * np.cos(2 * (pull_angle - eta)))
        / (np.cosh(2 * u) - np.cos(2 * eta))
    )
