"""The outline of a plate that is no plain strip: what a cutter's drawing says of an ear or a shank.

Contours as in `fejoint.joint.contour`: straight sides and true arcs, mm, walked counter-clockwise,
the pin hole's centre at the origin. The plate is held along one straight side of its outside, which
stands upright at x < 0; a pull at 0 degrees goes towards positive x, away from it.
"""

from __future__ import annotations

from dataclasses import dataclass

from fejoint.joint.contour import Contour


@dataclass(frozen=True)
class Outline:
    """Where a plate ends, and where it is held.

    Attributes
    ----------
    outside : Contour
    hole : Contour
        For the pin, round or a slot along x.
    openings : tuple of Contour
        Every further hole or slot of the plate; they weaken it.
    held : int
        Which side of the outside is held, by the corner where it begins.
    source : str
        The file that it was read from, as messages name it.
    """

    outside: Contour
    hole: Contour
    openings: tuple[Contour, ...]
    held: int
    source: str
