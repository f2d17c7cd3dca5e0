"""`fejoint check`: every reference case computed, one row for every expected value.

Cases run in parallel processes. A row passes, misses, or is a known miss: a comparison with tests
of real metal (or with common practice) that lies outside its band for a stated cause. Only rows
that verify the program itself decide the exit code.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import as_completed
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fejoint.errors import BadInput, Fault
from fejoint.system.processes import ProcessLost, cores, pool
from fejoint.validation import reference_case
from fejoint.validation.models import runs
from fejoint.validation.reference_case import KINDS, Expectation, ReferenceCase

COMPARISONS = ("experiment", "common practice")
"""Kinds whose misses say something about the model, not about the program."""
NO_CAUSE = "no cause written yet"

Tell = Callable[[int, int], None]
"""Called with the number of cases done and of all."""


@dataclass(frozen=True)
class Row:
    """One expected value and what came of it.

    Attributes
    ----------
    case : ReferenceCase
    expected : Expectation
    got : float
        NaN where there is no number.
    passed : bool or None
        None for a known miss, or a row that could not be asked here.
    note : str
        Cause of a miss, or why there is no number.
    seconds : float
        Time of the whole case.
    """

    case: ReferenceCase
    expected: Expectation
    got: float
    passed: bool | None
    note: str = ""
    seconds: float = 0.0

    @property
    def name(self) -> str:
        """Case and quantity."""
        return f"{self.case.name}: {self.expected.quantity}"

    @property
    def label(self) -> tuple[str, str, str]:
        """Case, quantity and metal."""
        return self.case.name, self.expected.quantity, self.case.metal

    @property
    def ratio(self) -> float:
        """Computed over expected."""
        return self.got / self.expected.value

    @property
    def error(self) -> float:
        """Relative error, or in the row's unit as its tolerance is."""
        return self.expected.error(self.got)

    @property
    def verdict(self) -> str:
        """Say pass, MISS, known miss or not run."""
        if self.passed is None:
            return "known miss" if math.isfinite(self.got) else "not run"
        return "pass" if self.passed else "MISS"

    def as_dict(self) -> dict[str, Any]:
        """Return the row for JSON; numbers that are none become null."""
        row = self.expected
        return {
            "name": self.name,
            "kind": self.case.kind,
            "source": str(row.source),
            "expected": row.value,
            "got": self.got if math.isfinite(self.got) else None,
            "error": self.error if math.isfinite(self.error) else None,
            "tolerance": row.tolerance,
            "pass": self.passed,
            "unit": row.unit,
            "absolute": row.absolute,
            "sense": row.sense,
            "reason": row.reason,
            "note": self.note,
        }


@dataclass(frozen=True)
class Outcome:
    """All rows, and the time they took, s."""

    rows: tuple[Row, ...]
    seconds: float

    @property
    def failed(self) -> tuple[Row, ...]:
        """Rows that decide the exit code."""
        return tuple(row for row in self.rows if row.passed is False)

    @property
    def exit_code(self) -> int:
        """Return 0, or 1 when a verifying row misses."""
        return 1 if self.failed else 0

    def as_dict(self) -> dict[str, Any]:
        """Return the rows for JSON."""
        return {"cases": [row.as_dict() for row in self.rows]}

    def count(self, verdict: str) -> int:
        """Return how many rows have a verdict."""
        return sum(row.verdict == verdict for row in self.rows)


def select(cases: Sequence[ReferenceCase], only: str | None) -> tuple[ReferenceCase, ...]:
    """Return the cases of a group, or the one of a name.

    Raises
    ------
    BadInput
        If there is none.
    """
    if only is None:
        return tuple(cases)
    wanted = only.strip().lower()
    found = tuple(c for c in cases if wanted in (c.kind, c.name, c.run))
    if not found:
        groups = ", ".join(k for k in KINDS if any(c.kind == k for c in cases))
        raise BadInput(
            Fault("only", only, f"must be a case's name or one of {groups}", "take one of them")
        )
    return found


def compute(case: ReferenceCase) -> tuple[Row, ...]:
    """Compute one case in this process; whatever goes wrong becomes the rows' note."""
    start = time.perf_counter()
    got: dict[str, float] = {}
    note, asked = "", True
    try:
        got = runs.find(case.run)(case)
    except runs.NotBuiltYet as reason:
        note = str(reason)
    except runs.LibraryMissing as reason:
        note, asked = str(reason), False
    except Exception as reason:
        note = f"{type(reason).__name__}: {reason}"
    seconds = time.perf_counter() - start
    return tuple(
        _judged(case, row, got.get(row.quantity, math.nan), note, asked, seconds)
        for row in case.expectations
    )


def _judged(
    case: ReferenceCase, row: Expectation, got: float, note: str, asked: bool, seconds: float
) -> Row:
    if not math.isfinite(got):
        note = note or "the run gives no such number"
        return Row(case, row, math.nan, False if asked else None, note, seconds)
    if row.holds(got):
        return Row(case, row, got, True, "", seconds)
    if row.known_miss or case.kind in COMPARISONS:
        return Row(case, row, got, None, row.known_miss or NO_CAUSE, seconds)
    return Row(case, row, got, False, "outside its tolerance", seconds)


def run(
    only: str | None = None,
    *,
    jobs: int | None = None,
    root: Path | None = None,
    tell: Tell | None = None,
) -> Outcome:
    """Compute the reference cases.

    Parameters
    ----------
    only : str, optional
        A group (kind), a case's name or a run; all cases without it.
    jobs : int, optional
        Processes; as many as there are cores without it, and 1 computes in this process.
    root : Path, optional
        Folder of the cases; the project's own without it.
    tell : callable, optional

    Returns
    -------
    Outcome
        Rows in the order of the cases, by kind and name.
    """
    start = time.perf_counter()
    cases = select(reference_case.read_all(root), only)
    jobs = min(jobs or cores(), len(cases))
    rows: dict[str, tuple[Row, ...]] = {}
    for case, found in _computed(cases, jobs):
        rows[case.name] = found
        if tell is not None:
            tell(len(rows), len(cases))
    every = tuple(row for case in cases for row in rows[case.name])
    return Outcome(every, time.perf_counter() - start)


def _computed(
    cases: Sequence[ReferenceCase], jobs: int
) -> Iterator[tuple[ReferenceCase, tuple[Row, ...]]]:
    queue = sorted(cases, key=lambda c: c.run not in runs.LONG)
    if jobs <= 1:
        for case in queue:
            yield case, compute(case)
        return
    with pool(jobs) as submit:
        waiting = {submit(compute, case): case for case in queue}
        for done in as_completed(waiting):
            case = waiting[done]
            lost = done.exception()
            yield case, _lost(case, lost) if isinstance(lost, ProcessLost) else done.result()


def _lost(case: ReferenceCase, why: ProcessLost) -> tuple[Row, ...]:
    rows = case.expectations
    return tuple(_judged(case, row, math.nan, str(why), True, 0.0) for row in rows)
