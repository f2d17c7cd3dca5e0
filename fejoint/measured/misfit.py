"""The misfit of modelled to logged pulls, and what it leaves open of every parameter.

A log's travel is modelled as x = slack + compliance F + rig(F) + extension(F / (m s); law,
friction): `m` is the model's own error, the same for all logs; `s` is the sample's, one a log.
`rig` is what a blank pull found, with the errors of its shape, the same for all logs; without one
it is 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import least_squares

from fejoint.arrays import Floats
from fejoint.measured.blank_pull import Blank
from fejoint.measured.calibration_result import Prior, Pulled
from fejoint.measured.curve_error import shapes
from fejoint.measured.rig_compliance import Curve
from fejoint.measured.statistics import shared
from fejoint.measured.surrogate import Surrogate

SAMPLE_SD, SAMPLE_WEIGHT = 0.01, 2.0
"""Scatter of load between samples before the logs speak, and how many samples that is worth."""
LEAST_SD = 2e-4
"""Least standard error of a point, over the largest load."""
CHI_SQUARE = 3.8415
"""Of one degree of freedom at 95 %."""
_PER_LOG = 3


def load_at(
    travel: Floats,
    curve: Curve,
    slack: float,
    compliance: float,
    blank: Blank | None = None,
    off: Floats | None = None,
) -> Floats:
    """Return the modelled load at a rig's travel, N.

    Parameters
    ----------
    travel : (n,) array
        mm.
    curve : Curve
    slack, compliance : float
        mm, mm/N.
    blank : Blank, optional
        The rig's own stretch, whose errors are `off` standard deviations.
    off : (k,) array, optional
    """
    at = slack + compliance * curve.load + curve.extension
    if blank is not None:
        at += blank.at(curve.load, off)
    return np.interp(travel, np.maximum.accumulate(at), curve.load)


@dataclass(eq=False)
class Misfit:
    """Least squares over parameters, errors of model and blank, every log's slack, rig and scale.

    Attributes
    ----------
    data : sequence of (travel, force, standard error)
        One a log, see `thinning.thinned`.
    sd : (n_logs,) array
        Standard error of a point, over the largest load, from what the fit leaves.
    stretch : (n_logs,) array
        Points that count as one: neighbours share their error where the model is wrong.
    scatter : float
        Of load between samples.
    """

    pulls: Sequence[Pulled]
    data: Sequence[tuple[Floats, Floats, Floats]]
    priors: Sequence[Prior]
    model: Surrogate
    sd: Floats = field(init=False)
    stretch: Floats = field(init=False)
    scatter: float = SAMPLE_SD
    shapes: Floats = field(init=False)
    blank: Blank | None = field(init=False)

    def __post_init__(self) -> None:
        self.shapes = shapes(self.model.grid, self.model.refined)
        self.blank = self.pulls[0].blank
        self.sd = np.full(len(self.pulls), 0.004)
        self.stretch = np.ones(len(self.pulls))

    @property
    def n(self) -> int:
        """Number of the joint's parameters."""
        return len(self.priors)

    @property
    def shared(self) -> int:
        """Number of errors that all logs share: of the model's shape and the blank pull's."""
        return len(self.shapes) + (0 if self.blank is None else len(self.blank.errors))

    def parts(self, x: Floats) -> tuple[Floats, Floats, Floats]:
        """Return parameters, shared errors, and (n_logs, 3) slack, compliance, sample."""
        own = self.n + self.shared
        return x[: self.n], x[self.n : own], x[own:].reshape(-1, _PER_LOG)

    def place(self, log: int) -> int:
        """Return where a log's slack is among the unknowns; its compliance and sample follow."""
        return self.n + self.shared + _PER_LOG * log

    def start(self, theta: Floats) -> Floats:
        """Return a first guess: parameters, with the rigs as found beforehand."""
        rigs = [[p.rig.slack, 1e6 * p.rig.compliance, 0.0] for p in self.pulls]
        return np.array([*theta, *np.zeros(self.shared), *np.ravel(rigs)])

    def differences(self, x: Floats) -> list[Floats]:
        """Return modelled less measured load, N, one array a log."""
        theta, errors, logs = self.parts(x)
        joint = self.model.curve(theta)
        of_model, of_blank = errors[: len(self.shapes)], errors[len(self.shapes) :]
        load = joint.load * np.exp(np.concatenate([[0.0], of_model @ self.shapes]))
        found = []
        for (travel, force, _), (slack, compliance, sample) in zip(self.data, logs, strict=True):
            curve = Curve(np.exp(sample) * load, joint.extension)
            found.append(
                load_at(travel, curve, slack, 1e-6 * compliance, self.blank, of_blank) - force
            )
        return found

    def residuals(self, x: Floats) -> Floats:
        """Return data and priors, each over its standard uncertainty."""
        theta, errors, logs = self.parts(x)
        rows = []
        for k, left in enumerate(self.differences(x)):
            _, force, noise = self.data[k]
            top = float(force.max()) if len(force) else 1.0
            weight = np.sqrt(self.stretch[k] * ((self.sd[k] * top) ** 2 + noise**2))
            rows.append(left / weight)
        held = [(theta[k] - p.inward(p.value)) / p.deviation for k, p in enumerate(self.priors)]
        held += list(errors)
        for p, (_, compliance, sample) in zip(self.pulls, logs, strict=True):
            held += [
                (compliance - 1e6 * p.rig.compliance) / self.rig_width(p),
                sample / self.scatter,
            ]
        return np.concatenate([*rows, held])

    @staticmethod
    def rig_width(pulled: Pulled) -> float:
        """Return how far a log's own compliance may be from the one found beforehand, 1e-6 mm/N."""
        rig = pulled.rig
        known = 1e-3 * rig.compliance if rig.how == "as stated" else 3.0 * rig.compliance_sd
        return max(1e6 * known, 1e-3)

    def bounds(self, reach: Floats | None = None) -> tuple[Floats, Floats]:
        """Return bounds of all unknowns; `reach` holds the parameters near the model's centre."""
        low = [p.inward(p.low) if p.low > 0 or not p.logarithmic else -9.0 for p in self.priors]
        high = [p.inward(p.high) if np.isfinite(p.high) else 9.0 for p in self.priors]
        if reach is not None:
            low = list(np.maximum(low, self.model.centre - reach))
            high = list(np.minimum(high, self.model.centre + reach))
        # a rig taken out by a blank pull may be taken out a little too much
        least = [min(0.0, -5.0 * self.rig_width(p)) if p.rig.compliance == 0.0 else 0.0
                 for p in self.pulls]  # fmt: skip
        free, far = len(self.pulls), np.full(self.shared, 10.0)
        return (
            np.array([*low, *-far, *np.ravel([[-np.inf, c, -0.3] for c in least])]),
            np.array([*high, *far, *([np.inf, np.inf, 0.3] * free)]),
        )

    def solved(self, starts: Sequence[Floats], reach: Floats | None = None) -> Floats:
        """Return the best unknowns of several starts on the surrogate."""
        low, high = self.bounds(reach)
        best = None
        for each in starts:
            inside = np.clip(each, low + 1e-9, high - 1e-9)
            found = least_squares(self.residuals, inside, bounds=(low, high), x_scale="jac")
            if best is None or found.cost < best.cost:
                best = found
        assert best is not None
        return np.asarray(best.x)

    def judge(self, x: Floats) -> None:
        """Take errors of points and the scatter between samples from what the fit leaves.

        Where neighbouring points leave the same sign, fewer of them count (the integrated
        autocorrelation of what is left, Geyer 1992's initial positive sequence, from memory).
        """
        for k, left in enumerate(self.differences(x)):
            force = self.data[k][1]
            if len(left) < 8:
                continue
            top = float(force.max())
            self.sd[k] = max(float(np.sqrt(np.mean(left**2))) / top, LEAST_SD)
            self.stretch[k] = shared(left)
        own = self.parts(x)[2][:, 2]
        spread = float(np.sum((own - own.mean()) ** 2))
        n = len(own) - 1
        self.scatter = float(np.sqrt((SAMPLE_WEIGHT * SAMPLE_SD**2 + spread) / (SAMPLE_WEIGHT + n)))

    def covariance(self, x: Floats) -> Floats:
        """Return the unknowns' covariance at the solution (Gauss-Newton, priors included)."""
        step = 1e-5
        columns = []
        for k in range(len(x)):
            a, b = x.copy(), x.copy()
            a[k] += step
            b[k] -= step
            columns.append((self.residuals(a) - self.residuals(b)) / (2.0 * step))
        j = np.array(columns).T
        return np.asarray(np.linalg.pinv(j.T @ j))

    def profile(self, x: Floats, index: int, sd: float) -> tuple[float, float]:
        """Return the 95 % interval of one unknown: where the profile of chi-square rises by 3.84.

        Every other unknown is fitted anew at each place (Venzon and Moolgavkar 1988, from memory).
        """
        low, high = self.bounds()
        best = float(np.sum(self.residuals(x) ** 2))
        keep = np.delete(np.arange(len(x)), index)
        ends = []
        for sign, limit in ((-1.0, low[index]), (1.0, high[index])):
            here, rest, rise = float(x[index]), x[keep], 0.0
            step = 1.0
            inner, outer = 0.0, np.inf
            for _ in range(9):
                here = float(x[index] + sign * step * 1.96 * sd)
                if sign * (limit - here) <= 0.0:
                    here = float(limit)
                    step = abs(here - float(x[index])) / (1.96 * sd)
                whole = x.copy()
                whole[index] = here

                def left(y: Floats, whole: Floats = whole) -> Floats:
                    whole[keep] = y
                    return self.residuals(whole)

                start = np.clip(rest, low[keep] + 1e-9, high[keep] - 1e-9)
                found = least_squares(left, start, bounds=(low[keep], high[keep]), x_scale="jac")
                rise = 2.0 * float(found.cost) - best
                if abs(rise - CHI_SQUARE) < 0.15 or (here == limit and rise < CHI_SQUARE):
                    break
                inner, outer = (step, outer) if rise < CHI_SQUARE else (inner, step)
                trial = step * float(np.sqrt(CHI_SQUARE / max(rise, 0.2)))
                within = inner < trial < outer
                step = (
                    trial if within else 0.5 * (inner + outer) if np.isfinite(outer) else 2 * step
                )
            ends.append(here)
        return ends[0], ends[1]
