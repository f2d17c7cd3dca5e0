"""Several samples: mean, spread and interval; two designs compared; how many to pull."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault

LEVEL = 0.95
"""Confidence of the intervals."""
MOST_SAMPLES = 10_000


@dataclass(frozen=True)
class Spread:
    """Mean and spread of a sample.

    Attributes
    ----------
    count : int
    mean : float
    deviation, interval : float or None, (float, float) or None
        Standard deviation and the mean's confidence interval (Student's t); None for one sample.
    outliers : tuple of int
        Places that Grubbs' test names at 5 %; they are counted all the same.
    """

    count: int
    mean: float
    deviation: float | None
    interval: tuple[float, float] | None
    outliers: tuple[int, ...] = ()

    @property
    def relative(self) -> float | None:
        """Standard deviation over the mean."""
        return None if self.deviation is None else self.deviation / self.mean


def spread(values: Sequence[float]) -> Spread:
    """Return mean, standard deviation, confidence interval and outliers of a sample."""
    x = np.asarray(values, float)
    if len(x) < 2:
        return Spread(len(x), float(x.mean()), None, None)
    deviation = float(x.std(ddof=1))
    half = float(stats.t.ppf(0.5 + LEVEL / 2.0, len(x) - 1)) * deviation / np.sqrt(len(x))
    mean = float(x.mean())
    return Spread(len(x), mean, deviation, (mean - half, mean + half), outliers(x))


def outliers(values: Floats, level: float = 0.05) -> tuple[int, ...]:
    """Return the places of outliers, by Grubbs' two-sided test, taken one after the other.

    F. E. Grubbs, Procedures for detecting outlying observations in samples, Technometrics 11,
    1969 (the form with Student's t, from memory).
    """
    x = np.asarray(values, float)
    left = list(range(len(x)))
    found: list[int] = []
    while len(left) >= 4 and len(found) < len(x) // 4:
        part = x[left]
        n, deviation = len(part), float(part.std(ddof=1))
        if deviation <= 1e-12 * abs(float(part.mean())):
            break
        far = int(np.argmax(np.abs(part - part.mean())))
        t = float(stats.t.isf(level / (2.0 * n), n - 2))
        limit = (n - 1) / np.sqrt(n) * np.sqrt(t**2 / (n - 2 + t**2))
        if abs(part[far] - part.mean()) / deviation <= limit:
            break
        found.append(left.pop(far))
    return tuple(sorted(found))


@dataclass(frozen=True)
class Comparison:
    """Two designs: second less first, over the first.

    Attributes
    ----------
    difference : float
        Relative.
    interval : (float, float)
        Its 95 % confidence interval (Welch).
    p_value : float
        Chance of such a difference between equal designs.
    """

    difference: float
    interval: tuple[float, float]
    p_value: float

    @property
    def told_apart(self) -> bool:
        """Whether the interval leaves 0 out."""
        return self.interval[0] > 0.0 or self.interval[1] < 0.0


def compare(first: Sequence[float], second: Sequence[float]) -> Comparison:
    """Compare two designs by Welch's t test.

    Raises
    ------
    BadInput
        If a design has fewer than 2 samples.
    """
    a, b = np.asarray(first, float), np.asarray(second, float)
    if min(len(a), len(b)) < 2:
        allowed = "needs at least 2 samples of each design"
        raise BadInput(Fault("comparison", f"{len(a)} and {len(b)}", allowed, "pull more"))
    mean = float(a.mean())
    if a.std() + b.std() <= 1e-12 * abs(mean):
        difference = float(b.mean() - mean) / mean
        return Comparison(difference, (difference, difference), float(difference == 0.0))
    result = stats.ttest_ind(b, a, equal_var=False)
    interval = result.confidence_interval(LEVEL)
    return Comparison(
        float(b.mean() - mean) / mean,
        (float(interval.low) / mean, float(interval.high) / mean),
        float(result.pvalue),
    )


def power(count: int, difference: float, scatter: float) -> float:
    """Return the chance that `count` samples of each design tell a difference.

    Two-sided t test at 5 %, equal scatter: the noncentral t distribution with 2n - 2 degrees of
    freedom and noncentrality (difference/scatter) sqrt(n/2) (the standard result; from memory).

    Parameters
    ----------
    count : int
        Samples of each design.
    difference, scatter : float
        Over the mean.
    """
    freedom = 2 * count - 2
    centre = abs(difference) / scatter * np.sqrt(count / 2.0)
    limit = stats.t.ppf(0.5 + LEVEL / 2.0, freedom)
    return float(stats.nct.sf(limit, freedom, centre) + stats.nct.cdf(-limit, freedom, centre))


def samples_needed(difference: float, scatter: float, wanted: float = 0.9) -> int:
    """Return how many samples of each design tell a difference with the wanted chance.

    Raises
    ------
    BadInput
        If a number is out of range, or it takes more than MOST_SAMPLES.
    """
    for name, value, low, high in (
        ("difference", abs(difference), 1e-4, 10.0),
        ("scatter", scatter, 1e-4, 1.0),
        ("power", wanted, 0.05, 0.9999),
    ):
        if not low <= value <= high:
            allowed = f"must be {low:g} to {high:g}"
            raise BadInput(Fault(f"--{name}", f"{value:g}", allowed, "change it"))
    low_count, count = 1, 2
    while power(count, difference, scatter) < wanted:
        low_count, count = count, 2 * count
        if count > MOST_SAMPLES:
            allowed = f"takes more than {MOST_SAMPLES:,} samples at this scatter"
            raise BadInput(
                Fault("--difference", f"{difference:g}", allowed, "ask for a larger one")
            )
    while count - low_count > 1:
        middle = (low_count + count) // 2
        if power(middle, difference, scatter) < wanted:
            low_count = middle
        else:
            count = middle
    return count


def shared(left: Floats) -> float:
    """Return how many neighbouring points (n,) count as one, from their autocorrelation."""
    off = left - left.mean()
    n = len(off)
    power = float(np.sum(off**2))
    if power <= 0.0:
        return 1.0
    total = 1.0
    for lag in range(1, n // 3):
        r = float(np.sum(off[:-lag] * off[lag:])) / power
        if r < 2.0 / np.sqrt(n):
            break
        total += 2.0 * r
    return max(total, 1.0)
