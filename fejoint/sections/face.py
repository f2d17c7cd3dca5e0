"""The face section pulled: a plate on its pin, from first touch until something ends it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from fejoint.kernel.elements import Solid
from fejoint.kernel.linear import LinearSolver, Tally
from fejoint.kernel.newton import Progress, StepSettings, Target
from fejoint.kernel.plasticity import Metal
from fejoint.kernel.stepping import Path, Watcher, march
from fejoint.sections.ductility import Averaging
from fejoint.sections.face_model import (
    CONTACT,
    PIN,
    PLATE,
    SIDES,
    FaceCase,
    FaceProblem,
    FaceSettings,
    build,
)
from fejoint.sections.watchers import Again, Ductility, FirstYield, LoadMaximum, Pace, Reached

__all__ = [
    "CONTACT", "OFFSET", "PIN", "PLATE", "SIDES", "FaceCase", "FaceHistory", "FaceProblem",
    "FaceSettings", "Release", "build", "pull", "release", "step_settings",
]  # fmt: skip

Floats = NDArray[np.float64]

OFFSET = 0.02
"""Share of the hole's diameter that defines the offset load (ASTM E238)."""
CLOSE = 0.004
"""Longest step up to the offset, over the hole's diameter."""
CLOSE_AGAIN = 0.002
"""The same on a path that turns: ten pulls then lose less than 1 % of the work between points."""
LONGEST_TRAVEL = 1.2
"""Pin travel over the hole's diameter at which a pull ends at the latest."""
AVERAGED_THICKNESSES = 1.0
"""Diameter of the disc over which damage is averaged, in thicknesses of the sheet."""


@dataclass(eq=False)
class FaceHistory:
    """A pulled face section. Arrays have one entry a point, the first at rest.

    Attributes
    ----------
    problem : FaceProblem
    path : Path
    load : (n,) array
        On the whole plate, N.
    travel, local_travel, elongation : (n,) arrays
        Pin travel, the same local to the hole, and the hole's elongation, mm.
    damage : (n,) array
        Largest averaged damage.
    torn_at : (2,) array
        Reference position of the largest averaged damage at the end, mm.
    first_yield_plate, first_yield_pin : float or None
        Loads at first yield, N.
    tally : Tally
    """

    problem: FaceProblem
    path: Path
    load: Floats
    travel: Floats
    local_travel: Floats
    elongation: Floats
    damage: Floats
    torn_at: Floats
    first_yield_plate: float | None
    first_yield_pin: float | None
    tally: Tally
    ductility: Ductility | None = field(default=None, repr=False)

    def point_at_load(self, load: float) -> int:
        """Index of the first point at or above a load (the last point if none)."""
        above = np.flatnonzero(self.load >= load)
        return int(above[0]) if len(above) else len(self.load) - 1


def pull(
    problem: FaceProblem,
    settings: FaceSettings | None = None,
    legs: Sequence[Target] | None = None,
    watchers: Sequence[Watcher] = (),
    progress: Progress | None = None,
) -> FaceHistory:
    """Pull a face section from first touch until something ends it.

    Parameters
    ----------
    problem : FaceProblem
    settings : FaceSettings, optional
    legs : sequence of Target, optional
        Path to walk (loads are those of the whole plate); one pull without it.
    watchers : sequence of Watcher
        Further watchers.
    progress : callable, optional

    Returns
    -------
    FaceHistory
    """
    settings = settings or FaceSettings()
    case, system = problem.case, problem.system
    hole = case.outline.hole
    steps = replace(step_settings(case, settings), measure=problem.growth)
    plate_yield = _first_yield(PLATE, case.metal)
    # the pin's yield under the hole's edge is noted, not searched: bending decides its first yield
    pin_yield = _first_yield(PIN, case.pin_metal, close=0.0)
    ductility = _ductility_watcher(problem) if case.fracture_strain is not None else None
    own: list[Watcher] = [w for w in (plate_yield, pin_yield, ductility) if w is not None]
    # the offset load leans on the curve up to the offset, so that part is walked closely
    close = CLOSE if legs is None else CLOSE_AGAIN
    own.append(Pace(problem.local_travel, 2.2 * OFFSET * hole, close * hole * settings.pace))
    if legs is not None:
        own.append(Again(CLOSE_AGAIN * hole * settings.pace))
    if settings.stop_at_maximum:
        own.append(LoadMaximum())
    if settings.stop_load is not None:
        own.append(
            Reached(lambda p: problem.share * p.load, settings.stop_load, "asked stop reached")
        )
    solver = LinearSolver(system.symmetric, settings.solver)
    stop = settings.stop_travel if settings.stop_travel is not None else LONGEST_TRAVEL * hole
    targets = [Target("travel", stop)] if legs is None else _for_system(legs, problem.share)
    try:
        path = march(system, solver, targets, steps, [*own, *watchers], progress=progress)
    finally:
        solver.close()
    return _history(problem, path, solver.tally, plate_yield, pin_yield, ductility)


