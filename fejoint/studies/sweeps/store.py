"""Rows on disk as they finish: the sweep's memory, its cache, and its tables.

One SQLite file in the sweep's folder. A finished joint is one committed row, named by the hash of
what decides its loads; a plan lists the names of its joints in order. Whatever kills the process,
the file holds every joint that had finished.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import math
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fejoint.errors import BadInput, Fault
from fejoint.files import write_atomically

if TYPE_CHECKING:
    import pandas as pd

FILE = "rows.sqlite"
SETTLED = ("solved", "stopped early", "refused")
"""States that solving again would not change."""

_LISTED = "plan, number, key, inputs, reason, digest"
_AT_ONCE = 5000
"""Rows that are made a table at once."""
_NO_NUMBERS = ("reason", "key", "finished")

_TABLES = """
create table if not exists plan (plan text, number integer, key text, inputs text, reason text,
    digest text, primary key (plan, number));
create table if not exists found (key text primary key, state text, row text, digest text);
create table if not exists sweep (plan text primary key, settings text, columns text, latest real,
    joints integer, digest text);
create index if not exists plan_key on plan (key);
"""
_LATER = (("plan", "digest", "text"), ("found", "digest", "text"), ("sweep", "joints", "integer"),
          ("sweep", "digest", "text"))  # fmt: skip
"""Columns that a file of an earlier version lacks; its rows count as damaged."""


@dataclass(frozen=True)
class Pending:
    """A joint still to solve: its number in the plan and the name of its row."""

    number: int
    key: str


class Store:
    """The rows of one folder's sweeps.

    Parameters
    ----------
    folder : Path or None
        None keeps the rows in memory.

    Raises
    ------
    BadInput
        If the folder cannot be written.
    """

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder
        try:
            if folder is not None:
                folder.mkdir(parents=True, exist_ok=True)
            place = ":memory:" if folder is None else str(folder / FILE)
            self._file = sqlite3.connect(place, timeout=60.0)
            # a commit outlives the process at once; only a power cut could take the last ones
            self._file.execute("pragma journal_mode = wal")
            self._file.execute("pragma synchronous = normal")
            with self._file:
                self._file.executescript(_TABLES)
                for table, column, kind in _LATER:
                    if not self._holds(table, column):
                        self._file.execute(f"alter table {table} add column {column} {kind}")
        except (OSError, sqlite3.Error) as error:
            fault = Fault(
                str(folder), "", f"cannot hold a sweep ({error})", "choose another --out"
            )  # fmt: skip
            raise BadInput(fault) from error

    def _holds(self, table: str, column: str) -> bool:
        return any(c[1] == column for c in self._file.execute(f"pragma table_info({table})"))

    @property
    def _where(self) -> str:
        return str(self.folder / FILE) if self.folder is not None else "sweep"

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """Change the file by all of a block or by nothing."""
        try:
            with self._file:
                yield
        except sqlite3.Error as error:
            mend = "make room, or choose another --out; run it again to resume"
            raise BadInput(Fault(self._where, "", f"cannot be written ({error})", mend)) from error

    @contextmanager
    def _reading(self) -> Iterator[None]:
        """Read the file, which may be damaged in any way."""
        try:
            yield
        except (sqlite3.Error, ValueError, TypeError, OverflowError) as error:
            raise BadInput(self._damage(f"cannot be read ({error})")) from error

    def _damage(self, how: str) -> Fault:
        return Fault(self._where, "", how, "remove it, or choose another --out")

    def close(self) -> None:
        """Close the file."""
        self._file.close()

    def begin(self, plan: str, settings: str, columns: Sequence[str], joints: int) -> bool:
        """Note a plan as the latest; return whether its joints are listed already, all sound."""
        with self._writing():
            found = self._file.execute("select max(latest) from sweep").fetchone()[0]
            # whatever stands there: the next one comes after it, if it is a number at all
            latest = 1.0 + (found if isinstance(found, (int, float)) and found < 1e15 else 0.0)
            if latest == 1.0:
                self._file.execute("delete from sweep")
            row = plan, settings, json.dumps(list(columns)), latest, joints
            self._file.execute(
                "insert or replace into sweep values (?, ?, ?, ?, ?, ?)", (*row, _digest(*row))
            )
        with self._reading():
            listed = self._file.execute(f"select {_LISTED} from plan where plan = ?", (plan,))
            sound = sum(was == _digest(*row) for *row, was in listed)
        return bool(sound == joints)

    def list_joints(
        self, plan: str, joints: Iterable[tuple[int, str | None, dict[str, Any], str]]
    ) -> None:
        """List a plan's joints, all or none: number, name (None if there is no joint), inputs."""
        rows = ((plan, n, k, json.dumps(inputs), why) for n, k, inputs, why in joints)
        with self._writing():
            self._file.execute("delete from plan where plan = ?", (plan,))
            self._file.executemany(
                "insert or replace into plan values (?, ?, ?, ?, ?, ?)",
                ((*row, _digest(*row)) for row in rows),
            )

    def pending(self, plan: str) -> list[Pending]:
        """Return the joints still to solve, each name once, in the plan's order."""
        marks = ", ".join("?" * len(SETTLED))
        with self._reading():
            found = self._file.execute(
                "select min(number), key from plan left join found using (key) "
                f"where plan = ? and key is not null and (state is null or state not in ({marks}))"
                " group by key order by 1",
                (plan, *SETTLED),
            )
            return [Pending(int(number), str(key)) for number, key in found]

    def keep(self, key: str, row: dict[str, Any]) -> None:
        """Write a finished joint's row; it is on disk when this returns."""
        row = {k: None if _is_none(v) else v for k, v in row.items()}
        with self._writing():
            self._file.execute(
                "insert or replace into found values (?, ?, ?, ?)",
                (key, *(found := (row.get("state"), json.dumps(row))), _digest(key, *found)),
            )

    def forget_damaged(self) -> int:
        """Take out rows that are not as they were written, to be solved again; return how many."""
        with self._reading():
            if self._wrong():  # a torn index hides rows, also those written later
                self._file.execute("reindex")
            if wrong := self._wrong():
                raise BadInput(self._damage(f"is damaged ({wrong})"))
            rows = self._file.execute("select key, state, row, digest from found")
            damaged = [(key,) for key, state, row, was in rows if was != _digest(key, state, row)]
        if damaged:
            with self._writing():
                self._file.executemany("delete from found where key is ?", damaged)
        return len(damaged)

    def _wrong(self) -> str:
        """Return what is wrong with the file by its own reckoning; empty if nothing."""
        found = str(self._file.execute("pragma integrity_check(1)").fetchone()[0])
        return "" if found == "ok" else found

    def latest(self) -> str:
        """Return the plan that was begun last.

        Raises
        ------
        BadInput
            If there is none, or it is damaged.
        """
        return self._latest()[0]

    def _latest(self) -> tuple[str, int]:
        with self._reading():
            found = self._file.execute(
                "select plan, settings, columns, latest, joints, digest from sweep "
                "order by latest desc"
            ).fetchone()
        if found is None:
            raise BadInput(Fault(str(self.folder), "", "holds no sweep", "name a sweep's folder"))
        if found[-1] != _digest(*found[:-1]):
            raise BadInput(self._damage("is damaged, or was written by an older fejoint"))
        return str(found[0]), int(found[4])

    def rows(self, plan: str) -> Iterator[dict[str, Any]]:
        """Go through a plan's rows in order: inputs, state, reason, then what was found.

        Raises
        ------
        BadInput
            If the plan is damaged; a damaged row is told in its place.
        """
        with self._reading():
            for plan_name, number, key, inputs, why, listed, state, row, was in self._file.execute(
                "select plan, number, plan.key, inputs, reason, plan.digest, state, row, "
                "found.digest from plan left join found using (key) where plan = ? "
                "order by number",
                (plan,),
            ):
                if listed != _digest(plan_name, number, key, inputs, why):
                    mend = "run the sweep again: it lists its joints anew"
                    raise BadInput(Fault(self._where, "", f"is damaged at joint {number}", mend))
                line: dict[str, Any] = {"joint": number, **json.loads(inputs)}
                if key is None:
                    yield line | {"state": "refused", "reason": why}
                elif row is None and was is None:
                    yield line | {"state": "not solved yet", "reason": "", "key": key}
                elif was != _digest(key, state, row):
                    why = "its row was damaged: the same sweep solves it again"
                    yield line | {"state": "not solved yet", "reason": why, "key": key}
                else:
                    yield line | json.loads(row) | {"key": key}

    def frame(self, plan: str | None = None) -> pd.DataFrame:
        """Return a plan's rows as a table, the latest one's if none is named."""
        import pandas as pd

        name, joints = (plan, None) if plan is not None else self._latest()
        parts, rows = [], self.rows(name)
        while part := list(itertools.islice(rows, _AT_ONCE)):  # dictionaries take ten times more
            parts.append(pd.DataFrame.from_records(part))
        frame = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()
        if joints is not None and len(frame) not in (0, joints):
            raise BadInput(self._damage(f"lists {len(frame)} of {joints} joints"))
        for name in frame.columns:
            if frame[name].dtype == object and name not in _NO_NUMBERS:
                numbers = pd.to_numeric(frame[name], errors="coerce")
                if not (numbers.isna() & frame[name].notna()).any():
                    frame[name] = numbers
        if "finished" in frame:
            frame["finished"] = frame["finished"].astype("boolean")
        return frame

    def write_tables(self, plan: str) -> list[Path]:
        """Write `table.parquet` and `table.csv` as of now; each is whole at any moment."""
        import io

        if self.folder is None:
            return []
        frame = self.frame(plan)
        buffer = io.BytesIO()
        frame.to_parquet(buffer, index=False)
        written = [self.folder / "table.parquet", self.folder / "table.csv"]
        write_atomically(written[0], buffer.getvalue())
        write_atomically(written[1], frame.to_csv(index=False))
        return written


def _digest(*row: object) -> str:
    """Return what a row is known again by: it was changed or torn where this differs."""
    return hashlib.sha256(repr(row).encode("utf-8", "replace")).hexdigest()


def _is_none(value: Any) -> bool:
    return isinstance(value, float) and not math.isfinite(value)


def plan_name(described: dict[str, Any], settings: dict[str, Any], version: str) -> str:
    """Return the name of a plan: the same rows, settings and version have the same."""
    text = json.dumps([described, settings, version], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def read(folder: Path) -> pd.DataFrame:
    """Return the table of a folder's latest sweep, also while it runs.

    Raises
    ------
    BadInput
        If the folder holds no sweep.
    """
    if not (folder / FILE).is_file():
        raise BadInput(Fault(str(folder), "", "holds no sweep", "name a sweep's folder"))
    store = Store(folder)
    try:
        return store.frame()
    finally:
        store.close()
