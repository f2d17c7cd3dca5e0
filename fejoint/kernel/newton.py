"""Newton's method for one equilibrium.

`find_equilibrium` returns an outcome and commits nothing: an equilibrium, or why there is none. A
step is taken whole where it lowers the energy slope enough, else a search along it finds how much
of it. Close to the end the last factorisation serves again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.assembly import Evaluation, System
from fejoint.kernel.line_search import line_search
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.stop_reason import REQUESTED, Stop


@dataclass(frozen=True)
class StepControl:
    """Where a step or a leg ends: a travel (mm), a load (N), or (legs only) a release.

    A release ends at a share of the load that its leg begins with; with clearance a pin at no load
    at all is a free body. A measure is the sum of displacements with given weights. Without
    a search every Newton step is taken whole. A path whose last leg this is ends by `stop`.
    """

    kind: Literal["travel", "load", "release", "measure"]
    value: float
    weights: Floats | None = field(default=None, compare=False, repr=False)
    search: bool = True
    stop: Stop = field(default=REQUESTED, compare=False)


@dataclass(frozen=True, eq=False)
class EquilibriumPoint:
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
    loading : bool
        Whether its leg goes ahead; False on the way back.
    damage : mapping
        Damage at the integration points of the bodies whose ductility is followed, (n,) each, by
        the body's place among the terms.
    """

    travel: float
    multipliers: Floats
    z: Floats
    states: tuple[Any, ...]
    stored: float = 0.0
    lost: float = 0.0
    residual: float = 0.0
    iterations: int = 0
    loading: bool = True
    damage: Mapping[int, Floats] = field(default_factory=dict)

    @property
    def load(self) -> float:
        """Force along the drive, N."""
        return float(self.multipliers[0])


@dataclass(frozen=True)
class Outcome:
    """What Newton came to: a point, or why not."""

    point: EquilibriumPoint | None
    iterations: int
    reason: str = ""


@dataclass(frozen=True)
class StepSettings:
    """How a path is traced; lengths in mm.

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
        Steps of a leg after which a path that creeps is given up.
    measure : (n_dofs,) array or None
        Weights of the displacements in a measure that still grows where the travel cannot: past
        the load maximum the rest of the body may spring back faster than the weak part gives.

    Notes
    -----
    Halved / doubled in both sections, what moves in the hard and the soft demo: offset load, hinge
    load (the larger of the two demos), factorisations of the hard (of 379) and soft one (of 660).
    The soft one's count scatters by some 100 of 660 whatever is touched: at its load maximum many
    points yield and slip at once. `most` is not met.

    - first: 0.01 / 0.02 %, 0.06 / 0.04 %, +10 / +11 and +58 / +56
    - longest: 0.02 / 0 %, 0 / 0 %, -1 / +33 and +69 / +100
    - shortest: nothing
    - tolerance: 0 / 0 %, 0 / 0 %, +0 / -1 and -1 / +73
    - force_scale: nothing
    - iterations: 0.01 / 0 %, 0 / 0 %, +0 / +0 and +73 / +120
    - easy: 0.14 / 0.03 %, 0.08 / 0.02 %, +65 / +22 and +172 / +63
    - growth less 1: 0.03 / 0.13 %, 1.89 / 1.75 %, -12 / +14 and +8 / +161
    - cut: 0 / 0 %, 0 / 0 %, +0 / +0 and -50 / +140
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
    measure: Floats | None = field(default=None, compare=False, repr=False)


Progress = Callable[[EquilibriumPoint | None, int, float], None]
"""Called with the last point, the iteration and its relative residual."""


def find_equilibrium(
    system: System,
    solver: LinearSolver,
    guess: EquilibriumPoint,
    states: tuple[Any, ...],
    target: StepControl,
    settings: StepSettings,
    progress: Progress | None = None,
    assume_closed: bool = True,
) -> Outcome:
    """Iterate to an equilibrium at the target, from a guess.

    Parameters
    ----------
    system : System
    solver : LinearSolver
    guess : EquilibriumPoint
        Where to begin; its states are not used.
    states : tuple
        States at the start of the step.
    target : StepControl
    settings : StepSettings
    progress : callable, optional
    assume_closed : bool
        Take what touches at the start as touching in the first guess: right where a body presses
        on.

    Returns
    -------
    Outcome
    """
    z, multipliers, travel = guess.z, guess.multipliers, guess.travel
    if target.kind == "travel":
        travel = target.value
    n_free = len(system.free)
    # an extrapolated guess lets go of much that touches, and a search would regain it bit by bit
    closed = assume_closed and system.has_contact
    start = system.assume_closed(states) if closed else states
    now = system.evaluate(z, multipliers, travel, start)
    before, reuse, factorised = np.inf, False, 0
    for iteration in range(_WITH_REUSE * settings.iterations):
        error = _out_of_balance(now, n_free, multipliers, settings)
        if progress is not None:
            progress(guess, iteration, error)
        if not np.isfinite(error):
            return Outcome(None, iteration, "the iteration left the numbers")
        met = error <= settings.tolerance and not closed
        if met and _on_target(now, n_free, multipliers, z, target, settings):
            point = EquilibriumPoint(
                travel, multipliers, z, now.states, now.stored, now.lost, error, factorised
            )
            return Outcome(point, factorised)
        # near the end the last factorisation is good enough, and a tenth of the cost
        reuse = factorised > 0 and error < _NEAR and (not reuse or error < _CONTRACTION * before)
        if not reuse:
            if factorised == settings.iterations:
                break
            factorised += 1
        missing = target.value - multipliers[0]
        if target.weights is not None:
            missing = target.value - float(target.weights @ z)
            weights = system.reduced(target.weights)
        else:
            weights = None
        step, moved = _newton_step(solver, now, target, missing, weights, n_free, reuse)
        if not np.all(np.isfinite(step)):
            return Outcome(None, iteration, "the tangent is singular")
        before = error
        multipliers = multipliers + step[n_free:]
        dz = step[:n_free]
        # past a maximum the energy has no least value to search for
        if reuse or not target.search:
            closed, start = False, states
            z, travel = system.moved(z, dz), travel + moved
            now = system.evaluate(z, multipliers, travel, states)
        else:
            slope = _slope(now, step, n_free, system)
            scale, now = line_search(system, z, multipliers, travel, moved, dz, slope, start)
            z, travel = now.z, travel + scale * moved
            if closed:  # found together; from here on what comes apart may
                closed, start = False, states
                now = system.evaluate(z, multipliers, travel, states, known=now)
    return Outcome(None, factorised, f"out of balance by {error:.1e} after {iteration} iterations")


_WITH_REUSE = 4
"""Iterations of all kinds over those with a factorisation of their own, at most: those that reuse
one are cheap, but must not go on for ever.

