"""`fejoint book`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from fejoint.cli import console
from fejoint.cli.options import Json, WholeOrNone

if TYPE_CHECKING:
    from fejoint.measured.results_book import Entry

_PIPE_WIDTH = 200


def book(
    file: Path = Path("fejoint-book.sqlite"),
    /,
    *,
    parity: Path | None = None,
    strike: WholeOrNone = None,
    as_json: Json = False,
) -> None:
    """List a results book and say how its predictions did.

    Parameters
    ----------
    file
        The results book, into which `fejoint match ... --book FILE` writes.
    parity
        Draw measured against predicted loads into this .png, .svg or .pdf.
    strike
        Take the pull of this number out of the book.
    """
    from fejoint.measured.book import Book
    from fejoint.output.pictures import theme as look

    held = Book(file)
    if strike is not None:
        held.strike(strike)
    pulls, before, judged = held.entries, held.sealed, held.judged
    if parity is not None:
        look.save(held.plot(), parity)
    if as_json:
        told = {"pulls": [vars(e) for e in pulls], "judged": [vars(j) for j in judged]}
        told["sealed"] = [{"digest": s.digest} | dict(s.content) for s in before]
        console.say_json(told)
        return
    _show(pulls)
    for each in before:
        count = sum(e.sealed == each.name for e in pulls)
        rows = "1 row is" if count == 1 else f"{count} rows are"
        console.say(f"{each.content['title']}: {each.sentence()} {rows} judged by it.")
    console.say(*(j.sentence() for j in judged))
    if parity is not None:
        console.wrote(parity)


def _show(pulls: Sequence[Entry]) -> None:
    numbers = ("no", "measured N", "predicted N", "ratio")
    heads = (
        *("no", "sample", "measure", "measured N", "predicted N", "ratio"),
        *("first predicted", "seen", "note"),
    )
    for title in dict.fromkeys(e.title for e in pulls):
        rows = [
            (
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
            for e in pulls
            if e.title == title
        ]
        console.say(title, bold=True)
        left = [head for head in heads if head not in numbers]
        console.say_table(heads, rows, left=left, whole=numbers[1:], pipe_width=_PIPE_WIDTH)
        console.say("")
