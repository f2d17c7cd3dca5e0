"""Which function computes a reference case."""

from __future__ import annotations

import importlib
from collections.abc import Callable

from fejoint.validation.reference_case import ReferenceCase

Run = Callable[[ReferenceCase], dict[str, float]]
"""Computes a case's quantities by their names in `expected.toml`."""

HOMES = {
    "open hole": "plates:open_hole_case",
    "pressed ring": "plates:pressed_ring_case",
    "tension bar": "plates:tension_bar_case",
    "bar from tensile": "plates:bar_from_tensile",
    "elastic contact": "contact:elastic_contact",
    "elastic lug": "contact:elastic_lug",
    "partial slip": "friction:partial_slip",
    "round bar": "pins:round_bar",
    "bedded pin": "pins:bedded_pin",
    "rigid double shear": "pins:rigid_double_shear",
    "dowel in two blocks": "dowels:dowel",
    "held pin": "dowels:held_pin",
    "whole joint": "whole_joints:whole_joint",
    "trade fact": "trade:trade_fact",
    "bearing test": "bearing:bearing_test",
    "dishing rule": "dishing:dishing_rule",
    "bolted sheets": "dishing:bolted_sheets",
    "code formula": "formulas:code_formula",
    "hardness": "formulas:hardness_to_strength",
    "library open hole": "second_opinion:open_hole_again",
    "library pin contact": "second_opinion:pin_contact_again",
}
"""Module and function of every run that is built."""

LONG = (
    "trade fact",
    "whole joint",
    "partial slip",
    "elastic contact",
    "bearing test",
    "pressed ring",
)
"""Runs that take seconds: begun first, so that no core waits for the last one."""


class NotBuiltYet(LookupError):
    """A case names a run that no function computes."""


class LibraryMissing(ImportError):
    """A second opinion needs a library that is not installed."""


def find(run: str) -> Run:
    """Return the function of a run.

    Raises
    ------
    NotBuiltYet
        If there is none.
    """
    if run not in HOMES:
        message = f"the run '{run}' is not built yet"
        raise NotBuiltYet(message)
    module, name = HOMES[run].split(":")
    found: Run = getattr(importlib.import_module(f"fejoint.validation.models.{module}"), name)
    return found
