"""The rule for a dishing end and bolted sheets, against solid ears that were solved once and kept.

A solid ear takes minutes: `scripts/dishing_plan.py` solves them anew; cases hold what it wrote.
"""

from __future__ import annotations

from fejoint.handbook.dishing import ThinEnd, dishing_load
from fejoint.validation.reference_case import ReferenceCase

STRENGTH, HOLE = 500.0, 10.0
"""Tensile strength (MPa) and hole (mm) that the ears' ratios are written out with."""


def dishing_rule(case: ReferenceCase) -> dict[str, float]:
    """Return every ear's load by the rule, or in its plane where that is lower, over fu t^2."""
    found = {}
    for number, ear in enumerate(case.given["ear"], start=1):
        thickness = HOLE / ear["D_over_t"]
        end = ThinEnd(
            HOLE,
            thickness,
            ear["e_over_D"] * HOLE,
            ear["W_over_D"] * HOLE,
            ear["E_over_fu"] * STRENGTH,
            ear["fy_over_fu"] * STRENGTH,
            STRENGTH,
        )
        rule = dishing_load(end) / (STRENGTH * thickness**2)
        found[f"greatest load of ear {number}"] = min(rule, ear["in_plane"])
    return found


def bolted_sheets(case: ReferenceCase) -> dict[str, float]:
    """Return greatest loads of solid sheets inside, bare, and under washers, as ratios."""
    found = {}
    for sheet in case.given["sheet"]:
        at = f"e/D {sheet['e_over_D']:g}"
        found[f"inside over washers, {at}"] = sheet["inside"] / sheet["washers"]
        found[f"bare over washers, {at}"] = sheet["bare"] / sheet["washers"]
    return found
