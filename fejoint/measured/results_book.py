"""The results book: a small SQLite file of pulls, by which predictions are judged over time."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

import numpy as np
from scipy import stats

from fejoint.errors import BadInput, Fault, shorten
from fejoint.joint.model import Joint

FILE = Path("fejoint-book.sqlite")
"""The book, in the folder where one works, unless another is named."""

MEASURES = ("peak", "offset load")

_TABLE = """
CREATE TABLE IF NOT EXISTS pulls (
  number INTEGER PRIMARY KEY,
  written TEXT NOT NULL,
  title TEXT NOT NULL,
  sample TEXT NOT NULL,
  measure TEXT NOT NULL,
  measured_N REAL NOT NULL,
  predicted_N REAL,
  predicted_mode TEXT NOT NULL,
  seen_mode TEXT NOT NULL,
  note TEXT NOT NULL,
  case_json TEXT NOT NULL,
  data_digest TEXT NOT NULL DEFAULT '',
  joint_digest TEXT NOT NULL DEFAULT '',
  learned INTEGER NOT NULL DEFAULT 0,
  sealed TEXT NOT NULL DEFAULT '',
  row_digest TEXT NOT NULL DEFAULT ''
)"""
_LATER = {
    "data_digest": "TEXT NOT NULL DEFAULT ''", "joint_digest": "TEXT NOT NULL DEFAULT ''",
    "learned": "INTEGER NOT NULL DEFAULT 0", "sealed": "TEXT NOT NULL DEFAULT ''",
    "row_digest": "TEXT NOT NULL DEFAULT ''",
}  # fmt: skip
"""Columns that a book of an earlier version lacks; `sealed` names a prediction sealed before, and
by `row_digest` a row is known again."""
_COLUMNS = (
    "title", "sample", "measure", "measured_N", "predicted_N", "predicted_mode", "seen_mode",
    "note", "number", "written", "data_digest", "joint_digest", "learned", "sealed",
)  # fmt: skip
_SEALED = (*_COLUMNS, "case_json")
_LEAST, _MOST = 1e-3, 1e12
"""Loads of a pull, N."""


@dataclass(frozen=True)
class Entry:
    """One pull in the book.

    Attributes
    ----------
    title, sample : str
        Of the joint; of the sample or its log.
    measure : {"peak", "offset load"}
    measured, predicted : float, float or None
        N.
    predicted_mode, seen_mode : str
        Empty where unknown.
    note : str
    number : int
        In the book; 0 before it is in it.
    written : str
        When, UTC.
    data_digest, joint_digest : str
        Of the sample's log as a file, and of the joint: the same two are the same sample.
    learned : bool
        Whether a metal was learned from it: it judges no prediction.
    sealed : str
        Name of the prediction that was sealed before the pull; empty without one.
    """

    title: str
    sample: str
    measure: str
    measured: float
    predicted: float | None
    predicted_mode: str
    seen_mode: str = ""
    note: str = ""
    number: int = 0
    written: str = ""
    data_digest: str = ""
    joint_digest: str = ""
    learned: bool = False
    sealed: str = ""


@dataclass(frozen=True)
class Judgement:
    """How predictions did.

    Attributes
    ----------
    measure : str
    count : int
        Pulls with both loads.
    ratio : float
        Mean of measured over predicted (geometric).
    scatter : float or None
        Relative standard deviation of that ratio.
    band : (float, float) or None
        Within which the next ratio lies with 95 % (prediction interval of Student's t on the
        logarithms).
    modes_right, modes_seen : int
        Pulls whose seen mode was the one predicted first, of those with a seen mode.
    learned_from : int
        Samples left out because a metal was learned from them.
    """

    measure: str
    count: int
    ratio: float
    scatter: float | None
    band: tuple[float, float] | None
    modes_right: int
    modes_seen: int
    learned_from: int = 0

    def sentence(self) -> str:
        """Say it."""
        samples = "sample" if self.count == 1 else "samples"
        line = f"{self.measure}, {self.count} {samples}: measured over predicted {self.ratio:.3f}"
        if self.scatter is not None and self.band is not None:
            line += (
                f", scatter {100 * self.scatter:.1f} %; the next pull should reach "
                f"{self.band[0]:.2f} to {self.band[1]:.2f} of the prediction (19 in 20)"
            )
        if self.modes_seen:
            line += f"; mode as predicted first in {self.modes_right} of {self.modes_seen}"
        if self.learned_from:
            line += f"; {self.learned_from} more not judged: a metal was learned from them"
        return line


@contextmanager
def opened(path: Path, mode: Literal["ro", "rw", "rwc"]) -> Iterator[sqlite3.Connection]:
    """Open a book to read, to change, or to change and make it if it is not there."""
    where = str(path)
    if mode != "rwc" and not path.is_file():
        mend = "`fejoint match CASE LOG --book FILE` begins one"
        raise BadInput(Fault(where, "", "is not there", mend))
    try:
        if mode == "rwc":
            path.parent.mkdir(parents=True, exist_ok=True)
        address = f"{path.absolute().as_uri()}?mode={mode}"
        connection = sqlite3.connect(address, timeout=10.0, uri=True)
        try:
            with connection:
                # one transaction from the look at the file's kind on: another writer may be
                # making the book just now
                connection.execute("BEGIN" if mode == "ro" else "BEGIN IMMEDIATE")
                if not _columns(connection):
                    if mode != "rwc" or _holds_anything(connection):
                        mend = "name another book"
                        raise BadInput(Fault(where, "", "is no results book", mend))
                    connection.execute(_TABLE)
                elif mode != "ro":
                    for name in _LATER.keys() - _columns(connection):
                        connection.execute(f"ALTER TABLE pulls ADD COLUMN {name} {_LATER[name]}")
                yield connection
        finally:
            connection.close()
    except (sqlite3.Error, OSError) as error:
        mend = "name another --book"
        raise BadInput(Fault(where, "", f"is no results book ({error})", mend)) from error


def _columns(connection: sqlite3.Connection) -> set[str]:
    return {row[1] for row in connection.execute("PRAGMA table_info(pulls)")}


def _holds_anything(connection: sqlite3.Connection) -> bool:
    return connection.execute("SELECT 1 FROM sqlite_master").fetchone() is not None


def _digest(row: Sequence[object]) -> str:
    """Return what a row is known again by, of its values in the order of `_SEALED`."""
    return hashlib.sha256(json.dumps(row, default=str).encode()).hexdigest()


def _seal(connection: sqlite3.Connection, where: str, key: tuple[object, ...]) -> None:
    """Seal the rows as they are now."""
    found = connection.execute(f"SELECT {', '.join(_SEALED)} FROM pulls WHERE {where}", key)
    for row in found.fetchall():
        number = row[_SEALED.index("number")]
        new = "UPDATE pulls SET row_digest = ? WHERE number = ?"
        connection.execute(new, (_digest(row), number))


def digest_of(joint: Joint) -> str:
    """Return a digest of what a joint is, whatever its title and note say."""
    case = {k: v for k, v in joint.to_dict().items() if k not in ("title", "note")}
    return hashlib.sha256(json.dumps(case, sort_keys=True).encode()).hexdigest()


def add(path: Path, joint: Joint, entries: Sequence[Entry]) -> int:
    """Write pulls of a joint into the book, all or none; return how many replaced older ones.

    A sample (the same log of the same joint) that is in the book already is replaced. A sample
    that a metal was learned from stays marked so, whatever joint it is entered with.

    Raises
    ------
    BadInput
        If the book cannot be written, or a load is none.
    """
    for e in entries:
        _check(e, e.sample)
    case = json.dumps(joint.to_dict(), ensure_ascii=False)
    of_joint = digest_of(joint)
    now = datetime.now(UTC).isoformat(timespec="seconds")
    replaced = 0
    with opened(path, "rwc") as connection:
        for e in entries:
            learned, number = e.learned, None
            if e.data_digest:
                same = "data_digest = ? AND joint_digest = ? AND measure = ?"
                key = (e.data_digest, of_joint, e.measure)
                marks = connection.execute(
                    "SELECT MAX(learned) FROM pulls WHERE data_digest = ?", (e.data_digest,)
                ).fetchone()
                learned = learned or bool(marks[0])
                old = connection.execute(
                    f"SELECT number, sealed FROM pulls WHERE {same}", key
                ).fetchone()
                number = old[0] if old else None  # a sample keeps its place among the others
                if old and not old[1]:  # what was sealed once its load was known judges nothing
                    e = replace(e, sealed="")
                replaced += connection.execute(f"DELETE FROM pulls WHERE {same}", key).rowcount
                if learned:
                    connection.execute(
                        "UPDATE pulls SET learned = 1 WHERE data_digest = ?", (e.data_digest,)
                    )
                    _seal(connection, "data_digest = ?", (e.data_digest,))
            new = connection.execute(
                "INSERT INTO pulls (written, title, sample, measure, measured_N, predicted_N, "
                "predicted_mode, seen_mode, note, case_json, data_digest, joint_digest, learned, "
                "sealed, number) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
                (now, e.title, e.sample, e.measure, e.measured, e.predicted, e.predicted_mode,
                 e.seen_mode, e.note, case, e.data_digest, of_joint, int(learned), e.sealed,
                 number),
            )  # fmt: skip
            _seal(connection, "number = ?", (new.lastrowid,))
    return replaced


def _check(entry: Entry, name: str, book: str = "") -> None:
    """Refuse loads that are none.

    Raises
    ------
    BadInput
        If measured or predicted load is no finite number above 0, or the measure is unknown.
    """
    where = f"{book}, pull {entry.number}" if book else name
    mend = f"`fejoint book FILE --strike {entry.number}` takes it out" if book else "mend the log"
    for what, load in (("measured_N", entry.measured), ("predicted_N", entry.predicted)):
        if what == "predicted_N" and load is None:
            continue
        if not isinstance(load, (int, float)) or not _LEAST <= load <= _MOST:
            allowed = f"is no load above 0 (must lie from {_LEAST:g} to {_MOST:g} N)"
            raise BadInput(Fault(f"{where}, {what}", shorten(load) or "''", allowed, mend))
    if entry.measure not in MEASURES:
        allowed = f"must be one of {', '.join(MEASURES)}"
        raise BadInput(Fault(f"{where}, measure", shorten(entry.measure) or "''", allowed, mend))
    for name, value in vars(entry).items():
        if not isinstance(value, str) and name not in (
            "measured",
            "predicted",
            "number",
            "learned",
        ):
            allowed = "must be text"
            raise BadInput(Fault(f"{where}, {name}", shorten(value) or "''", allowed, mend))


def entries(path: Path) -> list[Entry]:
    """Return all pulls of the book, in the order they were written.

    Raises
    ------
    BadInput
        If there is no such book, or a row was edited into no pull.
    """
    with opened(path, "ro") as connection:
        known = _columns(connection)
        wanted = [
            name if name in known else f"{'0' if name == 'learned' else repr('')} AS {name}"
            for name in (*_SEALED, "row_digest")
        ]
        sentence = f"SELECT {', '.join(wanted)} FROM pulls ORDER BY number"
        rows = connection.execute(sentence).fetchall()
    found = []
    for row in rows:
        entry = replace(Entry(*row[:12]), learned=bool(row[12]), sealed=row[13])
        _check(entry, entry.sample, str(path))
        if row[-1] and row[-1] != _digest(row[:-1]):  # rows of an earlier version have none
            where, number = f"{path}, pull {entry.number}", entry.number
            allowed = "was changed after it was entered: its digest is that of other content"
            mend = f"`fejoint book FILE --strike {number}` takes it out; enter it again"
            raise BadInput(Fault(where, "", allowed, mend))
        found.append(entry)
    return found


def strike(path: Path, number: int) -> None:
    """Take a pull out of the book.

    Raises
    ------
    BadInput
        If the book holds no such number.
    """
    with opened(path, "rw") as connection:
        # a number that SQLite cannot hold is none in the book
        held = abs(number) < 2**63
        done = connection.execute("DELETE FROM pulls WHERE number = ?", (number if held else -1,))
        if done.rowcount == 0:
            allowed = "is no number in the book"
            raise BadInput(Fault("--strike", shorten(number), allowed, "`fejoint book` lists them"))


def judge(pulls: Sequence[Entry], measure: str) -> Judgement | None:
    """Judge the predictions of one measure; None without a pull."""
    chosen, learned = judged_pulls(pulls, measure)
    return _judged(chosen, measure, learned) if chosen else None


def judged_pulls(pulls: Sequence[Entry], measure: str) -> tuple[list[Entry], int]:
    """Return the pulls that judge predictions of a measure, and how many were learned from.

    A sample counts once: its first prediction is judged, not one made when its load was known.
    """
    chosen: dict[str, Entry] = {}
    learned: set[str] = set()
    for e in pulls:
        if e.measure != measure or not e.predicted:
            continue
        key = e.data_digest or f"number {e.number} of {id(e)}"
        if e.learned:
            learned.add(key)
        elif key not in chosen:
            chosen[key] = e
    return list(chosen.values()), len(learned)


def _judged(chosen: Sequence[Entry], measure: str, learned: int) -> Judgement:
    logs = np.log([e.measured / e.predicted for e in chosen if e.predicted])
    n, mean = len(logs), float(logs.mean())
    scatter = band = None
    if n > 2:
        scatter = float(logs.std(ddof=1))
        half = float(stats.t.ppf(0.975, n - 1)) * scatter * np.sqrt(1.0 + 1.0 / n)
        band = (float(np.exp(mean - half)), float(np.exp(mean + half)))
    seen = [e for e in chosen if e.seen_mode]
    right = sum(e.seen_mode == e.predicted_mode for e in seen)
    return Judgement(measure, n, float(np.exp(mean)), scatter, band, right, len(seen), learned)
