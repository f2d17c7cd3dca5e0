"""How far a shank moves before its pin bears: a pin in single shear first turns in its clearance.

The pin touches the ear's hole where it is pulled and the shank's hole opposite, at their inner
faces, and turns about the gap between until the far end of one hole stops it. All this happens at
no load, so the path may begin where it ends.
"""

from __future__ import annotations

import numpy as np

from fejoint.kernel.continuation import at_rest
from fejoint.kernel.newton import EquilibriumPoint
from fejoint.sections.axial.problem import AxialProblem

SHORT_OF_IT = 0.98
"""Share of the free play that is taken at once: where a slice begins to bear is for the path."""
CLEAR = 1e-6
"""Share of that travel by which the pin is clear of both inner faces: rounding must not bear."""
_STEEPEST = 0.9
"""Sine of a turn beyond which a pin is no longer followed as one that turns in its holes."""


def turned(problem: AxialProblem, at_most: float = np.inf) -> EquilibriumPoint | None:
    """Return the joint shortly before its pin bears, turned as a rigid body at no load.

    Parameters
    ----------
    problem : AxialProblem
    at_most : float
        Travel of the shank beyond which it is not wanted, mm.

    Returns
    -------
    EquilibriumPoint or None
        None where the pin bears at once, or is held by more than one ear.
    """
    whole, sine = free_play(problem)
    travel = min(SHORT_OF_IT * whole, at_most)
    if travel <= 0.0:
        return None
    clear = CLEAR * travel
    sine *= (travel + 2.0 * clear) / whole
    case, system, points = problem.case, problem.system, problem.mesh.points
    at = problem.pin.quadrature.points[..., 0]
    centre = float((at * problem.pin.volumes).sum() / problem.pin.volumes.sum())
    ear = problem.middles[problem.columns[1 - case.shank]]
    touch = ear[-1] if case.shank == 1 else ear[0]
    # a small strain knows no shortening by a turn
    less = np.sqrt(1.0 - sine * sine) - 1.0 if case.large_strain else 0.0
    x, y = points[:, 0] - centre, points[:, 1]
    z = travel * system.rigid_body_mode  # shank and drive; what it says of the pin is written over
    z[0 : 2 * len(points) : 2] = less * x - sine * y
    z[1 : 2 * len(points) : 2] = sine * x + less * y + sine * (centre - touch) - clear
    rest = at_rest(system)
    now = system.evaluate(z, rest.multipliers, travel, rest.states)
    return EquilibriumPoint(travel, rest.multipliers, z, now.states, now.stored)


def free_play(problem: AxialProblem) -> tuple[float, float]:
    """Return how far the shank moves until the pin bears, mm, and the sine of the pin's turn there.

    The sine is positive from the first plate to the last; both are 0 without free play.
    """
    case, none = problem.case, (0.0, 0.0)
    if len(case.plates) != 2 or case.ends == "held":
        return none
    sines, inner, places = [], [], problem.middles
    for plate, columns, face in zip(case.plates, problem.columns, (-1, 0), strict=True):
        x = places[columns]
        clearance = float(getattr(plate.law, "clearance", np.inf))
        if len(x) < 2 or not 0.0 < clearance < np.inf:
            return none
        sines.append(clearance / float(x[-1] - x[0]))
        inner.append(float(x[face]))
    sine = min(sines)
    if sine > _STEEPEST:
        return none
    # the pin rises towards the shank, on whichever side that lies
    return sine * (inner[1] - inner[0]), sine if case.shank == 1 else -sine
