"""Adaptive continuation: a path of equilibria, step by step.

`trace_path` goes leg by leg (to a travel or to a load), predicts by extrapolation, cuts a step
that fails, shows every trial point to its observers, and stops for a stated reason with all it has.
"""

from __future__ import annotations

from collections.abc import Generator, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from fejoint.kernel.assembly import System
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.newton import (
    EquilibriumPoint,
    Outcome,
    Progress,
    StepControl,
    StepSettings,
    find_equilibrium,
)
from fejoint.kernel.predictor import better_order, between, predict, travel_to
from fejoint.kernel.stop_reason import REQUESTED, Stop, StopReason

__all__ = [
    "EquilibriumPoint", "Observer", "Outcome", "Path", "Progress", "StepControl", "StepRequest",
    "StepSettings", "Stop", "StopReason", "at_rest", "continue_path", "find_equilibrium",
    "trace_path",
]  # fmt: skip


@dataclass(frozen=True)
class StepRequest:
    """An observer's request: discard the trial point, and find the one at this travel first.

    Where no step can be as short as that, `otherwise` ends the path at the trial point.
    """

    travel: float
    otherwise: Stop | None = None


class Observer:
    """Sees every trial point before it becomes permanent; this one, the base, requests nothing."""

    def integrate(self, before: EquilibriumPoint, new: EquilibriumPoint) -> EquilibriumPoint:
        """Return the trial point with what this observer adds up along the path."""
        return new

    def on_trial_step(
        self, before: EquilibriumPoint, new: EquilibriumPoint
    ) -> StepRequest | Stop | None:
        """Return None to make the trial point permanent and go on."""
        return None

    def longest_step(self, last: EquilibriumPoint) -> float:
        """Return the longest travel of the step after a permanent point, mm; inf for no bound."""
        return np.inf


@dataclass(eq=False)
class Path:
    """The permanent equilibria of a path, from the first, and why it ended.

    Attributes
    ----------
    points : list of EquilibriumPoint
    stopped_because : Stop or None
        None while the path is being traced.
    legs : list of int
        Index into `points` at which each leg ended.
    """

    points: list[EquilibriumPoint]
    stopped_because: Stop | None = None
    legs: list[int] = field(default_factory=list)

    @property
    def finished(self) -> bool:
        """Whether nothing broke the path off: no missing equilibrium, no interruption."""
        return self.stopped_because is None or self.stopped_because.finished

    @property
    def interrupted(self) -> bool:
        """Whether the user broke the path off."""
        stop = self.stopped_because
        return stop is not None and stop.reason is StopReason.INTERRUPTED


def trace_path(
    system: System,
    solver: LinearSolver,
    legs: Iterable[StepControl],
    settings: StepSettings,
    observers: Sequence[Observer] = (),
    start: EquilibriumPoint | None = None,
    progress: Progress | None = None,
) -> Path:
    """Trace a path along the legs, step by step.

    Parameters
    ----------
    system : System
    solver : LinearSolver
    legs : iterable of StepControl
        Ends of the legs, in order.
    settings : StepSettings
    observers : sequence of Observer
        Each may request a shorter step, a step to another travel, or the end.
    start : EquilibriumPoint, optional
        Where to begin; rest without it.
    progress : callable, optional

    Returns
    -------
    Path
        Everything found, also after KeyboardInterrupt, with the reason of the end.
    """
    path = Path([start or at_rest(system)])
    for _ in continue_path(system, solver, legs, settings, observers, path, progress):
        pass
    return path


def at_rest(system: System) -> EquilibriumPoint:
    """Return the point before any load."""
    return EquilibriumPoint(
        0.0, np.zeros(system.n_multipliers), np.zeros(system.n_dofs), system.initial_states()
    )


def continue_path(
    system: System,
    solver: LinearSolver,
    legs: Iterable[StepControl],
    settings: StepSettings,
    observers: Sequence[Observer],
    path: Path,
    progress: Progress | None = None,
) -> Iterator[None]:
    """Trace a path as `trace_path` does, and pause after every permanent point.

    The points go to `path`, which must hold the first; where one pauses changes none of them.
    """
    last_leg = REQUESTED
    try:
        for leg in legs:
            last_leg = leg.stop
            target = _as_load(leg, path.points[-1], settings)
            stop = None
            if target.value != _reached(target, path.points[-1]):
                stop = yield from _trace_leg(
                    system, solver, target, settings, observers, path, progress
                )
            path.legs.append(len(path.points) - 1)
            if stop is not None:
                path.stopped_because = stop
                return
        path.stopped_because = last_leg
    except KeyboardInterrupt:
        path.stopped_because = Stop(StopReason.INTERRUPTED)


