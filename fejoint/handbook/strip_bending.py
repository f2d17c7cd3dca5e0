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
    re-derived. Of an ear whose outline was drawn, the section between hole and grip that is used up
    first, with Mp from the first moments of its halves.
    """
    a = math.radians(angle)
    if ear.outline is not None:
        return max(
            (_section_use(ear, section, load, a) for section in ear.outline.sections), key=sum
        )  # fmt: skip
    arm = abs(ear.grip_length * math.sin(a) - ear.hole_offset * math.cos(a))
    if arm < 1e-9 * ear.grip_length:
        arm = 0.0
    full = 0.25 * ear.thickness * ear.width**2 * ear.material.rp02
    pulled = load * math.cos(a) / (ear.width * ear.thickness * ear.material.rp02)
    return load * arm / full, pulled * pulled


def _section_use(
    ear: Ear, section: tuple[float, float, float, float], load: float, a: float
) -> tuple[float, float]:
    x, metal, middle, moment = section
    arm = abs(-x * math.sin(a) + middle * math.cos(a))
    arm = 0.0 if arm < 1e-9 * ear.grip_length else arm
    stress = ear.thickness * ear.material.rp02
    pulled = load * math.cos(a) / (metal * stress)
    return load * arm / (moment * stress), pulled * pulled


def strip_hinge_load(ear: Ear, angle: float) -> float:
    """Return the pull on one ear at which its strip is fully plastic at the grip, N.

    Parameters and source as for `strip_use`.
    """
    if ear.outline is not None:
        a = math.radians(angle)
        uses = (_section_use(ear, section, 1.0, a) for section in ear.outline.sections)
        return min(_hinge(m, n) for m, n in uses)
    return _hinge(*strip_use(ear, 1.0, angle))


def _hinge(m: float, n: float) -> float:
    """Return the load P at which m P + n P^2 = 1."""
    return 2.0 / (m + math.sqrt(m * m + 4.0 * n))
