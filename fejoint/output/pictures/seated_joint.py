"""Where ears and shank stand when they are pulled just so far that the pin bears in its holes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fejoint.analysis.section_cases import along_the_pin
from fejoint.arrays import Floats
from fejoint.joint import contour
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear, Shank
from fejoint.meshing import contours

SMALL = 1e-9
"""Part of a unit vector that is none: turning by 90 or 180 degrees leaves some."""


def way_of(joint: Joint) -> Floats:
    """Return the pull's direction on the flat, a unit vector."""
    turn = np.deg2rad(joint.pull.angle)
    return np.array([np.cos(turn), np.sin(turn)])


def along(joint: Joint) -> bool:
    """Whether the pull goes along the ears, on or back."""
    return abs(float(way_of(joint)[1])) < SMALL


def straight(joint: Joint) -> Floats:
    """Return the way along the ears that is next to the pull's, a unit vector."""
    return np.array([1.0 if way_of(joint)[0] > -SMALL else -1.0, 0.0])


def seat(joint: Joint, ear: Ear, way: Floats) -> Floats:
    """Return the middle of a pin pulled some way into an ear's hole, from that of the hole, mm."""
    slot = ear.hole_slot if way[0] > SMALL else 0.0
    return np.asarray(0.5 * joint.clearance(ear) * way + np.array([slot, 0.0]))


def shank_hole(joint: Joint, way: Floats) -> Floats:
    """Return the middle of the shank's hole, from that of the first ear's, mm."""
    behind = 0.5 * joint.clearance(joint.shank) * way
    return np.asarray(seat(joint, joint.ears[0], way) + behind)


@dataclass(frozen=True)
class Layer:
    """A plate cut along the pin: its lower and upper face, its ends and its hole's middle, mm."""

    part: Ear | Shank
    low: float
    high: float
    left: float
    right: float
    hole: float


def layers_of(joint: Joint) -> list[Layer]:
    """Return the plates from top to bottom as if pulled along the ears; every one bears."""
    way, level = straight(joint), 0.5 * joint.grip
    pin = seat(joint, joint.ears[0], way)
    found = []
    for part, gap in zip(along_the_pin(joint), (0.0, *joint.gaps), strict=True):
        if isinstance(part, Ear):
            middle, turned = pin - seat(joint, part, way), 1.0
        else:
            middle, turned = shank_hole(joint, way), -float(way[0])
        hole = float(middle[0])
        begin, _, end, _ = contours.box(contour.outside(part))
        left, right = sorted((hole + turned * begin, hole + turned * end))
        level -= gap
        found.append(Layer(part, level - part.thickness, level, left, right, hole))
        level -= part.thickness
    return found
