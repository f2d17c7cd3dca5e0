"""Elastic pins in holes: contact arcs, pressures, and the peak stress of lugs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from fejoint.arrays import Floats
from fejoint.handbook.contact import conforming_half_angle
from fejoint.kernel.contact import SecondaryEdge
from fejoint.kernel.continuation import EquilibriumPoint, StepControl
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.gmsh_mesher import EarOutline
from fejoint.reference_models.stress_recovery import edge_strains
from fejoint.sections.face.pull import FaceCase, FaceProblem, FaceSettings, build, pull
from fejoint.validation.reference_case import ReferenceCase

THICKNESS = 2.5
"""Of plate and pin, mm; see `plates.THICKNESS`."""
SIDES_AN_ARC = 13
"""Element sides wanted in the contact arc."""
STIFFER = 10.0
"""Factor on the everyday contact stiffness where the arc is narrow: the everyday one follows the
hole's diameter, a narrow contact is stiffer than that."""


@dataclass(frozen=True)
class Arc:
    """Half contact angle (degrees), peak pressure and load carried by the pressure (N)."""

    half_angle: float
    peak: float
    load: float


def read_arc(problem: FaceProblem, point: EquilibriumPoint) -> Arc:
    """Read a frictionless contact of a half model.

    The pressure falls to 0 at the arc's end like a square root, so its square is carried on
    straight (in the square of the angle) through the last three sides that touch all along.
    """
    secondary = problem.contact.secondary
    where = secondary.points.reshape(-1, 2)
    gap = problem.contact.primary.project(secondary.positions(point.z), point.z).gap
    raw = problem.contact.stiffness * np.maximum(-gap, 0.0).reshape(secondary.weights.shape)
    angle, mean = problem.pressures(point)
    order = np.argsort(np.abs(angle))
    angle, mean = np.radians(np.abs(angle[order])), mean[order]
    full = np.flatnonzero(np.all(raw[order] > 0.0, axis=1))[-3:]
    fall = np.polyfit(angle[full] ** 2, mean[full] ** 2, 1)
    peak = np.polyfit(angle[:3] ** 2, mean[:3], 1)[1]
    turn = np.arctan2(where[:, 1], where[:, 0]).reshape(raw.shape)
    carried = problem.share * float((raw * secondary.weights * np.cos(turn)).sum())
    half = float(np.degrees(np.sqrt(max(-fall[1] / fall[0], 0.0))))
    return Arc(half, float(peak), carried)


def elastic_contact(case: ReferenceCase) -> dict[str, float]:
    """Press an elastic pin into a hole of a wide plate of the same metal."""
    g = case.given
    radius, modulus, load = g["hole_radius"], g["modulus"], g["load_per_thickness"]
    gap = g["dimensionless_clearance"] * load / modulus
    half = conforming_half_angle(g["dimensionless_clearance"])
    sides = 48 * max(2, round(SIDES_AN_ARC * np.pi / half / 48))
    face = _plate(g["width_over_hole"], radius, radius - gap, Metal(modulus, g["poisson"]))
    settings = FaceSettings(sides=sides, stop_at_maximum=False)
    problem = build(face, settings)
    if g.get("fine_contact"):
        problem = problem.with_stiffer_contact(STIFFER)
    history = pull(problem, settings, legs=[StepControl("load", load * THICKNESS)])
    arc = read_arc(problem, history.path.points[-1])
    return {
        "half contact angle": arc.half_angle,
        "peak pressure": arc.peak * radius / load,
        "load carried by the pressure": arc.load / (load * THICKNESS),
    }


def _plate(widths: float, hole_radius: float, pin_radius: float, metal: Metal) -> FaceCase:
    hole = 2.0 * hole_radius
    half = 0.5 * widths * hole
    outline = EarOutline(2.0 * half, hole, half, half, "square")
    return FaceCase(outline, THICKNESS, metal, 2.0 * pin_radius, metal, large_strain=False)


def elastic_lug(case: ReferenceCase) -> dict[str, float]:
    """Pull a round-ended lug on a neat pin, elastic or rigid; return its peak stresses."""
    g = case.given
    metal = Metal(g["modulus"], g["poisson"])
    outline = EarOutline(g["width"], g["hole"], g["edge_distance"], g["grip_length"], "round")
    face = FaceCase(
        outline, THICKNESS, metal, g["pin"], None if g["rigid"] else metal, g["friction"],
        large_strain=False,
    )  # fmt: skip
    settings = FaceSettings(sides=96, stop_at_maximum=False)
    problem = build(face, settings)
    history = pull(problem, settings, legs=[StepControl("load", g["load"])])
    peak = float(hoop_stress(problem, history.path.points[-1])[1].max())
    load = float(history.load[-1]) / THICKNESS
    return {
        "peak over net stress": peak * (g["width"] - g["hole"]) / load,
        "peak over bearing stress, chart": peak * g["hole"] / load,
    }


def hoop_stress(problem: FaceProblem, point: EquilibriumPoint) -> tuple[Floats, Floats]:
    """Return angles (radians) and the hoop stress round the hole of an elastic half model, MPa.

    From the strain along the edge and the contact pressure p: E strain - nu p.
    """
    secondary: SecondaryEdge = problem.contact.secondary
    where, strain = edge_strains(problem.mesh.points, problem.mesh.edges["hole"], point.z)
    gap = problem.contact.primary.project(secondary.positions(point.z), point.z).gap
    pressure = problem.contact.stiffness * np.maximum(-gap, 0.0)
    at = secondary.points.reshape(-1, 2)
    there, here = np.arctan2(at[:, 1], at[:, 0]), np.arctan2(where[:, 1], where[:, 0])
    order = np.argsort(there)
    metal = problem.case.metal
    stress = metal.modulus * strain - metal.poisson * np.interp(here, there[order], pressure[order])
    order = np.argsort(here)
    fine = np.linspace(here.min(), here.max(), 4001)
    return fine, np.asarray(CubicSpline(here[order], stress[order])(fine))
