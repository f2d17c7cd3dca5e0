"""What `fejoint book` does and prints."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from fejoint.cli import console as terminal
from fejoint.errors import BadInput, Fault
from fejoint.measured import plots, results_book
from fejoint.measured.results_book import Entry


def run(path: Path, *, parity: Path | None, strike: int | None, as_json: bool) -> int:
    """Print a results book, with how predictions did; draw its parity plot if asked.

    Raises
    ------
    BadInput
        If there is no such book, or nothing to draw.
    """
    if strike is not None:
        results_book.strike(path, strike)
    pulls = results_book.entries(path)
    judged = [j for m in results_book.MEASURES if (j := results_book.judge(pulls, m)) is not None]
    if parity is not None:
        if not judged:
            allowed = "holds no pull with a predicted load"
            raise BadInput(Fault(str(path), "", allowed, "`fejoint match ... --book` adds them"))
        plots.parity(pulls, parity)
    if as_json:
        rows = {"pulls": [vars(e) for e in pulls], "judged": [vars(j) for j in judged]}
        print(json.dumps(rows, indent=1, ensure_ascii=False))
        return 0
    _show_book(pulls, [j.sentence() for j in judged])
    if parity is not None:
        print(f"wrote {parity}")
    return 0


def _show_book(pulls: Sequence[Entry], said: Sequence[str]) -> None:
    console = terminal.console(pipe_width=200)
    for title in dict.fromkeys(e.title for e in pulls):
        table = terminal.table()
        table.add_column("no", justify="right")
        table.add_column("sample")
        table.add_column("measure")
        for name in ("measured N", "predicted N", "ratio"):
            table.add_column(name, justify="right", no_wrap=True)
        for name in ("first predicted", "seen", "note"):
            table.add_column(name)
        for e in (e for e in pulls if e.title == title):
            table.add_row(
                str(e.number),
                e.sample,
                e.measure,
                f"{e.measured:,.0f}",
                f"{e.predicted:,.0f}" if e.predicted else "-",
                f"{e.measured / e.predicted:.3f}" if e.predicted else "-",
                e.predicted_mode,
                e.seen_mode or "-",
                e.note,
            )
        console.print(title, style="bold", markup=False)
        console.print(table)
        console.print()
    for line in said:
        console.print(line, markup=False)
