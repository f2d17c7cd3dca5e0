"""A plate released from a load: how it unloads, and what stays.

From a permanent point with the load P0 (N) the path goes back by load control to eps P0, with eps =
SMALL_LOAD: the same equilibrium f(z) = sum_i l_i c_i as on the way out, with the metal's state of
that point, so that it unloads elastically until it yields the other way. At no load at all a pin
with clearance is a free body and K is singular. What is read, v (a travel or the hole's elongation,
mm), is therefore carried on along the last secant,

    v(0) = v_n - P_n (v_n - v_(n-1)) / (P_n - P_(n-1)) ,

which misses by about v''(P) eps^2 P0^2 / 2. v(0) of the hole's elongation is the permanent set.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.continuation import trace_path
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.newton import StepControl
from fejoint.sections.face.pull import FaceHistory, FaceSettings, step_settings


@dataclass(frozen=True, eq=False)
class Release:
    """A plate released from a load. Arrays have one entry a point, from the peak down to no load.

    Attributes
    ----------
    load : (n,) array
        N; the last is 0, extrapolated along the last secant.
    local_travel, elongation, neck : (n,) arrays
        Pin travel local to the hole, growth of the hole, loss of width beside it, mm.
    """

    load: Floats
    local_travel: Floats
    elongation: Floats
    neck: Floats

    @property
    def set(self) -> float:
        """Elongation of the hole that stays, mm."""
        return float(self.elongation[-1])


SMALL_LOAD = 0.02
"""Share of the peak at which a release stops: below it a pin with clearance is a free body."""


def release(
    history: FaceHistory,
    index: int,
    settings: FaceSettings | None = None,
    solver: LinearSolver | None = None,
) -> Release | None:
    """Release the plate from one of its points.

    Parameters
    ----------
    history : FaceHistory
    index : int
        Of the point.
    settings : FaceSettings, optional
    solver : LinearSolver, optional
        One that knows the matrix's pattern already; left open.

    Returns
    -------
    Release or None
        None where the unloading path could not be followed.
    """
    problem = history.problem
    settings = settings or FaceSettings()
    peak = history.path.points[index]
    slope = np.max(history.load[1:] / np.maximum(history.travel[1:], 1e-300)) / problem.share
    steps = replace(
        step_settings(problem.case, settings), first=0.35 * settings.pace * peak.load / slope
    )
    if solver is None:
        solver = LinearSolver(
            problem.system.symmetric, settings.solver, statistics=history.statistics
        )
    legs = [StepControl("load", SMALL_LOAD * peak.load)]
    path = trace_path(problem.system, solver, legs, steps, start=peak)
    if not path.finished or len(path.points) < 2:
        return None

    def to_zero(values: list[float]) -> Floats:
        loads = [p.load for p in path.points]
        rate = (values[-1] - values[-2]) / (loads[-1] - loads[-2])
        return np.array([*values, values[-1] - rate * loads[-1]])

    return Release(
        np.array([*(problem.share * p.load for p in path.points), 0.0]),
        to_zero([problem.local_travel(p) for p in path.points]),
        to_zero([problem.elongation(p) for p in path.points]),
        to_zero([problem.neck(p) for p in path.points]),
    )
