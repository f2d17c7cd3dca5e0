"""A rig's log as text: its bytes decoded, its separator and decimal mark found, its rows read."""

from __future__ import annotations

import codecs
import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fejoint import files
from fejoint.arrays import Floats, Ints
from fejoint.errors import BadInput, Fault, shorten
from fejoint.measured import number_marks

LARGEST = 500_000_000
"""Largest log that is read, bytes: about 1e7 rows of four columns."""
_CHUNK = 20_000
_LOOKED_AT = 400
"""Lines from which separator, decimal mark and header are found."""
_LONGEST_LINE = 10_000
SEPARATORS = ("\t", ";", ",", "|", " ")
NAMES = {"\t": "tab", ";": "semicolon", ",": "comma", "|": "bar", " ": "blank"}
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?")
_CELL = re.compile(rf"({_NUMBER.pattern})\s*([A-Za-zµ\"]{{0,4}})")
_NOT_A_NUMBER = {"nan", "inf", "-inf", "na", "n/a", "-", "--", "null", "none", "#n/a", "overflow"}
_BLANK_THOUSANDS = re.compile(r"(?<=\d) (?=\d{3}(?!\d))")
_BLANKS = {0xA0: None, 0x202F: None, 0x2009: None, ord("'"): None, ord("’"): None}


@dataclass(frozen=True)
class Dialect:
    """How a log separates its columns and writes its numbers.

    Attributes
    ----------
    separator : str
        One of SEPARATORS; " " stands for any run of blanks.
    decimal, thousands : str
        Marks; no thousands mark is "".
    columns : int
    evidence : str
        What in the log shows its marks.
    open_cells : tuple of str
        Cells that could be read either way; else empty.
    """

    separator: str
    decimal: str
    thousands: str = ""
    columns: int = 1
    evidence: str = ""
    open_cells: tuple[str, ...] = ()

    def plain(self, cell: str) -> str:
        """Return a cell with a point for decimals and no thousands marks; "" where they are off."""
        mark = self.thousands
        if mark and mark in cell:
            whole, _, rest = cell.partition(self.decimal)
            head = whole.lstrip("+-")
            if mark in rest or not re.fullmatch(
                rf"\d{{1,3}}(?:{re.escape(mark)}\d{{3}})+\D*", head
            ):
                return ""
            cell = cell.replace(mark, "")
        if self.decimal == ",":
            return "" if "." in cell else cell.replace(",", ".")
        return cell

    def cells(self, line: str) -> list[str]:
        """Split a line as it was written."""
        if '"' in line and self.separator != " ":
            try:
                return [c.strip() for c in next(csv.reader([line], delimiter=self.separator))]
            except csv.Error:  # a cell longer than any
                pass
        if self.separator == " ":
            return line.split()
        return [c.strip() for c in line.split(self.separator)]

    def number(self, cell: str) -> float:
        """Return a cell's number (a unit behind it is left out); NaN where it is none."""
        bare = _BLANK_THOUSANDS.sub("", cell.translate(_BLANKS).strip())
        match = _CELL.fullmatch(self.plain(bare))
        return float(match[1]) if match else float("nan")


@dataclass(frozen=True)
class BadRow:
    """A row that was left out: its line in the file, counted from 1, and why."""

    line: int
    why: str


def load_text(path: Path) -> str:
    """Return a log's text.

    Raises
    ------
    BadInput
        If the file cannot be read, is too large, empty, or no text.
    """
    where = str(path)
    allowed = f"has more than the {LARGEST / 1e6:,.0f} MB that are read"
    large = Fault(where, "", allowed, "log fewer rows a second, or cut the log")
    try:
        raw = files.read(path, LARGEST, large, "name a log file")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise BadInput(Fault(where, "", f"cannot be read ({reason})", "name a log file")) from error
    if not raw.strip():
        raise BadInput(Fault(where, "", "is empty", "name the log that the rig wrote"))
    return decoded(raw, where)


