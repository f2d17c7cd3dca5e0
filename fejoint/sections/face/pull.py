"""The face section pulled: a plate on its pin, from first touch until something ends it."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.continuation import Observer, Path, at_rest, continue_path
from fejoint.kernel.elements import Solid
from fejoint.kernel.linear import LinearSolver, SolverStatistics
from fejoint.kernel.load_curve import OFFSET, OffsetPoint, offset_point
from fejoint.kernel.newton import EquilibriumPoint, Progress, StepControl, StepSettings
from fejoint.kernel.plasticity import Metal
from fejoint.kernel.stop_reason import Stop, StopReason
from fejoint.sections.damage import Averaging
from fejoint.sections.face.problem import (
    CONTACT,
    PIN,
    PLATE,
    SIDES,
    FaceCase,
    FaceProblem,
    FaceSettings,
    build,
)
from fejoint.sections.observers import (
    Ductility,
    FirstYield,
    LoadMaximum,
    Reached,
    ReloadStepLimit,
    StepLimit,
)

__all__ = [
    "CONTACT", "OFFSET", "PIN", "PLATE", "SIDES", "FaceCase", "FaceHistory", "FaceProblem",
    "FacePull", "FaceSettings", "build", "pull", "step_settings",
]  # fmt: skip

CLOSE = 0.004
"""Longest step up to the offset, over the hole's diameter."""
CLOSE_AGAIN = 0.002
"""The same on a path that turns: ten pulls then lose less than 1 % of the work between points."""
LONGEST_TRAVEL = 1.2
"""Pin travel over the hole's diameter at which a pull ends at the latest."""
FAR_ENOUGH = Stop(StopReason.FAR_ENOUGH, f"pin travel of {LONGEST_TRAVEL:g} hole diameters reached")
"""Why it ends there: nobody asked for it, but beyond it the mesh under the pin is worn out."""
_FAR_ENOUGH_FOR_JOINT = Stop(StopReason.FAR_ENOUGH, "pulled as far as its joint asked")
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
    statistics : SolverStatistics
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
    statistics: SolverStatistics
    ductility: Ductility | None = field(default=None, repr=False)

    @cached_property
    def offset(self) -> OffsetPoint | None:
        """The plate's own offset load, None where the pull ended before it."""
        return offset_point(self.load, self.elongation, OFFSET * self.problem.case.outline.hole)

    def point_at_load(self, load: float) -> int:
        """Index of the first point at or above a load (the last point if none)."""
        above = np.flatnonzero(self.load >= load)
        return int(above[0]) if len(above) else len(self.load) - 1


def pull(
    problem: FaceProblem,
    settings: FaceSettings | None = None,
    legs: Sequence[StepControl] | None = None,
    observers: Sequence[Observer] = (),
    progress: Progress | None = None,
) -> FaceHistory:
    """Pull a face section from first touch until something ends it.

    Parameters
    ----------
    problem : FaceProblem
    settings : FaceSettings, optional
    legs : sequence of StepControl, optional
        Path to trace (loads are those of the whole plate); one pull without it.
    observers : sequence of Observer
        Further observers.
    progress : callable, optional

    Returns
    -------
    FaceHistory
    """
    pulled = FacePull(problem, settings or FaceSettings(), legs, observers)
    while pulled.step(progress):
        pass
    return pulled.history()