def _as_load(leg: StepControl, point: EquilibriumPoint, settings: StepSettings) -> StepControl:
    """Return a release as the load it ends at; a joint without load is released already."""
    if leg.kind != "release":
        return leg
    bears = point.load > _NO_LOAD * settings.force_scale
    return StepControl("load", leg.value * point.load if bears else point.load)


def _trace_leg(
    system: System,
    solver: LinearSolver,
    leg: StepControl,
    settings: StepSettings,
    observers: Sequence[Observer],
    path: Path,
    progress: Progress | None,
) -> Generator[None, None, Stop | None]:
    """Go to the end of one leg; return why to stop the whole path, or None.

    A leg to a load is traced by travel too, as the load may have a maximum on the way; the step
    that would pass the load is taken again, to the load itself.
    """
    begin = len(path.points) - 1
    sense = np.sign(leg.value - _reached(leg, path.points[-1])) or 1.0
    length, limit, order = settings.first, None, 1
    closing: EquilibriumPoint | None = None
    failed = False
    while True:
        last = path.points[-1]
        known = path.points[begin:][-3:]
        bound = min((o.longest_step(last) for o in observers), default=np.inf)
        length = min(length, settings.longest, max(bound, settings.shortest))
        travel = last.travel + sense * length if limit is None else limit
        target, final = StepControl("travel", travel), False
        if leg.kind == "travel" and sense * (leg.value - travel) < 1e-9 * abs(leg.value):
            target, final = leg, True
        near = travel_to(leg, known) if leg.kind == "load" and limit is None else None
        if closing is not None:
            target, final = leg, True
            share = (leg.value - last.load) / (closing.load - last.load)
            travel = last.travel + share * (closing.travel - last.travel)
            guess = between(last, closing, share)
        elif near is not None and abs(near - last.travel) <= _WITHIN_REACH * length:
            # stepping past the end first could let a released pin go free
            target, final, travel = leg, True, near
            guess = predict(system, known[-1 - order :], travel)
        else:
            guess = predict(system, known[-1 - order :], target.value)
        presses_on = sense > 0.0 and not failed
        outcome = find_equilibrium(
            system, solver, guess, last.states, target, settings, progress, presses_on
        )
        new = outcome.point and replace(outcome.point, loading=bool(sense > 0.0))
        failed = new is None
        if new is None:
            length = abs(travel - last.travel) * settings.cut
            limit = closing = None
            if length < settings.shortest:
                if sense < 0.0 and abs(last.load) < _RELEASED * path.points[begin].load:
                    return None  # nothing bears any more: there is no way further back
                # a body that nothing bears has no maximum to snap over
                snaps = leg.kind == "travel" and sense > 0.0 and last.load > settings.force_scale
                if snaps and len(path.points) > begin + 2:
                    return (
                        yield from _trace_by_measure(
                            system, solver, leg, settings, observers, path, progress
                        )
                    )
                return _no_equilibrium(path, outcome)
            continue
        if leg.kind == "load" and not final and sense * (new.load - leg.value) > 0.0:
            closing = new
            continue
        new = _integrated(observers, last, new)
        requests = _requests(observers, last, new)
        back = [r for r in requests if isinstance(r, StepRequest)]
        if back:
            nearest = min(back, key=lambda r: abs(r.travel - last.travel))
            if abs(nearest.travel - last.travel) >= settings.shortest:
                limit, closing = nearest.travel, None
                continue
            requests += [r.otherwise for r in back]
        order = better_order(known, new)
        path.points.append(replace(new, lost=last.lost + new.lost))
        limit = closing = None
        stops = [r for r in requests if isinstance(r, Stop)]
        if stops:
            return stops[0]
        if final:
            return None
        if len(path.points) - begin > settings.most:
            return _too_many_steps(path, settings)
        taken = abs(new.travel - last.travel)
        if outcome.iterations <= settings.easy:
            length = max(length, taken * settings.growth)
        elif outcome.iterations > _HARD * settings.easy:
            length = _AFTER_HARD * taken
        else:
            length = max(taken, settings.shortest)
        yield


