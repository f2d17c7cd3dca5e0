"""An ear's limit of mode "end dishes", by rule: no solve, some microseconds."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fejoint.handbook.dishing import (
    BAND,
    SOURCE,
    ThinEnd,
    dishing_load,
    is_guided,
)
from fejoint.joint.parts import Ear


@dataclass(frozen=True)
class Supports:
    """What stands beside an ear.

    Attributes
    ----------
    beside_shank : bool
        The shank's face lies along one side.
    head_radius : float or None
        Of the head or washer on the other, from the pin's axis, mm; None for a bare side.
    """

    beside_shank: bool = True
    head_radius: float | None = None


@dataclass(frozen=True)
class DishingLimit:
    """The load at which an end dishes.

    Attributes
    ----------
    load : float
        On the ear, N; inf where supports keep the end in its plane.
    band : (float, float)
        Loads between which it lies, by the rule's error; for an out-of-straightness of 0.01 t.
    source : str
    outside : tuple of str
        Ratios beyond those that the rule was read from: the solid section computes what it cannot.
        A head too small to guide the end is among them; the load then errs on the safe side.
    """

    load: float
    band: tuple[float, float]
    source: str
    outside: tuple[str, ...]


def dishing_limit(ear: Ear, supports: Supports | None = None) -> DishingLimit:
    """Return the load at which an ear's end dishes, for a straight pull.

    The ear's greatest load is the lower of this and of its load in the plane.

    Parameters
    ----------
    ear : Ear
    supports : Supports, optional
        The shank's face on one side and nothing on the other without it.
    """
    supports = supports or Supports()
    metal = ear.material
    end = ThinEnd(
        ear.hole, ear.thickness, ear.edge_distance, ear.width, metal.modulus, metal.rp02, metal.rm
    )
    guided = is_guided(end, beside_shank=supports.beside_shank, head_radius=supports.head_radius)
    load = math.inf if guided else dishing_load(end)
    small = supports.beside_shank and supports.head_radius is not None and not guided
    outside = (*end.outside, *(("head radius/D",) if small else ()))
    return DishingLimit(load, (BAND[0] * load, BAND[1] * load), SOURCE, outside)
