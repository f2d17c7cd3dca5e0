"""What a leg of a path came to."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True)
class LegAnswer:
    """What a leg came to; after a release, what stayed. Lengths in mm, loads in N.

    Attributes
    ----------
    leg : str
        What was asked.
    reached : bool
        False where the path ended before; the rest is then that of the path's end. The pull to
        the end reaches it unless the solve broke off.
    load, extension : float
        Of the joint at the leg's end.
    hole_mean, hole_inner : float
        Elongation of the weaker ear's hole at the leg's end: mean over the thickness, and in the
        most stretched slice (at the ear's inner face where the pin bends).
    pin_bend, pin_turn : float
        Sag of the pin between the ears' mid-planes (mm) and turn of its ends (degrees).
    follows_within : float or None
        A leg up again: its largest distance from the release before it, over the load let go.
    moves_again : float or None
        The same: load at which it leaves its reload line by MOVES_AGAIN hole diameters.
    friction_heat : float or None
        Heat of friction in the weaker ear's hole from the path's begin, N mm.
    friction_loop : float or None
        Largest distance of reload and release in the ear's face section, over the load let go.
    ear_damage : float or None
        Share of the weaker ear's ductility that is used up, from its face section.
    unread : str
        Why the last three are missing, where the face section did not follow the leg.
    """

    leg: str
    reached: bool
    load: float
    extension: float
    hole_mean: float
    hole_inner: float
    pin_bend: float
    pin_turn: float
    follows_within: float | None = None
    moves_again: float | None = None
    friction_heat: float | None = None
    friction_loop: float | None = None
    ear_damage: float | None = None
    unread: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Return the row of `answer.json`, with units in the names."""
        units = {
            "load": "N", "extension": "mm", "hole_mean": "mm", "hole_inner": "mm",
            "pin_bend": "mm", "pin_turn": "deg", "moves_again": "N", "friction_heat": "Nmm",
        }  # fmt: skip
        return {f"{k}_{units[k]}" if k in units else k: v for k, v in asdict(self).items()}