_NO_LOAD = 1e-4
"""Share of the force scale up to which nothing is left to release. Not met in the demos."""
_WITHIN_REACH = 1.1
"""Distance of a leg's load, over the step's length, up to which it is aimed at directly: the last
step may be a tenth longer, rather than leave a sliver for one more.

Halved / doubled: nothing moves in the demos; legs to loads are those of releases there.
"""
_HARD, _AFTER_HARD = 2, 0.6
"""A step that took `_HARD` times the easy iterations makes the next one shorter, by `_AFTER_HARD`:
it was near the length at which Newton fails, and a failed step costs all its iterations.

Iterations halved / doubled: offset load moves by 0.05 / 0 %, hinge load by 0.04 / 0 %,
factorisations by +22 / +0 (hard), +73 / +56 (soft).
"""
_TOO_CLOSE = 0.2
"""Share of the step by which the last two points must differ to be extrapolated: over points that
lie too close the extrapolation would magnify what is left of their residuals.

Not met in the demos; used over a snap only.
"""
_RELEASED = 0.05
"""Share of a leg's first load at which a body that cannot be followed back counts as released:
with clearance it is then a free body.

Halved / doubled: nothing moves in the demos.
"""


def _trace_by_measure(
    system: System,
    solver: LinearSolver,
    leg: StepControl,
    settings: StepSettings,
    observers: Sequence[Observer],
    path: Path,
    progress: Progress | None,
) -> Generator[None, None, Stop | None]:
    """Go on with a leg by a measure, travel and load left free: the way over a snap.

    Without a measure of the settings it is the length of the way in the last step's direction.
    """
    length, begin = settings.first, len(path.points)
    while True:
        last, before = path.points[-1], path.points[-2]
        weights = settings.measure
        if weights is None:
            weights = (last.z - before.z) / np.linalg.norm(last.z - before.z)
        done = float(weights @ (last.z - before.z))
        target = StepControl("measure", float(weights @ last.z) + length, weights)
        # a far extrapolation of two points that lie too close would only mislead
        guess = last if done < _TOO_CLOSE * length else between(before, last, 1.0 + length / done)
        guess = replace(guess, states=last.states)
        for search in (True, False):
            target = replace(target, search=search)
            outcome = find_equilibrium(
                system, solver, guess, last.states, target, settings, progress
            )
            if outcome.point is not None:
                break
        new = outcome.point
        if new is None:
            length *= settings.cut
            if length < settings.shortest:
                return _no_equilibrium(path, outcome)
            continue
        new = _integrated(observers, last, new)
        requests = [o.on_trial_step(last, new) for o in observers]
        path.points.append(replace(new, lost=last.lost + new.lost))
        stops = [r for r in requests if isinstance(r, Stop)]
        if stops:
            return stops[0]
        if new.travel >= leg.value:
            return None
        if len(path.points) - begin > settings.most:
            return _too_many_steps(path, settings)
        if outcome.iterations <= settings.easy:
            length = min(settings.growth * length, settings.longest)
        yield


def _integrated(
    observers: Sequence[Observer], last: EquilibriumPoint, new: EquilibriumPoint
) -> EquilibriumPoint:
    for observer in observers:
        new = observer.integrate(last, new)
    return new


def _requests(
    observers: Sequence[Observer], last: EquilibriumPoint, new: EquilibriumPoint
) -> list[StepRequest | Stop | None]:
    """Show a trial point to the observers and return what they request.

    One that wants the very same step again has changed what it was solved with: the others are
    then to see the new solution only.
    """
    requests: list[StepRequest | Stop | None] = []
    for observer in observers:
        requests.append(observer.on_trial_step(last, new))
        if requests[-1] == StepRequest(new.travel):
            return requests[-1:]
    return requests


def _no_equilibrium(path: Path, outcome: Outcome) -> Stop:
    last = path.points[-1]
    return Stop(
        StopReason.NO_EQUILIBRIUM,
        f"no equilibrium was found beyond travel {last.travel:.4g} mm, "
        f"load {last.load:.4g} N: {outcome.reason}",
    )


def _too_many_steps(path: Path, settings: StepSettings) -> Stop:
    before, last = path.points[-2:]
    return Stop(
        StopReason.TOO_MANY_STEPS,
        f"crept to travel {last.travel:.4g} mm, load {last.load:.4g} N in "
        f"{settings.most} steps, the last of {abs(last.travel - before.travel):.1e} mm",
    )


def _reached(leg: StepControl, point: EquilibriumPoint) -> float:
    return point.travel if leg.kind == "travel" else point.load
