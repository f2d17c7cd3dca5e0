"""The strip of an ear bent in its plane at its grip, by a sideways pull or an off-axis hole."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fejoint.joint.parts import Ear


def strip_use(ear: Ear, load: float, angle: float) -> tuple[float, float]:
    """Return how far a pull uses up the ear's strip at its grip: bending and squared pull.

    Parameters
    ----------
    ear : Ear
    load : float
        On the ear, N.
    angle : float
        Of the pull against the ear's axis, degrees.

    Returns
    -------
    bending, pull : float
        M/Mp and (N/Np)^2, with M = P (L sin a - o cos a), N = P cos a, Mp = t W^2/4 Rp0.2 and
        Np = W t Rp0.2; L is the length to the grip and o the hole's offset. Their sum is 1 where
        the section is fully plastic.

    Notes
    -----
    Textbook, plastic theory of a rectangular section, no buckling, lever arms of the ear at rest;
    re-derived.
    """
    a = math.radians(angle)
    arm = abs(ear.grip_length * math.sin(a) - ear.hole_offset * math.cos(a))
    if arm < 1e-9 * ear.grip_length:
        arm = 0.0
    full = 0.25 * ear.thickness * ear.width**2 * ear.material.rp02
    pulled = load * math.cos(a) / (ear.width * ear.thickness * ear.material.rp02)
    return load * arm / full, pulled * pulled


def strip_hinge_load(ear: Ear, angle: float) -> float:
    """Return the pull on one ear at which its strip is fully plastic at the grip, N.

    Parameters and source as for `strip_use`.
    """
    m, n = strip_use(ear, 1.0, angle)
    # m P + n P^2 = 1
    return 2.0 / (m + math.sqrt(m * m + 4.0 * n))
