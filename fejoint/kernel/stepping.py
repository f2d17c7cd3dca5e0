"""Newton's method for one equilibrium, and the adaptive march along a path of them.

`find_equilibrium` returns an outcome and commits nothing. `march` walks leg by leg (to a travel or
to a load), predicts by extrapolation, cuts a step that fails, asks its watchers whether a new point
is welcome, and stops for a stated reason with all it has.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from fejoint.kernel.assembly import Evaluation, System
from fejoint.kernel.linear import LinearSolver

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Target:
    """Where a step or a leg ends: a travel (mm) or a load (N)."""

    kind: Literal["travel", "load"]
    value: float


@dataclass(frozen=True, eq=False)
class Point:
    """An equilibrium.

    Attributes
    ----------
    travel : float
        Driven mean displacement, mm.
    multipliers : (n_multipliers,) array
        Load first, N.
    z : (n_dofs,) array
        Displacements, mm.
    states : tuple
        State of every term.
    stored, lost : float
        Stored energy now, and friction's heat since the path began, N mm.
    residual : float
        Out-of-balance over the load.
    iterations : int
        Newton iterations with a factorisation of their own that it took.
    """

    travel: float
    multipliers: Floats
    z: Floats
    states: tuple[Any, ...]
    stored: float = 0.0
    lost: float = 0.0
    residual: float = 0.0
    iterations: int = 0

    @property
    def load(self) -> float:
        """Force along the drive, N."""
        return float(self.multipliers[0])


@dataclass(frozen=True)
class Outcome:
    """What Newton came to: a point, or why not."""

    point: Point | None
    iterations: int
    reason: str = ""


@dataclass(frozen=True)
class StepSettings:
    """How the march walks; lengths in mm.

    Attributes
    ----------
    first, longest, shortest : float
        Travel of the first step, and the bounds of all.
    tolerance : float
        Out-of-balance over the load at which a point counts as an equilibrium.
    force_scale : float
        Load below which the tolerance stays that of this load, N.
    iterations : int
        Newton iterations after which a step is cut.
    easy : int
        Newton iterations up to which the next step grows.
    growth, cut : float
        Factors of the step after an easy and after a failed one.
    most : int
        Steps of a leg after which the march gives up: it creeps.
    """

    first: float
    longest: float
    shortest: float
    tolerance: float = 1e-7
    force_scale: float = 1e-3
    iterations: int = 16
    easy: int = 5
    growth: float = 1.6
    cut: float = 0.35
    most: int = 400


Progress = Callable[[Point | None, int, float], None]
"""Called with the last point, the iteration and its relative residual."""


def find_equilibrium(
    system: System,
    solver: LinearSolver,
    guess: Point,
    states: tuple[Any, ...],
    target: Target,
    settings: StepSettings,
    progress: Progress | None = None,
) -> Outcome:
    """Iterate to an equilibrium at the target, from a guess.

    Parameters
    ----------
    system : System
    solver : LinearSolver
    guess : Point
        Where to begin; its states are not used.
    states : tuple
        States at the start of the step.
    target : Target
    settings : StepSettings
    progress : callable, optional

    Returns
    -------
    Outcome
    """
    z, multipliers, travel = guess.z, guess.multipliers, guess.travel
    if target.kind == "travel":
        travel = target.value
    n_free = len(system.free)
    now = system.evaluate(z, multipliers, travel, states)
    before, reuse, factorised = np.inf, False, 0
    for iteration in range(4 * settings.iterations):
        error = _out_of_balance(now, n_free, multipliers, settings)
        if progress is not None:
            progress(guess, iteration, error)
        if not np.isfinite(error):
            return Outcome(None, iteration, "the iteration left the numbers")
        if error <= settings.tolerance and _on_target(now, n_free, multipliers, target, settings):
            point = Point(
                travel, multipliers, z, now.states, now.stored, now.lost, error, factorised
            )
            return Outcome(point, factorised)
        # near the end the last factorisation is good enough, and a tenth of the cost
        reuse = factorised > 0 and error < _NEAR and (not reuse or error < _CONTRACTION * before)
        if not reuse:
            if factorised == settings.iterations:
                break
            factorised += 1
            if now.matrix is None:
                now = system.evaluate(z, multipliers, travel, states)
        step, moved = _newton_step(solver, now, multipliers, target, n_free, reuse)
        if not np.all(np.isfinite(step)):
            return Outcome(None, iteration, "the tangent is singular")
        before = error
        multipliers = multipliers + step[n_free:]
        dz = step[:n_free]
        if reuse:
            scale = 1.0
            trial = z.copy()
            trial[system.free] += dz
            now = system.evaluate(trial, multipliers, travel + moved, states, tangent=False)
        else:
            slope = _slope(now, step, n_free, system)
            scale, now = _line_search(
                system, z, multipliers, travel, moved, dz, slope, states
            )
        z = z.copy()
        z[system.free] += scale * dz
        travel += scale * moved
    return Outcome(
        None, factorised, f"out of balance by {error:.1e} after {iteration} iterations"
    )


_NEAR = 1e-3
"""Relative out-of-balance below which the last factorisation is used again."""
_CONTRACTION = 0.3
"""Share of the out-of-balance that such an iteration may leave; else factorise anew."""


def _newton_step(
    solver: LinearSolver,
    now: Evaluation,
    multipliers: Floats,
    target: Target,
    n_free: int,
    reuse: bool,
) -> tuple[Floats, float]:
    """Solve for the change of the unknowns and of the travel."""

    def solve(b: Floats) -> Floats:
        if reuse:
            return solver.again(b)
        assert now.matrix is not None
        return solver.solve(now.matrix, b)

    if target.kind == "travel":
        return solve(-now.residual), 0.0
    by_travel = np.zeros(len(now.residual))
    by_travel[n_free] = 1.0
    both = solve(-np.stack([now.residual, by_travel], axis=1))
    missing = target.value - multipliers[0] - both[n_free, 0]
    moved = float(missing / both[n_free, 1]) if both[n_free, 1] != 0.0 else np.nan
    return both[:, 0] + moved * both[:, 1], moved


def _on_target(
    now: Evaluation, n_free: int, multipliers: Floats, target: Target, settings: StepSettings
) -> bool:
    """Whether the drive and the guides hold, and a load target is met."""
    if np.abs(now.residual[n_free:]).max() > 1e-3 * settings.shortest:
        return False
    if target.kind == "travel":
        return True
    gap = abs(target.value - multipliers[0])
    return bool(gap <= settings.tolerance * max(abs(target.value), settings.force_scale))


def _out_of_balance(
    now: Evaluation, n_free: int, multipliers: Floats, settings: StepSettings
) -> float:
    force = np.linalg.norm(now.residual[:n_free])
    return float(force / max(abs(multipliers[0]), settings.force_scale))


def _slope(now: Evaluation, step: Floats, n_free: int, system: System) -> float:
    """Energy slope along the step at its start, with the new multipliers."""
    force = now.residual[:n_free] - step[n_free:] @ system._constraints[:, system.free]
    return float(force @ step[:n_free])


_SLACK = 0.5
_TRIES = 4


def _line_search(
    system: System,
    z: Floats,
    multipliers: Floats,
    travel: float,
    moved: float,
    dz: Floats,
    slope: float,
    states: tuple[Any, ...],
) -> tuple[float, Evaluation]:
    """Take the whole step where it lowers the energy slope enough, else search along it."""

    def at(scale: float, tangent: bool) -> tuple[float, Evaluation]:
        trial = z.copy()
        trial[system.free] += scale * dz
        e = system.evaluate(trial, multipliers, travel + scale * moved, states, tangent)
        return float(e.residual[: len(dz)] @ dz), e

    after, now = at(1.0, tangent=True)
    if slope >= 0.0 or (np.isfinite(after) and abs(after) <= _SLACK * abs(slope)):
        return 1.0, now
    low, high, scale = (0.0, slope), (1.0, after), 1.0
    for _ in range(_TRIES):
        if np.isfinite(high[1]) and high[1] > 0.0:
            scale = low[0] - low[1] * (high[0] - low[0]) / (high[1] - low[1])
            scale = min(max(scale, low[0] + 0.1 * (high[0] - low[0])), 0.9 * high[0])
        elif np.isfinite(high[1]):
            return 1.0, now  # still going down at the whole step: take it
        else:
            scale = 0.5 * (low[0] + high[0])
        value, _ = at(scale, tangent=False)
        if np.isfinite(value) and abs(value) <= _SLACK * abs(slope):
            break
        if np.isfinite(value) and value < 0.0:
            low = (scale, value)
        else:
            high = (scale, value)
    return scale, at(scale, tangent=True)[1]


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
            stop = _walk_leg(system, solver, leg, settings, watchers, path, progress)
            path.legs.append(len(path.points) - 1)
            if stop is not None:
                path.stopped_because = stop
                return path
        path.stopped_because = "asked stop reached"
    except KeyboardInterrupt:
        path.stopped_because, path.finished = "interrupted", False
    return path


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
        new = outcome.point
        if new is None:
            length = abs(travel - last.travel) * settings.cut
            limit = closing = None
            if length < settings.shortest:
                path.finished = False
                return (
                    f"no equilibrium found beyond travel {last.travel:.4g} mm, "
                    f"load {last.load:.4g} N: {outcome.reason}"
                )
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
            path.finished = False
            return (
                f"crept to travel {new.travel:.4g} mm, load {new.load:.4g} N in "
                f"{settings.most} steps, the last of {abs(new.travel - last.travel):.1e} mm"
            )
        taken = abs(new.travel - last.travel)
        if outcome.iterations <= settings.easy:
            length = max(length, taken * settings.growth)
        elif outcome.iterations > 2 * settings.easy:
            length = 0.6 * taken
        else:
            length = max(taken, settings.shortest)


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
