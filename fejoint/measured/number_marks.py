"""With which marks a log writes its numbers: one decision a file, with its evidence.

A cell such as 8,190 is a number of eight thousand or of eight. Which one it is must be shown by
other cells of the file; where none shows it, the reader asks and does not guess.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

_CELL = re.compile(r"([+-]?)(\d[\d.,\s'’]*|[.,]\d+)(?:[eE][+-]?\d+)?\s*[A-Za-zµ\"]{0,4}")
_OTHER = {".": ",", ",": "."}
_SPACES = re.compile(r"(?<=\d)[\s'’](?=\d{3}(?:\D|$))")
MINORITY = 0.05
"""Share of the telling cells that may contradict the rest (they are bad rows)."""


@dataclass(frozen=True)
class Marks:
    """Marks of a file's numbers and what shows them.

    Attributes
    ----------
    decimal : str
        "." or ",".
    thousands : str
        Mark between thousands; "" where there is none.
    evidence : str
        What in the file shows it, in words.
    open_cells : tuple of str
        Cells that could be read either way, where nothing decides; else empty.
    """

    decimal: str
    thousands: str = ""
    evidence: str = ""
    open_cells: tuple[str, ...] = ()


def decide(columns: Sequence[Sequence[str]], separator: str, quoted: bool) -> Marks:
    """Decide the marks of a table from its cells.

    Parameters
    ----------
    columns : sequence of sequences of str
        Cells, column by column, as written.
    separator : str
        Of the columns.
    quoted : bool
        Whether cells stand in quotes, so that they may hold the separator.
    """
    show: dict[str, list[str]] = {".": [], ",": []}  # by the decimal mark that they show
    grouped: dict[str, list[str]] = {".": [], ",": []}  # by the thousands mark that they show
    unclear: dict[str, list[str]] = {".": [], ",": []}
    small: list[tuple[str, int]] = []
    for column in columns:
        numbers = [m for c in column if (m := _CELL.fullmatch(c.strip()))]
        bare = [_SPACES.sub("", m[2]).strip() for m in numbers]
        own: dict[str, list[str]] = {".": [], ",": []}
        for text in bare:
            _sort(text, show, grouped, own)
        whole = [int(t) for t in bare if t.isdecimal() and len(t) < 12]
        for mark in ".,":
            unclear[mark] += own[mark]
            below = sum(0 < n < 1000 for n in whole)
            if len(own[mark]) > 1 and below > 1 and all(n < 1000 for n in whole):
                small.append((mark, below))
            elif own[mark] and any(n >= 1000 for n in whole):
                # a number of thousands without a mark: the mark does not part thousands
                show[mark].append(next(str(n) for n in whole if n >= 1000))
    votes = {m: len(show[m]) + len(grouped[_OTHER[m]]) for m in ".,"}
    best = max(votes, key=lambda m: votes[m])
    if votes[best]:
        return _decided(best, votes, show, grouped, unclear)
    for mark, below in small:
        why = f"{below} rows below 1,000 have no mark, so the {_word(mark)} parts thousands"
        return Marks(_OTHER[mark], mark, why)
    for mark in ".,":
        if unclear[mark]:
            if separator == "," and mark == "." and not quoted:
                return Marks(".", "", "the comma parts columns, so the point is the decimal mark")
            return Marks(mark, "", "", tuple(dict.fromkeys(unclear[mark]))[:3])
    return Marks(".", "", "no number has a mark")


def _sort(
    text: str,
    show: dict[str, list[str]],
    grouped: dict[str, list[str]],
    own: dict[str, list[str]],
) -> None:
    """Put a number without blanks to what it shows."""
    dots, commas = text.count("."), text.count(",")
    if dots and commas:
        last = "." if text.rfind(".") > text.rfind(",") else ","
        if text.count(last) == 1:
            show[last].append(text)
        return
    for mark, count in ((".", dots), (",", commas)):
        if count > 1 and re.fullmatch(rf"\d{{1,3}}(?:{re.escape(mark)}\d{{3}})+", text):
            grouped[mark].append(text)
        elif count == 1:
            head, _, tail = text.partition(mark)
            open_cell = len(tail) == 3 and 1 <= len(head) <= 3 and not head.startswith("0")
            (own if open_cell else show)[mark].append(text)


def _decided(
    best: str,
    votes: dict[str, int],
    show: dict[str, list[str]],
    grouped: dict[str, list[str]],
    unclear: dict[str, list[str]],
) -> Marks:
    other = _OTHER[best]
    if votes[other] > MINORITY * votes[best]:
        cells = (*(show[best] + grouped[other])[:1], *(show[other] + grouped[best])[:1])
        return Marks(best, "", "", cells)
    example = (show[best] + grouped[other])[0]
    both = any(best in t and other in t for t in show[best]) or bool(grouped[other])
    thousands = other if both or unclear[other] else ""
    why = f"{example} shows that the {_word(best)} is the decimal mark"
    if thousands:
        why += f" and the {_word(other)} parts thousands"
    return Marks(best, thousands, why)


def _word(mark: str) -> str:
    return "comma" if mark == "," else "point"


def readings(cell: str) -> tuple[str, str]:
    """Return the two readings of a cell that could be either, by decimal point and by comma."""
    plain = cell.replace(",", "") if "," in cell else cell
    as_comma = cell.replace(".", "").replace(",", ".")
    return f"{float(plain):,g}", f"{float(as_comma):,g}"
