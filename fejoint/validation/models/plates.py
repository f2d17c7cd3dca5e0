"""Plates, rings and bars without a pin, elastic and plastic."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from fejoint.handbook.plates import kirsch
from fejoint.kernel.hardening import Hardening
from fejoint.reference_models.bar import tension_bar
from fejoint.reference_models.open_hole import open_hole
from fejoint.reference_models.open_hole_result import PlateAnswer
from fejoint.reference_models.ring import pressed_ring
from fejoint.reference_models.tractions import metal_state
from fejoint.validation.reference_case import ReferenceCase

THICKNESS = 2.5
"""Of every body here, mm: no answer depends on it, and a forgotten thickness would show."""
FIELD_RADII = 4.0
"""Hole radii out to which the stress field is compared."""
ELASTIC = 1e6
"""A yield stress from which a case means elastic metal, MPa."""


def _law(given: Mapping[str, Any]) -> Hardening | None:
    stress = given.get("yield_stress", math.inf)
    return Hardening.linear(stress) if stress < ELASTIC else None


def _turned(remote: tuple[float, float, float], degrees: float) -> tuple[float, float, float]:
    """Stresses in the hole's axes of a state given in axes turned by an angle against them."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    sx, sy, sxy = remote
    return (
        sx * c * c + sy * s * s - 2.0 * sxy * s * c,
        sx * s * s + sy * c * c + 2.0 * sxy * s * c,
        (sx - sy) * s * c + sxy * (c * c - s * s),
    )


def open_hole_case(case: ReferenceCase) -> dict[str, float]:
    """Pull a plate with an open hole, elastic or perfectly plastic, at everyday refinement."""
    g = case.given
    axes = (g.get("hole_along", g.get("hole")), g.get("hole_across", g.get("hole")))
    law = _law(g)
    unit = law.first_yield if law else 1.0
    remote = [unit * s for s in g["remote"]]
    sx, sy, sxy = _turned((remote[0], remote[1], remote[2]), g.get("pull_angle", 0.0))
    wanted = [row.quantity for row in case.expectations]
    factors = [
        float(q.split(" at ")[1].split()[0]) for q in wanted if q.startswith("plastic front")
    ]
    limit = "limit load" in wanted
    if law and not factors:
        factors = [0.3]
    plate = open_hole(
        axes, g["width"], g["length"],
        thickness=THICKNESS, modulus=g["modulus"], poisson=g["poisson"], hardening=law,
        remote=(sx, sy, sxy if abs(sxy) > 1e-12 else 0.0),
        edge="infinite plate" if "infinite" in g["edge"] else "even",
        large_strain=g.get("large_strain", False), factors=factors or (1.0,),
        stop_stretch=4.0 * unit / g["modulus"] * g["length"] if limit else None,
    )  # fmt: skip
    got = _elastic(plate, axes)
    for factor in factors:
        step = int(np.argmin(np.abs(plate.factors - factor)))
        radius = math.sqrt((0.5 * axes[0]) ** 2 + plate.plastic_area(step) / math.pi)
        got[f"plastic front at {factor:g} Y"] = radius / (0.5 * axes[0])
    if plate.first_yield is not None:
        got["tension at first yield"] = plate.first_yield
    if limit:
        net = 1.0 - axes[1] / g["width"]
        got["limit load"] = float(plate.factors.max()) / net
    return got


