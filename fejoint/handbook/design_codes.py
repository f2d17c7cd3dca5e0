"""Pinned-joint formulas of two design codes, one function a line of the code.

EN 1993-1-8:2005 ("Eurocode 3: Design of steel structures, Part 1-8: Design of joints", CEN),
clause 3.13.2 with Tables 3.9 and 3.10, and ANSI/AISC 360-10 ("Specification for Structural Steel
Buildings", American Institute of Steel Construction), sections D5, J3.10 and J7.

Every function returns the characteristic value unless a factor is passed: `partial` divides
(EN 1993: gamma_M0, gamma_M2, gamma_M6,ser), `phi` multiplies (AISC). Units are mm, N and MPa,
moments N mm. The status in each docstring says how far the wording was confirmed.
"""

from __future__ import annotations

import math

AISC_WIDTH_ALLOWANCE = 16.0
"""The 16 mm (0.63 in) in AISC's effective width 2 t + 16 mm."""


def en_pin_shear(area: float, pin_strength: float, *, partial: float = 1.0) -> float:
    """Return the shear resistance of one shear plane of a pin, 0.6 A fup / gamma_M2.

    Parameters
    ----------
    area : float
        Cross-section A of the pin, mm2.
    pin_strength : float
        Tensile strength fup of the pin, MPa.
    partial : float
        gamma_M2.

    Notes
    -----
    Source: EN 1993-1-8:2005 Table 3.10. Status: read in the standard's table text.
    """
    return 0.6 * area * pin_strength / partial


def en_bearing(
    thickness: float, pin_diameter: float, yield_strength: float, *, partial: float = 1.0
) -> float:
    """Return the bearing resistance of plate and pin, 1.5 t d fy / gamma_M0.

    Parameters
    ----------
    thickness, pin_diameter : float
        t of the connected part and d, mm.
    yield_strength : float
        fy, the lower of the pin's and the part's yield strength, MPa.
    partial : float
        gamma_M0.

    Notes
    -----
    Source: EN 1993-1-8:2005 Table 3.10. Status: read in the standard's table text.
    """
    return 1.5 * thickness * pin_diameter * yield_strength / partial


def en_pin_bending(section_modulus: float, pin_yield: float, *, partial: float = 1.0) -> float:
    """Return the bending resistance of a pin, 1.5 Wel fyp / gamma_M0, N mm.

    Parameters
    ----------
    section_modulus : float
        Elastic section modulus Wel, mm3; pi d^3 / 32 for a solid round pin.
    pin_yield : float
        Yield strength fyp of the pin, MPa.
    partial : float
        gamma_M0.

    Notes
    -----
    Source: EN 1993-1-8:2005 Table 3.10. Status: read in the standard's table text.
    """
    return 1.5 * section_modulus * pin_yield / partial


def en_pin_bending_replaceable(
    section_modulus: float, pin_yield: float, *, partial: float = 1.0
) -> float:
    """Return the serviceability bending of a replaceable pin, 0.8 Wel fyp / gamma_M6,ser, N mm.

    Symbols as in `en_pin_bending`. Source: EN 1993-1-8:2005 Table 3.10. Status: read in the
    standard's table text.
    """
    return 0.8 * section_modulus * pin_yield / partial


def en_pin_moment(load: float, middle: float, gap: float, outer: float) -> float:
    """Return the moment in a pin in double shear, F/8 (b + 4c + 2a), N mm.

    Parameters
    ----------
    load : float
        Force F through the whole joint, N.
    middle, gap, outer : float
        Thickness b of the middle plate, side gap c, thickness a of each outer plate, mm.

    Notes
    -----
    Simple beam with F/2 at the middle of each outer plate and F spread over the middle one.
    Source: EN 1993-1-8:2005 Figure 3.11. Status: read in a design sheet that quotes the figure;
    the statics re-derived (F/2 (a/2 + c + b/2) - F/2 b/4).
    """
    return load / 8.0 * (middle + 4.0 * gap + 2.0 * outer)


def en_contact_stress(
    modulus: float, load: float, pin_diameter: float, hole: float, thickness: float
) -> float:
    """Return the contact stress of a replaceable pin, 0.591 sqrt(E F (d0 - d) / (d^2 t)), MPa.

    Parameters
    ----------
    modulus : float
        Young's modulus E, MPa.
    load : float
        Service force F on the part, N.
    pin_diameter, hole, thickness : float
        d, d0 and t, mm.

    Notes
    -----
    Source: EN 1993-1-8:2005 eq. (3.15). Status: read in the standard's text. The constant is
    plane-strain line contact with nu = 0.3: sqrt(2 / (pi 1.82)) = 0.5914.
    """
    return 0.591 * math.sqrt(modulus * load * (hole - pin_diameter) / (pin_diameter**2 * thickness))


