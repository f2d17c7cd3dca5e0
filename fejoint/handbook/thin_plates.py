"""Thin plates on pins and bolts: what published rules say, by hand.

None of them is a mechanical model of an end that leaves its plane; each limits dimensions or
strength so that it need not be one. No design factors. Lengths in mm, stresses in MPa, loads in N.

Status words as everywhere: "read" is in a transcription of the source's own page, "from memory" is
not.
"""

from __future__ import annotations

import math
from typing import Literal

SHEET_FACTORS = {"inside": 1.33, "outside with washers": 1.00, "outside bare": 0.75}
"""Bearing factor alpha of bolted sheet; read in two transcriptions of AS/NZS 4600 5.3.4.2 that
agree (AISI S100 has the same)."""
Place = Literal["inside", "outside with washers", "outside bare"]
LIGAMENT_THICKNESSES = 4.0
"""Thicknesses of the side ligament that count at most, "to eliminate dishing" (ASME BTH-1); not
for plates held against leaving their plane."""
EYEBAR_THICKNESSES = 8.0
"""Thicknesses of an eyebar's or pin plate's width that count at most (AISC, older editions)."""
SNUG_BELOW = 13.0
"""Thickness below which nuts have to draw the plates snug (AISC, older editions), mm."""


THICKEST_SHEET = 4.8
"""Thickness up to which the sheet rules were made, mm."""


def sheet_factor(hole_to_thickness: float) -> float:
    """Return the factor C of bolted sheet by d/t: 3 below 10, 4 - 0.1 d/t to 22, then 1.8."""
    if hole_to_thickness < 10.0:
        return 3.0
    return 4.0 - 0.1 * hole_to_thickness if hole_to_thickness <= 22.0 else 1.8


def sheet_bearing(place: Place, diameter: float, thickness: float, strength: float) -> float:
    """Return the bearing strength of bolted sheet, alpha C d t fu, N.

    Parameters
    ----------
    place : {"inside", "outside with washers", "outside bare"}
    diameter, thickness : float
        Of the bolt and of the sheet (up to about THICKEST_SHEET), mm.
    strength : float
        Tensile strength fu, MPa.

    Notes
    -----
    Source: AS/NZS 4600 5.3.4.2 and AISI S100. Status: read in two transcriptions that agree.
    """
    factor = SHEET_FACTORS[place] * sheet_factor(diameter / thickness)
    return factor * diameter * thickness * strength


def effective_ligament(
    ligament: float, hole: float, thickness: float, yield_stress: float, strength: float
) -> float:
    """Return the side ligament that counts, min(be, 4 t, 0.6 (Fu/Fy) sqrt(Dh/be) be), mm.

    Parameters
    ----------
    ligament : float
        Between the hole and the plate's side, be, mm.
    hole, thickness : float
        Dh and t, mm.
    yield_stress, strength : float
        Fy and Fu, MPa.

    Notes
    -----
    Source: ASME BTH-1, strength of pin-connected plates. Status: read; the root from memory.
    """
    notch = 0.6 * strength / yield_stress * math.sqrt(hole / ligament) * ligament
    return min(ligament, LIGAMENT_THICKNESSES * thickness, notch)


def pin_plate_tension(
    ligament: float, hole: float, thickness: float, yield_stress: float, strength: float
) -> float:
    """Return the net tension of a pin-connected plate, Fu 2 t beff, N.

    Symbols, source and status as in `effective_ligament`.
    """
    return (
        2.0
        * thickness
        * strength
        * effective_ligament(ligament, hole, thickness, yield_stress, strength)
    )


def pin_plate_single_plane(
    edge_distance: float,
    ligament: float,
    pin: float,
    hole: float,
    thickness: float,
    strength: float,
) -> float:
    """Return Cr Fu (1.13 (R - Dh/2) + 0.92 be/(1 + be/Dh)) t: one plane behind the pin, N.

    Parameters
    ----------
    edge_distance : float
        R, from the hole's centre to the end, mm.
    ligament, pin, hole, thickness : float
        be, Dp, Dh and t, mm.
    strength : float
        Fu, MPa.

    Notes
    -----
    Source: ASME BTH-1. Status: existence and Cr = 1 for Dp/Dh above 0.90 read; constants and
    Cr = 1 - 0.275 sqrt(1 - (Dp/Dh)^2) below it from memory.
    """
    ratio = pin / hole
    clearance = 1.0 if ratio > 0.90 else 1.0 - 0.275 * math.sqrt(1.0 - ratio * ratio)
    lengths = 1.13 * (edge_distance - 0.5 * hole) + 0.92 * ligament / (1.0 + ligament / hole)
    return clearance * strength * lengths * thickness


def pin_plate_double_plane(
    edge_distance: float, pin: float, hole: float, thickness: float, strength: float
) -> float:
    """Return 0.70 Fu 2 (a + Dp/2 (1 - cos phi)) t, phi = 55 Dp/Dh degrees: two planes, N.

    Parameters
    ----------
    edge_distance : float
        Hole's centre to a square end, mm; a is from the hole's edge.
    pin, hole, thickness : float
        Dp, Dh and t, mm.
    strength : float
        Fu, MPa.

    Notes
    -----
    Source: ASME BTH-1; 0.70 from tests of 0.67 to 0.95 Fu. Status: 0.70 and form read, phi from
    memory.
    """
    phi = math.radians(55.0 * pin / hole)
    plane = edge_distance - 0.5 * hole + 0.5 * pin * (1.0 - math.cos(phi))
    return 0.70 * strength * 2.0 * plane * thickness


def eyebar_width(width: float, thickness: float) -> float:
    """Return the width that counts, at most 8 t, mm.

    Source: eyebar and pin-plate rules of older AISC specifications. Status: read.
    """
    return min(width, EYEBAR_THICKNESSES * thickness)
