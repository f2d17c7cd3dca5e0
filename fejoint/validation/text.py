"""A row of `fejoint check` as texts, for the table on a terminal and for the page."""

from __future__ import annotations

from fejoint.validation.run import Outcome, Row


def cells(row: Row) -> tuple[str, ...]:
    """Return a row's texts: group, what, source, expected, got, unit, error, allowed, verdict."""
    e = row.expected
    year = f" {e.source.year}" if e.source.year else ""
    got = f"{row.got:.5g}" if row.got == row.got else "-"
    sign = {"equal": "", "at least": ">= ", "at most": "<= "}[e.sense]
    return (
        row.case.kind,
        row.name,
        f"{e.source.author}{year} ({e.source.status})",
        f"{sign}{e.value:.5g}",
        got,
        e.unit,
        _size(row.error, e.absolute, signed=True),
        _size(e.tolerance, e.absolute, signed=False),
        row.verdict,
    )


def _size(value: float, absolute: bool, *, signed: bool) -> str:
    if value != value:
        return "-"
    if absolute:
        return f"{value:+.3g}" if signed else f"{value:.3g}"
    percent = 100.0 * value
    if 0.0 < percent < 0.01 and not signed:
        return f"{percent:.0e} %"
    return f"{percent:+.2f} %" if signed else f"{percent:.3g} %"


def summary(outcome: Outcome) -> str:
    """Return the counts in one line."""
    counts = [(outcome.count(v), v) for v in ("pass", "MISS", "known miss", "not run")]
    told = ", ".join(f"{n} {v}" for n, v in counts if n or v == "pass")
    return f"{len(outcome.rows)} rows: {told}; {outcome.seconds:.0f} s"