def decoded(raw: bytes, where: str) -> str:
    """Decode UTF-8, UTF-16 or Latin-1; refuse what is no text."""
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        text = raw.decode("utf-16", errors="replace")
    elif raw[:2000].count(0) > 0.3 * len(raw[:2000]) and len(raw) > 3:
        text = raw.decode("utf-16-le" if raw[1:2] == b"\0" else "utf-16-be", errors="replace")
    else:
        try:
            text = raw.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = raw.decode("cp1252", errors="replace")
    head = text[:65536]
    strange = sum(not (c.isprintable() or c in "\t\r\n\f\ufeff") for c in head)
    if strange > 0.02 * len(head):
        allowed = "is no text (a spreadsheet or the rig's own binary file?)"
        raise BadInput(Fault(where, "", allowed, "export it as CSV"))
    return text


def lines_of(text: str) -> list[str]:
    """Split into lines, whatever ends them."""
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text.split("\n")


def find_dialect(
    lines: Sequence[str], separator: str | None = None, decimal: str | None = None
) -> Dialect | None:
    """Find how the log writes its table; None where no line holds numbers.

    Parameters
    ----------
    lines : sequence of str
        The log's.
    separator, decimal : str, optional
        Known already.
    """
    looked = _sample(lines)
    best: tuple[tuple[float, ...], Dialect] | None = None
    for sep in SEPARATORS if separator is None else (separator,):
        quoted = any('"' in x for x in looked)
        for trial in _trials(lines, looked, sep, decimal, quoted=quoted):
            score, columns = _score(looked, trial)
            if columns and (best is None or score > best[0]):
                best = score, replace(trial, columns=columns)
    if best is None:
        return None
    found = best[1]
    if separator is None and decimal is None and _one_column(looked, found):
        return Dialect(";", ",", "", 1, "every row is one number with a comma")
    return found


def _trials(
    lines: Sequence[str], looked: Sequence[str], sep: str, decimal: str | None, *, quoted: bool
) -> list[Dialect]:
    """Return the ways to read numbers between separators: the one that the cells show."""
    if decimal is not None:
        if sep == decimal and not quoted:
            return []
        other = "," if decimal == "." else "."
        thousands = other if sep != other or quoted else ""
        return [Dialect(sep, decimal, thousands, 1, "as stated")]
    bare = Dialect(sep, ".")
    rows = [bare.cells(x) for x in (looked if len(lines) < _LOOKED_AT else _sample(lines, 20_000))]
    width = max(map(len, rows), default=0)
    if width > 200:
        return []
    common = Counter(map(len, rows)).most_common(1)[0][0] if rows else 0
    table = [r for r in rows if len(r) == common]
    marks = number_marks.decide(list(zip(*table, strict=True)), sep, quoted)
    if sep == marks.decimal and not quoted:
        return []
    thousands = "" if sep == marks.thousands and not quoted else marks.thousands
    return [Dialect(sep, marks.decimal, thousands, 1, marks.evidence, marks.open_cells)]