@dataclass(frozen=True, eq=False)
class Release:
    """A plate let go from a load. Arrays have one entry a point, from the peak down to no load.

    Attributes
    ----------
    load : (n,) array
        N; the last is 0, extrapolated along the last secant.
    local_travel, elongation : (n,) arrays
        mm.
    """

    load: Floats
    local_travel: Floats
    elongation: Floats

    @property
    def set(self) -> float:
        """Elongation of the hole that stays, mm."""
        return float(self.elongation[-1])


SMALL_LOAD = 0.02
"""Share of the peak at which a release stops: below it a pin with clearance is a free body."""


def release(
    history: FaceHistory, index: int, settings: FaceSettings | None = None
) -> Release | None:
    """Let the plate go from one of its points.

    Parameters
    ----------
    history : FaceHistory
    index : int
        Of the point.
    settings : FaceSettings, optional

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
        step_settings(problem.case, settings), first=0.2 * settings.pace * peak.load / slope
    )
    solver = LinearSolver(problem.system.symmetric, settings.solver, tally=history.tally)
    legs = [Target("load", SMALL_LOAD * peak.load)]
    try:
        path = march(problem.system, solver, legs, steps, start=peak)
    finally:
        solver.close()
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
    )


def step_settings(case: FaceCase, settings: FaceSettings) -> StepSettings:
    """Return the steps of a face section: lengths follow the hole's diameter."""
    hole = case.outline.hole
    force = case.metal.modulus * hole * case.thickness
    return StepSettings(
        first=5e-4 * hole,
        longest=0.1 * hole * settings.pace,
        shortest=1e-7 * hole,
        force_scale=1e-7 * force,
        tolerance=1e-6,
        growth=2.0,
        easy=6,
    )


def _first_yield(term: int, metal: Metal | None, close: float = 0.99) -> FirstYield | None:
    if metal is None or metal.hardening is None:
        return None
    return FirstYield(term, metal.hardening.first_yield, close)


def _ductility_watcher(problem: FaceProblem) -> Ductility:
    case = problem.case
    assert case.fracture_strain is not None
    plate = problem.system.terms[PLATE]
    assert isinstance(plate, Solid)
    average = Averaging.of(
        plate.quadrature.points.reshape(-1, 2),
        plate.volumes.reshape(-1),
        AVERAGED_THICKNESSES * case.thickness,
        problem.half,
        reach=1.5 * case.outline.hole + case.outline.slot,
    )
    return Ductility(PLATE, case.fracture_strain, average)


def _for_system(legs: Sequence[Target], share: float) -> list[Target]:
    return [Target(leg.kind, leg.value / share) if leg.kind == "load" else leg for leg in legs]


def _history(
    problem: FaceProblem,
    path: Path,
    tally: Tally,
    plate_yield: FirstYield | None,
    pin_yield: FirstYield | None,
    ductility: Ductility | None,
) -> FaceHistory:
    points = path.points
    load = np.array([problem.share * p.load for p in points])
    damage, torn_at = np.zeros(len(points)), np.full(2, np.nan)
    if ductility is not None:
        damage = np.array([ductility.average(ductility.damage(p)).max() for p in points])
        plate = problem.system.terms[PLATE]
        assert isinstance(plate, Solid)
        worst = int(ductility.average(ductility.damage(points[-1])).argmax())
        torn_at = plate.quadrature.points.reshape(-1, 2)[worst]
    return FaceHistory(
        problem,
        path,
        load,
        np.array([p.travel for p in points]),
        np.array([problem.local_travel(p) for p in points]),
        np.array([problem.elongation(p) for p in points]),
        damage,
        torn_at,
        plate_yield.load_in(points, problem.share) if plate_yield else None,
        pin_yield.load_in(points, problem.share) if pin_yield else None,
        tally,
        ductility,
    )
