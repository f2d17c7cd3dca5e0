"""A joint by the everyday sections, and the same joint whole in the round, in the same quantities.

The first runs with every check. The second takes minutes: its numbers are stored as the expected
ones (scripts/whole_joints.py prints them), and the slow suite computes them anew. Both without
friction. Shared definitions make the two comparable: travel is that of the shank's far end, the
moment is the pin's largest, elongations and bearing are read at the same places of the thickness.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fejoint.analysis.measured_pin import MeasuredPin
from fejoint.analysis.pull import pull_axial, solve_members
from fejoint.analysis.section_cases import PullSettings, face_case, metal
from fejoint.arrays import Floats
from fejoint.handbook.beams import full_plastic_moment
from fejoint.joint import model
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear, Shank
from fejoint.kernel.newton import EquilibriumPoint, Progress
from fejoint.sections.observers import Reached
from fejoint.sections.solid import whole_joint_pull as whole
from fejoint.sections.solid.whole_joint import build
from fejoint.sections.solid.whole_joint_case import (
    SolidPlate,
    WholeJointCase,
    WholeJointSettings,
)
from fejoint.sections.solid.whole_joint_pull import WholeJointHistory
from fejoint.validation.reference_case import ReferenceCase

TRAVELS = (0.1, 0.2, 0.3, 0.38, 0.5)
"""Travels at which loads are compared, mm."""
FAR = (0.7, 1.0)
"""Further ones, to which only the coarsest mesh was followed, mm."""
FURTHEST = 1.2
"""Travel up to which a joint is pulled until its pin hinges, mm."""
READ_AT = (0.2, 0.38)
"""Travels at which moments, kept bends and elongations are compared, mm."""
MOUTH = 0.03
"""Depth behind a hole's inner mouth at which its elongation is read, over the pin's diameter."""
PART = 0.25
"""Share of an ear's thickness over which its bearing is averaged, at its inner and outer face."""


@dataclass(frozen=True)
class Readings:
    """What either model says of a pulled joint; every function takes a travel, mm.

    Attributes
    ----------
    reach : float
        Largest travel, mm.
    load, moment, kept : callable
        N, N mm, and the bend kept after letting go, mm.
    offset, hinge : float or None
        Of the ears' holes, and of the pin, N.
    elongation : callable
        Of a plate's hole (0 ear, 1 shank): distances from its inner face and growth there, mm.
    mean : callable
        Mean growth of a plate's hole, mm.
    bearing : callable
        Of the ear: distances from the inner face of its slices' ends, and forces per thickness.
    """

    reach: float
    load: Callable[[float], float]
    moment: Callable[[float], float]
    kept: Callable[[float], float | None]
    offset: float | None
    hinge: float | None
    elongation: Callable[[int, float], tuple[Floats, Floats]]
    mean: Callable[[int, float], float]
    bearing: Callable[[float], tuple[Floats, Floats]]


def whole_joint(case: ReferenceCase) -> dict[str, float]:
    """Pull the case's joint by its sections and read the compared quantities."""
    joint = frictionless(case.given)
    found = quantities(joint, by_sections(joint))
    return {name.rpartition(", ")[0]: value for name, value in found.items()}


def frictionless(given: Mapping[str, Any]) -> Joint:
    """Return a case's joint without friction, which the solid joint leaves out."""
    return replace(model.read(dict(given)), friction=0.0)


def quantities(joint: Joint, said: Readings) -> dict[str, float]:
    """Return the compared quantities by name and unit; what was not reached is left out."""
    d = joint.pin.diameter
    found: dict[str, float | None] = {
        f"load at {t:g} mm, N": said.load(t) for t in (*TRAVELS, *FAR) if t <= said.reach + 1e-9
    }
    found["offset load, N"] = said.offset
    found["hinge load, N"] = said.hinge
    for t in (t for t in READ_AT if t <= said.reach + 1e-9):
        at = f"at {t:g} mm"
        found[f"pin's moment {at}, N mm"] = said.moment(t)
        found[f"bend kept from {t:g} mm, mm"] = said.kept(t)
        for plate, name in enumerate(("ear", "shank")):
            found[f"{name}: mean elongation {at}, mm"] = said.mean(plate, t)
            depth, grown = said.elongation(plate, t)
            found[f"{name}: elongation at the mouth {at}, mm"] = float(
                np.interp(MOUTH * d, depth, grown)
            )
        ends, line = said.bearing(t)
        thickness = ends[-1]
        total = np.concatenate([[0.0], np.cumsum(line * np.diff(ends))])
        parts = (0.0, PART, 1.0 - PART, 1.0)
        inner, _, outer = np.diff(np.interp(np.array(parts) * thickness, ends, total))
        found[f"ear: bearing of the inner quarter {at}, N/mm"] = inner / (PART * thickness)
        found[f"ear: bearing of the outer quarter {at}, N/mm"] = outer / (PART * thickness)
    return {name: float(value) for name, value in found.items() if value is not None}


# --- the everyday sections ------------------------------------------------------------------------