def _elastic(plate: PlateAnswer, axes: tuple[float, float]) -> dict[str, float]:
    principal, radius = plate.case.principal, 0.5 * axes[0]
    low, high = plate.rim.extremes()
    net = 1.0 - axes[1] / plate.case.width
    got = {
        "peak hoop stress": high / principal,
        "least hoop stress": low / principal,
        "peak over gross stress": high / principal,
        "peak over gross stress, Howland": high / principal,
        "peak over net stress, Heywood": high / principal * net,
    }
    for ratio in (1.25, 1.5, 2.0, 3.0):
        if ratio * radius < 0.5 * plate.case.width:
            stress = plate.stress(np.array([[0.0, ratio * radius]]), 1)[0, 0]
            got[f"ligament stress at {ratio} a"] = float(stress / plate.factors[1]) / principal
    scale = plate.case.metal.modulus / (principal * radius * plate.factors[1])
    got["rim growth along the pull"] = float(plate.displacement((radius, 0.0), 1)[0]) * scale
    got["rim growth across the pull"] = float(plate.displacement((0.0, radius), 1)[1]) * scale
    if plate.case.edge == "infinite plate":
        got["field error"] = field_error(plate)
    return got


def field_error(plate: PlateAnswer, radii: float = FIELD_RADII) -> float:
    """Root mean square error of the stress against Kirsch, over the remote stress.

    Out to so many hole radii.
    """
    x, y = plate.solid.quadrature.points.reshape(-1, 2).T
    radius = plate.case.semi_axes[0]
    near = np.hypot(x, y) < radii * radius
    exact = np.array(kirsch(x[near], y[near], radius, *plate.case.remote))
    miss = metal_state(plate.points[1]).stress[:, near] / plate.factors[1] - exact
    areas = plate.solid.quadrature.areas.reshape(-1)[near]
    return float(np.sqrt((miss**2).sum(axis=0) @ areas / areas.sum())) / plate.case.principal


def pressed_ring_case(case: ReferenceCase) -> dict[str, float]:
    """Press a ring from within, elastic or perfectly plastic."""
    g = case.given
    law = _law(g)
    inner, outer = g["inner"], g["outer"]
    elastic = {"modulus": g["modulus"], "poisson": g["poisson"], "thickness": THICKNESS}
    if law is None:
        ring = pressed_ring(inner, outer, pressures=(g["pressure"],), **elastic)
        scale = g["modulus"] / (g["pressure"] * inner)
        return {
            "hoop stress at the hole": ring.hoop[0],
            "hoop stress at the outer rim": ring.hoop[1],
            "growth of the hole": float(ring.growth[-1]) * scale,
        }
    stress = law.first_yield
    fronts = [row.quantity for row in case.expectations if "front at" in row.quantity]
    last = max(r.value for r in case.expectations if r.quantity in fronts)
    collapse = any(row.quantity == "collapse pressure" for row in case.expectations)
    ring = pressed_ring(
        inner, outer, hardening=law, large_strain=g["large_strain"],
        pressures=(np.linspace(0.7, 1.05, 36) * last * stress).tolist(),
        stop_growth=12.0 * stress / g["modulus"] * inner if collapse else None, **elastic,
    )  # fmt: skip
    got = {"pressure at first yield": ring.first_yield / stress}
    for name in fronts:
        radius = float(name.split(" at ")[1].split()[0]) * inner
        got[name] = ring.pressure_at_front(radius) / stress
    if collapse:
        got["collapse pressure"] = float(ring.pressure.max()) / stress
    return got


def bar_from_tensile(case: ReferenceCase) -> dict[str, float]:
    """Pull the bar of a law made from Rp0.2, Rm and uniform strain: its Rm must come back."""
    g = case.given
    law = Hardening.from_tensile(g["modulus"], g["rp02"], g["rm"], g["uniform_strain"], g["shape"])
    top = tension_bar(g["modulus"], g["poisson"], law)
    return {"tensile strength": top.strength}


def tension_bar_case(case: ReferenceCase) -> dict[str, float]:
    """Pull a bar past its load maximum."""
    g = case.given
    if g["law"] == "swift":
        law = Hardening.swift(g["yield"], g["strain0"], g["exponent"])
    else:
        law = Hardening.voce(g["yield"], g["rise"], g["rate"])
    top = tension_bar(g["modulus"], g["poisson"], law)
    return {"tensile strength": top.strength, "plastic strain at maximum": top.plastic_strain}
