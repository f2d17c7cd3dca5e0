"""Formulas and tables: worked examples of design codes, and strength from hardness."""

from __future__ import annotations

from fejoint.handbook import design_codes
from fejoint.materials import hardness
from fejoint.validation.reference_case import ReferenceCase

SCALES = {"kN": 1e3, "kN m": 1e6, "N m": 1e3, "MPa": 1.0}


def code_formula(case: ReferenceCase) -> dict[str, float]:
    """Call the formula that each quantity of the case names, in the row's unit."""
    got = {}
    for row in case.expectations:
        asked = dict(case.given["formula"][row.quantity])
        value = getattr(design_codes, asked.pop("call"))(**asked)
        got[row.quantity] = value / SCALES[row.unit]
    return got


def hardness_to_strength(case: ReferenceCase) -> dict[str, float]:
    """Convert every hardness that a quantity's name begins with to tensile strength, MPa."""
    return {
        row.quantity: hardness.to_strength(row.quantity.split(",")[0]).rm
        for row in case.expectations
    }
