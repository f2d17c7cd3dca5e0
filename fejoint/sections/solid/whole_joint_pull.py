"""The whole joint in the round pulled to given travels, and let go from some of its points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel import load_curve
from fejoint.kernel.continuation import Observer, Path, at_rest, trace_path
from fejoint.kernel.linear import LinearSolver, SolverStatistics
from fejoint.kernel.newton import (
    EquilibriumPoint,
    Progress,
    StepControl,
    StepSettings,
    find_equilibrium,
)
from fejoint.sections.let_go import let_go
from fejoint.sections.observers import Passes, StepLimit
from fejoint.sections.solid.whole_joint import PIN, WholeJointProblem
from fejoint.sections.solid.whole_joint_case import WholeJointSettings

PAST_PLAY = 3.0
"""Travel at which the path of a joint in single shear begins, over the free play of its pin."""
CLOSE, CLOSE_STEP = 0.03, 0.0025
"""Travel up to which steps stay short, and how short, over the hole: a soft pin hinges there, and
with steps five times as long its hinge load is 2.4 % higher."""
EAR_PLATE, SHANK_PLATE = 0, 1
"""Places of the plates in a history's arrays."""


@dataclass(eq=False)
class WholeJointHistory:
    """A pulled joint. Arrays have one entry a point, the first at rest.

    Attributes
    ----------
    problem : WholeJointProblem
    path : Path
    load, travel : (n,) arrays
        On the whole joint, N, and of the shank's grip, mm.
    elongation : (n, 2) array
        Of the holes in ear and shank, mean over the thickness, mm.
    moment : (n,) array
        Largest bending moment of the pin, N mm.
    sag : (n,) array
        Bend of the pin under load, mm.
    statistics : SolverStatistics
    """

    problem: WholeJointProblem
    path: Path
    load: Floats
    travel: Floats
    elongation: Floats
    moment: Floats
    sag: Floats
    statistics: SolverStatistics = field(repr=False)

    def at_travel(self, travel: float) -> int:
        """Point at a travel, mm, that the path was made to pass."""
        return int(np.argmin(np.abs(self.travel - travel)))

    def offset(self, plate: int) -> load_curve.OffsetPoint | None:
        """Offset load of a plate, None where the pull ended before it."""
        outline = (self.problem.case.ear, self.problem.case.shank)[plate].outline
        level = load_curve.OFFSET * outline.hole
        return load_curve.offset_point(self.load, self.elongation[:, plate], level)

    def load_at_moment(self, moment: float) -> float | None:
        """Load at which the largest moment first reaches a value, N."""
        place = load_curve.first_reach(self.moment, moment)
        return None if place is None else load_curve.at_index(self.load, place)

    @cached_property
    def energy_gap(self) -> float:
        """Work put in less what is stored and plastically spent, over the work."""
        share = self.problem.share
        work = float(np.trapezoid(self.load, self.travel)) / share
        stored, spent = self.problem.stored_and_spent(self.path.points[-1])
        return (work - stored - spent) / work if work > 0.0 else 0.0


def pull(
    problem: WholeJointProblem,
    travels: Sequence[float],
    settings: WholeJointSettings | None = None,
    observers: Sequence[Observer] = (),
    progress: Progress | None = None,
) -> WholeJointHistory:
    """Pull a joint; its path passes the given travels.

    Parameters
    ----------
    problem : WholeJointProblem
    travels : sequence of float
        Rising, mm; the path ends at the last.
    settings : WholeJointSettings, optional
    observers : sequence of Observer
    progress : callable, optional

    Returns
    -------
    WholeJointHistory
        All that was found; the path says why it ended.
    """
    settings = settings or WholeJointSettings()
    solver = LinearSolver(problem.system.symmetric, settings.solver, nested_dissection=True)
    end = [StepControl("travel", travels[-1])]
    hole = problem.case.ear.outline.hole
    close = StepLimit(lambda p: p.travel, CLOSE * hole, CLOSE_STEP * hole * settings.pace)
    seen = [Passes(tuple(travels)), close, *observers]
    steps = _steps(problem, settings)
    rest = at_rest(problem.system)
    try:
        start = None if problem.case.double else _turned(problem, solver, rest, steps)
        path = trace_path(problem.system, solver, end, steps, seen, start=start, progress=progress)
    finally:
        solver.close()
    if start is not None:
        path.points.insert(0, rest)
    return _history(problem, path, solver.statistics)


def _history(
    problem: WholeJointProblem, path: Path, statistics: SolverStatistics
) -> WholeJointHistory:
    points = path.points
    return WholeJointHistory(
        problem,
        path,
        problem.share * np.array([p.load for p in points]),
        np.array([p.travel for p in points]),
        np.array([[problem.elongation(p, k) for k in range(2)] for p in points]),
        np.array([np.abs(problem.moments(p)).max() for p in points]),
        np.array([problem.bend(p) for p in points]),
        statistics,
    )


def release(
    history: WholeJointHistory, index: int, settings: WholeJointSettings | None = None
) -> EquilibriumPoint | None:
    """Let the joint go from one of its points; return the point of (almost) no load.

    Returns
    -------
    EquilibriumPoint or None
        At 1 % of the load, extrapolated to none; None where it could not be followed.
    """
    settings = settings or WholeJointSettings()
    problem, peak = history.problem, history.path.points[index]
    slope = float(np.max(history.load[1:] / history.travel[1:])) / problem.share
    steps = replace(_steps(problem, settings), first=0.5 * peak.load / slope)
    solver = LinearSolver(problem.system.symmetric, settings.solver, nested_dissection=True)
    try:
        found = let_go(problem.system, solver, peak, steps)
    finally:
        solver.close()
    history.statistics.numeric += solver.statistics.numeric
    history.statistics.seconds += solver.statistics.seconds
    return found


def _turned(
    problem: WholeJointProblem,
    solver: LinearSolver,
    rest: EquilibriumPoint,
    steps: StepSettings,
) -> EquilibriumPoint | None:
    """Return a joint in single shear whose pin has turned in its clearance and just bears.

    From the rigid turn that uses up the clearance of one hole, about the ear's inner face.
    """
    case, system, points = problem.case, problem.system, problem.points
    ear, shank = problem.plates
    turn = min(
        (plate.outline.hole - case.pin_diameter) / plate.thickness
        for plate in (case.ear, case.shank)
    )
    travel = PAST_PLAY * turn * case.gap
    if travel == 0.0:
        return None
    pin = np.unique(problem.bodies[PIN].nodes)
    z = np.zeros(system.n_dofs)
    z[3 * np.unique(shank.mesh.bricks)] = travel
    z[3 * pin] = turn * (points[pin, 2] - ear.heights[-1])
    z[3 * pin + 2] = -turn * (points[pin, 0] - problem.pin_middle)
    states = system.evaluate(z, rest.multipliers, travel, rest.states).states
    guess, target = replace(rest, z=z, travel=travel), StepControl("travel", travel)
    return find_equilibrium(system, solver, guess, states, target, steps).point


def _steps(problem: WholeJointProblem, settings: WholeJointSettings) -> StepSettings:
    case = problem.case
    hole = case.ear.outline.hole
    stiff = case.ear.metal.modulus * hole * case.ear.thickness
    return StepSettings(
        first=2e-3 * hole,
        longest=0.008 * hole * settings.pace,
        shortest=1e-6 * hole,
        force_scale=1e-6 * stiff,
        tolerance=1e-5,
        growth=2.0,
        easy=6,
    )
