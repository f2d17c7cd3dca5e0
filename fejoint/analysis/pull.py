"""Pulling a joint: solve its sections, read them, and reach a verdict."""

from __future__ import annotations

from collections.abc import Callable, Iterator, MutableMapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, replace

import numpy as np

from fejoint.analysis import audit, load_path, notes
from fejoint.analysis.cost import Clock, versions
from fejoint.analysis.definitions import end_words
from fejoint.analysis.interrupted import Interrupted, partial_answer
from fejoint.analysis.joint_odds import surer
from fejoint.analysis.leg_answer import LegAnswer
from fejoint.analysis.limit_loads import JointReading
from fejoint.analysis.memory import refuse_too_large
from fejoint.analysis.plate_curve import plate_curves
from fejoint.analysis.progress import Progress, Told, Watch, watched
from fejoint.analysis.result import Answer, Cost, LimitLoad, nothing_gave
from fejoint.analysis.section_cases import (
    PlateInJoint,
    PullSettings,
    along_the_pin,
    axial_case,
    by_name,
    face_case,
    growing_laws,
    names_along,
)
from fejoint.analysis.trace import Trace
from fejoint.analysis.trust import trust_in
from fejoint.analysis.verdict import beside_handbook, verdict
from fejoint.handbook import limit_loads
from fejoint.joint.model import CaseLike, Joint, load
from fejoint.joint.parts import Ear, Shank
from fejoint.kernel.continuation import EquilibriumPoint, Observer
from fejoint.sections.axial import pull as axial
from fejoint.sections.axial.case import AxialCase
from fejoint.sections.axial.problem import AxialProblem
from fejoint.sections.axial.pull import AxialHistory
from fejoint.sections.face import pull as face
from fejoint.sections.face.plate_response import BearingLawGrowth, SolvedPlate
from fejoint.sections.face.pull import FaceCase, FaceHistory, FaceSettings

Shared = MutableMapping[tuple[FaceCase, FaceSettings], PlateInJoint]
"""Solved plates that several joints may share: a face section knows nothing of its joint."""


def pull(
    joint: CaseLike,
    *,
    refine: float = 1.0,
    pace: float = 1.0,
    solver: str = "fastest",
    progress: Progress | None = None,
    watch: Watch | None = None,
    shared: Shared | None = None,
    band: bool = False,
) -> Answer:
    """Pull a joint until something gives, and say what, where and at what load.

    Parameters
    ----------
    joint : Joint, path or mapping
        The joint, its case file, or the tables of one.
    refine : float
        Mesh refinement; 2 halves the elements.
    pace : float
        Factor on the longest steps.
    solver : {"fastest", "pardiso", "superlu"}
    progress : callable, optional
        Called with the phase in words, the share of the whole that is done (0 to 1, never falling;
        an estimate) and the pull that the joint has reached (N, or None).
    watch : callable, optional
        Called on every iteration with the section's name, its last equilibrium, the iteration and
        its residual; what it raises ends the pull.
    shared : mapping, optional
        Face sections already solved, by case and settings; takes those solved here.
    band : bool
        Say how sure it is, too: a band for every limit, and the odds; a third more time.

    Returns
    -------
    Answer
        Also where the solve could not go on: `trust.finished` is then False, and
        `trust.stopped_because` says where and why.

    Raises
    ------
    BadInput
        If the joint, or a setting, cannot be used; nothing is solved then.

    Examples
    --------
    >>> answer = pull("cases/demo/hard-pin.toml")
    >>> answer.verdict.first.member, round(answer.verdict.first.load, -1)
    ('both ears', 8190.0)
    """
    joint = load(joint)
    settings = PullSettings(refine, pace, solver)
    watch = watching(joint, settings, progress, watch)
    clock = Clock()
    done: list[FaceHistory] = []
    try:
        members = solve_members(joint, settings, clock, watch, done, shared)
    except Interrupted:
        return partial_answer(joint, done, _cost_of(done, clock), versions())
    with clock.phase("axial section"), _plates_apart(clock, members):
        history = pull_axial(joint, members, settings, watch)
    with clock.phase("reading"):
        own = settings.axial(joint)
        reading = JointReading(joint, members, load_path.first_pull(history), own)
        found = limit_loads.limits(joint)
        limits = reading.limits() or [_reached_only(history)]
        ended = end_words(reading.stop)
        ears = len(joint.ears)
        beside = (
            beside_handbook(x, found, ears=ears, even=reading.bears_evenly(x)) for x in limits
        )
        told = verdict(beside, ended)
        pin = reading.pin(told.first.load)
        events = tuple(reading.events())
        ear = reading.weaker_ear
        path = JointReading(joint, members, history, own)
        trace = Trace(history.load, history.extension, path.elongation(ear))
    legs: tuple[LegAnswer, ...] = ()
    if joint.pull.legs:
        with clock.phase("path"):
            legs = load_path.walked(joint, path, ear, settings.ear(joint))
    faces = dict(by_name(names_along(joint), members))
    answer = audit.audited(
        Answer(
            joint,
            told,
            events,
            trace,
            pin,
            trust_in(members, ear, history, reading.stop),
            _cost(members, history, clock),
            tuple(notes.told(joint, reading, trace)),
            versions(),
            faces,
            history,
            legs,
            {"refine": refine, "pace": pace},
            ductility=reading.ductility(),
            by_hand=tuple(asdict(line) for line in found),
            weaker_ear=next(n for n, h in faces.items() if h is members[ear].history),
            plates=plate_curves(path, faces, ear),
        )
    )
    answer = surer(answer) if band else answer
    if progress is not None:
        progress("done", 1.0, told.first.load)
    return answer


