"""Learning a metal's law and the friction from measured pulls.

Every log's force is modelled as F(x) with x = slack + compliance F + extension(F; law, friction),
where the extension comes from the real solve. Parameters have bounds and priors; what the logs
leave as uncertain as it was is refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.measured.calibration_result import Fit, Learned, Prior, Pulled
from fejoint.measured.rig_compliance import Curve
from fejoint.measured.surrogate import Emulator, Solve
from fejoint.measured.thinning import refuse_elastic, thinned

SCALE_SD = 0.01
"""Standard uncertainty of the model's load as a whole (mesh, plane stress; a judgement)."""
POINT_SD = (0.0015, 0.004)
"""The same for single points of the curve, over the load there: least, and at first. After each
real solve the misfit that is left takes its place."""
CLOSE_ENOUGH = 0.004
"""The emulator's error at which the fit rests."""
COVERS = 1.96
"""Half width of a 95 % interval over the standard uncertainty."""
_MOST_MOVES = 6


def _load_at(travel: Floats, curve: Curve, slack: float, compliance: float) -> Floats:
    """Return the modelled load at a rig's travel."""
    at = slack + compliance * curve.load + curve.extension
    return np.interp(travel, np.maximum.accumulate(at), curve.load)


def fit(
    pulls: Sequence[Pulled],
    solve: Solve,
    priors: Sequence[Prior],
    *,
    finer: Solve | None = None,
    held_out: Sequence[Pulled] = (),
    elastic_until: float = 0.0,
    moves: int = _MOST_MOVES,
) -> Fit:
    """Fit parameters of the joint to logs.

    Parameters
    ----------
    pulls : sequence of Pulled
    solve : callable
        From the parameters (in the priors' own coordinates) to the joint's curve.
    priors : sequence of Prior
    finer : callable, optional
        A finer solve, made once: what it changes is carried to every other.
    held_out : sequence of Pulled
        Judged only.
    elastic_until : float
        Extension beyond its elastic line that a log must show, mm.
    moves : int
        Most real solves after the first slopes.

    Raises
    ------
    BadInput
        If a log never left the elastic line, or says nothing of any parameter.
    """
    for p in pulls:
        refuse_elastic(p, elastic_until)
    centre = np.array([p.inward(p.value) for p in priors])
    steps = np.array([0.05 if p.logarithmic else 0.5 * p.deviation for p in priors])
    model = Emulator(solve, centre, steps, finer)
    first = model.curve(centre)
    reach = float(model.grid[-1])
    problem = _Problem(pulls, [thinned(p, reach) for p in pulls], priors, model)
    error, notes = np.inf, []
    for _ in range(moves):
        x = problem.solved()
        problem.judge(x)
        to = x[: len(priors)]
        for _ in range(6):
            try:
                error = model.move(to)
                break
            except ValueError:
                to = 0.5 * (to + model.centre)
        else:
            notes.append("no hardening curve passes the place where the fit wanted to go")
            break
        if error < CLOSE_ENOUGH:
            break
    x = problem.solved()
    if error >= CLOSE_ENOUGH:
        notes.append(f"the fit had not settled: {100 * error:.1f} % of load left")
    return _outcome(problem, x, first, held_out, tuple(notes), error)


