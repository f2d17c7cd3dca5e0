"""Round bars and pins as beams: their sections, and what these carry fully plastic.

Units are mm, N and MPa. d is the diameter.
"""

from __future__ import annotations

import numpy as np

ROUND_SHAPE_FACTOR = 16.0 / (3.0 * np.pi)
"""Full plastic over first-yield moment of a round bar, 1.698."""


def round_area(diameter: float) -> float:
    """Return the area of a round bar, pi d^2 / 4, mm2."""
    return float(np.pi * diameter**2 / 4.0)


def round_inertia(diameter: float) -> float:
    """Return the second moment of area of a round bar, pi d^4 / 64, mm4."""
    return float(np.pi * diameter**4 / 64.0)


def round_section_modulus(diameter: float) -> float:
    """Return the elastic section modulus of a round bar, Wel = pi d^3 / 32, mm3."""
    return float(np.pi * diameter**3 / 32.0)


def full_plastic_moment(diameter: float, yield_strength: float) -> float:
    """Return the full plastic moment of a round bar, sigma_y d^3 / 6, N mm.

    Two half circles (area pi d^2 / 8, centroid 2 d / (3 pi) from the axis) at plus and minus
    sigma_y. Textbook result; re-derived.
    """
    return yield_strength * diameter**3 / 6.0


def full_plastic_shear(diameter: float, yield_strength: float) -> float:
    """Return the full plastic shear of one plane of a round bar, A sigma_y / sqrt(3), N.

    Mises yield in pure shear over the whole section. Textbook result; re-derived.
    """
    return float(round_area(diameter) * yield_strength / np.sqrt(3.0))
