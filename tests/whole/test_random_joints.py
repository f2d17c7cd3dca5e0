"""Random valid joints: what every answer must hold, whatever was drawn."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Any, NoReturn

import numpy as np
import pytest
from support import DEMO, random_joints

import fejoint
from fejoint.analysis.definitions import NOTHING_GAVE
from fejoint.analysis.result import Answer
from fejoint.kernel.newton import EquilibriumPoint, StepControl
from fejoint.kernel.stop_reason import StopReason
from fejoint.sections.axial import pull as axial
from fejoint.sections.axial.pull import AxialHistory
from fejoint.sections.face import pull as face
from fejoint.sections.face.pull import FaceHistory, FacePull
from fejoint.sections.observers import LoadMaximum, StepLimit

SEED = 4
FULL = 500
ENDS = (
    "load maximum passed by 2 %", "ductility exhausted", "asked stop reached", str(face.FAR_ENOUGH),
    str(axial.FOLLOWED), str(axial.TURNED),
)  # fmt: skip
REASON = re.compile(
    rf"(the (ear|shank)( \d)?'s face section ended: )?({'|'.join(ENDS)})( in the pin)?"
)
UNACCOUNTED = 1e-2
"""Energy that a path may leave open, over the work that went to and fro."""
TOP_BETWEEN_POINTS = 1.02
"""A maximum read off a parabola lies a little above the highest point of the curve."""


class Walks:
    """Keeps every pull of a face section, with what is needed to walk it again."""

    def __init__(self, begin: Callable[..., None]) -> None:
        self.begin = begin
        self.all: list[tuple[FacePull, Sequence[StepControl] | None]] = []

    def histories(self) -> list[FaceHistory]:
        """Return how far each has come."""
        return [pull.history() for pull, _ in self.all]

    def again(self, which: int, parts: int) -> FaceHistory:
        """Walk one of them in so many steps to its furthest point."""
        pull, legs = self.all[which]
        far = max(point.travel for point in pull.path.points)
        least = 1e-6 * max(point.load for point in pull.path.points)
        how = replace(pull.settings, stop_travel=far, stop_at_maximum=False)
        maximum = [LoadMaximum(above=least)] if legs is not None else []
        short = StepLimit(lambda p: 0.0, 1.0, far / parts)
        return face.pull(pull.problem, how, legs, [*maximum, short])


@pytest.fixture
def walks(monkeypatch) -> Walks:
    kept = Walks(FacePull.__init__)

    def begin(pull, problem, settings, legs=None, observers=()):
        kept.begin(pull, problem, settings, legs, observers)
        kept.all.append((pull, legs))

    monkeypatch.setattr(FacePull, "__init__", begin)
    return kept


def to_and_fro(load, travel) -> float:
    """Work that went in and out again, N mm."""
    return float(np.abs(0.5 * (load[1:] + load[:-1]) * np.diff(travel)).sum())


def nothing(diameter: float) -> float:
    """Return a load, N, that is nothing but rounding for a pin of a diameter (mm)."""
    return 1e-3 * diameter**2


def plastic_work(problem, point: EquilibriumPoint) -> float:
    total = 0.0
    for term, state in zip(problem.system.terms, point.states, strict=True):
        hardening = getattr(getattr(term, "metal", None), "hardening", None)
        if hardening is not None:
            total += float(hardening.plastic_work(state.equivalent) @ term.volumes.reshape(-1))
    return total


def face_miss(history: FaceHistory) -> float:
    """Energy that the walk of a face section leaves open, over the work to and fro.

    Counted from the first equilibrium on: a hole as wide as its pin, coarsely meshed, lies a little
    inside the pin at rest.
    """
    points, problem = history.path.points[1:], history.problem
    load, travel = (np.array([getattr(p, name) for p in points]) for name in ("load", "travel"))
    through = to_and_fro(load, travel)
    if len(points) < 2 or np.abs(load).max() <= nothing(problem.case.pin_diameter):
        return 0.0
    begin, end = (p.stored + p.lost + plastic_work(problem, p) for p in (points[0], points[-1]))
    return abs(float(np.trapezoid(load, travel)) - (end - begin)) / through


def axial_miss(history: AxialHistory) -> float:
    """Energy that the path of the axial section leaves open, its plates' share by their slices."""
    problem, points = history.problem, history.path.points
    if np.abs(history.load).max() <= nothing(problem.case.diameter):
        return 0.0
    bedded = 0.0
    for k in range(len(problem.case.plates)):
        travel = np.array([problem.slice_travels(p, k) for p in points])
        force = np.array([problem.slice_forces(p, k) for p in points])
        bedded += float(np.trapezoid(force, travel, axis=0).sum())
    kept = bedded + points[-1].stored + plastic_work(problem, points[-1])
    work = float(np.trapezoid(history.load, history.extension))
    return abs(work - kept) / to_and_fro(history.load, history.extension)