def watching(
    joint: Joint, settings: PullSettings, progress: Progress | None, watch: Watch | None = None
) -> Watch | None:
    """Return what makes phases and shares of a pull's iterations; see `watched`."""
    if progress is None:
        return watch
    ears = len({face_case(joint, ear, settings) for ear in joint.ears})
    end = min(pin_bound(joint), ears_bound(joint))
    return watched([*ears * ["ear"], "shank", "pin"], end, Told(progress), watch)


@contextmanager
def _plates_apart(clock: Clock, members: Sequence[PlateInJoint]) -> Iterator[None]:
    """Count what the plates are pulled on by as their own time, not as the axial section's."""
    plates = {id(m.plate): m for m in members}.values()
    before = [m.plate.seconds for m in plates]
    yield
    for member, seconds in zip(plates, before, strict=True):
        name = "shank" if isinstance(member.part, Shank) else "ear"
        clock.move(member.plate.seconds - seconds, "axial section", f"face section, {name}")


def solve_members(
    joint: Joint,
    settings: PullSettings,
    clock: Clock | None = None,
    progress: Watch | None = None,
    done: list[FaceHistory] | None = None,
    shared: Shared | None = None,
) -> list[PlateInJoint]:
    """Solve the face sections of ears and shank, equal ones once.

    Parameters
    ----------
    joint : Joint
    settings : PullSettings
    clock : Clock, optional
    progress : callable, optional
    done : list, optional
        Takes the face sections as they end, so that an interruption keeps them.
    shared : mapping, optional
        As in `pull`.

    Returns
    -------
    list of PlateInJoint
        Along the pin.

    Raises
    ------
    BadInput
        If the meshes would not fit in memory; nothing is meshed then.
    Interrupted
        If the user stopped a face section.
    """
    refuse_too_large(joint, settings)
    clock, done = clock or Clock(), done if done is not None else []
    solved: dict[FaceCase, PlateInJoint] = {}

    def member(part: Ear | Shank, case: FaceCase) -> PlateInJoint:
        own = plate_settings(joint, part, settings)
        return _member(part, case, own, clock, progress, done, shared)

    for ear in joint.ears:
        case = face_case(joint, ear, settings)
        if case not in solved:
            solved[case] = member(ear, case)
    shank = member(joint.shank, face_case(joint, joint.shank, settings))
    return [
        shank if isinstance(part, Shank) else solved[face_case(joint, part, settings)]
        for part in along_the_pin(joint)
    ]


def plate_settings(joint: Joint, part: Ear | Shank, settings: PullSettings) -> FaceSettings:
    """Return the settings of a part's face section; its load bounds the first stretch of its pull.

    No plate needs to be pulled further than what pin and ears can carry asks for.
    """
    most = pin_bound(joint)
    if isinstance(part, Shank):
        return settings.shank(min(ears_bound(joint), 1.25 * most))
    return settings.ear(joint, most)


def ears_bound(joint: Joint) -> float:
    """Return a load that the ears can hardly carry, N: 1.2 times their net sections' strength."""
    return 1.2 * sum(e.thickness * (e.width - e.hole) * e.material.rm for e in joint.ears)


