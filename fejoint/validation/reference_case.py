"""Reference cases as data: what is computed, what is expected, who says so.

A case is a folder of `cases/reference/` with two files. `case.toml` holds what the model is given
(for a joint an ordinary case file, else the numbers of the problem in mm, N and MPa).
`expected.toml` holds the rest:

    title = "..."                     one line for the table
    kind = "linear"                   one of `KINDS`
    run = "ear hole"                  which model computes it
    metal = "6061-T6"                 of a test: rows of one metal are left out together
    assumptions = ["..."]             what the source leaves open
    [source]
    author = "..."; title = "..."; year = 1930; where = "Table 1"
    status = "from memory"            how far it was confirmed
    [[expect]]                        one row of the table each
    quantity = "peak over net stress"
    value = 2.433; unit = "1"; tolerance = 0.02; reason = "..."
    known_miss = "..."                only where the model is known to miss: the cause

A row may also say `absolute = true` (the tolerance is in the unit), `sense = "at least"` or
"at most", and carry a [expect.source] of its own.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fejoint.errors import BadInput, Fault
from fejoint.system import resources

KINDS = (
    "linear",
    "contact",
    "plasticity",
    "joint",
    "whole joint",
    "experiment",
    "handbook",
    "common practice",
    "second opinion",
)
SOURCE_KEYS = ("author", "title", "where", "status")
SENSES = ("equal", "at least", "at most")


@dataclass(frozen=True)
class Source:
    """Where an expected value comes from.

    Attributes
    ----------
    author, title, where : str
        Who, in what, which table or equation.
    year : int or None
        When; None where it is not known.
    status : str
        How far the value was confirmed, e.g. "read in the table" or "from memory".
    """

    author: str
    title: str
    where: str
    status: str
    year: int | None = None

    def __str__(self) -> str:
        """Return the source in one line."""
        year = f" {self.year}" if self.year else ""
        return f"{self.author}{year}, {self.title}, {self.where} ({self.status})"


@dataclass(frozen=True)
class Expectation:
    """One expected number.

    Attributes
    ----------
    quantity : str
        What it is; the model's run knows it by this name.
    value : float
        In `unit`.
    unit : str
        "1" for a pure number.
    tolerance : float
        Allowed error: relative, or in the unit where `absolute`.
    reason : str
        Why the tolerance is what it is.
    source : Source
        Who says so.
    sense : {"equal", "at least", "at most"}
        On which side of the value a computed number may lie beyond the tolerance.
    absolute : bool
        True if the tolerance is in the unit of the value.
    known_miss : str
        Empty, or why the model is known to miss the value.
    """

    quantity: str
    value: float
    unit: str
    tolerance: float
    reason: str
    source: Source
    sense: str = "equal"
    absolute: bool = False
    known_miss: str = ""

    def error(self, got: float) -> float:
        """Return the error of a computed number, relative or in the unit as the tolerance is."""
        return got - self.value if self.absolute else got / self.value - 1.0

    def holds(self, got: float) -> bool:
        """Say whether a computed number lies within the tolerance, or on the allowed side."""
        error = self.error(got)
        below = error < -self.tolerance and self.sense != "at most"
        above = error > self.tolerance and self.sense != "at least"
        return math.isfinite(error) and not (below or above)


@dataclass(frozen=True)
class ReferenceCase:
    """One folder: the problem, its expectations and their source."""

    name: str
    title: str
    kind: str
    run: str
    given: Mapping[str, Any]
    source: Source
    expectations: tuple[Expectation, ...]
    assumptions: tuple[str, ...] = ()
    metal: str = ""


def folder() -> Path:
    """Return where the reference cases lie."""
    return resources.folder("reference")


def read(path: Path) -> ReferenceCase:
    """Read one case's folder.

    Raises
    ------
    BadInput
        With every fault; a case without a source is one.
    """
    given, told = _toml(path / "case.toml"), _toml(path / "expected.toml")
    reading = _Reading(path.name)
    title = reading.text(told, "title")
    run = reading.text(told, "run")
    kind = reading.choice(told, "kind", KINDS)
    source = reading.source(told.get("source", {}), "source.")
    rows = told.get("expect", [])
    if not rows:
        reading.fault("expect", "", "must hold a row", "write [[expect]]")
    expectations = tuple(
        reading.expectation(row, f"expect.{number}.", source)
        for number, row in enumerate(rows, start=1)
    )
    if reading.faults:
        raise BadInput(*reading.faults)
    assumptions = tuple(told.get("assumptions", ()))
    metal = str(told.get("metal", ""))
    return ReferenceCase(
        path.name, title, kind, run, given, source, expectations, assumptions, metal
    )


class _Reading:
    """One folder while it is read: the faults met so far."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.faults: list[Fault] = []

    def fault(self, where: str, value: object, allowed: str, mend: str) -> None:
        self.faults.append(Fault(f"{self.name}: {where}", str(value), allowed, mend))

    def text(self, table: Mapping[str, Any], key: str, where: str = "") -> str:
        value = table.get(key, "")
        if isinstance(value, str) and value.strip():
            return value
        self.fault(where + key, value, "must be a text", "write it")
        return ""

    def choice(self, table: Mapping[str, Any], key: str, allowed: tuple[str, ...]) -> str:
        value = self.text(table, key)
        if value and value not in allowed:
            self.fault(key, value, f"must be one of {', '.join(allowed)}", "take one of them")
        return value

    def number(self, table: Mapping[str, Any], key: str, where: str) -> float:
        value = table.get(key, "")
        if isinstance(value, (int, float)) and math.isfinite(value):
            return float(value)
        self.fault(where + key, value, "must be a number", "write it")
        return math.nan

    def source(self, table: Mapping[str, Any], where: str) -> Source:
        words = {key: self.text(table, key, where) for key in SOURCE_KEYS}
        return Source(**words, year=table.get("year"))

    def expectation(self, row: Mapping[str, Any], where: str, source: Source) -> Expectation:
        if "source" in row:
            source = self.source(row["source"], f"{where}source.")
        sense = row.get("sense", SENSES[0])
        if sense not in SENSES:
            allowed = f"must be one of {', '.join(SENSES)}"
            self.fault(f"{where}sense", sense, allowed, "take one of them")
        return Expectation(
            quantity=self.text(row, "quantity", where),
            value=self.number(row, "value", where),
            unit=self.text(row, "unit", where),
            tolerance=self.number(row, "tolerance", where),
            reason=self.text(row, "reason", where),
            source=source,
            sense=sense,
            absolute=row.get("absolute") is True,
            known_miss=row.get("known_miss", ""),
        )


def read_all(root: Path | None = None) -> tuple[ReferenceCase, ...]:
    """Read every case below `root` (the project's own if left out), by kind and name.

    Raises
    ------
    BadInput
        With every fault of every case, or if there is no case at all.
    """
    root = root or folder()
    faults: list[Fault] = []
    cases = []
    for path in sorted(root.glob("*/expected.toml")):
        try:
            cases.append(read(path.parent))
        except BadInput as bad:
            faults += bad.faults
    if not cases and not faults:
        allowed = "must hold reference cases, one folder each"
        faults.append(Fault("cases", str(root), allowed, "install the package anew"))
    if faults:
        raise BadInput(*faults)
    return tuple(sorted(cases, key=lambda case: (KINDS.index(case.kind), case.name)))


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        fault = Fault(f"{path.parent.name}: {path.name}", "", f"is no TOML ({error})", "mend it")
        raise BadInput(fault) from error