def by_sections(joint: Joint, refine: float = 1.0) -> Readings:
    """Pull a joint by face and axial sections."""
    settings = PullSettings(refine)
    members = solve_members(joint, settings)
    history = pull_axial(joint, members, settings)
    solved = MeasuredPin(joint, members, history, settings.axial(joint))
    problem, points = history.problem, history.path.points
    extension = history.extension

    def at(values: Floats, travel: float) -> float:
        return float(np.interp(travel, extension, values))

    def depths(plate: int) -> Floats:
        """Distances of a plate's slices' middles from its inner face, mm."""
        x, (begin, end) = problem.middles[problem.columns[plate]], problem.case.faces[plate]
        return np.asarray(end - x if plate == 0 else x - begin)

    def kept(travel: float) -> float | None:
        found = solved.kept_bend(float(np.interp(travel, extension, np.arange(len(points)))))
        return None if found is None else found[0]

    def elongation(plate: int, travel: float) -> tuple[Floats, Floats]:
        every = solved._elongations(plate)
        grown = np.array([at(every[:, k], travel) for k in range(every.shape[1])])
        order = np.argsort(depths(plate))
        return depths(plate)[order], grown[order]

    def bearing(travel: float) -> tuple[Floats, Floats]:
        lengths = problem.bedding(0).lengths
        force = np.array([problem.slice_forces(p, 0) for p in points])
        line = np.array([at(force[:, k], travel) for k in range(force.shape[1])]) / lengths
        return np.concatenate([[0.0], np.cumsum(lengths[::-1])]), line[::-1]

    offset = solved.offset(0)
    return Readings(
        float(extension.max()),
        lambda t: at(history.load, t),
        lambda t: at(history.moment, t),
        kept,
        None if offset is None else offset.load,
        solved.hinge_load,
        elongation,
        lambda plate, t: at(solved.elongation(plate), t),
        bearing,
    )


# --- whole, in the round -------------------------------------------------------------------------


def case_of(joint: Joint) -> WholeJointCase:
    """Return the whole joint in the round; heads are taken as guides of the outer faces."""

    def plate(part: Ear | Shank) -> SolidPlate:
        face = face_case(joint, part)
        return SolidPlate(face.outline, face.thickness, face.metal)

    double = len(joint.ears) == 2
    return WholeJointCase(
        plate(joint.ears[0]),
        plate(joint.shank),
        joint.pin.diameter,
        metal(joint.pin.material),
        joint.gaps[0],
        double,
        joint.pin.ends == "headed",
    )


FINE = WholeJointSettings(sides=36, layer=0.055, coarse=0.22)
"""The mesh of the stored numbers; the everyday one of WholeJointSettings tells how far they are
from converged."""


def in_the_round(
    joint: Joint,
    settings: WholeJointSettings = FINE,
    progress: Progress | None = None,
    reach: float = TRAVELS[-1],
) -> tuple[Readings, WholeJointHistory]:
    """Pull a whole joint in the round until its pin hinges and it has come `reach` mm; minutes."""
    problem = build(case_of(joint), settings)
    plastic = full_plastic_moment(joint.pin.diameter, joint.pin.material.rp02)

    def towards_the_end(point: EquilibriumPoint) -> float:
        hinged = float(np.abs(problem.moments(point)).max()) / plastic
        return min(hinged, point.travel / reach)

    end = Reached(towards_the_end, 1.001)
    single = len(joint.ears) == 1
    # plates that tilt carry a pin in single shear far before it hinges
    travels = TRAVELS if single else (*TRAVELS, *FAR, FURTHEST)
    history = whole.pull(problem, travels, settings, [end], progress)
    points = history.path.points

    def depth(plate: int, z: Floats) -> Floats:
        """Distances from a plate's inner face, mm; rising or falling with z."""
        heights = problem.plates[plate].heights
        inner_first = (plate == 0) is not single
        return np.asarray(z - heights[0] if inner_first else heights[-1] - z)

    def kept(travel: float) -> float | None:
        found = whole.release(history, history.at_travel(travel), settings)
        return None if found is None else problem.bend(found)

    def elongation(plate: int, travel: float) -> tuple[Floats, Floats]:
        z, grown = problem.elongations(points[history.at_travel(travel)], plate)
        from_face = depth(plate, z)
        order = np.argsort(from_face)
        return from_face[order], grown[order]

    def bearing(travel: float) -> tuple[Floats, Floats]:
        line = problem.bearing(points[history.at_travel(travel)], 0)[1]
        ends = depth(0, problem.plates[0].heights)
        order = np.argsort(ends)
        return ends[order], line if order[0] == 0 else line[::-1]

    offset = history.offset(whole.EAR_PLATE)
    said = Readings(
        float(history.travel.max()),
        lambda t: float(history.load[history.at_travel(t)]),
        lambda t: float(history.moment[history.at_travel(t)]),
        kept,
        None if offset is None else offset.load,
        history.load_at_moment(plastic),
        elongation,
        lambda plate, t: float(history.elongation[history.at_travel(t), plate]),
        bearing,
    )
    return said, history


__all__ = [
    "FINE", "READ_AT", "TRAVELS", "Readings", "by_sections", "case_of", "frictionless",
    "in_the_round", "quantities", "whole_joint",
]  # fmt: skip
