"""What the rig adds to a measured curve: the load cell's zero, slack, and the rig's own stretch.

A rig's travel is x = slack + compliance * F + the joint's extension at F. The compliance is stated,
or read from an unloading (metal that unloads is elastic), or from the first part of the pull,
where the prediction hardly depends on the metal's strength.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np

from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.measured import log_ends

OWN_ERROR = 0.10
"""Relative standard uncertainty of the predicted elastic stretch (a judgement, no source)."""
EARLY = (0.06, 0.45)
"""Loads between which the first part is read, over the predicted offset load."""
_BINS = 60
STIFFENS = 0.30
"""Fall of the rig's compliance over the early part from which it is no line."""
PRELOAD = 0.01
"""First reading over the largest load from which it may be a preload and no zero."""
SLIP, _SLIP_ROWS, _MUCH = 0.03, 2, 6.0
"""Travel of a slip over so many rows, mm, and so many times what the rows beside run."""
ABRUPT = 0.2
"""Fall from one row to the next, over the load let go from, that is a break and no release."""
BACKWARDS = 0.02
"""Length by which a joint that only gets longer may seem to get shorter, mm."""


@dataclass(frozen=True, eq=False)
class Curve:
    """A curve of load (N) against extension (mm), from first touch, (n,) arrays."""

    load: Floats
    extension: Floats


@dataclass(frozen=True)
class Rig:
    """What the rig adds.

    Attributes
    ----------
    zero : float
        Reading of the load cell before anything pulls, N.
    slack, slack_sd : float
        Travel before first touch and its standard uncertainty, mm.
    compliance, compliance_sd : float
        The rig's stretch, mm/N.
    how : str
        Where the compliance comes from.
    middle : float
        Mean load of the part from which slack is read, N.
    """

    zero: float
    slack: float
    slack_sd: float
    compliance: float
    compliance_sd: float
    how: str
    middle: float = 0.0

    def with_compliance(self, compliance: float) -> Rig:
        """Return the rig of another compliance through the same early part of the pull."""
        slack = self.slack + (self.compliance - compliance) * self.middle
        return replace(self, compliance=compliance, slack=slack)

    @property
    def stiffness(self) -> float:
        """N/mm; infinite for a rig that does not stretch."""
        return 1.0 / self.compliance if self.compliance > 0.0 else np.inf

    def joint_extension(self, force: Floats, travel: Floats) -> Floats:
        """Return the joint's own extension, mm; `force` is less the zero already."""
        return np.asarray(travel - self.slack - self.compliance * force)

    def sentence(self) -> str:
        """Say it with its uncertainty."""
        rig = (
            "no measurable stretch of the rig"
            if self.compliance <= 0.0
            else f"rig stiffness {self.stiffness:,.0f} N/mm"
            f" (compliance {1e3 * self.compliance:.4f} ± {1e3 * self.compliance_sd:.4f} mm/kN)"
        )
        zero = f", zero of the load cell {self.zero:+.0f} N" if abs(self.zero) >= 0.5 else ""
        return f"slack {self.slack:.3f} ± {self.slack_sd:.3f} mm, {rig}, {self.how}{zero}"


