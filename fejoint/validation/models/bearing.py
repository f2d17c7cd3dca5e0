"""Bearing tests of real alloys: the ear's face section with a hard pin, as it stands.

One friction, one hardening rule and one definition of the offset serve every alloy; nothing is
fitted to the measured strengths.
"""

from __future__ import annotations

import math

from fejoint.joint import model
from fejoint.kernel.load_curve import offset_point
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.gmsh_mesher import EarOutline
from fejoint.sections.face.pull import OFFSET, FaceCase, FaceHistory, FaceSettings, build, pull
from fejoint.validation.reference_case import ReferenceCase


def pulled(case: ReferenceCase, settings: FaceSettings | None = None) -> tuple[FaceHistory, float]:
    """Pull a bearing specimen until its load falls or its ductility is used up.

    Returns
    -------
    history : FaceHistory
    diameter : float
        Of the pin, mm: bearing stress is load over diameter and thickness.
    """
    joint = model.read(case.given)
    ear, pin = joint.ears[0], joint.pin
    assert pin.material is not None
    face = FaceCase(
        EarOutline(ear.width, ear.hole, ear.edge_distance, ear.grip_length, ear.end, ear.clip),
        ear.thickness,
        Metal(ear.material.modulus, ear.material.poisson, ear.material.hardening),
        pin.diameter,
        Metal(pin.material.modulus, pin.material.poisson),
        joint.friction,
        fracture_strain=ear.material.fracture_strain,
    )
    return pull(build(face, settings), settings), pin.diameter


def bearing_test(case: ReferenceCase) -> dict[str, float]:
    """Return the bearing yield (2 % of the pin's diameter) and ultimate strength, MPa."""
    history, diameter = pulled(case)
    area = diameter * history.problem.case.thickness
    return {
        "bearing yield strength": yield_strength(history, diameter),
        "bearing ultimate strength": float(history.load.max()) / area,
    }


def yield_strength(history: FaceHistory, diameter: float) -> float:
    """Return the bearing stress at the offset of 2 % of the pin's diameter, MPa."""
    met = offset_point(history.load, history.elongation, OFFSET * diameter)
    area = diameter * history.problem.case.thickness
    return met.load / area if met is not None else math.nan
