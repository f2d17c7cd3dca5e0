"""Face sections pulled once and looked at by many tests: the case of the plan's prototype."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from fejoint.kernel.continuation import EquilibriumPoint, Observer, StepControl
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.load_curve import offset_point
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.gmsh_mesher import EarOutline
from fejoint.sections.face.pull import (
    OFFSET,
    PIN,
    PLATE,
    FaceCase,
    FaceHistory,
    FaceSettings,
    build,
    pull,
)

EAR = Metal(193e3, 0.3, Hardening.swift(290.0, 0.02235, 0.394))
HARD = Metal(200e3, 0.3, Hardening.linear(1600.0))
OUTLINE = EarOutline(12.0, 4.1, 7.0, 25.0)
RM = 620.0

CASE = FaceCase(OUTLINE, 2.0, EAR, 4.0, HARD)
RIGID = replace(CASE, pin_metal=None)


@lru_cache
def pulled(case: FaceCase = CASE, stop: float | None = 0.3, **settings) -> FaceHistory:
    """Pull a case to a travel, mm."""
    how = FaceSettings(stop_travel=stop, **settings)
    return pull(build(case, how), how)


def offset_load(history: FaceHistory) -> float:
    found = offset_point(history.load, history.elongation, OFFSET * OUTLINE.hole)
    assert found is not None
    return found.load


class ShortSteps(Observer):
    """Bounds every step of a trace_path, unloading too."""

    def __init__(self, step: float) -> None:
        self.step = step

    def longest_step(self, last: EquilibriumPoint) -> float:
        return self.step


@lru_cache
def up_and_down(
    case: FaceCase, *legs: tuple[str, float], step: float = 0.01, sides: int = 48
) -> FaceHistory:
    """Walk legs such as ("travel", 0.3), ("load", 100.0) with bounded steps."""
    how = FaceSettings(sides=sides, stop_at_maximum=False)
    targets = [StepControl(kind, value) for kind, value in legs]
    return pull(build(case, how), how, targets, [ShortSteps(step)])


def plastic_work(history: FaceHistory, point: EquilibriumPoint) -> float:
    """Work that the metals have swallowed, of the whole plate and pin, N mm."""
    problem, total = history.problem, 0.0
    metals = [(PLATE, problem.case.metal), (PIN, problem.case.pin_metal)]
    for term, metal in metals:
        if metal is None or metal.hardening is None:
            continue
        body = problem.system.terms[term]
        work = metal.hardening.plastic_work(point.states[term].equivalent)
        total += float(work @ body.volumes.reshape(-1))
    return problem.share * total


def energy_miss(history: FaceHistory) -> float:
    """What the energy balance of a path leaves open, over the work put in."""
    load, travel = history.load, history.travel
    trapezoids = 0.5 * (load[1:] + load[:-1]) * np.diff(travel)
    end, share = history.path.points[-1], history.problem.share
    left = trapezoids.sum() - share * (end.stored + end.lost) - plastic_work(history, end)
    return abs(left) / np.abs(trapezoids).sum()
