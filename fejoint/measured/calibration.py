"""Learning a metal's law and the friction from measured pulls.

Solves are made where the surrogate wants to go, and slopes are taken anew where it rests: a fit
has settled when fresh slopes move no parameter by a share of its own uncertainty. What has not
settled is told so, and writes no case.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.optimize import least_squares

from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.measured.blank_pull import Blank
from fejoint.measured.calibration_result import Learned, LearnedLaw, Prior, Pulled
from fejoint.measured.misfit import Misfit, load_at
from fejoint.measured.rig_compliance import Curve
from fejoint.measured.surrogate import Solve, Surrogate
from fejoint.measured.thinning import refuse_elastic, thinned

SETTLED = 0.25
"""Shift under fresh slopes, over a parameter's standard uncertainty, below which a fit rests."""
TOGETHER = 0.85
"""Correlation from which two parameters are told together only."""
OPEN = 0.15
"""Uncertainty over the prior's beyond which such a pair is worth a word."""
_STEP = 0.08
_TRUSTED = 3.0
"""Steps from the surrogate's centre within which it is believed."""
_MOST_MOVES = 14


def fit(
    pulls: Sequence[Pulled],
    solve: Solve,
    priors: Sequence[Prior],
    *,
    finer: Solve | None = None,
    held_out: Sequence[Pulled] = (),
    elastic_until: float = 0.0,
    moves: int = _MOST_MOVES,
    start: Sequence[float] | None = None,
) -> LearnedLaw:
    """Fit parameters of the joint to logs.

    Parameters
    ----------
    pulls : sequence of Pulled
    solve : callable
        From the parameters (in the priors' own coordinates) to the joint's curve.
    priors : sequence of Prior
        Order and coordinates of the parameters.
    finer : callable, optional
        A finer solve, made once: what it changes is carried to every other.
    held_out : sequence of Pulled
        Judged only.
    elastic_until : float
        Extension beyond its elastic line that a log must show, mm.
    moves : int
        Most times that the surrogate goes to a new place.
    start : sequence of float, optional
        Values to begin at; the priors' if left out.

    Raises
    ------
    BadInput
        If a log hardly left its elastic line, or says nothing of any parameter.
    """
    for p in pulls:
        refuse_elastic(p, elastic_until)
    begin = [p.value for p in priors] if start is None else start
    centre = np.array([p.inward(v) for p, v in zip(priors, begin, strict=True)])
    steps = np.array([_STEP if p.logarithmic else 0.4 * p.deviation for p in priors])
    model = Surrogate(solve, centre, steps, finer)
    first = Curve(model.curve(centre).load.copy(), model.curve(centre).extension)
    reach = float(model.grid[-1])
    problem = Misfit(pulls, [thinned(p, reach) for p in pulls], priors, model)
    x, shift, notes = _settle(problem, moves)
    return _outcome(problem, x, first, held_out, shift, notes)


def _settle(problem: Misfit, moves: int) -> tuple[Floats, float, list[str]]:
    """Move the surrogate until fresh slopes leave the fit where it is."""
    n, model = problem.n, problem.model
    notes: list[str] = []
    shift, since_star = np.inf, 0
    x = _best(problem, None)
    for _ in range(moves):
        try:
            to = _reached(model, x[:n])
        except ValueError:
            notes.append("no hardening curve passes the place where the fit wanted to go")
            break
        model.aim(to)
        new = _best(problem, x)
        moved = _shift(problem, x, new)
        x, since_star = new, since_star + 1
        if moved > 2.0 * SETTLED and since_star < 4:
            continue
        # slopes over the width of what is still open: a narrow star would be extrapolated there
        sd = np.sqrt(np.diag(problem.covariance(x)))[:n]
        model.star(to, np.clip(1.5 * sd, 0.5 * model.steps, _TRUSTED * model.steps))
        since_star = 0
        new = _best(problem, x)
        shift = _shift(problem, x, new)
        x = new
        if shift < SETTLED:
            break
    return x, shift, notes


def _reached(model: Surrogate, to: Floats) -> Floats:
    """Solve at a place, or at one between it and the centre where there is a curve.

    Raises
    ------
    ValueError
        If there is none.
    """
    for _ in range(6):
        try:
            model.check(to)
        except ValueError:
            to = 0.5 * (to + model.centre)
        else:
            return to
    message = "no curve between here and there"
    raise ValueError(message)


def _best(problem: Misfit, x: Floats | None) -> Floats:
    """Return the best unknowns near the surrogate's centre, from several starts."""
    reach = _TRUSTED * problem.model.steps
    starts = [problem.start(problem.model.centre)]
    if x is not None:
        starts.append(x)
    for sign in (-1.0, 1.0):
        other = starts[-1].copy()
        other[: problem.n] = problem.model.centre + sign * np.array([1, -1] * 9)[: problem.n] * (
            0.5 * reach
        )
        starts.append(other)
    found = problem.solved(starts, reach)
    for _ in range(2):
        problem.judge(found)
        found = problem.solved([found], reach)
    return found


