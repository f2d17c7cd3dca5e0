"""A pulled section let go: from a point of its path back to no load."""

from __future__ import annotations

from dataclasses import replace

from fejoint.kernel.assembly import System
from fejoint.kernel.continuation import trace_path
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.newton import EquilibriumPoint, StepControl, StepSettings

LEFT = 0.01
"""Share of the load to which it is followed: with clearance a pin at no load is a free body."""


def let_go(
    system: System, solver: LinearSolver, peak: EquilibriumPoint, steps: StepSettings
) -> EquilibriumPoint | None:
    """Release a system from a point.

    Parameters
    ----------
    system : System
    solver : LinearSolver
    peak : EquilibriumPoint
    steps : StepSettings
        Its first step is one of the travel.

    Returns
    -------
    EquilibriumPoint or None
        At 1 % of the load, extrapolated to none; None where it could not be followed.
    """
    path = trace_path(system, solver, [StepControl("load", LEFT * peak.load)], steps, start=peak)
    if not path.finished or len(path.points) < 2:
        return None
    before, last = path.points[-2], path.points[-1]
    rate = last.load / (before.load - last.load)
    return replace(last, z=last.z + rate * (last.z - before.z))
