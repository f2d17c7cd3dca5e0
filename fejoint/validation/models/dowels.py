"""A pin in single shear: a dowel in two blocks that yield around it, and a pin held at one end."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal
from fejoint.sections.axial.case import AxialCase, AxialSettings, Plate
from fejoint.sections.axial.pull import build, pull
from fejoint.validation.models.pins import ROWS, Straight
from fejoint.validation.reference_case import ReferenceCase

SOON = 2e-3
"""Travel in diameters by which a block bears three quarters of its strength."""


@dataclass(frozen=True)
class YieldingBlock:
    """A bearing law that pushes both ways up to a strength, N/mm: s tanh(travel/travel of yield).

    Attributes
    ----------
    strength : float
        s, N/mm.
    reach : float
        Travel of yield, mm.
    """

    strength: float
    reach: float

    def respond(self, travel: Floats, deepest: Floats) -> tuple[Floats, Floats, Floats]:
        """Return force, slope and (idle) history; see `foundation.BeddingLaw`."""
        rise = np.tanh(travel / self.reach)
        return self.strength * rise, self.strength / self.reach * (1.0 - rise**2), deepest


def dowel(case: ReferenceCase) -> dict[str, float]:
    """Pull two blocks apart along a dowel through both."""
    g = case.given
    d = g["diameter"]
    law = YieldingBlock(g["block_strength"] * d, SOON * d)
    stress = g.get("yield_stress", 0.0)
    metal = Metal(g["modulus"], g["poisson"], Hardening.linear(stress) if stress else None)
    plates = (Plate(g["block"], 0.0, law), Plate(g["block"], 0.0, law))
    far = g["travel"] * d
    settings = AxialSettings(
        rows=ROWS, longest=0.02 * far, stop_travel=far, stop_at_maximum=False
    )  # fmt: skip
    pin = AxialCase(d, metal, plates, 1, large_strain=False)
    history = pull(build(pin, settings), settings)
    if not history.path.finished:
        return {row.quantity: math.nan for row in case.expectations}
    top = int(history.load.argmax())
    _, shear, moment = history.problem.section_forces(history.path.points[top])
    return {
        "highest load": float(history.load[top]),
        "largest moment": float(np.abs(moment).max()),
        "largest shear force": float(np.abs(shear).max()),
        "moment at the free ends over the largest": float(
            np.abs(moment[[0, -1]]).max() / np.abs(moment).max()
        ),
    }


def held_pin(case: ReferenceCase) -> dict[str, float]:
    """Push on the free end of a pin that is held in one ear: a cantilever."""
    g = case.given
    d, thin = g["diameter"], g["plate"]
    # far stiffer than the pin, but too thin to hold its end straight
    law = Straight(4.0 * g["modulus"] / thin)
    plates = (Plate(thin, 0.0, law), Plate(thin, g["gap"], law))
    metal = Metal(g["modulus"], g["poisson"], Hardening.linear(g["yield_stress"]))
    arm = g["gap"] + 0.5 * thin
    far = g["travel"] * d
    settings = AxialSettings(
        rows=ROWS, longest=0.02 * far, stop_travel=far, stop_at_maximum=False
    )  # fmt: skip
    pin = AxialCase(d, metal, plates, 1, "held", large_strain=False)
    history = pull(build(pin, settings), settings)
    if not history.path.finished:
        return {row.quantity: math.nan for row in case.expectations}
    first = 2
    _, _, moment = history.problem.section_forces(history.path.points[first])
    at_face = float(np.interp(thin, history.problem.cuts, np.abs(moment)))
    stiffness = float(history.load[first] / history.extension[first])
    inertia = np.pi * d**4 / 64.0
    return {
        "highest load": float(history.load.max()),
        "highest load, below a line hinge": float(history.load.max()),
        "moment at the ear's face over load times arm": at_face / (history.load[first] * arm),
        "stiffness over 3 E I / arm^3": stiffness * arm**3 / (3.0 * g["modulus"] * inertia),
    }