def _shift(problem: Misfit, old: Floats, new: Floats) -> float:
    """Return the largest move of a parameter over its standard uncertainty."""
    sd = np.sqrt(np.diag(problem.covariance(new)))[: problem.n]
    return float(np.max(np.abs(new - old)[: problem.n] / sd))


def _outcome(
    problem: Misfit,
    x: Floats,
    first: Curve,
    held_out: Sequence[Pulled],
    shift: float,
    notes: list[str],
) -> LearnedLaw:
    n, model = problem.n, problem.model
    covariance = problem.covariance(x)
    sd = np.sqrt(np.diag(covariance))
    learned = []
    for k, prior in enumerate(problem.priors):
        low, high = problem.profile(x, k, float(sd[k]))
        # where profile and curvature differ, the wider is what is known
        reach = 1.96 * float(sd[k])
        low, high = min(low, float(x[k]) - reach), max(high, float(x[k]) + reach)
        wide = (high - low) / 3.92
        ends = max(prior.outward(low), prior.low), min(prior.outward(high), prior.high)
        value = prior.outward(float(x[k]))
        learned.append(Learned(prior, value, ends, wide / prior.deviation))
    if not any(item.identified for item in learned):
        mend = "pull further, or learn from other logs"
        raise BadInput(Fault("--learn", "", "the logs tell nothing of the law or friction", mend))
    part = covariance[:n, :n] / np.outer(sd[:n], sd[:n])
    settled = shift < SETTLED
    if not settled:
        notes.append(
            "the fit has not settled: "
            + (f"fresh slopes still move it by {shift:.1f} of its uncertainty" if np.isfinite(shift)
               else "its slopes were never taken anew")
        )  # fmt: skip
    notes += _told_together(learned, part)
    best = model.curve(x[:n])
    own = problem.parts(x)[2]
    rigs, before, after = [], [], []
    for k, (p, data) in enumerate(zip(problem.pulls, problem.data, strict=True)):
        slack, compliance = float(own[k, 0]), 1e-6 * float(own[k, 1])
        rigs.append(_rig(problem, k, compliance, 1e-6 * float(sd[problem.place(k) + 1])))
        before.append(rms(data, first, p.rig.slack, p.rig.compliance, p.blank))
        after.append(rms(data, best, slack, compliance, p.blank))
    judged = {}
    for p in held_out:
        data = thinned(p, float(model.grid[-1]))
        judged[p.name] = (
            rms(data, first, p.rig.slack, p.rig.compliance, p.blank, free=True),
            rms(data, best, p.rig.slack, p.rig.compliance, p.blank, free=True),
        )
    return LearnedLaw(
        tuple(learned), part, tuple(rigs), tuple(map(float, own[:, 0])), tuple(before),
        tuple(after), judged, model.solves, shift if np.isfinite(shift) else None, settled,
        problem.scatter, best, tuple(notes),
    )  # fmt: skip


def _rig(problem: Misfit, k: int, compliance: float, sd: float) -> Learned:
    """Return the compliance that a log's rig was found to have in the fit, mm/N."""
    rig, width = problem.pulls[k].rig, 1e-6 * problem.rig_width(problem.pulls[k])
    prior = Prior("compliance", "mm/N", rig.compliance, width, 0.0, np.inf, logarithmic=False)
    ends = (max(compliance - 1.96 * sd, 0.0), compliance + 1.96 * sd)
    return Learned(prior, compliance, ends, sd / width)


def _told_together(learned: Sequence[Learned], correlation: Floats) -> list[str]:
    """Say which parameters the logs cannot tell apart, where that leaves them open."""
    found = []
    wide = [x.tightened > OPEN for x in learned]
    priors = [x.prior for x in learned]
    for i, a in enumerate(priors):
        for k, b in enumerate(priors[:i]):
            if abs(correlation[i, k]) >= TOGETHER and (wide[i] or wide[k]):
                way = "more" if correlation[i, k] > 0.0 else "less"
                found.append(
                    f"the logs cannot tell {b.name} from {a.name}: more of the one with {way} of "
                    f"the other fits as well (correlation {correlation[i, k]:+.2f})"
                )
    return found


def rms(
    data: tuple[Floats, Floats, Floats],
    curve: Curve,
    slack: float,
    compliance: float,
    blank: Blank | None = None,
    *,
    free: bool = False,
) -> float:
    """Return the rms of modelled less measured load over the largest measured.

    Parameters
    ----------
    data : (travel, force, standard error)
    curve : Curve
    slack, compliance : float
        mm, mm/N.
    blank : Blank, optional
        The rig's own stretch.
    free : bool
        Fit slack and compliance, which are no properties of the joint, to these data.
    """
    travel, force, _ = data
    if len(force) == 0:
        return float("nan")
    if free:

        def off(s: Floats) -> Floats:
            return load_at(travel, curve, float(s[0]), 1e-6 * float(s[1]), blank) - force

        found = least_squares(off, np.array([slack, 1e6 * compliance]), x_scale="jac")
        slack, compliance = float(found.x[0]), 1e-6 * float(found.x[1])
    left = load_at(travel, curve, slack, compliance, blank) - force
    return float(np.sqrt(np.mean(left**2))) / float(force.max())
