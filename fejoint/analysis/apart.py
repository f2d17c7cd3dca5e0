"""Why a computed limit and its value by hand lie apart by a factor: what the rule leaves out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from fejoint.analysis.definitions import named
from fejoint.inputs.units import figures

if TYPE_CHECKING:
    from fejoint.analysis.result import LimitLoad

FACTOR = 1.5
"""Of the larger load over the smaller, from which on a reason is owed."""

TILTED = (
    "in single shear the pin tilts in its holes and bears at their edges; by hand it bears evenly "
    "right through"
)
ARM = (
    "by hand both plates bear evenly, over the longest arm; the bent pin bears at the faces that "
    "meet, over a shorter one"
)
CROWDED = "the bent pin bears at the faces that meet; by hand it bears evenly right through"
HARDENS = (
    "by hand the metal is taken at its yield or tensile strength; computed it hardens as it is "
    "pressed, and a wide ear holds it together"
)
OTHERWISE = "the rule takes even bearing and metal that does not harden"
AT_ONCE = (
    "by hand the metal has its full strength all over at once, about a pin that fills its hole; "
    "computed one spot of it gives before the rest has its share"
)
SHEET = (
    "by hand the load goes as the thickness, off sheets that lie under a bolt's head and nut; by "
    "our rule nearly as its square, with nothing counted on the outer face"
)
STRIP = "the rule takes the strip by itself, pulled at its hole along one line"


def reason(
    limit: LimitLoad, by_hand: float, quantity: str, *, ears: int = 2, even: bool = False
) -> str:
    """Say why a limit lies apart from its value by hand; "" where it does not.

    Parameters
    ----------
    limit : LimitLoad
        With what its rule is outside of, if it is.
    by_hand : float
        N.
    quantity : str
        What the rule gives, as `definitions.Definition.by_hand` names it.
    ears : int
        How many ears the joint has: one is single shear.
    even : bool
        Whether the plate bears evenly through its thickness there.
    """
    load = limit.load
    if by_hand <= 0.0 or load <= 0.0 or 1.0 / FACTOR < load / by_hand < FACTOR:
        return ""
    lower = load < by_hand
    why = _why(limit, quantity, lower=lower, ears=ears, even=even)
    outside = limit.handbook_note
    return f"{why}; the rule is also used outside its bounds: {outside}" if outside else why


def _why(limit: LimitLoad, quantity: str, *, lower: bool, ears: int, even: bool) -> str:
    if quantity == "thin sheet":
        return SHEET
    if quantity in ("gross yield", "strip hinge"):
        return STRIP
    if limit.part == "pin":
        return ARM if not lower else TILTED if ears == 1 else OTHERWISE
    if not lower:
        return HARDENS
    return AT_ONCE if even else TILTED if ears == 1 else CROWDED


def sentences(order: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """Say every limit that lies apart, with both loads, those of one reason together.

    Parameters
    ----------
    order : iterable of mappings
        The verdict's, as in `answer.json`.
    """
    by_reason: dict[str, list[str]] = {}
    for row in order:
        for limit in (row, *row["later"]):
            if limit.get("handbook_apart"):
                by_reason.setdefault(limit["handbook_apart"], []).append(_both(limit))
    for why, told in by_reason.items():
        yield f"Far from by hand: {'; '.join(told)}: {why}."


def _both(limit: Mapping[str, Any]) -> str:
    name = named(limit["mode"], limit["member"])
    return f"{name} at {figures(limit['load_N'])} N against {figures(limit['handbook_load_N'])} N"
