"""The axial section pulled: the pin bent and sheared between ears and shank."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.continuation import Observer, Path, at_rest, continue_path
from fejoint.kernel.linear import LinearSolver, SolverStatistics
from fejoint.kernel.newton import EquilibriumPoint, Progress, StepControl, StepSettings
from fejoint.kernel.stop_reason import REQUESTED, Stop, StopReason
from fejoint.sections.axial.case import ROWS, STEEL, AxialCase, AxialSettings, Plate
from fejoint.sections.axial.free_play import SHORT_OF_IT, free_play, turned
from fejoint.sections.axial.problem import PIN, AxialProblem, build
from fejoint.sections.damage import Averaging
from fejoint.sections.let_go import let_go
from fejoint.sections.observers import Ductility, FirstYield, LoadMaximum, Reached, StepLimit

__all__ = [
    "PIN", "ROWS", "TURNED", "AxialCase", "AxialHistory", "AxialProblem", "AxialSettings", "Plate",
    "build", "no_load", "pull", "release", "rounding",
]  # fmt: skip

TORN_WIDTH = 0.25
"""Diameter of the disc over which the pin's damage is averaged, in pin diameters."""
MOST_TURNED = 30.0
"""Turn of the pin in a plate, degrees, at which a pull ends. A slice bears as if the pin stood at
right angles to its plate; on one turned so far the contact is 1/cos 30, 15 %, longer than that."""
TURNED = Stop(
    StopReason.TURNED_TOO_FAR, f"the pin has turned by {MOST_TURNED:g} degrees in its holes"
)
"""Why it ends there: what a hole bears beyond has no meaning."""
FOLLOWED = Stop(StopReason.FAR_ENOUGH, "pulled as far as a joint is followed")
"""Why a pull ends where nothing else ends it and nobody requested an end."""


@dataclass(eq=False)
class AxialHistory:
    """A pulled axial section. Arrays have one entry a point, the first at rest.

    Attributes
    ----------
    problem : AxialProblem
    path : Path
    load : (n,) array
        On the joint, N.
    extension : (n,) array
        Of the joint between where ears and shank are held, mm.
    shares : (n, n_plates) array
        Force of every plate, N.
    moment, shear : (n,) arrays
        Largest bending moment (N mm) and shear force (N) in the pin.
    damage : (n,) array
        Largest averaged damage of the pin.
    first_yield : float or None
        Load at first yield of the pin in bending and shear, N.
    statistics : SolverStatistics
    """

    problem: AxialProblem
    path: Path
    load: Floats
    extension: Floats
    shares: Floats
    moment: Floats
    shear: Floats
    damage: Floats
    first_yield: float | None
    statistics: SolverStatistics
    ductility: Ductility | None = field(default=None, repr=False)

    def imbalance(self) -> float:
        """Return the largest gap between the shank's force and the ears' sum, over the load."""
        shank = self.problem.case.shank
        ears = self.shares.sum(axis=1) - self.shares[:, shank]
        least = max(1e-3 * np.abs(self.load).max(), no_load(self.problem.case))
        scale = np.maximum(np.abs(self.load), least)
        return float(np.max(np.abs(ears - self.shares[:, shank])[1:] / scale[1:], initial=0.0))


def pull(
    problem: AxialProblem,
    settings: AxialSettings | None = None,
    legs: Sequence[StepControl] | None = None,
    observers: Sequence[Observer] = (),
    progress: Progress | None = None,
    start: EquilibriumPoint | None = None,
) -> AxialHistory:
    """Pull the shank out of the ears, from first touch until something ends it.

    Parameters
    ----------
    problem : AxialProblem
    settings : AxialSettings, optional
    legs : sequence of StepControl, optional
        Path to trace; one pull without it.
    observers : sequence of Observer
        Further observers.
    progress : callable, optional
    start : EquilibriumPoint, optional
        Where to begin; at rest, behind any free play, without it.

    Returns
    -------
    AxialHistory
    """
    settings = settings or AxialSettings()
    case, system = problem.case, problem.system
    own: list[Observer] = []
    yields = None
    if case.metal.hardening is not None:
        yields = FirstYield(PIN, case.metal.hardening.first_yield)
        own.append(yields)
    ductility = None
    if case.fracture_strain is not None:
        average = Averaging.from_points(
            problem.pin.quadrature.points.reshape(-1, 2),
            problem.pin.volumes.reshape(-1),
            TORN_WIDTH * case.diameter,
            mirror=False,
        )
        ductility = Ductility(PIN, case.fracture_strain, average, " in the pin")
        own.append(ductility)
    requested = np.inf if settings.stop_travel is None else settings.stop_travel
    end = StepControl("travel", settings.longest_travel, stop=FOLLOWED)
    targets = (
        legs
        if legs is not None
        else [end if np.isinf(requested) else StepControl("travel", requested)]
    )
    path = Path([at_rest(system) if start is None else start])
    if start is None:
        start = _begun(problem, requested, targets[0])
        path.points += [] if start is None else [start]
    begun = 0.0 if start is None else start.travel
    own.append(
        StepLimit(
            lambda p: p.travel - begun, settings.close_until, settings.close_step * settings.pace
        )
    )
    if settings.stop_at_maximum:
        own.append(LoadMaximum(above=no_load(case)))
    if case.large_strain:
        own.append(Reached(problem.most_turned, MOST_TURNED, TURNED))
    if settings.stop_load is not None:
        own.append(Reached(lambda p: p.load, settings.stop_load))
    solver = LinearSolver(system.symmetric, settings.solver, weighted_matching=True)
    if begun == requested:
        path.stopped_because = REQUESTED
    else:
        steps = _steps(case, settings)
        for _ in continue_path(system, solver, targets, steps, [*own, *observers], path, progress):
            pass
    solver.close()
    return _history(problem, path, solver.statistics, yields, ductility)