class FacePull:
    """A face section that is pulled point by point, as far as is needed.

    Where one pauses changes no digit of any point.

    Parameters
    ----------
    problem : FaceProblem
    settings : FaceSettings
    legs : sequence of StepControl, optional
    observers : sequence of Observer

    Attributes
    ----------
    path : Path
    ended : bool
        Whether the pull has come to its end.
    solver : LinearSolver
        Knows the matrix's pattern; releases may use it too.
    seconds : float
        CPU time of all steps so far.
    """

    def __init__(
        self,
        problem: FaceProblem,
        settings: FaceSettings,
        legs: Sequence[StepControl] | None = None,
        observers: Sequence[Observer] = (),
    ) -> None:
        self.problem, self.settings = problem, settings
        self.ended, self.seconds = False, 0.0
        case, system, hole = problem.case, problem.system, problem.case.outline.hole
        # the pin's yield under the edge is noted, not searched: bending decides its first yield
        pin_yield = _first_yield(PIN, case.pin_metal, close=0.0)
        self._yields = (_first_yield(PLATE, case.metal), pin_yield)
        self._ductility = _ductility_observer(problem) if case.fracture_strain is not None else None
        own: list[Observer] = [w for w in (*self._yields, self._ductility) if w is not None]
        # the offset load leans on the curve up to the offset, so that part is traced closely
        close = CLOSE if legs is None else CLOSE_AGAIN
        own.append(
            StepLimit(problem.local_travel, 2.2 * OFFSET * hole, close * hole * settings.pace)
        )
        if legs is not None:
            own.append(ReloadStepLimit(CLOSE_AGAIN * hole * settings.pace))
        if settings.stop_at_maximum:
            # a pin that does not touch yet bears nothing but rounding
            own.append(LoadMaximum(above=1e-9 * case.metal.modulus * hole * case.thickness))
        if settings.stop_load is not None:
            own.append(Reached(lambda p: problem.share * p.load, settings.stop_load))
        end = StepControl("travel", LONGEST_TRAVEL * hole, stop=FAR_ENOUGH)
        if settings.stop_travel is not None:
            end = StepControl("travel", settings.stop_travel)
        targets = [end] if legs is None else _for_system(legs, problem.share)
        steps = replace(step_settings(case, settings), measure=problem.growth)
        self.solver = LinearSolver(system.symmetric, settings.solver)
        self._rows: list[tuple[float, ...]] = []
        self._progress: Progress | None = None
        self._raised: Exception | None = None
        self.path = Path([at_rest(system)])
        self._steps = continue_path(
            system, self.solver, targets, steps, [*own, *observers], self.path, self._tell
        )

    @property
    def load(self) -> float:
        """Load on the whole plate at the last point, N."""
        return self.problem.share * self.path.points[-1].load

    def step(self, progress: Progress | None = None) -> bool:
        """Go on by a point; return whether there is more to come.

        What `progress` raises ends the call once the point is whole: the pull may still go on, to
        the same digits. Any other error breaks it off for good, and its path then says so.
        """
        if self.ended:
            return False
        start = time.process_time()
        self._progress = progress
        try:
            next(self._steps)
        except StopIteration:
            self.ended = True
            self.pause()
        except BaseException:
            self.ended, self.path.stopped_because = True, Stop(StopReason.INTERRUPTED)
            raise
        finally:
            self._progress = None
            self.seconds += time.process_time() - start
        raised, self._raised = self._raised, None
        if raised is not None:
            raise raised
        return not self.ended

    def _tell(self, point: EquilibriumPoint | None, iteration: int, error: float) -> None:
        """Pass progress on to whoever takes the step; errors wait for the step's end."""
        if self._progress is None or self._raised is not None:
            return
        try:
            self._progress(point, iteration, error)
        except Exception as raised:
            self._raised = raised

    def pause(self) -> None:
        """Give the solver's memory back; one may still go on."""
        self.solver.close()

    def history(self, upto: int | None = None) -> FaceHistory:
        """Return what is known, or its first points alone."""
        path, known = self.path, len(self.path.points)
        if (upto is not None and upto < known) or not self.ended:
            # a copy: a path that goes on for another joint must not grow in this one's history
            known = min(known, upto or known)
            path = Path(path.points[:known], _FAR_ENOUGH_FOR_JOINT)
        for point in path.points[len(self._rows) :]:
            self._rows.append(self._row(point))
        load, travel, local, grown, damage = np.array(self._rows[:known]).T
        torn_at = np.full(2, np.nan)
        plate, problem = self.problem.system.terms[PLATE], self.problem
        if self._ductility is not None and isinstance(plate, Solid):
            used = self._ductility.average(self._ductility.damage(path.points[-1]))
            torn_at = plate.quadrature.points.reshape(-1, 2)[int(used.argmax())]
        plate_yield, pin_yield = (
            w.load_in(path.points, problem.share) if w else None for w in self._yields
        )
        return FaceHistory(
            problem,
            path,
            load,
            travel,
            local,
            grown,
            damage,
            torn_at,
            plate_yield,
            pin_yield,
            self.solver.statistics,
            self._ductility,
        )

    def _row(self, point: EquilibriumPoint) -> tuple[float, ...]:
        """Return a point's entries in a history's arrays, from load to damage."""
        used, problem = 0.0, self.problem
        if self._ductility is not None:
            used = float(self._ductility.average(self._ductility.damage(point)).max())
        places = (problem.local_travel(point), problem.elongation(point))
        return (problem.share * point.load, point.travel, *places, used)


def step_settings(case: FaceCase, settings: FaceSettings) -> StepSettings:
    """Return the steps of a face section: lengths follow the hole's diameter."""
    hole = case.outline.hole
    force = case.metal.modulus * hole * case.thickness
    return StepSettings(
        first=5e-4 * hole,
        longest=0.07 * hole * settings.pace,
        shortest=1e-7 * hole,
        force_scale=1e-7 * force,
        tolerance=1e-6,
        growth=1.6,
        easy=5,
    )


def _first_yield(term: int, metal: Metal | None, close: float = 0.95) -> FirstYield | None:
    if metal is None or metal.hardening is None:
        return None
    return FirstYield(term, metal.hardening.first_yield, close)


def _ductility_observer(problem: FaceProblem) -> Ductility:
    case = problem.case
    assert case.fracture_strain is not None
    plate = problem.system.terms[PLATE]
    assert isinstance(plate, Solid)
    average = Averaging.from_points(
        plate.quadrature.points.reshape(-1, 2),
        plate.volumes.reshape(-1),
        AVERAGED_THICKNESSES * case.thickness,
        problem.half,
        reach=1.5 * case.outline.hole + case.outline.slot,
    )
    return Ductility(PLATE, case.fracture_strain, average)


def _for_system(legs: Sequence[StepControl], share: float) -> list[StepControl]:
    return [StepControl(leg.kind, leg.value / share) if leg.kind == "load" else leg for leg in legs]