def unfinished(answer: Answer) -> Iterator[str]:
    trust = answer.trust
    if not (trust.finished and REASON.fullmatch(str(trust.stopped_because))):
        yield f"ended because {trust.stopped_because}"
    if not trust.equilibrium <= 1e-6:
        yield f"out of balance by {trust.equilibrium:.1e}"


def unaccounted(answer: Answer, walks: Walks) -> Iterator[str]:
    """Find energy that is lost for good: what the trapezoids miss goes with the step."""
    for k, history in enumerate(walks.histories()):
        miss = face_miss(history)
        for parts in (64, 256):
            if miss <= UNACCOUNTED:
                break
            finer = face_miss(walks.again(k, parts))
            if finer > max(0.6 * miss, UNACCOUNTED):
                yield f"walk {k}: energy {miss:.2%} open, and {finer:.2%} in {parts} steps"
            miss = finer
        if miss > UNACCOUNTED:
            yield f"walk {k}: energy {miss:.2%} open"
    if axial_miss(answer.axial) > UNACCOUNTED:
        finer = fejoint.pull(answer.joint, refine=0.35, pace=0.25)
        if (miss := axial_miss(finer.axial)) > UNACCOUNTED:
            yield f"axial section: energy {miss:.2%} open at a quarter of the pace"


def healed(answer: Answer, walks: Walks) -> Iterator[str]:
    """Find damage that falls at any place of any section."""
    histories = [answer.axial, *walks.histories()]
    for k, history in enumerate(histories):
        if history is None or history.ductility is None:
            continue
        damage = np.array([history.ductility.damage(p) for p in history.path.points])
        if np.any(np.diff(damage, axis=0) < 0.0) or np.any(np.diff(history.damage) < 0.0):
            yield f"section {k}: damage falls"
        if history.damage[0] != 0.0 or not np.all(np.isfinite(damage)):
            yield f"section {k}: damage does not begin at 0 or is not finite"


def disordered(answer: Answer) -> Iterator[str]:
    """Find events and limits that cannot be where they are said to be."""
    top = TOP_BETWEEN_POINTS * float(answer.trace.load.max())
    first, offset = (answer.event(name).load for name in ("first yield ear", "offset load"))
    if offset is not None and not (
        first is not None and first <= offset <= answer.trace.load.max()
    ):
        yield f"first yield {first}, offset load {offset}, curve's top {top}"
    least = nothing(answer.joint.pin.diameter)
    if answer.trace.load.min() < -least:
        yield f"pushed back by {answer.trace.load.min():.3g} N"
    told = [part.first for part in answer.verdict.order]
    told += [limit for part in answer.verdict.order for limit in part.later]
    for limit in told:
        if limit.load < least and limit.cause != NOTHING_GAVE:
            yield f"{limit.mode}, {limit.cause}, at no load"
    for event in answer.events:
        if (event.load is None) != bool(event.reason):
            yield f"{event.name}: load {event.load} with reason {event.reason!r}"
        if event.load is not None and not 0.0 <= event.load <= top:
            yield f"{event.name} at {event.load:.6g} N, beyond the curve's top {top:.6g} N"
    loads = [part.first.load for part in answer.verdict.order]
    if not 0.0 <= loads[0] <= top:
        yield f"limits {loads}"
    yield from answer.trust.broken


def infinite(answer: Answer) -> Iterator[str]:
    """Find numbers that are none; only a band's upper end may lie beyond every load."""

    def walk(value: Any, where: str) -> Iterator[str]:
        if isinstance(value, dict):
            for key, inner in value.items():
                yield from walk(inner, f"{where}.{key}")
        elif isinstance(value, list | tuple):
            for k, inner in enumerate(value):
                yield from walk(inner, f"{where}[{k}]")
        elif isinstance(value, float | np.floating) and not math.isfinite(value):
            if not (where.endswith("band_N[1]") and value == math.inf):
                yield f"{where} is {value}"

    yield from walk(answer.to_dict(), "answer")