@dataclass(eq=False)
class _Problem:
    """Least squares over parameters, the load's scale, the rig's compliance and the slacks."""

    pulls: Sequence[Pulled]
    data: Sequence[tuple[Floats, Floats, Floats]]
    priors: Sequence[Prior]
    model: Emulator
    point_sd: float = POINT_SD[1]

    @property
    def n(self) -> int:
        return len(self.priors)

    def start(self) -> Floats:
        """Return the emulator's centre, with the rigs as found beforehand."""
        compliance = float(np.mean([p.rig.compliance for p in self.pulls]))
        return np.array(
            [*self.model.centre, 0.0, 1e6 * compliance, *(p.rig.slack for p in self.pulls)]
        )

    def residuals(self, x: Floats) -> Floats:
        """Return data and priors, each over its standard uncertainty."""
        theta, scale, compliance = x[: self.n], np.exp(x[self.n]), 1e-6 * x[self.n + 1]
        joint = self.model.curve(theta)
        curve = Curve(scale * joint.load, joint.extension)
        rows = []
        for (travel, force, sd), slack in zip(self.data, x[self.n + 2 :], strict=True):
            floor = 0.002 * float(force.max()) if len(force) else 1.0
            weight = np.sqrt(sd**2 + (self.point_sd * force) ** 2 + floor**2)
            # the model's errors are shared by neighbouring points: about 25 are independent
            weight *= np.sqrt(max(1.0, len(force) / 25.0))
            rows.append((_load_at(travel, curve, slack, compliance) - force) / weight)
        held = [(x[k] - p.inward(p.value)) / p.deviation for k, p in enumerate(self.priors)]
        held.append(x[self.n] / SCALE_SD)
        known = self.pulls[0].rig
        stated = known.how == "as stated"
        width = 1e6 * (1e-3 * known.compliance if stated else 3.0 * known.compliance_sd)
        held.append((x[self.n + 1] - 1e6 * known.compliance) / max(width, 1e-3))
        return np.concatenate([*rows, held])

    def solved(self) -> Floats:
        """Return the best parameters on the emulator, within the bounds."""
        low = [
            p.inward(p.low) if p.low > 0.0 or not p.logarithmic else -np.inf for p in self.priors
        ]
        high = [p.inward(p.high) for p in self.priors]
        rest = 1 + len(self.pulls)
        bounds = (
            np.array([*low, -0.1, 0.0, *[-np.inf] * (rest - 1)]),
            np.array([*high, 0.1, *[np.inf] * rest]),
        )
        start = np.clip(self.start(), bounds[0] + 1e-9, bounds[1] - 1e-9)
        found = least_squares(self.residuals, start, bounds=bounds, x_scale="jac")
        return np.asarray(found.x)

    def judge(self, x: Floats) -> None:
        """Take the misfit that is left for the model's own error, never above the first guess."""
        curve, compliance = self.model.curve(x[: self.n]), 1e-6 * x[self.n + 1]
        curve = Curve(np.exp(x[self.n]) * curve.load, curve.extension)
        left = [
            _rms(data, curve, float(slack), compliance)
            for data, slack in zip(self.data, x[self.n + 2 :], strict=True)
        ]
        self.point_sd = float(np.clip(1.5 * np.nanmax(left), *POINT_SD))

    def covariance(self, x: Floats) -> Floats:
        """Return the parameters' covariance at the solution (Gauss-Newton, priors included)."""
        step = np.full(len(x), 1e-5)
        columns = []
        for k in range(len(x)):
            a, b = x.copy(), x.copy()
            a[k] += step[k]
            b[k] -= step[k]
            columns.append((self.residuals(a) - self.residuals(b)) / (2.0 * step[k]))
        j = np.array(columns).T
        return np.asarray(np.linalg.pinv(j.T @ j))


def _outcome(
    problem: _Problem,
    x: Floats,
    first: Curve,
    held_out: Sequence[Pulled],
    notes: tuple[str, ...],
    error: float,
) -> Fit:
    n, model = problem.n, problem.model
    covariance = problem.covariance(x)
    sd = np.sqrt(np.diag(covariance))
    learned = []
    for k, prior in enumerate(problem.priors):
        ends = [prior.outward(float(x[k] + s * COVERS * sd[k])) for s in (-1.0, 1.0)]
        interval = (max(ends[0], prior.low), min(ends[1], prior.high))
        value = prior.outward(float(x[k]))
        learned.append(Learned(prior, value, interval, float(sd[k]) / prior.deviation))
    if not any(item.identified for item in learned):
        mend = "pull further, or learn from other logs"
        raise BadInput(Fault("--learn", "", "the logs tell nothing of the law or friction", mend))
    known = problem.pulls[0].rig
    c, c_sd = 1e-6 * float(x[n + 1]), 1e-6 * float(sd[n + 1])
    own = Prior(
        "compliance", "mm/N", known.compliance, max(known.compliance_sd, 1e-12), 0.0, np.inf, False
    )
    compliance = Learned(
        own, c, (max(c - COVERS * c_sd, 0.0), c + COVERS * c_sd), c_sd / own.deviation
    )
    best = model.curve(x[:n])
    before, after = [], []
    for p, data, slack in zip(problem.pulls, problem.data, x[n + 2 :], strict=True):
        before.append(_rms(data, first, p.rig.slack, p.rig.compliance))
        after.append(_rms(data, best, slack, c))
    judged = {}
    for p in held_out:
        data = thinned(p, float(model.grid[-1]))
        judged[p.name] = (
            _rms(data, first, p.rig.slack, p.rig.compliance, free=True),
            _rms(data, best, p.rig.slack, c, free=True),
        )
    part = covariance[:n, :n] / np.outer(sd[:n], sd[:n])
    return Fit(
        tuple(learned), part, compliance, tuple(map(float, x[n + 2 :])), tuple(before),
        tuple(after), judged, model.solves, error, best, notes,
    )  # fmt: skip


def _rms(
    data: tuple[Floats, Floats, Floats],
    curve: Curve,
    slack: float,
    compliance: float,
    *,
    free: bool = False,
) -> float:
    """Return the rms of modelled less measured load over the largest measured."""
    travel, force, _ = data
    if len(force) == 0:
        return float("nan")
    if free:
        # a log held out has its own slack, which is no property of the joint
        def off(s: Floats) -> Floats:
            return _load_at(travel, curve, float(s[0]), compliance) - force

        found = least_squares(off, np.array([slack]))
        slack = float(found.x[0])
    left = _load_at(travel, curve, slack, compliance) - force
    return float(np.sqrt(np.mean(left**2))) / float(force.max())
