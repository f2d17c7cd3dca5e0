"""How fine or coarse a mesh may be asked for."""

from __future__ import annotations

from fejoint.errors import BadInput, Fault

COARSEST, FINEST = 0.25, 8.0
"""Least and largest refinement that can be asked for; each doubling takes about five times as
long."""


def fault(refine: float) -> Fault | None:
    """Return what is said of a refinement that is out of range, None of one within."""
    if COARSEST <= refine <= FINEST:
        return None
    allowed = f"must be {COARSEST:g} to {FINEST:g}"
    return Fault("--refine", f"{refine:g}", allowed, "1 is for every day")


def check(refine: float) -> None:
    """Refuse a refinement that would ask for no mesh or for a day's solving.

    Raises
    ------
    BadInput
        If it is out of range.
    """
    found = fault(refine)
    if found is not None:
        raise BadInput(found)