def changed_by_json(answer: Answer) -> Iterator[str]:
    def refuse(constant: str) -> NoReturn:
        raise ValueError(constant)

    text = answer.to_json()
    table = json.loads(text, parse_constant=refuse)
    if json.dumps(table, indent=1, ensure_ascii=False) != text:
        yield "the answer's JSON does not come back as it was"
    if fejoint.load(table["case"]).to_dict() != answer.joint.to_dict():
        yield "the answer's case is another joint"


def judged(number: int, walks: Walks) -> tuple[Answer, list[str]]:
    """Pull the drawn joint of a number; return the answer and all that is wrong with it."""
    joint = random_joints.draw(np.random.default_rng([SEED, number]))
    walks.all.clear()
    answer = fejoint.pull(joint, refine=0.35)
    seen = {id(pull.problem) for pull, _ in walks.all}
    assert {id(history.problem) for history in answer.faces.values()} <= seen
    faults = [
        *unfinished(answer),
        *unaccounted(answer, walks),
        *healed(answer, walks),
        *disordered(answer),
        *infinite(answer),
        *changed_by_json(answer),
    ]
    return answer, faults


@pytest.mark.sampled
@pytest.mark.slow
def test_random_joints_hold_what_every_answer_must(walks, draws, tally):
    ends, failed, full = Counter(), [], draws(FULL)
    count = full if full == FULL else full // 3
    for number in range(count):
        answer, faults = judged(number, walks)
        if faults:
            failed.append((number, faults))
        else:
            ends[REASON.fullmatch(str(answer.trust.stopped_because))[4]] += 1
    said = ", ".join(f"{n} {end}" for end, n in ends.most_common())
    tally(
        f"{count - len(failed)} of {count} random joints are in equilibrium, account for their "
        f"energy, never heal, yield before their offset load and are finite ({said})"
    )
    assert failed == []


@pytest.mark.parametrize(
    "number",
    [
        22,
        24,
        51,
        180,
    ],
)
def test_joint_that_once_failed_holds_what_every_answer_must(number, walks):
    assert judged(number, walks)[1] == []


def test_path_ends_at_the_asked_displacement():
    case = dict(fejoint.load(DEMO).case)
    legs = [{"displacement": 0.05}, {"release": True}]
    case["pull"] = {"leg": legs, "stop_displacement": 0.3}
    answer = fejoint.pull(fejoint.load(case), refine=0.35)
    assert answer.trust.stopped_because.reason is StopReason.REQUESTED
    assert answer.trace.extension[-1] == pytest.approx(0.3, rel=1e-3)


def test_drawn_joints_span_what_is_allowed():
    joints = [random_joints.draw(np.random.default_rng([SEED, k])) for k in range(100)]
    ears = [ear for joint in joints for ear in joint.ears]
    metals = [metal for joint in joints for metal in joint.to_dict()["material"].values()]
    assert {ear.end for ear in ears} == {"round", "square", "clipped"}
    assert {len(joint.ears) for joint in joints} == {1, 2}
    assert {joint.pin.rigid for joint in joints} == {True, False}
    assert {joint.pull.ductility for joint in joints} == {True, False}
    assert {joint.pull.large_strain for joint in joints} == {True, False}
    # a certificate's law becomes a tensile one
    laws = set(fejoint.materials.hardening_laws.LAWS) - {"certificate"}
    assert {metal["law"] for metal in metals} == laws
    assert any(ear.hole_slot for ear in ears)
    assert any(ear.hole_offset for ear in ears)
    assert any(ear.flare_depth for ear in ears)
    assert any(joint.pull.legs for joint in joints)
    assert any(joint.pull.stop_load for joint in joints)
    assert any(len(set(joint.gaps)) == 2 for joint in joints)
    assert any(metal.get("hardness_hv") for metal in metals)
    assert min(joint.pull.angle for joint in joints) < -90.0
    assert max(joint.pull.angle for joint in joints) > 90.0
    assert max(joint.friction for joint in joints) > 0.6
