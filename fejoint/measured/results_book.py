"""The results book: a small SQLite file of pulls, by which predictions are judged over time."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from scipy import stats

from fejoint.errors import BadInput, Fault
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
  case_json TEXT NOT NULL
)"""
_COLUMNS = (
    "title, sample, measure, measured_N, predicted_N, predicted_mode, seen_mode, note, number, "
    "written"
)


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
    """

    measure: str
    count: int
    ratio: float
    scatter: float | None
    band: tuple[float, float] | None
    modes_right: int
    modes_seen: int

    def sentence(self) -> str:
        """Say it."""
        said = f"{self.measure}, {self.count} pulls: measured over predicted {self.ratio:.3f}"
        if self.scatter is not None and self.band is not None:
            said += (
                f", scatter {100 * self.scatter:.1f} %; the next lies within "
                f"{self.band[0]:.2f} to {self.band[1]:.2f} with 95 %"
            )
        if self.modes_seen:
            said += f"; mode as predicted first in {self.modes_right} of {self.modes_seen}"
        return said


@contextmanager
def _opened(path: Path, *, make: bool) -> Iterator[sqlite3.Connection]:
    where = str(path)
    if not make and not path.is_file():
        mend = "`fejoint book CASE --peak ...` or `fejoint match ... --book` begins one"
        raise BadInput(Fault(where, "", "is not there", mend))
    try:
        if make:
            path.parent.mkdir(parents=True, exist_ok=True)
        connection = sqlite3.connect(path, timeout=10.0)
        try:
            with connection:
                connection.execute(_TABLE)
                yield connection
        finally:
            connection.close()
    except (sqlite3.Error, OSError) as error:
        mend = "name another --book"
        raise BadInput(Fault(where, "", f"is no results book ({error})", mend)) from error


def add(path: Path, joint: Joint, entries: Sequence[Entry]) -> None:
    """Write pulls of a joint into the book, all or none.

    Raises
    ------
    BadInput
        If the book cannot be written.
    """
    case = json.dumps(joint.to_dict(), ensure_ascii=False)
    now = datetime.now(UTC).isoformat(timespec="seconds")
    with _opened(path, make=True) as connection:
        connection.executemany(
            "INSERT INTO pulls (written, title, sample, measure, measured_N, predicted_N, "
            "predicted_mode, seen_mode, note, case_json) VALUES (?,?,?,?,?,?,?,?,?,?)",
            [
                (now, e.title, e.sample, e.measure, e.measured, e.predicted, e.predicted_mode,
                 e.seen_mode, e.note, case)
                for e in entries
            ],
        )  # fmt: skip


def entries(path: Path) -> list[Entry]:
    """Return all pulls of the book, in the order they were written.

    Raises
    ------
    BadInput
        If there is no such book.
    """
    with _opened(path, make=False) as connection:
        rows = connection.execute(f"SELECT {_COLUMNS} FROM pulls ORDER BY number").fetchall()
    return [Entry(*row) for row in rows]


def strike(path: Path, number: int) -> None:
    """Take a pull out of the book.

    Raises
    ------
    BadInput
        If the book holds no such number.
    """
    with _opened(path, make=False) as connection:
        done = connection.execute("DELETE FROM pulls WHERE number = ?", (number,))
        if done.rowcount == 0:
            allowed = "is no number in the book"
            raise BadInput(Fault("--strike", str(number), allowed, "`fejoint book` lists them"))


def judge(pulls: Sequence[Entry], measure: str) -> Judgement | None:
    """Judge the predictions of one measure; None without a pull."""
    chosen = [e for e in pulls if e.measure == measure and e.predicted]
    if not chosen:
        return None
    logs = np.log([e.measured / e.predicted for e in chosen if e.predicted])
    n, mean = len(logs), float(logs.mean())
    scatter = band = None
    if n > 2:
        scatter = float(logs.std(ddof=1))
        half = float(stats.t.ppf(0.975, n - 1)) * scatter * np.sqrt(1.0 + 1.0 / n)
        band = (float(np.exp(mean - half)), float(np.exp(mean + half)))
    seen = [e for e in chosen if e.seen_mode]
    right = sum(e.seen_mode == e.predicted_mode for e in seen)
    return Judgement(measure, n, float(np.exp(mean)), scatter, band, right, len(seen))