def zero_of(force: Floats, travel: Floats | None = None) -> float:
    """Return the load cell's reading before the pull, where the log begins with a flat run.

    A reading beyond a hundredth of the largest is its zero only where the rig moves through the
    run, as it takes up slack: held still it may be a preload.

    Parameters
    ----------
    force : (n,) array
        N.
    travel : (n,) array, optional
        mm.
    """
    # of second differences, so that a pull does not count as noise: 0.6745 sqrt(6) of white noise
    noise = float(np.median(np.abs(np.diff(force, 2)))) / 1.652 if len(force) > 2 else 0.0
    top = float(force.max())
    count = min(20, len(force) // 10)
    if count < 3:
        return 0.0
    level = float(np.median(force[:count]))
    limit = max(4.0 * noise, 2e-3 * top)
    spread = float(np.ptp(force[:count]))
    flat = spread <= 2.0 * limit and abs(level) < 0.1 * top
    run = np.flatnonzero(np.abs(force - level) > limit)
    if not flat or (len(run) and run[0] < count):
        return 0.0
    quiet = force[: run[0] if len(run) else count]
    zero = float(np.mean(quiet[: max(3, int(0.7 * len(quiet)))]))
    if abs(zero) > PRELOAD * top and travel is not None:
        moved = abs(float(travel[len(quiet) - 1] - travel[0]))
        # engaged, the joint and its rig would have gained so much load on that way
        slope = log_ends.line(force, travel, int(np.argmax(force)))
        if slope <= 0.0 or moved / slope < 4.0 * limit:
            return 0.0
    return zero if abs(zero) <= PRELOAD * top or travel is not None else 0.0


def find(
    force: Floats,
    travel: Floats,
    predicted: Curve,
    scale: float,
    *,
    stiffness: float | None = None,
    back_compliance: float | None = None,
    blank: tuple[float, str] | None = None,
) -> Rig:
    """Find slack and compliance of the rig.

    Parameters
    ----------
    force, travel : (n,) arrays
        As logged, N and mm.
    predicted : Curve
    scale : float
        Predicted offset load, or the predicted maximum where there is none, N.
    stiffness : float, optional
        Stated stiffness of the rig, N/mm; infinite for a travel taken at the joint itself.
    back_compliance : float, optional
        Predicted compliance of the joint while it unloads, mm/N: an unloading in the log is then
        used.
    blank : (float, str), optional
        Standard uncertainty of the compliance that a blank pull left (mm/N), and its name: the
        travel is free of the rig already.

    Raises
    ------
    BadInput
        If the log holds too little of the first part.
    """
    zero = zero_of(force, travel)
    f = force - zero
    to = int(np.argmax(f)) + 1
    f_early, x_early = _binned(f[:to], travel[:to], EARLY[0] * scale, EARLY[1] * scale)
    if len(f_early) < 3:
        mend = "log more rows a second, or leave the travel out"
        allowed = f"has too few rows between {EARLY[0] * scale:.0f} and {EARLY[1] * scale:.0f} N"
        raise BadInput(Fault("the log", "", allowed, mend))
    extension = np.interp(f_early, predicted.load, predicted.extension)
    own = float(np.polyfit(f_early, extension, 1)[0])
    if blank is not None:
        compliance, sd, how = 0.0, blank[0], f"rig measured by the blank pull {blank[1]}"
    elif stiffness is not None:
        compliance, sd, how = 1.0 / stiffness, 0.0, "as stated"
    else:
        back = unloading(f, travel) if back_compliance is not None else None
        if back is not None and back_compliance is not None and back.slope > back_compliance:
            compliance = back.slope - back_compliance
            sd = float(np.hypot(back.error, OWN_ERROR * back_compliance))
            how = f"from the unloading in the log at {back.load:,.0f} N"
        else:
            (compliance, _), covariance = _line(f_early, x_early - extension)
            sd = float(np.hypot(np.sqrt(covariance), OWN_ERROR * own))
            how = "from the first part of the pull"
        if compliance <= 0.0:
            compliance, how = 0.0, f"{how} (none found)"
    left = x_early - extension - compliance * f_early
    middle = float(f_early.mean())
    noise = float(np.std(left) / np.sqrt(len(left)))
    return Rig(
        zero,
        float(np.mean(left)),
        float(np.hypot(noise, middle * sd)),
        float(compliance),
        sd,
        how,
        middle,
    )


def not_a_line(force: Floats, travel: Floats, predicted: Curve, scale: float, rig: Rig) -> str:
    """Say why a rig is no straight line; empty where it may be one.

    A grip with rubber or timber stiffens: its compliance falls over the early part, where the
    prediction hardly depends on the metal, or the joint's own extension then runs backwards.

    Parameters
    ----------
    force, travel : (n,) arrays
        Force less its zero, N, and the travel, mm.
    predicted : Curve
    scale : float
        As for `find`.
    rig : Rig
        As found by a line.
    """
    to = int(np.argmax(force)) + 1
    slip = _slip(force[:to], travel[:to], EARLY[0] * scale)
    if slip is not None:
        return f"the travel runs {slip[0]:.2f} mm at {slip[1]:,.0f} N and no load is gained: a slip"
    f, x = _binned(force[:to], travel[:to], EARLY[0] * scale, EARLY[1] * scale)
    if len(f) >= 8:
        of_rig = x - np.interp(f, predicted.load, predicted.extension)
        middle = f - f.mean()
        (bend, slope, _), covariance = np.polyfit(middle, of_rig, 2, cov=True)
        fall = -2.0 * bend * float(np.ptp(f))
        sure = -bend > 5.0 * float(np.sqrt(covariance[0, 0]))
        if sure and slope > 0.0 and fall > STIFFENS * slope:
            first, last = slope + 0.5 * fall, max(slope - 0.5 * fall, 1e-9)
            return (
                f"the rig stiffens from {1e-3 / first:.1f} to {1e-3 / last:.1f} kN/mm between "
                f"{f[0]:,.0f} and {f[-1]:,.0f} N"
            )
    f, x = _binned(force[:to], travel[:to], EARLY[0] * scale, 0.97 * float(force.max()))
    own = rig.joint_extension(f, x)
    rising = f >= 0.98 * np.maximum.accumulate(f)
    if rising.sum() >= 8:
        back = float(np.max(np.maximum.accumulate(own[rising]) - own[rising]))
        noise = float(np.median(np.abs(np.diff(own[rising], 2)))) if rising.sum() > 3 else 0.0
        if back > max(BACKWARDS, 8.0 * noise):
            return f"less a straight rig, the joint would get {back:.2f} mm shorter under load"
    return ""


def _slip(force: Floats, travel: Floats, low: float) -> tuple[float, float] | None:
    """Return how far the travel ran at which load without gaining any, None where it did not.

    Over a few rows it runs much further than over those beside them, and the load gains no more.
    """
    above = np.flatnonzero(force > low)
    if len(above) < 40:
        return None
    f, x = force[above[0] :], travel[above[0] :]
    run, gain = x[_SLIP_ROWS:] - x[:-_SLIP_ROWS], f[_SLIP_ROWS:] - f[:-_SLIP_ROWS]
    found: tuple[float, float] | None = None
    for k in np.flatnonzero(run > SLIP):
        beside = np.r_[max(k - 24, 0) : max(k - _SLIP_ROWS, 0), k + _SLIP_ROWS : k + 24]
        beside = beside[beside < len(run)]
        usual = float(np.median(np.abs(run[beside]))) if len(beside) else np.inf
        if run[k] > _MUCH * usual and gain[k] < 2.0 * max(float(np.median(gain[beside])), 0.0):
            found = max(found or (0.0, 0.0), (float(run[k]), float(f[k])))
    return found


@dataclass(frozen=True)
class Unloading:
    """A release in a log: dx/dF and its standard error (mm/N), and the load let go from (N)."""

    slope: float
    error: float
    load: float


def unloading(force: Floats, travel: Floats) -> Unloading | None:
    """Find the first release of a log, read between 92 and 38 % of the load let go from.

    A break or a slip, at which the force falls while the travel does not run back as far as an
    elastic joint gives back, is none; nor is a release that such a fall begins.
    """
    top = float(force.max())
    highest = np.maximum.accumulate(force)
    low = np.flatnonzero((force < 0.6 * highest) & (highest > 0.3 * top))
    while len(low):
        end = int(low[0])
        start = int(np.argmax(force[: end + 1]))
        peak = float(force[start])
        again = np.flatnonzero(force[end:] > peak)
        until = end + int(again[0]) if len(again) else len(force)
        back = start + int(np.argmin(force[start:until])) + 1
        f, x = force[start:back], travel[start:back]
        inside = (f < 0.92 * peak) & (f > 0.38 * peak)
        falls = bool(inside.any()) and float(np.max(-np.diff(f, prepend=f[0]))) > ABRUPT * peak
        if inside.sum() >= 4 and not falls:
            (slope, _), variance = _line(f[inside], x[inside])
            if slope > log_ends.BACK * log_ends.line(force, travel, start):
                return Unloading(slope, float(np.sqrt(variance)), peak)
        if len(again) == 0:
            return None
        low = low[low > until]
    return None


def _line(x: Floats, y: Floats) -> tuple[tuple[float, float], float]:
    """Slope, intercept and the slope's variance of a straight line."""
    slope, at_zero = np.polyfit(x, y, 1)
    left = y - slope * x - at_zero
    spread = float(np.sum((x - x.mean()) ** 2))
    variance = float(np.sum(left**2)) / max(len(x) - 2, 1) / spread
    return (float(slope), float(at_zero)), variance


def _binned(force: Floats, travel: Floats, low: float, high: float) -> tuple[Floats, Floats]:
    """Means of runs of rows between two loads, so that noise does not tilt the line.

    Rows from the last one below `low` to the first above `high`, in the order of the log: picking
    them by their noisy force would shift the ends.
    """
    above = np.flatnonzero(force > high)
    end = int(above[0]) if len(above) else len(force)
    below = np.flatnonzero(force[:end] < low)
    begin = int(below[-1]) + 1 if len(below) else 0
    f, x = force[begin:end], travel[begin:end]
    count = min(_BINS, max(1, len(f)))
    edges = np.linspace(0, len(f), count + 1).astype(int)
    filled = [(a, b) for a, b in itertools.pairwise(edges) if b > a]
    return (
        np.array([f[a:b].mean() for a, b in filled]),
        np.array([x[a:b].mean() for a, b in filled]),
    )