def _sample(lines: Sequence[str], most: int = _LOOKED_AT) -> list[str]:
    step = max(1, len(lines) // most)
    picked = [*lines[:60], *lines[60::step]]
    return [x for x in picked if x.strip() and len(x) < _LONGEST_LINE]


def _score(looked: Sequence[str], trial: Dialect) -> tuple[tuple[float, ...], int]:
    counts: Counter[int] = Counter()
    numeric: Counter[int] = Counter()
    for line in looked:
        cells = trial.cells(line)
        good = sum(trial.number(c) == trial.number(c) for c in cells)
        if good:
            counts[len(cells)] += 1
            numeric[len(cells)] += good
    if not counts:
        return (), 0
    columns, rows = counts.most_common(1)[0]
    share = numeric[columns] / (rows * columns)
    if share < 0.3:
        return (), 0
    agreed = rows / len(looked)
    # blanks split anything: they win only where nothing else does
    parted = columns > 1 and trial.separator != " "
    return (round(agreed * share, 2), parted, min(columns, 4), trial.separator != " "), columns


def _one_column(looked: Sequence[str], found: Dialect) -> bool:
    """Tell "812,5" as one number from "1,812" as two columns."""
    if found.separator != "," or found.columns != 2:
        return False
    data = [
        found.cells(x)
        for x in looked
        if found.number(found.cells(x)[0]) == found.number(found.cells(x)[0])
    ]
    if any("," in x for x in looked if re.search(r"[A-Za-z]", x)) or not data:
        return False
    if any(not re.fullmatch(r"[+-]?\d+", c) for row in data for c in row):
        return False
    first = [int(row[0]) for row in data]
    return first != list(range(first[0], first[0] + len(first)))


def first_data_line(lines: Sequence[str], dialect: Dialect) -> int:
    """Return the index of the first line of the table's numbers."""
    for k, line in enumerate(lines[:20_000]):
        cells = dialect.cells(line)
        good = sum(dialect.number(c) == dialect.number(c) for c in cells)
        if good and len(cells) == dialect.columns and good >= 0.5 * len([c for c in cells if c]):
            return k
    return len(lines)


def read_columns(
    lines: Sequence[str], first: int, dialect: Dialect, columns: Sequence[int]
) -> tuple[Floats, Ints, list[BadRow]]:
    """Read columns of the table.

    Parameters
    ----------
    lines : sequence of str
    first : int
        Index of the table's first line.
    dialect : Dialect
    columns : sequence of int
        From 0.

    Returns
    -------
    values : (n, len(columns)) array
        Finite.
    at : (n,) array of int
        Line of every row in the file, from 0.
    bad : list of BadRow
        Rows left out.
    """
    parts: list[Floats] = []
    places: list[Ints] = []
    bad: list[BadRow] = []
    for start in range(first, len(lines), _CHUNK):
        chunk = lines[start : start + _CHUNK]
        kept = [k for k, line in enumerate(chunk) if line.strip()]
        text = [chunk[k] for k in kept]
        values = _fast(text, dialect, columns)
        if values is None:
            values = np.array([read_row(x, dialect, columns) for x in text]).reshape(
                -1, len(columns)
            )
        fine = np.isfinite(values).all(axis=1)
        for k in np.flatnonzero(~fine):
            bad.append(BadRow(start + kept[k] + 1, _why(text[k], dialect, columns)))
        parts.append(values[fine])
        places.append(start + np.array(kept, dtype=np.int64)[fine])
    if not parts:
        return np.empty((0, len(columns))), np.empty(0, dtype=np.int64), bad
    return np.concatenate(parts), np.concatenate(places), bad


def _fast(text: list[str], dialect: Dialect, columns: Sequence[int]) -> Floats | None:
    """Read a chunk by numpy's compiled reader; None where a row stops it."""
    if not text or any('"' in x for x in text[:3]) or max(map(len, text)) > _LONGEST_LINE:
        return None
    if dialect.thousands and any(dialect.thousands in x for x in text):
        return None  # every mark's place is checked, cell by cell
    if dialect.decimal == ",":
        if any("." in x for x in text):
            return None
        text = [x.replace(",", ".") for x in text]
    delimiter = None if dialect.separator == " " else dialect.separator
    try:
        values = np.loadtxt(
            text, delimiter=delimiter, usecols=tuple(columns), comments=None, ndmin=2
        )
    except (ValueError, IndexError, OverflowError):
        return None
    return values if len(values) == len(text) else None


def read_row(line: str, dialect: Dialect, columns: Sequence[int]) -> list[float]:
    """Return a row's numbers; NaN where a cell holds none."""
    if len(line) > _LONGEST_LINE:
        return [float("nan")] * len(columns)
    cells = dialect.cells(line)
    return [dialect.number(cells[c]) if c < len(cells) else float("nan") for c in columns]


def _why(line: str, dialect: Dialect, columns: Sequence[int]) -> str:
    if len(line) > _LONGEST_LINE:
        return f"a line of {len(line):,} characters"
    cells = dialect.cells(line)
    if max(columns) >= len(cells):
        return f"{len(cells)} of {dialect.columns} columns"
    for c in columns:
        if not np.isfinite(dialect.number(cells[c])):
            if not cells[c]:
                return f"column {c + 1} is empty"
            known = cells[c].lower() in _NOT_A_NUMBER
            return f"column {c + 1}: {shorten(cells[c])}" + ("" if known else " is no number")
    return "not finite"  # pragma: no cover - both readers know the same numbers
