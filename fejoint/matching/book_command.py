"""What `fejoint book` does and prints."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from fejoint.errors import BadInput, Fault
from fejoint.matching import book, pictures
from fejoint.matching.book import Entry


def run(path: Path, *, parity: Path | None, strike: int | None, as_json: bool) -> int:
    """Print a results book, with how predictions did; draw its parity plot if asked.

    Raises
    ------
    BadInput
        If there is no such book, or nothing to draw.
    """
    if strike is not None:
        book.strike(path, strike)
    pulls = book.entries(path)
    judged = [j for m in book.MEASURES if (j := book.judge(pulls, m)) is not None]
    if parity is not None:
        if not judged:
            allowed = "holds no pull with a predicted load"
            raise BadInput(Fault(str(path), "", allowed, "`fejoint match ... --book` adds them"))
        pictures.parity(pulls, parity)
    if as_json:
        rows = {"pulls": [vars(e) for e in pulls], "judged": [vars(j) for j in judged]}
        print(json.dumps(rows, indent=1, ensure_ascii=False))
        return 0
    _show_book(pulls, [j.sentence() for j in judged])
    if parity is not None:
        print(f"wrote {parity}")
    return 0


def _show_book(pulls: Sequence[Entry], said: Sequence[str]) -> None:
    from rich.console import Console
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="bold")
    for title in ("no", "joint", "sample", "measure", "measured N", "predicted N", "ratio",
                  "predicted first", "seen", "note"):  # fmt: skip
        table.add_column(
            title, justify="right" if title[-1:] in "No" and title != "joint" else "left"
        )
    for e in pulls:
        known = e.predicted is not None
        table.add_row(
            str(e.number), e.title, e.sample, e.measure, f"{e.measured:,.0f}",
            f"{e.predicted:,.0f}" if known else "-",
            f"{e.measured / e.predicted:.3f}" if e.predicted else "-",
            e.predicted_mode, e.seen_mode or "-", e.note,
        )  # fmt: skip
    console = Console(highlight=False, soft_wrap=True)
    console.print(table)
    for line in said:
        console.print(line, markup=False)
