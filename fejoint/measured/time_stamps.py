"""Time stamps of a log (a date, a clock, or both) as seconds."""

from __future__ import annotations

import re
import warnings
from collections.abc import Sequence

import numpy as np
import pandas as pd

from fejoint.arrays import Floats

_DATE = re.compile(r"\d{1,4}([./-])\d{1,2}\1\d{1,4}")
_CLOCK = re.compile(r"\d{1,3}:\d{2}(?::\d{2}(?:[.,]\d+)?)?(?:\s*[APap][Mm])?")
_BOTH = re.compile(rf"(?:{_DATE.pattern})[T ]+(?:{_CLOCK.pattern})Z?")
DAY = 86400.0


def columns_of(table: Sequence[Sequence[str]]) -> tuple[int | None, int | None]:
    """Return the columns of date and clock; the same column twice where it holds both.

    Parameters
    ----------
    table : sequence of rows of cells
        A sample, every row alike long.
    """
    date = clock = None
    for k, cells in enumerate(zip(*table, strict=True)):
        if all(_BOTH.fullmatch(c) for c in cells):
            return k, k
        if date is None and all(_DATE.fullmatch(c) for c in cells):
            date = k
        if clock is None and all(_CLOCK.fullmatch(c) for c in cells):
            clock = k
    return (date, clock) if clock is not None else (None, None)


def seconds(dates: Sequence[str] | None, clocks: Sequence[str]) -> Floats:
    """Return seconds from the first stamp; a clock that passes midnight goes on.

    Parameters
    ----------
    dates, clocks : sequence of str
        Without dates, `clocks` may hold both.

    Returns
    -------
    (n,) array
        NaN where a cell holds no stamp.
    """
    clean = [c.replace(",", ".") for c in clocks]
    alone = dates is None and bool(clean) and _CLOCK.fullmatch(clean[0]) is not None
    if alone:
        full = [c if c.count(":") > 1 else f"{c}:00" for c in clean]
        if any(c[-1:] in "mM" for c in full):
            stamps = pd.to_datetime(pd.Series(full), format="mixed", errors="coerce")
            found = (stamps - stamps.iloc[0]).dt.total_seconds().to_numpy(float)
        else:
            found = pd.to_timedelta(pd.Series(full), errors="coerce").dt.total_seconds().to_numpy()
    else:
        whole = clean if dates is None else [f"{a} {b}" for a, b in zip(dates, clean, strict=True)]
        first = re.match(r"\d+", whole[0]) if whole else None
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            days_first = first is not None and len(first[0]) < 3 and "/" not in whole[0]
            stamps = pd.to_datetime(
                pd.Series(whole), format="mixed", dayfirst=days_first, errors="coerce", utc=True
            )
        found = (stamps - stamps.iloc[0]).dt.total_seconds().to_numpy(float)
    values = np.array(found, dtype=float)
    steps = np.diff(values)
    if alone and len(steps):
        values[1:] += DAY * np.cumsum(steps < -0.5 * DAY)
    start = values[np.isfinite(values)]
    return values - start[0] if len(start) else values
