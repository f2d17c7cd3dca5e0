"""How the error of one case a group falls with the mesh."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fejoint.handbook import contact, plasticity
from fejoint.kernel.continuation import StepControl
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.gmsh_mesher import EarOutline
from fejoint.reference_models.open_hole import open_hole
from fejoint.reference_models.ring import pressed_ring
from fejoint.sections.face.pull import FaceCase, FaceSettings, build, pull
from fejoint.validation.models import bearing, plates
from fejoint.validation.models.contact import STIFFER
from fejoint.validation.reference_case import ReferenceCase


@dataclass(frozen=True)
class Curve:
    """Errors (relative, absolute values) on finer and finer meshes.

    Attributes
    ----------
    group : str
        Kind of the cases it stands for.
    title : str
    sides, unknowns, errors : tuples
        Element sides round the hole, unknowns, and the error; one entry a mesh.
    order : int
        Expected order in the size of the elements at the hole.
    against : str
        What the error is counted against.
    """

    group: str
    title: str
    sides: tuple[int, ...]
    unknowns: tuple[int, ...]
    errors: tuple[float, ...]
    order: int
    against: str = "the exact value"


Measure = Callable[[int], tuple[int, float]]
"""Unknowns and result (or error) of one mesh, from the sides round its hole."""


def curves(specimen: ReferenceCase) -> tuple[Curve, ...]:
    """Compute the curves of all groups; `specimen` is the bearing test to refine."""
    meshes = (24, 48, 96, 192)
    return (
        _curve("linear", "Kirsch, stress field near the hole", meshes, _kirsch_field, 2),
        _curve("contact", "pin in plate, E dR/Q = 2, pressure along the arc", meshes, _arc, 1),
        _curve("plasticity", "ring b/a = 2, pressure at first yield", meshes, _ring_yield, 3),
        _to_finest(
            "experiment",
            f"{specimen.name}, bearing yield",
            meshes,
            lambda sides: _bearing_yield(specimen, sides),
            1,
        ),
    )


def _curve(group: str, title: str, meshes: tuple[int, ...], measure: Measure, order: int) -> Curve:
    found = [measure(sides) for sides in meshes]
    unknowns, errors = zip(*found, strict=True)
    return Curve(group, title, meshes, unknowns, tuple(abs(e) for e in errors), order)


def _to_finest(
    group: str, title: str, meshes: tuple[int, ...], measure: Measure, order: int
) -> Curve:
    found = [measure(sides) for sides in meshes]
    finest = found[-1][1]
    return Curve(
        group,
        title,
        meshes[:-1],
        tuple(n for n, _ in found[:-1]),
        tuple(abs(value / finest - 1.0) for _, value in found[:-1]),
        order,
        f"the mesh of {meshes[-1]} sides",
    )


def _kirsch_field(sides: int) -> tuple[int, float]:
    plate = open_hole(2.0, 20.0, 20.0, edge="infinite plate", sides=sides)
    return 2 * len(plate.mesh.points), plates.field_error(plate, 1.3)


def _arc(sides: int) -> tuple[int, float]:
    metal, load, radius, ratio = Metal(200e3, 0.3), 1000.0, 5.0, 2.0
    half = 120.0 * radius
    outline = EarOutline(2.0 * half, 2.0 * radius, half, half, "square")
    pin = 2.0 * (radius - ratio * load / metal.modulus)
    settings = FaceSettings(sides=sides, stop_at_maximum=False)
    problem = build(FaceCase(outline, 1.0, metal, pin, metal, large_strain=False), settings)
    # stiff, so that the curve shows the mesh and not the contact's give
    problem = problem.with_stiffer_contact(STIFFER)
    history = pull(problem, settings, legs=[StepControl("load", load)])
    angle, mean = problem.pressures(history.path.points[-1])
    # the exact pressure's mean over every side
    width = 2.0 * np.pi / sides
    spread = np.radians(angle)[:, None] + width * (np.arange(20) + 0.5 - 10.0) / 20.0
    eps = contact.conforming_half_angle(ratio)
    near = np.where(np.abs(spread) < eps, spread, 0.0)
    exact = np.where(np.abs(spread) < eps, contact.conforming_pressure(near, eps), 0.0)
    miss = mean * radius / load - exact.mean(axis=1)
    peak = float(contact.conforming_pressure(0.0, eps))
    error = float(np.sqrt((miss**2).sum() * width / eps)) / peak
    return problem.system.n_unknowns, error


def _ring_yield(sides: int) -> tuple[int, float]:
    ring = pressed_ring(1.0, 2.0, hardening=Hardening.linear(250.0), pressures=(50.0,), sides=sides)
    exact = plasticity.pressed_ring(1.0, 1.0, 2.0, 250.0).pressure
    return 2 * len(ring.mesh.points), ring.first_yield / exact - 1.0


def _bearing_yield(specimen: ReferenceCase, sides: int) -> tuple[int, float]:
    history, diameter = bearing.pulled(specimen, FaceSettings(sides=sides, stop_travel=1.0))
    return history.problem.system.n_unknowns, bearing.yield_strength(history, diameter)


def slope(curve: Curve) -> float:
    """Order of the error in the size of the elements at the hole, by least squares."""
    return -float(np.polyfit(np.log(curve.sides), np.log(curve.errors), 1)[0])