def pin_bound(joint: Joint) -> float:
    """Return a load that the pin cannot carry, N: the plates need not be pulled further.

    Every shear plane at 0.8 of the tensile strength, well above the 0.6 at which pins shear.
    """
    if joint.pin.rigid:
        return float(np.inf)
    area = np.pi * joint.pin.diameter**2 / 4.0
    return float(len(joint.ears) * area * 0.8 * joint.pin.material.rm)


def _member(
    part: Ear | Shank,
    case: FaceCase,
    settings: FaceSettings,
    clock: Clock,
    progress: Watch | None,
    done: list[FaceHistory],
    shared: Shared | None,
) -> PlateInJoint:
    name = _kind(part)
    known = shared.get((case, settings)) if shared is not None else None
    if known is not None:
        done.append(known.plate.first)
        return PlateInJoint(part, known.plate)
    with clock.phase("mesh"):
        problem = face.build(case, settings)
    # what the joint asks for decides how far it is pulled; load and travel bound the first stretch
    # only: an ear that bends aside is far behind its hole where the joint has hardly moved
    on_demand = replace(settings, stop_load=None, stop_travel=None)
    load, travel = (np.inf if x is None else x for x in (settings.stop_load, settings.stop_travel))
    pull = face.FacePull(problem, on_demand)
    try:
        with clock.phase(f"face section, {name}"):
            plate = SolvedPlate.from_pull(pull, load, travel, _named(progress, name))
    except KeyboardInterrupt:
        done.append(pull.history())
        raise Interrupted from None
    done.append(plate.first)
    member = PlateInJoint(part, plate)
    if shared is not None:
        shared[case, settings] = member
    return member


def _kind(part: Ear | Shank) -> str:
    return "shank" if isinstance(part, Shank) else "ear"


def _named(
    progress: Watch | None, name: str
) -> Callable[[EquilibriumPoint | None, int, float], None] | None:
    if progress is None:
        return None
    return lambda point, iteration, error: progress(name, point, iteration, error)


def pull_axial(
    joint: Joint,
    members: Sequence[PlateInJoint],
    settings: PullSettings,
    progress: Watch | None = None,
    case: AxialCase | None = None,
    start: Callable[[AxialProblem], EquilibriumPoint] | None = None,
) -> AxialHistory:
    """Solve the axial section of a joint whose plates are solved; they go on as it asks.

    Parameters
    ----------
    joint : Joint
    members : sequence of PlateInJoint
    settings : PullSettings
    progress : callable, optional
    case : AxialCase, optional
        That of the joint without it.
    start : callable, optional
        Gives the point to begin at; at rest without it.

    Returns
    -------
    AxialHistory
    """
    own = settings.axial(joint)
    laws = growing_laws(members, lambda part: _named(progress, _kind(part)))
    problem = axial.build(case or axial_case(joint, members), own, laws)
    places = enumerate(names_along(joint))
    ends = [BearingLawGrowth(problem, k, name) for k, name in places]
    observers: list[Observer] = [*ends]
    legs = None
    if joint.pull.legs:
        hole = joint.ears[0].hole
        legs = load_path.targets(joint, 2.0 * hole)
        observers += load_path.observers(joint, hole, own.pace)
    begin = None if start is None else start(problem)
    history = axial.pull(problem, own, legs, observers, _named(progress, "pin"), begin)
    for member, end in zip(members, ends, strict=True):
        member.points = max(member.points, end.law.points)
        member.plate.pause()
    return history


def _reached_only(history: AxialHistory) -> LimitLoad:
    load = float(history.load.max())
    load = load if load > axial.rounding(history.problem.case) else 0.0
    return nothing_gave(load)


def _cost(members: Sequence[PlateInJoint], history: AxialHistory, clock: Clock) -> Cost:
    faces = list({id(m): m.history for m in members}.values())
    return _cost_of([*faces, history], clock)


def _cost_of(histories: Sequence[FaceHistory | AxialHistory], clock: Clock) -> Cost:
    return Cost(
        sum(clock.seconds.values()),
        sum(h.problem.system.n_unknowns for h in histories),
        sum(len(h.path.points) - 1 for h in histories),
        sum(h.statistics.numeric for h in histories),
        sum(h.statistics.seconds for h in histories),
        dict(clock.seconds),
    )
