"""The solid ear pulled, from first touch until it has lost some load or the pin has gone far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel import load_curve
from fejoint.kernel.continuation import Observer, Path, trace_path
from fejoint.kernel.linear import LinearSolver, SolverStatistics
from fejoint.kernel.newton import Progress, StepControl, StepSettings
from fejoint.sections.damage import Averaging
from fejoint.sections.face.pull import (
    AVERAGED_THICKNESSES,
    CLOSE,
    LONGEST_TRAVEL,
)
from fejoint.sections.observers import Ductility, FirstYield, LoadMaximum, StepLimit
from fejoint.sections.solid.problem import (
    BODY,
    SolidCase,
    SolidProblem,
    SolidSettings,
    Support,
    build,
)

__all__ = [
    "SolidCase", "SolidHistory", "SolidProblem", "SolidSettings", "Support", "build", "pull",
]  # fmt: skip

LEAVES = 0.1
"""Way of the tip out of its plane, over the thickness, at which an end counts as bent away."""


@dataclass(eq=False)
class SolidHistory:
    """A pulled solid ear. Arrays have one entry a point, the first at rest.

    Attributes
    ----------
    problem : SolidProblem
    path : Path
    load : (n,) array
        On the whole ear, N.
    travel, elongation : (n,) arrays
        Of the pin, and of the hole (mean over the thickness), mm.
    deflection, stroke : (n,) arrays
        Way of the tip across the plane (positive away from the shank), and the greatest of any
        node, mm.
    first_yield : float or None
        Load on the whole ear, N.
    statistics : SolverStatistics
    """

    problem: SolidProblem
    path: Path
    load: Floats
    travel: Floats
    elongation: Floats
    deflection: Floats
    stroke: Floats
    first_yield: float | None
    statistics: SolverStatistics = field(repr=False)

    @cached_property
    def offset(self) -> load_curve.OffsetPoint | None:
        """Offset load, None where the pull ended before it."""
        return load_curve.offset_point(
            self.load, self.elongation, load_curve.OFFSET * self.problem.case.outline.hole
        )

    @cached_property
    def greatest(self) -> float:
        """Greatest load, N; of a pull that still rose, its last."""
        found = load_curve.maximum(self.load, np.arange(len(self.load)).astype(float))
        return float(self.load.max()) if found is None else found[0]

    @property
    def fell(self) -> bool:
        """Whether the load had passed its maximum."""
        return bool(self.load[-1] < self.load.max())

    @cached_property
    def leaves(self) -> float | None:
        """Load at which the tip is LEAVES thicknesses out of its plane, N; None if it never is."""
        level = LEAVES * self.problem.case.thickness
        index = load_curve.first_reach(np.abs(self.deflection), level)
        return None if index is None else load_curve.at_index(self.load, index)


def pull(
    problem: SolidProblem,
    settings: SolidSettings | None = None,
    observers: Sequence[Observer] = (),
    progress: Progress | None = None,
) -> SolidHistory:
    """Pull a solid ear.

    Parameters
    ----------
    problem : SolidProblem
    settings : SolidSettings, optional
    observers : sequence of Observer
        Further observers.
    progress : callable, optional

    Returns
    -------
    SolidHistory
        All that was found, also where the user stopped it or no equilibrium lies further on: the
        path says which.
    """
    settings = settings or SolidSettings()
    case, hole = problem.case, problem.case.outline.hole
    own: list[Observer] = []
    yields = None
    if case.metal.hardening is not None:
        # noted, not searched: it is a number of the mesh's scale
        yields = FirstYield(BODY, case.metal.hardening.first_yield, close=0.0)
        own.append(yields)
    if case.fracture_strain is not None:
        own.append(_ductility(problem, case.fracture_strain))
    close = 1.5 * CLOSE * hole * settings.pace
    own.append(StepLimit(problem.elongation, 1.6 * load_curve.OFFSET * hole, close))
    own.append(LoadMaximum(settings.fall, above=1e-9 * case.metal.modulus * hole * case.thickness))
    stop = settings.stop_travel
    end = LONGEST_TRAVEL * hole if stop is None else stop
    steps = StepSettings(
        first=5e-4 * hole,
        longest=0.05 * hole * settings.pace,
        shortest=1e-6 * hole,
        force_scale=1e-7 * case.metal.modulus * hole * case.thickness,
        tolerance=1e-5,
        easy=6,
        measure=problem.growth,
    )
    solver = LinearSolver(problem.system.symmetric, settings.solver)
    try:
        path = trace_path(
            problem.system,
            solver,
            [StepControl("travel", end)],
            steps,
            [*own, *observers],
            progress=progress,
        )
    finally:
        solver.close()
    points = path.points
    return SolidHistory(
        problem,
        path,
        problem.share * np.array([p.load for p in points]),
        np.array([p.travel for p in points]),
        np.array([problem.elongation(p) for p in points]),
        np.array([problem.deflection(p) for p in points]),
        np.array([problem.stroke(p) for p in points]),
        None if yields is None else yields.load_in(points, problem.share),
        solver.statistics,
    )


def _ductility(problem: SolidProblem, fracture_strain: float) -> Ductility:
    """Follow damage, averaged over a disc as wide as the ear is thick, through the thickness."""
    case, body = problem.case, problem.body
    average = Averaging.from_points(
        body.places[:, :2],
        body.volumes.reshape(-1),
        AVERAGED_THICKNESSES * case.thickness,
        problem.case.angle % 180.0 == 0.0,
        reach=1.5 * case.outline.hole,
    )
    return Ductility(BODY, fracture_strain, average)


def with_sign(case: SolidCase, sign: float) -> SolidCase:
    """Return the case with its crookedness to one side: away from the shank (1) or to it (-1)."""
    size = sign * abs(case.crooked.size)
    return replace(case, crooked=replace(case.crooked, size=size))
