"""The adaptive march along a path of equilibria.

`march` walks leg by leg (to a travel or to a load), predicts by extrapolation, cuts a step that
fails, asks its watchers whether a new point is welcome, and stops for a stated reason with all it
has.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from fejoint.kernel.assembly import System
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.newton import (
    Outcome,
    Point,
    Progress,
    StepSettings,
    Target,
    find_equilibrium,
)

__all__ = [
    "Outcome", "Path", "Point", "Progress", "Retry", "StepSettings", "Stop", "Target", "Watcher",
    "find_equilibrium", "march",
]  # fmt: skip

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Retry:
    """A watcher's wish: do not keep this point, come back to this travel first."""

    travel: float


@dataclass(frozen=True)
class Stop:
    """A watcher's wish: keep this point and end the march, for this reason."""

    reason: str


class Watcher(Protocol):
    """Looks at every new point before it is kept."""

    def look(self, before: Point, new: Point) -> Retry | Stop | None:
        """Return None to keep the point and go on."""

    def longest(self, last: Point) -> float:
        """Longest travel of the next step, mm; inf for no wish."""


@dataclass(eq=False)
class Path:
    """The equilibria walked through, from the first, and why the march ended.

    Attributes
    ----------
    points : list of Point
    stopped_because : str
    finished : bool
        Whether the march ended as asked (False: no equilibrium could be found).
    legs : list of int
        Index into `points` at which each leg ended.
    """

    points: list[Point]
    stopped_because: str = ""
    finished: bool = True
    legs: list[int] = field(default_factory=list)


def march(
    system: System,
    solver: LinearSolver,
    legs: Iterable[Target],
    settings: StepSettings,
    watchers: Sequence[Watcher] = (),
    start: Point | None = None,
    progress: Progress | None = None,
) -> Path:
    """Walk along the legs, step by step.

    Parameters
    ----------
    system : System
    solver : LinearSolver
    legs : iterable of Target
        Ends of the legs, in order.
    settings : StepSettings
    watchers : sequence of Watcher
        Each may ask for a shorter step, a retry, or the end.
    start : Point, optional
        Where to begin; rest without it.
    progress : callable, optional

    Returns
    -------
    Path
        Everything found, also after KeyboardInterrupt, with the reason of the end.
    """
    first = start or Point(
        0.0, np.zeros(system.n_multipliers), np.zeros(system.n_dofs), system.initial_states()
    )
    path = Path([first])
    try:
        for leg in legs:
            target = _seen_from(leg, path.points[-1], settings)
            stop = None
            if target.value != _reached(target, path.points[-1]):
                stop = _walk_leg(system, solver, target, settings, watchers, path, progress)
            path.legs.append(len(path.points) - 1)
            if stop is not None:
                path.stopped_because = stop
                return path
        path.stopped_because = "asked stop reached"
    except KeyboardInterrupt:
        path.stopped_because, path.finished = "interrupted", False
    return path


def _seen_from(leg: Target, point: Point, settings: StepSettings) -> Target:
    """Return a release as the load it ends at; a joint without load is released already."""
    if leg.kind != "release":
        return leg
    bears = point.load > 1e-4 * settings.force_scale
    return Target("load", leg.value * point.load if bears else point.load)


def _walk_leg(
    system: System,
    solver: LinearSolver,
    leg: Target,
    settings: StepSettings,
    watchers: Sequence[Watcher],
    path: Path,
    progress: Progress | None,
) -> str | None:
    """Walk to the end of one leg; return why to stop the whole march, or None.

    A leg to a load is walked by travel too, as the load may have a maximum on the way; the step
    that would pass the load is taken again, to the load itself.
    """
    begin = len(path.points) - 1
    sense = np.sign(leg.value - _reached(leg, path.points[-1])) or 1.0
    length, limit, order = settings.first, None, 1
    closing: Point | None = None
    while True:
        last = path.points[-1]
        known = path.points[begin:][-3:]
        wish = min((w.longest(last) for w in watchers), default=np.inf)
        length = min(length, settings.longest, max(wish, settings.shortest))
        travel = last.travel + sense * length if limit is None else limit
        target, final = Target("travel", travel), False
        if leg.kind == "travel" and sense * (leg.value - travel) < 1e-9 * abs(leg.value):
            target, final = leg, True
        near = _travel_to(leg, known) if leg.kind == "load" and limit is None else None
        if closing is not None:
            target, final = leg, True
            share = (leg.value - last.load) / (closing.load - last.load)
            travel = last.travel + share * (closing.travel - last.travel)
            guess = _between(last, closing, share)
        elif near is not None and abs(near - last.travel) <= 1.1 * length:
            # stepping past the end first could let a released pin go free
            target, final, travel = leg, True, near
            guess = _predict(system, known[-1 - order :], travel)
        else:
            guess = _predict(system, known[-1 - order :], target.value)
        outcome = find_equilibrium(system, solver, guess, last.states, target, settings, progress)
        new = outcome.point and replace(outcome.point, onward=bool(sense > 0.0))
        if new is None:
            length = abs(travel - last.travel) * settings.cut
            limit = closing = None
            if length < settings.shortest:
                if sense < 0.0 and abs(last.load) < _LET_GO * path.points[begin].load:
                    return None  # nothing bears any more: there is no way further back
                if leg.kind == "travel" and sense > 0.0 and len(path.points) > begin + 2:
                    return _walk_by_measure(system, solver, leg, settings, watchers, path, progress)
                return _lost(path, outcome)
            continue
        if leg.kind == "load" and not final and sense * (new.load - leg.value) > 0.0:
            closing = new
            continue
        wishes = [w.look(last, new) for w in watchers]
        back = [w.travel for w in wishes if isinstance(w, Retry)]
        if back:
            nearest = min(back, key=lambda t: abs(t - last.travel))
            if abs(nearest - last.travel) >= settings.shortest:
                limit, closing = nearest, None
                continue
        order = _better_order(known, new)
        path.points.append(replace(new, lost=last.lost + new.lost))
        limit = closing = None
        stops = [w.reason for w in wishes if isinstance(w, Stop)]
        if stops:
            return stops[0]
        if final:
            return None
        if len(path.points) - begin > settings.most:
            return _crept(path, settings)
        taken = abs(new.travel - last.travel)
        if outcome.iterations <= settings.easy:
            length = max(length, taken * settings.growth)
        elif outcome.iterations > 2 * settings.easy:
            length = 0.6 * taken
        else:
            length = max(taken, settings.shortest)


