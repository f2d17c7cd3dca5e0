"""Stick and slip: a pin pressed into a wide hole, then dragged sideways."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel.assembly import Response, System
from fejoint.kernel.continuation import EquilibriumPoint, StepControl, StepSettings, trace_path
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.gmsh_mesher import EarOutline
from fejoint.sections.face.pull import PIN, FaceCase, FaceProblem, FaceSettings, build, pull
from fejoint.validation.reference_case import ReferenceCase

CLEARANCE = 50.0
"""E dR/Q of the hole: a contact arc of 25 degrees, still close to a flat line contact."""
SIDES = 144
WIDTHS = 10.0
STIFFER = 10.0
"""Factor on the springs of what sticks: as they are they give a third of what so narrow a contact
does itself, and the stick width comes out 0.70 on any mesh."""


@dataclass(frozen=True, eq=False)
class DeadLoad:
    """A constant load on given dofs, a term without stiffness."""

    forces: Floats
    symmetric: bool = True

    def blocks(self) -> list[tuple[Ints, Ints]]:
        """No tangent entries."""
        none = np.zeros(0, np.intp)
        return [(none, none)]

    def initial_state(self) -> None:
        """No state."""

    def evaluate(self, z: Floats, state: Any) -> Response:
        """Return the load as an internal force, so with the opposite sign."""
        dofs = np.arange(len(self.forces))
        return Response(dofs, -self.forces, lambda: np.zeros(0), None)


def partial_slip(case: ReferenceCase) -> dict[str, float]:
    """Press with Q, drag with T below friction times Q, then on to full slip."""
    g = case.given
    normal, shear, mu = g["normal_load"], g["shear_load"], g["friction"]
    metal = Metal(g["modulus"], g["poisson"])
    pin = g["pin_radius"]
    hole = 2.0 * (pin + CLEARANCE * normal / g["modulus"])
    half = 0.5 * WIDTHS * hole
    outline = EarOutline(2.0 * half, hole, half, half, "square")
    # the closed form's pressing leaves no shear behind, so it goes without friction
    face = FaceCase(outline, 1.0, metal, 2.0 * pin, metal, large_strain=False)
    settings = FaceSettings(sides=SIDES, whole=True, stop_at_maximum=False)
    problem = build(face, settings)
    pressed = pull(problem, settings, legs=[StepControl("load", normal)]).path.points[-1]
    system, start = _sideways(problem, pressed, mu)
    far = 6.0 * mu * normal / metal.modulus
    steps = StepSettings(
        first=0.02 * far, longest=0.2 * far, shortest=1e-6 * far, tolerance=1e-6,
        force_scale=1e-3 * mu * normal,
    )  # fmt: skip
    solver = LinearSolver(system.symmetric)
    try:
        path = trace_path(system, solver, [StepControl("load", shear)], steps, start=start)
        held = path.points[-1]
        path = trace_path(
            system, solver, [StepControl("travel", held.travel + far)], steps, start=held
        )
    finally:
        solver.close()
    return {
        "stick width": _stick_share(problem, held, mu),
        "shear at full slip": _friction_of(problem, path.points[-1], normal) / mu,
    }


def _sideways(
    problem: FaceProblem, pressed: EquilibriumPoint, mu: float
) -> tuple[System, EquilibriumPoint]:
    """Hold the pressing load as a dead load and drive the pin across it."""
    old = problem.system
    across, turn = old.guides
    pin = np.unique(np.asarray(problem.mesh.triangles[problem.mesh.regions["pin"]]))
    rigid = np.zeros(old.n_dofs)
    rigid[2 * pin + 1] = 1.0
    # the guide against turning must carry no force: it is measured about the disc's own centroid
    turn = turn - turn[0::2].sum() * old.drive - turn[1::2].sum() * across
    load = DeadLoad(pressed.load * old.drive)
    stiffer = STIFFER * problem.contact.tangential_stiffness
    contact = replace(problem.contact, friction=mu, tangential_stiffness=stiffer)
    terms = [*old.terms[:-1], contact, load]
    system = System(old.n_dofs, terms, across, rigid, old.fixed, [turn])
    rest = np.array([0.0, pressed.multipliers[2]])
    return system, EquilibriumPoint(0.0, rest, pressed.z, (*pressed.states, None))


def _pressure(problem: FaceProblem, point: EquilibriumPoint) -> tuple[Floats, Floats]:
    """Angle and pressure at the points of the hole's edge, in walking order of the angle."""
    secondary = problem.contact.secondary
    at = secondary.points.reshape(-1, 2)
    gap = problem.contact.primary.project(secondary.positions(point.z), point.z).gap
    return np.arctan2(at[:, 1], at[:, 0]), problem.contact.stiffness * np.maximum(-gap, 0.0)


def _friction_of(problem: FaceProblem, point: EquilibriumPoint, normal: float) -> float:
    """Tangent of the angle between the pin's whole force and the resultant of the pressure.

    The pin climbs the hole's wall as it is dragged, so the resultant of the pressure turns; the
    force that turns it is no friction.
    """
    secondary = problem.contact.secondary
    project = problem.contact.primary.project(secondary.positions(point.z), point.z)
    push = (problem.contact.stiffness * np.maximum(-project.gap, 0.0))[:, None] * project.normal
    resultant = (secondary.weights.reshape(-1)[:, None] * push).sum(axis=0)
    whole = np.arctan2(point.load, normal)
    return float(np.tan(whole - np.arctan2(resultant[1], resultant[0])))


def _stick_share(problem: FaceProblem, point: EquilibriumPoint, mu: float) -> float:
    """Width of the sticking arc over that of the contact arc."""
    angle, pressure = _pressure(problem, point)
    drag = np.abs(point.states[PIN + 1].tangential_traction)
    order = np.argsort(angle)
    angle, pressure, drag = angle[order], pressure[order], drag[order]
    touching = np.flatnonzero(pressure > 0.0)
    sticking = touching[drag[touching] < mu * pressure[touching] * (1.0 - 1e-6)]
    return _span(angle, sticking) / _span(angle, touching)


def _span(angle: Floats, which: Ints) -> float:
    """Arc of a run of points, each end halfway to its neighbour outside."""
    first, last = int(which[0]), int(which[-1])
    low = 0.5 * (angle[first - 1] + angle[first])
    return float(0.5 * (angle[last] + angle[last + 1]) - low)
