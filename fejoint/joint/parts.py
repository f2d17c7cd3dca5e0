"""The parts of a joint and how it is pulled: plain frozen data in mm, N and degrees."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fejoint.materials.material import Material

End = Literal["round", "square", "clipped"]
PinEnds = Literal["free", "headed", "held"]
LegKind = Literal["load", "displacement", "release"]


@dataclass(frozen=True)
class Ear:
    """A flat strip with a hole near its end.

    Attributes
    ----------
    thickness, width : float
        Of the strip, mm.
    hole : float
        Diameter of the hole, mm.
    edge_distance : float
        Hole centre to the end, mm.
    grip_length : float
        Hole centre to where the strip is held, mm.
    material : Material
    end : {"round", "square", "clipped"}
        Round: an arc of half the width, which touches the end on the axis.
    clip : float
        Leg of the 45 degree cut of a clipped end, mm; 0 otherwise.
    hole_slot : float
        How much longer than round the hole is, towards the end (worn, or a slot), mm.
    hole_offset : float
        How far off the ear's axis the hole lies, to the side that a pull at +90 degrees goes, mm.
    flare_depth, flare_angle : float
        Conical mouth of the hole on the ear's outer face: depth (mm) and whole angle (degrees).
    """

    thickness: float
    width: float
    hole: float
    edge_distance: float
    grip_length: float
    material: Material
    end: End = "round"
    clip: float = 0.0
    hole_slot: float = 0.0
    hole_offset: float = 0.0
    flare_depth: float = 0.0
    flare_angle: float = 90.0


@dataclass(frozen=True)
class Pin:
    """A round pin.

    Attributes
    ----------
    diameter : float
        In mm.
    material : Material
        For a rigid pin a stand-in whose strength never governs.
    rigid : bool
        True for a pin that never gives.
    ends : {"free", "headed", "held"}
        Held: fixed in the first ear.
    head : float or None
        Diameter of the heads or washers on the outer faces of a headed pin, mm; None where it is
        not said. It decides whether a thin ear's end is kept in its plane.
    """

    diameter: float
    material: Material
    rigid: bool = False
    ends: PinEnds = "free"
    head: float | None = None


@dataclass(frozen=True)
class Shank:
    """The middle member, a plate with a hole; lengths in mm, measured as an ear's."""

    thickness: float
    hole: float
    width: float
    edge_distance: float
    length: float
    material: Material
    end: End = "round"
    clip: float = 0.0


@dataclass(frozen=True)
class Leg:
    """One part of a path of pulls: to a load in N, to a displacement in mm, or back to zero."""

    kind: LegKind
    target: float = 0.0


@dataclass(frozen=True)
class Pull:
    """How the joint is pulled.

    Attributes
    ----------
    angle : float
        Direction against the ear's axis, degrees; 90 is sideways.
    stop_displacement : float or None
        Where to stop, mm.
    stop_load : float or None
        Where to stop, N on the whole joint.
    large_strain : bool
        False for the small-strain theory of the textbooks.
    ductility : bool
        False for metal that never tears.
    legs : tuple of Leg
        The path, in order; empty for one pull to the end.
    """

    angle: float = 0.0
    stop_displacement: float | None = None
    stop_load: float | None = None
    large_strain: bool = True
    ductility: bool = True
    legs: tuple[Leg, ...] = ()