_LET_GO = 0.05
"""Share of a leg's first load at which a body that cannot be followed back counts as let go."""


def _walk_by_measure(
    system: System,
    solver: LinearSolver,
    leg: Target,
    settings: StepSettings,
    watchers: Sequence[Watcher],
    path: Path,
    progress: Progress | None,
) -> str | None:
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
        target = Target("measure", float(weights @ last.z) + length, weights)
        # a far extrapolation of two points that lie too close would only mislead
        guess = last if done < 0.2 * length else _between(before, last, 1.0 + length / done)
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
                return _lost(path, outcome)
            continue
        wishes = [w.look(last, new) for w in watchers]
        path.points.append(replace(new, lost=last.lost + new.lost))
        stops = [w.reason for w in wishes if isinstance(w, Stop)]
        if stops:
            return stops[0]
        if new.travel >= leg.value:
            return None
        if len(path.points) - begin > settings.most:
            return _crept(path, settings)
        if outcome.iterations <= settings.easy:
            length = min(settings.growth * length, settings.longest)


def _lost(path: Path, outcome: Outcome) -> str:
    last, path.finished = path.points[-1], False
    return (
        f"no equilibrium found beyond travel {last.travel:.4g} mm, "
        f"load {last.load:.4g} N: {outcome.reason}"
    )


def _crept(path: Path, settings: StepSettings) -> str:
    before, last = path.points[-2:]
    path.finished = False
    return (
        f"crept to travel {last.travel:.4g} mm, load {last.load:.4g} N in "
        f"{settings.most} steps, the last of {abs(last.travel - before.travel):.1e} mm"
    )


def _travel_to(leg: Target, known: Sequence[Point]) -> float | None:
    """Travel at which the last secant meets the leg's load, or None before there is one."""
    if len(known) < 2 or known[-1].load == known[-2].load:
        return None
    rate = (known[-1].travel - known[-2].travel) / (known[-1].load - known[-2].load)
    ahead = rate * (leg.value - known[-1].load)
    return known[-1].travel + ahead if ahead * (known[-1].travel - known[-2].travel) > 0 else None


def _reached(leg: Target, point: Point) -> float:
    return point.travel if leg.kind == "travel" else point.load


def _between(last: Point, beyond: Point, share: float) -> Point:
    """Interpolate two points."""
    return replace(
        last,
        z=last.z + share * (beyond.z - last.z),
        multipliers=last.multipliers + share * (beyond.multipliers - last.multipliers),
        travel=last.travel + share * (beyond.travel - last.travel),
    )


def _better_order(known: Sequence[Point], new: Point) -> int:
    """Order of extrapolation that would have served the new point better: 1, or 2 from 3 points."""
    if len(known) < 3:
        return 1

    def miss(order: int) -> float:
        points = known[-1 - order :]
        weights = _extrapolation([p.travel for p in points], new.travel)
        z = sum(w * p.z for w, p in zip(weights, points, strict=True))
        return float(np.linalg.norm(z - new.z))

    return 1 if miss(1) <= miss(2) else 2


def _predict(system: System, known: Sequence[Point], travel: float) -> Point:
    """Extrapolate the last points of this leg to a travel."""
    last = known[-1]
    if len(known) < 2 or known[-1].travel == known[-2].travel:
        # at first touch the drive carries its body along; under load Newton's tangent knows better
        moved = travel - last.travel if last.load == 0.0 else 0.0
        return replace(last, z=last.z + moved * system.carried, travel=travel)
    weights = _extrapolation([p.travel for p in known], travel)
    z = sum(w * p.z for w, p in zip(weights, known, strict=True))
    multipliers = sum(w * p.multipliers for w, p in zip(weights, known, strict=True))
    return replace(last, z=z, multipliers=multipliers, travel=travel)


def _extrapolation(travels: Sequence[float], travel: float) -> Floats:
    """Lagrange weights of the known travels at a new one."""
    t = np.asarray(travels)
    return np.array(
        [np.prod((travel - np.delete(t, k)) / (t[k] - np.delete(t, k))) for k in range(len(t))]
    )
