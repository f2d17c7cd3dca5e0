"""What the axial section is posed from: a pin, the plates on it, and how finely it is solved."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.foundation import BeddingLaw
from fejoint.kernel.plasticity import Metal

ROWS = 6
"""Rows of elements over the pin's height at the everyday refinement."""
HOLDING = 5e-13
"""Stiffness over Young's modulus of a bed that holds a pin where it is while it turns freely: far
too soft to bear (1e-7 N at the play of a loose fit), but no step can then throw the pin about."""
STEEL = 2e5
"""Young's modulus that scales small loads, MPa: that of a rigid pin would scale nothing."""


@dataclass(frozen=True)
class SoftBed:
    """A linear bed, the same both ways; see kernel.bedding.BeddingLaw.

    Attributes
    ----------
    stiffness : float
        N/mm per mm of length and mm of travel.
    """

    stiffness: float

    def respond(self, travel: Floats, deepest: Floats) -> tuple[Floats, Floats, Floats]:
        """Return force, slope and history for travels."""
        return self.stiffness * travel, np.full_like(travel, self.stiffness), deepest


@dataclass(frozen=True)
class Plate:
    """A plate on the pin.

    Attributes
    ----------
    thickness : float
        mm.
    gap_before : float
        Free pin between the plate before and this one, mm.
    law : BeddingLaw
        As it is known when the case is posed.
    spring : float
        Stiffness of the rest of the plate, from the section its law is read against to where it is
        held, N/mm; inf for a rigid one.
    """

    thickness: float
    gap_before: float
    law: BeddingLaw
    spring: float = np.inf


@dataclass(frozen=True)
class AxialCase:
    """A pin in its plates.

    Attributes
    ----------
    diameter : float
        mm.
    metal : Metal
    plates : tuple of Plate
        From x = 0 on.
    shank : int
        Which of them is the shank; the others are ears.
    ends : {"free", "headed", "held"}
        Held: the end face at x = 0 stays plane and does not turn, as in a pin fixed in its ear. A
        head keeps the ear where it is along the pin, so that in double shear the bearing moves
        along a pin that leans (kernel/leaning.py); its resistance to turning is not counted.
    fracture_strain : float or None
        Of the pin.
    large_strain : bool
    """

    diameter: float
    metal: Metal
    plates: tuple[Plate, ...]
    shank: int
    ends: Literal["free", "headed", "held"] = "free"
    fracture_strain: float | None = None
    large_strain: bool = True

    @cached_property
    def faces(self) -> Floats:
        """Where each plate begins and ends along the pin, (n_plates, 2), mm."""
        spans, x = [], 0.0
        for plate in self.plates:
            x += plate.gap_before
            spans.append((x, x + plate.thickness))
            x += plate.thickness
        return np.array(spans)

    @property
    def span(self) -> float:
        """Distance between the ears' mid-planes (single shear: ear to shank), mm."""
        middles = self.faces.mean(axis=1)
        return float(middles[-1] - middles[0])


@dataclass(frozen=True)
class AxialSettings:
    """How finely and how far the axial section is solved; lengths in mm.

    Attributes
    ----------
    rows : int
        Element rows over the pin's height.
    slices : float
        Factor on the number of element columns.
    pace : float
    solver : str
    close_until, close_step : float
        Travel up to which steps stay short, and how short.
    longest : float
        Longest step beyond.
    stop_travel : float or None
    longest_travel : float
        Travel at which a pull ends at the latest where none is requested.
    stop_load : float or None
        On the joint, N.
    stop_at_maximum : bool
    whole : bool
        Solve for the whole pin also where it is its own mirror image.
    """

    rows: int = ROWS
    slices: float = 1.0
    pace: float = 1.0
    solver: str = "fastest"
    close_until: float = 0.0
    close_step: float = np.inf
    longest: float = 0.1
    stop_travel: float | None = None
    longest_travel: float = 10.0
    stop_load: float | None = None
    stop_at_maximum: bool = True
    whole: bool = False