Halved / doubled: nothing moves in the demos.
"""
_NEAR = 1e-3
"""Relative out-of-balance below which the last factorisation is used again: there Newton converges
with a tangent that is a little old, at a tenth of the cost.

Halved / doubled: offset load moves by 0.01 / 0.06 %, hinge load by 0 / 0.04 %, factorisations by
+5 / +35 (hard), +65 / +101 (soft).
"""
_CONTRACTION = 0.3
"""Share of the out-of-balance that such an iteration may leave; else factorise anew: three of them
then cost less than one factorisation.

Halved / doubled: offset load moves by 0.03 / 0 %, hinge load by 0 / 0 %, factorisations by +9 /
-7 (hard), +101 / +16 (soft).
"""


def _newton_step(
    solver: LinearSolver,
    now: Evaluation,
    target: StepControl,
    missing: float,
    weights: Floats | None,
    n_free: int,
    reuse: bool,
) -> tuple[Floats, float]:
    """Solve for the change of the unknowns and of the prescribed displacement.

    Parameters
    ----------
    missing : float
        What the load (N), or the measure of these weights (mm), lacks to its target.

    Returns
    -------
    step : (n_unknowns,) array
        Change of the free displacements (mm) and of the multipliers (N).
    moved : float
        Change of the prescribed displacement, mm.

    Notes
    -----
    With A the bordered tangent, r the residual and e the unit vector of the drive's row (where the
    prescribed displacement U stands in r), a step obeys A x = -(r + e dU).

    - Displacement prescribed: dU = 0 and x = -A^-1 r.
    - Load or measure prescribed: U is an unknown more. Both right-hand sides are solved at once,
      a = -A^-1 r and b = -A^-1 e, so that x = a + b dU. One linear equation g.x = m is left, where
      g picks the load's change or weighs the displacements and m is what is missing:
      dU = (m - g.a) / (g.b).

    This is displacement control by two solutions: Batoz and Dhatt, "Incremental displacement
    algorithms for nonlinear problems", Int. J. Numer. Meth. Engng 14 (1979) 1262 (from memory). A
    measure that still grows where load and displacement fall back follows a snap.
    """

    def solve(b: Floats) -> Floats:
        if reuse:
            return solver.resolve_with_last_factors(b)
        return solver.solve(now.matrix, b)

    if target.kind == "travel":
        return solve(-now.residual), 0.0
    by_travel = np.zeros(len(now.residual))
    by_travel[n_free] = 1.0
    both = solve(-np.stack([now.residual, by_travel], axis=1))
    brings, rate = both[n_free] if weights is None else weights @ both[:n_free]
    moved = float((missing - brings) / rate) if rate != 0.0 else np.nan
    return both[:, 0] + moved * both[:, 1], moved


def _on_target(
    now: Evaluation,
    n_free: int,
    multipliers: Floats,
    z: Floats,
    target: StepControl,
    settings: StepSettings,
) -> bool:
    """Whether the drive and the guides hold, and a load or a measure is met."""
    if np.abs(now.residual[n_free:]).max() > _CONSTRAINT_GAP * settings.shortest:
        return False
    if target.kind == "travel":
        return True
    if target.weights is not None:
        return bool(abs(target.value - target.weights @ z) <= _MEASURE_GAP * settings.shortest)
    gap = abs(target.value - multipliers[0])
    return bool(gap <= settings.tolerance * max(abs(target.value), settings.force_scale))


_CONSTRAINT_GAP = 1e-3
"""Share of the shortest step by which a mean displacement may miss its value: rounding, as the
rows are linear.

Halved / doubled: nothing moves in the demos.
"""
_MEASURE_GAP = 1e-2
"""The same for a measure, which is a length along the path and need not be exact.

Not met in the demos; used over a snap only.
"""


def _out_of_balance(
    now: Evaluation, n_free: int, multipliers: Floats, settings: StepSettings
) -> float:
    force = np.linalg.norm(now.residual[:n_free])
    return float(force / max(abs(multipliers[0]), settings.force_scale))


def _slope(now: Evaluation, step: Floats, n_free: int, system: System) -> float:
    """Slope of the energy along the step at its start, with the new multipliers, N mm."""
    force = now.residual[:n_free] - step[n_free:] @ system.constraint_rows
    return float(force @ step[:n_free])
