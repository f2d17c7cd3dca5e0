"""Elastic plates with holes, and rings: stress fields and stress concentrations.

Polar angles run from the x axis; stresses are tension positive, in the unit of the load given.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import CubicSpline

from fejoint.arrays import Floats

HOLE_RATIOS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6)
"""Hole diameter over plate width of `finite_width_gross`."""
HOLE_GROSS_KT = (3.0, 3.036, 3.1526, 3.3745, 3.7474, 4.3477, 5.318)
"""Peak stress over gross stress F/(W t) of a long strip with a central hole, converged."""


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


def kirsch_rim_growth(
    angle: ArrayLike, hole_radius: float, stress: float, modulus: float
) -> Floats:
    """Return the radial displacement of the hole's rim under tension along x, plane stress.

    u_r = S a / E (1 + 2 cos 2 theta): 3 S a / E along the pull and -S a / E across it.

    Parameters
    ----------
    angle : array
        Radians from the pull.
    hole_radius, stress, modulus : float
        a, S and E.

    Notes
    -----
    Source: follows from Kirsch 1898 (integrated hoop strain). Status: re-derived.
    """
    return np.asarray(
        stress * hole_radius / modulus * (1 + 2 * np.cos(2 * np.asarray(angle, float)))
    )


def finite_width_gross(ratio: float) -> float:
    """Return the peak over gross stress of a long strip with a central hole, in tension.

    Parameters
    ----------
    ratio : float
        Hole diameter over strip width, 0 to 0.6.

    Raises
    ------
    ValueError
        Outside 0 to 0.6.

    Notes
    -----
    A cubic spline, even in the ratio, through values this project computed by two independent
    solvers that agree to 0.02 %: not published values. Howland, "On the stresses in the
    neighbourhood of a circular hole in a strip under tension", Phil. Trans. R. Soc. A 229, 1930,
    as remembered lies 0.2 to 0.7 % lower.
    """
    if not 0.0 <= ratio <= HOLE_RATIOS[-1]:
        msg = f"hole over width = {ratio:g}: must lie between 0 and {HOLE_RATIOS[-1]}"
        raise ValueError(msg)
    ratios, values = np.array(HOLE_RATIOS), np.array(HOLE_GROSS_KT)
    curve = CubicSpline(
        np.concatenate([-ratios[:0:-1], ratios]), np.concatenate([values[:0:-1], values])
    )
    return float(curve(ratio))


def finite_width_net(ratio: float) -> float:
    """Return the peak over net stress F/((W - D) t); see `finite_width_gross`."""
    return finite_width_gross(ratio) * (1.0 - ratio)


def heywood_net(ratio: float) -> float:
    """Return Heywood's net stress concentration 2 + (1 - D/W)^3 of a strip with a hole.

    Source: Heywood, Designing by Photoelasticity, 1952. Status: from memory; 0.1 to 3.3 % below
    the converged values for D/W 0.1 to 0.6.
    """
    return 2.0 + (1.0 - ratio) ** 3


def peterson_net(ratio: float) -> float:
    """Return the polynomial net stress concentration of a strip with a hole.

    3 - 3.14 x + 3.667 x^2 - 1.527 x^3 with x = D/W. Source: Roark's Formulas for Stress and
    Strain, after Howland 1930; charted in Peterson, Stress Concentration Factors. Status: from
    memory; 0.4 to 0.9 % below the converged values.
    """
    return 3.0 - 3.14 * ratio + 3.667 * ratio**2 - 1.527 * ratio**3


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


def inglis_peak(half_across_pull: float, half_along_pull: float) -> float:
    """Return the peak 1 + 2 a/b at the ends of the axis across the pull.

    `half_across_pull` is a, `half_along_pull` b. Source and status as in `inglis_hoop`; equal
    axes give the circle's 3.
    """
    return 1.0 + 2.0 * half_across_pull / half_along_pull


def lame_ring(
    radius: ArrayLike, inner: float, outer: float, inside: float, outside: float = 0.0
) -> tuple[Floats, Floats]:
    """Return radial and hoop stress of an elastic ring under pressure.

    Parameters
    ----------
    radius : array
        Where, between `inner` and `outer`.
    inner, outer : float
        a and b.
    inside, outside : float
        Pressures on the inner and the outer rim.

    Notes
    -----
    Source: Lame and Clapeyron 1833; Timoshenko and Goodier. Status: re-derived.
    """
    r2 = np.asarray(radius, float) ** 2
    a2, b2 = inner**2, outer**2
    mean = (inside * a2 - outside * b2) / (b2 - a2)
    swing = (inside - outside) * a2 * b2 / ((b2 - a2) * r2)
    return mean - swing, mean + swing


def lame_growth(
    radius: ArrayLike,
    inner: float,
    outer: float,
    inside: float,
    modulus: float,
    poisson: float,
) -> Floats:
    """Return the radial displacement of an elastic ring under inner pressure, plane stress.

    u = r (s_t - nu s_r) / E with `lame_ring`'s stresses. Status: re-derived.
    """
    sr, st = lame_ring(radius, inner, outer, inside)
    return np.asarray(np.asarray(radius, float) * (st - poisson * sr) / modulus)


def lug_peak_over_bearing(ratio: float) -> float:
    """Return the peak over bearing stress of a round-ended lug with a neat pin, a rough fit.

    2.75 (W/D - 1)^-0.675 with `ratio` = D/W. Source: a fit remembered from photoelastic lug
    charts. Status: from memory, author not known; within 2.5 % of this project's converged values
    for D/W 0.4 to 0.6, 8 % low at 0.3 and 20 % low at 0.2: no target for a check.
    """
    return float(2.75 * (1.0 / ratio - 1.0) ** -0.675)
