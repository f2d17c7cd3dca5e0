"""What a whole joint in the round is, and how finely it is solved."""

from __future__ import annotations

from dataclasses import dataclass

from fejoint.kernel.plasticity import Metal
from fejoint.meshing.gmsh_mesher import EarOutline


@dataclass(frozen=True)
class SolidPlate:
    """An ear or a shank.

    Attributes
    ----------
    outline : EarOutline
    thickness : float
        mm; that of the whole plate.
    metal : Metal
    """

    outline: EarOutline
    thickness: float
    metal: Metal


@dataclass(frozen=True)
class WholeJointCase:
    """A joint in the round; lengths in mm.

    Attributes
    ----------
    ear, shank : SolidPlate
    pin_diameter : float
    pin_metal : Metal
    gap : float
        Side gap between ear and shank.
    double : bool
        Two ears alike, one on each side of the shank; else one.
    guided : bool
        The outer faces cannot move outwards, as under heads that do not give.
    """

    ear: SolidPlate
    shank: SolidPlate
    pin_diameter: float
    pin_metal: Metal
    gap: float
    double: bool = True
    guided: bool = True


@dataclass(frozen=True)
class WholeJointSettings:
    """How finely a whole joint is solved.

    Attributes
    ----------
    sides : int
        As of a solid ear; the pin's surface has about as many.
    layer : float
        First layer at the faces between ear and shank, over the pin's diameter.
    coarse : float
        Thickest layer, over the pin's diameter.
    pace : float
    solver : str
    """

    sides: int = 28
    layer: float = 0.08
    coarse: float = 0.25
    pace: float = 1.0
    solver: str = "fastest"
