"""The pin as a beam: a round bar on its own, on elastic bearing, and across gaps."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fejoint.arrays import Floats
from fejoint.handbook import beams
from fejoint.kernel.continuation import StepControl
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal
from fejoint.reference_models.round_bar import bending_moments, shear_slope
from fejoint.sections.axial.case import AxialCase, AxialSettings, Plate
from fejoint.sections.axial.pull import build, pull
from fejoint.validation.reference_case import ReferenceCase

ROWS = 8
"""Rows of elements over the bar's height: two more than the everyday ones."""
RIGID = 1e4
"""Bearing stiffness of a rigid plate over the pin's modulus."""


@dataclass(frozen=True)
class Straight:
    """A bearing law that pushes both ways in proportion to the travel, N/mm per mm."""

    stiffness: float

    def respond(self, travel: Floats, deepest: Floats) -> tuple[Floats, Floats, Floats]:
        """Return force, slope and (idle) history; see kernel.bedding.BeddingLaw."""
        return self.stiffness * travel, np.full_like(travel, self.stiffness), deepest


def round_bar(case: ReferenceCase) -> dict[str, float]:
    """Bend and shear a round bar, elastic or perfectly plastic."""
    g = case.given
    diameter, modulus, stress = g["diameter"], g["modulus"], g["yield_stress"]
    elastic = Metal(modulus, g["poisson"])
    first = 2.0 * stress / (modulus * diameter)
    if not any("moment" in row.quantity for row in case.expectations):
        small = 1e-6 / diameter
        moment = float(bending_moments(diameter, elastic, [small], ROWS)[0])
        lengths = (2.0 * diameter, 3.0 * diameter)
        shear = shear_slope(diameter, elastic, lengths, ROWS)
        return {
            "bending stiffness": moment / small / (modulus * beams.round_inertia(diameter)),
            "shear stiffness": shear / (elastic.shear_modulus * beams.round_area(diameter)),
        }
    metal = Metal(modulus, g["poisson"], Hardening.linear(stress))
    yield_moment = beams.round_section_modulus(diameter) * stress
    ratios = (1.25, 2.0, 4.0, 30.0)
    moments = bending_moments(diameter, metal, [k * first for k in ratios], ROWS) / yield_moment
    got = {
        f"moment at {k:g} times yield curvature": float(m)
        for k, m in zip(ratios, moments, strict=True)
    }
    got["full plastic moment"] = float(moments[-1])
    return got


def bedded_pin(case: ReferenceCase) -> dict[str, float]:
    """Press on the middle of an elastic pin that lies on elastic bearing."""
    g = case.given
    diameter, length = g["diameter"], g["length"]
    pressed = 0.1 * diameter
    half = 0.5 * (length - pressed)
    bearing = Straight(g["bearing_stiffness"])
    plates = (
        Plate(half, 0.0, bearing),
        Plate(pressed, 0.0, Straight(RIGID * g["modulus"])),
        Plate(half, 0.0, bearing),
    )
    metal = Metal(g["modulus"], g["poisson"])
    settings = AxialSettings(stop_at_maximum=False)
    problem = build(AxialCase(diameter, metal, plates, 1, large_strain=False), settings)
    history = pull(problem, settings, legs=[StepControl("load", g["load"])])
    x, lateral = problem.axis(history.path.points[-1])
    return {
        "deflection in the middle": float(np.interp(0.5 * length, x, lateral)),
        # the end is half a column away from the first mean
        "deflection of the end": float(
            lateral[0] - x[0] * (lateral[1] - lateral[0]) / (x[1] - x[0])
        ),
        "moment in the middle": float(history.moment[-1]),
    }


def rigid_double_shear(case: ReferenceCase) -> dict[str, float]:
    """Pull a perfectly plastic pin across two gaps between rigid plates that hold it straight."""
    g = case.given
    diameter, stress = g["diameter"], g["yield_stress"]
    law = Straight(RIGID * g["modulus"])
    plates = (
        Plate(g["ear"], 0.0, law),
        Plate(g["shank"], g["gap"], law),
        Plate(g["ear"], g["gap"], law),
    )
    metal = Metal(g["modulus"], g["poisson"], Hardening.linear(stress))
    far = 0.1 * diameter + 0.1 * g["gap"]
    settings = AxialSettings(longest=0.05 * far, stop_travel=far, stop_at_maximum=False)
    pin = AxialCase(diameter, metal, plates, 1, large_strain=g["large_strain"])
    history = pull(build(pin, settings), settings)
    if not history.path.finished:
        return {"collapse load": math.nan}
    load = float(history.load.max())
    return {"collapse load": load, "collapse load, below line hinges": load}