def en_contact_limit(yield_strength: float, *, partial: float = 1.0) -> float:
    """Return the allowed contact stress of a replaceable pin, 2.5 fy / gamma_M6,ser, MPa.

    Source: EN 1993-1-8:2005 eq. (3.16). Status: read in the standard's text.
    """
    return 2.5 * yield_strength / partial


def en_load_of_end(
    thickness: float, hole: float, clear_end: float, yield_strength: float, *, partial: float = 1.0
) -> float:
    """Return the load for which the metal behind the hole is just enough, 2 t fy (a - 2 d0/3).

    Parameters
    ----------
    thickness, hole : float
        t and d0, mm.
    clear_end : float
        a, from the hole's edge to the end of the part along the force, mm.
    yield_strength : float
        fy, MPa.
    partial : float
        gamma_M0.

    Notes
    -----
    The geometry rule a >= F gamma_M0 / (2 t fy) + 2 d0 / 3 solved for F; 0 if a is too short.
    Source: EN 1993-1-8:2005 Table 3.9, type A. Status: read in two secondary texts.
    """
    return max(0.0, 2.0 * thickness * yield_strength / partial * (clear_end - 2.0 * hole / 3.0))


def en_load_of_side(
    thickness: float, hole: float, clear_side: float, yield_strength: float, *, partial: float = 1.0
) -> float:
    """Return the load for which the metal beside the hole is just enough, 2 t fy (c - d0/3).

    `clear_side` is c, from the hole's edge to the side of the part, mm; others as in
    `en_load_of_end`. Source: EN 1993-1-8:2005 Table 3.9, type A
    (c >= F gamma_M0 / (2 t fy) + d0 / 3). Status: read in a secondary text.
    """
    return max(0.0, 2.0 * thickness * yield_strength / partial * (clear_side - hole / 3.0))


def aisc_effective_width(thickness: float, clear_side: float) -> float:
    """Return the effective width beside the hole, be = 2 t + 16 mm but at most b, mm.

    `clear_side` is b, from the hole's edge to the side of the part, mm. Source: AISC 360-10 D5.1.
    Status: read in the specification's text.
    """
    return min(2.0 * thickness + AISC_WIDTH_ALLOWANCE, clear_side)


def aisc_net_tension(
    thickness: float, clear_side: float, strength: float, *, phi: float = 1.0
) -> float:
    """Return the tensile rupture load of a pin-connected part, 2 t be Fu (phi = 0.75).

    Parameters
    ----------
    thickness, clear_side : float
        t and b (hole's edge to side), mm.
    strength : float
        Tensile strength Fu, MPa.
    phi : float
        Resistance factor.

    Notes
    -----
    Source: AISC 360-10 eq. (D5-1). Status: read in the specification's text.
    """
    return phi * 2.0 * thickness * aisc_effective_width(thickness, clear_side) * strength


def aisc_end_shear(
    thickness: float,
    clear_end: float,
    pin_diameter: float,
    strength: float,
    *,
    phi: float = 1.0,
) -> float:
    """Return the shear rupture load behind the pin, 0.6 Fu Asf, Asf = 2 t (a + d/2) (phi = 0.75).

    Parameters
    ----------
    thickness, clear_end, pin_diameter : float
        t, a (hole's edge to end along the force) and d, mm.
    strength : float
        Tensile strength Fu, MPa.
    phi : float
        Resistance factor.

    Notes
    -----
    Source: AISC 360-10 eq. (D5-2). Status: read in the specification's text.
    """
    return phi * 0.6 * strength * 2.0 * thickness * (clear_end + pin_diameter / 2.0)


def aisc_bearing(
    thickness: float, pin_diameter: float, yield_strength: float, *, phi: float = 1.0
) -> float:
    """Return the bearing load on the pin's projected area, 1.8 Fy d t (phi = 0.75).

    Source: AISC 360-10 eq. (J7-1), called by D5.1(c). Status: read in the specification's text.
    """
    return phi * 1.8 * yield_strength * pin_diameter * thickness


def aisc_gross_yield(
    width: float, thickness: float, yield_strength: float, *, phi: float = 1.0
) -> float:
    """Return the load that yields the whole section, Fy W t (phi = 0.9).

    Source: AISC 360-10 eq. (D2-1), called by D5.1(d). Status: read in the specification's text.
    """
    return phi * yield_strength * width * thickness
