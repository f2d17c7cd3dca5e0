"""Rows of a log put right before they are a curve: spikes, rows out of order, several tests."""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from fejoint.arrays import Bools, Floats, Ints

_REACH = 5
"""Rows on either side by which a spike is told (a robust filter, after Hampel 1974: a row is
held against medians of its neighbours and not against means)."""
_STEPS = 8.0
"""Typical steps between neighbouring rows beyond which a row is a spike."""
_SHARE = 0.04
"""Least departure of a spike, over the range of all rows between their 1st and 99th percentile."""
_MOST_TESTS = 50


def spikes(values: Floats) -> Bools:
    """Mark rows that leave the level of the rows before and after them, and come back.

    A break is none: the rows behind it stay down. At either end, where one side is missing, only
    a row beyond anything else in the log is a spike.

    Parameters
    ----------
    values : (n,) array
        In the order of the log.

    Returns
    -------
    (n,) array of bool
    """
    n = len(values)
    if n < 8:
        return np.zeros(n, bool)
    low, high = np.quantile(values, [0.01, 0.99]) if n > 300 else np.sort(values)[[1, -2]]
    least = _SHARE * float(high - low)
    padded = np.concatenate([np.full(_REACH, np.nan), values, np.full(_REACH, np.nan)])
    windows = sliding_window_view(padded, 2 * _REACH + 1)
    suspects = np.flatnonzero(_suspect(values, least))
    found = np.zeros(n, bool)
    for k in suspects:
        window = windows[k]
        before, after = window[:_REACH], window[_REACH + 1 :]
        before, after = before[np.isfinite(before)], after[np.isfinite(after)]
        if len(before) < 2 or len(after) < 2:
            others = np.delete(values, k)
            span = float(np.ptp(np.sort(others)[1:-1]))
            found[k] = abs(values[k] - np.median(others)) > 3.0 * span
            continue
        levels = float(np.median(before)), float(np.median(after))
        step = float(
            np.median(np.abs(np.diff(np.delete(window[np.isfinite(window)], len(before)))))
        )
        off = max(min(levels) - values[k], values[k] - max(levels))
        found[k] = off > max(abs(levels[1] - levels[0]) + _STEPS * step, least)
    return found


def _suspect(values: Floats, least: float) -> Bools:
    """Mark rows at either end of a large step, so that few are looked at closely."""
    large = np.abs(np.diff(values)) > 0.5 * least
    return np.asarray(np.concatenate([large, [False]]) | np.concatenate([[False], large]))


def tests(time: Floats | None, travel: Floats | None, rows: int) -> list[Ints] | None:
    """Return the rows of every test in a log; None where its rows are in no order.

    A new test begins where time jumps back towards its start; without time, where travel does in
    one row (a rig that drives back is logged on its way). Rows that were shuffled are put in the
    order of time.

    Parameters
    ----------
    time, travel : (n,) array or None
    rows : int
    """
    clock = time if time is not None else travel
    if clock is None or rows < 8:
        return [np.arange(rows)]
    span = float(np.ptp(clock))
    steps = np.diff(clock)
    if time is not None:
        back = np.flatnonzero(steps < 0.0)
        if len(back) == 0:
            return [np.arange(len(clock))]
        if len(back) > 0.9 * len(steps):
            return [np.arange(len(clock))[::-1]]
        restart = np.flatnonzero(steps < -0.3 * _run_spans(clock, back))
        if len(restart) == len(back) and len(back) < _MOST_TESTS:
            parts = np.split(np.arange(len(clock)), back + 1)
            if min(map(len, parts)) >= 5:
                return list(parts)
        return [np.argsort(clock, kind="stable")]
    jumps = np.flatnonzero(np.abs(steps) > 0.4 * span)
    if len(jumps) > 0.1 * len(steps):
        return None
    rising = clock[-1] >= clock[0] or len(jumps) > 0
    signed = steps if rising else -steps
    starts = np.flatnonzero(signed < -0.4 * span)
    parts = np.split(np.arange(len(clock)), starts + 1)
    if len(parts) > 1 and min(map(len, parts)) < 5:
        return [np.arange(len(clock))]
    sizes = np.abs(steps)
    typical = span / len(clock)
    if float(np.mean(sizes)) > 20.0 * typical and float(np.mean(steps < 0.0)) > 0.3:
        return None
    return list(parts)


def _run_spans(clock: Floats, back: Ints) -> Floats:
    """Span of the run that ends at every step, for the steps that go back; infinite elsewhere."""
    spans = np.full(len(clock) - 1, np.inf)
    start = 0
    for k in back:
        spans[k] = float(np.ptp(clock[start : k + 1])) if k > start else np.inf
        start = int(k) + 1
    return spans