def _begun(problem: AxialProblem, requested: float, first: StepControl) -> EquilibriumPoint | None:
    """Return where the path begins: behind the free play, but not behind what is requested."""
    if first.kind == "travel" and requested > SHORT_OF_IT * free_play(problem)[0]:
        return turned(problem, min(requested, first.value))
    return turned(problem, requested)


def release(
    history: AxialHistory,
    index: int,
    settings: AxialSettings | None = None,
    solver: LinearSolver | None = None,
) -> EquilibriumPoint | None:
    """Release the joint from one of its points; return the point of (almost) no load.

    Parameters
    ----------
    history : AxialHistory
    index : int
    settings : AxialSettings, optional
    solver : LinearSolver, optional
        One that has released this joint before; left open.

    Returns
    -------
    EquilibriumPoint or None
        At 1 % of the load, extrapolated to none; None where it could not be followed.
    """
    settings = settings or AxialSettings()
    problem = history.problem
    peak = history.path.points[index]
    if peak.load <= 0.0:
        return peak
    slope = np.max(history.load[1:] / np.maximum(history.extension[1:], 1e-300))
    steps = replace(_steps(problem.case, settings), first=0.5 * peak.load / slope)
    solver = solver or solver_of(history, settings)
    return let_go(problem.system, solver, peak, steps)


def solver_of(history: AxialHistory, settings: AxialSettings) -> LinearSolver:
    """Return a solver with which the joint may be released from many of its points."""
    symmetric = history.problem.system.symmetric
    return LinearSolver(
        symmetric, settings.solver, weighted_matching=True, statistics=history.statistics
    )


def no_load(case: AxialCase) -> float:
    """Load of a pin that still turns freely in its holes: nothing but rounding, N."""
    return 1e-6 * min(case.metal.modulus, STEEL) * case.diameter**2


def rounding(case: AxialCase) -> float:
    """Return the load up to which rounding alone may speak, N.

    Pins that turned freely showed at most 6e-7 of `no_load`.
    """
    return 1e-5 * no_load(case)


def _steps(case: AxialCase, settings: AxialSettings) -> StepSettings:
    d = case.diameter
    return StepSettings(
        first=5e-4 * d,
        longest=settings.longest * settings.pace,
        shortest=1e-8 * d,
        tolerance=1e-7,
        # below it rounding in the stiff pin that turns is larger than what is left to balance
        force_scale=max(no_load(case), 1e-7 * case.metal.modulus * d * d),
        growth=2.0,
        easy=6,
    )


def _history(
    problem: AxialProblem,
    path: Path,
    statistics: SolverStatistics,
    yields: FirstYield | None,
    ductility: Ductility | None,
) -> AxialHistory:
    points = path.points
    plates = range(len(problem.case.plates))
    shares = np.array([[problem.slice_forces(p, k).sum() for k in plates] for p in points])
    sections = [problem.section_forces(p) for p in points]
    damage = np.zeros(len(points))
    if ductility is not None:
        damage = np.array([ductility.average(ductility.damage(p)).max() for p in points])
    return AxialHistory(
        problem,
        path,
        np.array([p.load for p in points]),
        np.array([p.travel for p in points]),
        shares,
        np.array([np.abs(m).max() for _, _, m in sections]),
        np.array([np.abs(v).max() for _, v, _ in sections]),
        damage,
        yields.load_in(points) if yields is not None else None,
        statistics,
        ductility,
    )
