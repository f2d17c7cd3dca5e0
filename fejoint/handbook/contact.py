"""Elastic contact of cylinders: Hertz's line contact, a pin in a hole, and partial slip.

Loads are per unit length (N/mm), lengths mm, stresses MPa.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fejoint.arrays import Floats
from fejoint.kernel.root import root


@dataclass(frozen=True)
class LineContact:
    """Half width (mm) and peak pressure (MPa) of a line contact."""

    half_width: float
    peak_pressure: float

    def pressure(self, x: ArrayLike) -> Floats:
        """Return the pressure at distance x (mm) from the middle, MPa; 0 outside the contact."""
        inside = np.maximum(0.0, 1.0 - (np.asarray(x, float) / self.half_width) ** 2)
        return np.asarray(self.peak_pressure * np.sqrt(inside))


def contact_modulus(e1: float, nu1: float, e2: float, nu2: float, *, strain: bool = True) -> float:
    """Return E*, 1/E* = (1 - nu1^2)/E1 + (1 - nu2^2)/E2, or its plane-stress form 1/E1 + 1/E2.

    Parameters
    ----------
    e1, nu1, e2, nu2 : float
        Young's moduli (MPa) and Poisson's ratios of the two bodies.
    strain : bool
        True for plane strain (long cylinders), False for plane stress (thin plates).

    Notes
    -----
    Source: Johnson, Contact Mechanics, 1985, ch. 4. Status: line formulas read in a stored text;
    the plane-stress form by replacing E/(1 - nu^2) by E.
    """
    if strain:
        return 1.0 / ((1.0 - nu1**2) / e1 + (1.0 - nu2**2) / e2)
    return 1.0 / (1.0 / e1 + 1.0 / e2)


def hertz_line(load: float, modulus: float, radius: float) -> LineContact:
    """Return half width sqrt(4 Q R / (pi E*)) and peak pressure sqrt(Q E* / (pi R)).

    Parameters
    ----------
    load : float
        Q, N/mm.
    modulus : float
        E*, MPa; see `contact_modulus`.
    radius : float
        R, mm: 1/R = 1/R1 + 1/R2, negative for a hollow body.

    Notes
    -----
    Source: Hertz 1882; Johnson, Contact Mechanics, 1985, ch. 4. Status: read in a stored text.
    Under it the greatest shear stress is 0.3003 p0 at the depth 0.786 a.
    """
    half = np.sqrt(4.0 * load * radius / (np.pi * modulus))
    return LineContact(float(half), float(2.0 * load / (np.pi * half)))


def line_contact_axis(depth: ArrayLike, contact: LineContact) -> tuple[Floats, Floats]:
    """Return the in-plane stresses (along the surface, along the depth) under a line contact.

    Parameters
    ----------
    depth : array
        z below the middle of the contact, mm.
    contact : LineContact
        The contact.

    Returns
    -------
    sx, sz : arrays
        MPa.

    Notes
    -----
    sx = -p0 ((a^2 + 2 z^2)/(a m) - 2 z/a) and sz = -p0 a/m with m = sqrt(a^2 + z^2). Source:
    Johnson, Contact Mechanics, 1985, eqs (4.46). Status: from memory; its greatest shear stress
    checked against the printed 0.30 p0 at 0.78 a.
    """
    z, a, p0 = np.asarray(depth, float), contact.half_width, contact.peak_pressure
    m = np.sqrt(a**2 + z**2)
    return -p0 * ((a**2 + 2 * z**2) / (a * m) - 2 * z / a), -p0 * a / m


def conforming_clearance(half_angle: ArrayLike) -> Floats:
    """Return the dimensionless clearance E1 dR / Q at which a pin touches over 2 x `half_angle`.

    Parameters
    ----------
    half_angle : array
        eps, half the contact arc, radians.

    Notes
    -----
    Pin and infinite plate of the same material, no friction. E1 is the modulus of one body:
    E in plane stress, E/(1 - nu^2) in plane strain; dR the radial clearance, Q the load per unit
    thickness. With b = tan(eps/2):
    E1 dR/Q = (2 - ln(b^2 + 1) - 2 b^4) / (pi b^2 (b^2 + 1)).
    Source: Persson, On the Stress Distribution of Cylindrical Elastic Bodies in Contact, Chalmers
    1964; Ciavarella and Decuzzi, "The state of stress induced by the plane frictionless
    cylindrical contact. I", Int. J. Solids Structures 38, 2001. Status: from memory; confirmed
    to 6 digits by an independent integral-equation solution.
    """
    b2 = np.tan(np.asarray(half_angle, float) / 2.0) ** 2
    return np.asarray((2.0 - np.log(b2 + 1.0) - 2.0 * b2**2) / (np.pi * b2 * (b2 + 1.0)))


def conforming_half_angle(clearance: float) -> float:
    """Return half the contact arc (radians) for the dimensionless clearance E1 dR / Q.

    The inverse of `conforming_clearance`; 0 is the neat fit (84.83 degrees), below 0 an
    interference fit.

    Raises
    ------
    ValueError
        If the clearance is below that of full contact, -2/pi.
    """
    low, high = 1e-6, np.pi - 1e-3
    floor = float(conforming_clearance(high))
    if clearance < floor:
        msg = f"E1 dR/Q = {clearance:g}: must be at least {floor:.3f}"
        raise ValueError(msg)
    return root(lambda e: float(conforming_clearance(e)) - clearance, low, high, within=1e-13)


def conforming_pressure(angle: ArrayLike, half_angle: float) -> Floats:
    """Return the pressure of a pin in a hole, q R / Q, at `angle` from the line of force.

    Parameters
    ----------
    angle : array
        theta, radians.
    half_angle : float
        eps, half the contact arc, radians.

    Returns
    -------
    array
        q R/Q, R the hole's radius and Q the load per unit thickness; 0 outside the contact.

    Notes
    -----
    With b = tan(eps/2), y = tan(theta/2), s = sqrt(b^2 + 1), w = sqrt(b^2 - y^2):
    q R/Q = 2 w / (pi s (1 + y^2)) + ln((s + w)/(s - w)) / (2 pi b^2 (1 + b^2)).
    Source and status as in `conforming_clearance`; its integral equals the load to 1e-8.
    """
    b2 = np.tan(half_angle / 2.0) ** 2
    y2 = np.tan(np.asarray(angle, float) / 2.0) ** 2
    s = np.sqrt(b2 + 1.0)
    w = np.sqrt(np.maximum(b2 - y2, 0.0))
    bulk = 2.0 * w / (np.pi * s * (1.0 + y2))
    return np.asarray(bulk + np.log((s + w) / (s - w)) / (2.0 * np.pi * b2 * (1.0 + b2)))


def partial_slip_stick_width(contact: LineContact, shear: float, normal: float, mu: float) -> float:
    """Return the half width of the stick zone of a line contact, a sqrt(1 - T / (mu Q)), mm.

    Parameters
    ----------
    contact : LineContact
        Contact under the normal load alone.
    shear, normal : float
        T and Q, N/mm, T put on after Q.
    mu : float
        Coefficient of friction.

    Raises
    ------
    ValueError
        If T exceeds mu Q: the bodies slide.

    Notes
    -----
    Bodies of the same material (the shear moves no normal pressure). Source: Cattaneo 1938 and
    Mindlin, "Compliance of elastic bodies in contact", J. Appl. Mech. 16, 1949; Johnson, Contact
    Mechanics, 1985, ch. 7. Status: from memory; integral and stick condition checked numerically.
    """
    if shear > mu * normal:
        msg = f"shear {shear:g} N/mm: must be at most mu x normal load = {mu * normal:g} N/mm"
        raise ValueError(msg)
    return float(contact.half_width * np.sqrt(1.0 - shear / (mu * normal)))


def partial_slip_traction(
    x: ArrayLike, contact: LineContact, shear: float, normal: float, mu: float
) -> Floats:
    """Return the shear traction of a line contact in partial slip, MPa.

    mu p0 (sqrt(1 - x^2/a^2) - (c/a) sqrt(1 - x^2/c^2)), the second term in the stick zone
    abs(x) < c only. Arguments, source and status as in `partial_slip_stick_width`.
    """
    c = partial_slip_stick_width(contact, shear, normal, mu)
    sliding = contact.pressure(x)
    if c == 0.0:
        return np.asarray(mu * sliding)
    back = LineContact(c, contact.peak_pressure * c / contact.half_width).pressure(x)
    return np.asarray(mu * (sliding - back))
