"""What a sweep is to solve: its joints one by one, and what they would cost."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, Protocol

import numpy as np

from fejoint.errors import BadInput, Fault
from fejoint.joint import edit, model
from fejoint.joint.model import Joint
from fejoint.studies.sweeps.variation import Variation

MOST = 20_000
"""Joints that a sweep begins without being told to."""
ROW_BYTES = 2500
"""What a row takes on disk, in the store and in the tables (measured)."""
JOINT_SECONDS = 1.1
"""What a joint takes one process at refine = 1 until its first part gives, s (measured)."""

Method = Literal["latin", "sobol", "halton"]


@dataclass(frozen=True)
class Row:
    """One joint of a sweep.

    Attributes
    ----------
    number : int
    inputs : dict of str to float or str
        Value by column.
    case : dict or None
        The joint in mm, N and MPa, complete; None where there is no such joint.
    reason : str
        Why there is none.
    """

    number: int
    inputs: dict[str, Any]
    case: dict[str, Any] | None
    reason: str = ""


class Rows(Protocol):
    """Anything that says which joints to solve."""

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the inputs."""

    def __len__(self) -> int:
        """Return the number of joints."""

    def row(self, number: int) -> Row:
        """Return one joint."""

    def describe(self) -> dict[str, Any]:
        """Return plain data from which the same rows come again."""


@dataclass(frozen=True)
class Plan:
    """A grid over the values of some dimensions, or points spread evenly among them.

    Attributes
    ----------
    base : Joint
    variations : tuple of Variation
    samples : int or None
        Points to spread; None for the grid.
    method : {"latin", "sobol", "halton"}
        Latin hypercube, or the low-discrepancy sequence.
    seed : int

    Raises
    ------
    BadInput
        If a range has no samples, or two variations name one key.
    """

    base: Joint
    variations: tuple[Variation, ...]
    samples: int | None = None
    method: Method = "latin"
    seed: int = 1
    columns: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        faults = []
        paths = [v.path for v in self.variations]
        if not paths:
            mend = 'write for example --vary "ear.hole=4.0:5.0:11 mm"'
            faults.append(Fault("--vary", "", "is missing", mend))
        for path in sorted({p for p in paths if paths.count(p) > 1}):
            faults.append(Fault("--vary", path, "is varied twice", "take one of them out"))
        if self.samples is None:
            for v in self.variations:
                if v.is_range:
                    shown = f"{v.values[0]:g}:{v.values[1]:g}"
                    mend = f"write {shown}:5 for five values, or --samples 50"
                    faults.append(Fault(v.path, shown, "is a range without a count", mend))
        elif self.samples < 1:
            faults.append(Fault("--samples", str(self.samples), "must be at least 1", "raise it"))
        if self.method not in ("latin", "sobol", "halton"):
            allowed = "must be latin, sobol or halton"
            faults.append(Fault("--spread", str(self.method), allowed, "leave it out"))
        if faults:
            raise BadInput(*faults)
        # one value of each dimension: a key that this case lacks is told before the first solve
        for v in self.variations:
            edit.changed(self._table, v.path, v.in_case(v.values[0]))
        object.__setattr__(self, "columns", tuple(v.column for v in self.variations))

    @functools.cached_property
    def _table(self) -> Mapping[str, Any]:
        return self.base.case or self.base.to_dict()

    @functools.cached_property
    def _shares(self) -> np.ndarray[Any, np.dtype[np.float64]]:
        """Evenly spread points of the unit cube, (samples, dimensions)."""
        from scipy.stats import qmc

        d, n = len(self.variations), self.samples or 0
        if self.method == "latin":
            return np.asarray(qmc.LatinHypercube(d, seed=self.seed).random(n))
        if self.method == "halton":
            return np.asarray(qmc.Halton(d, seed=self.seed).random(n))
        sobol = qmc.Sobol(d, seed=self.seed)
        return np.asarray(sobol.random_base2(math.ceil(math.log2(max(n, 2)))))[:n]

    def __len__(self) -> int:
        """Return the number of joints."""
        if self.samples is not None:
            return self.samples
        return math.prod(len(v.values) for v in self.variations)

    def values(self, number: int) -> tuple[float, ...]:
        """Return the varied values of one joint; the last dimension runs fastest."""
        if self.samples is not None:
            shares = self._shares[number]
            return tuple(v.at(float(s)) for v, s in zip(self.variations, shares, strict=True))
        places = []
        for v in reversed(self.variations):
            number, place = divmod(number, len(v.values))
            places.append(v.values[place])
        return tuple(reversed(places))

    def row(self, number: int) -> Row:
        """Return one joint."""
        values = self.values(number)
        inputs: dict[str, Any] = dict(zip(self.columns, values, strict=True))
        changes = [
            (v.path, v.in_case(x)) for v, x in zip(self.variations, values, strict=True)
        ]  # fmt: skip
        try:
            return Row(number, inputs, joint_with(self._table, changes).to_dict())
        except BadInput as bad:
            return Row(number, inputs, None, told(bad))

    def describe(self) -> dict[str, Any]:
        """Return plain data from which the same rows come again."""
        return {
            "case": self.base.to_dict(),
            "vary": [[v.path, v.unit, list(v.values), v.is_range] for v in self.variations],
            "samples": self.samples,
            "method": self.method,
            "seed": self.seed,
        }


@dataclass(frozen=True)
class Listed:
    """Joints given one by one.

    Attributes
    ----------
    columns : tuple of str
    rows : sequence of Row
    """

    columns: tuple[str, ...]
    rows: Sequence[Row]

    def __len__(self) -> int:
        """Return the number of joints."""
        return len(self.rows)

    def row(self, number: int) -> Row:
        """Return one joint."""
        return self.rows[number]

    def describe(self) -> dict[str, Any]:
        """Return plain data from which the same rows come again."""
        return {"rows": [[r.inputs, r.case, r.reason] for r in self.rows]}


def joint_with(table: Mapping[str, Any], changes: Iterable[tuple[str, Any]]) -> Joint:
    """Return the joint of a case table with several values changed, checked once at the end.

    Raises
    ------
    BadInput
        If a path is no key of a case, or the joint is none any more.
    """
    changed: Mapping[str, Any] = table
    for path, value in changes:
        changed = edit.changed(changed, path, value)
    return model.read(changed)


def told(bad: BadInput) -> str:
    """Return the faults of a joint on one line."""
    return " | ".join(str(fault) for fault in bad.faults)


def all_rows(rows: Rows) -> Iterator[Row]:
    """Go through the joints in order."""
    return (rows.row(number) for number in range(len(rows)))


def estimate(joints: int, refine: float, processes: int) -> str:
    """Say what so many joints would cost, before any is solved."""
    processes = max(1, processes)
    seconds = joints * JOINT_SECONDS * max(0.4, refine**1.4) / processes
    return (
        f"{joints:,} joints: about {duration(seconds)} on {processes} "
        f"process{'es' if processes != 1 else ''}, and {size(joints * ROW_BYTES)} of disk"
    )


def refuse_too_many(joints: int, refine: float, processes: int, most: int) -> None:
    """Refuse a plan that nobody can have meant, and say what it would cost.

    Raises
    ------
    BadInput
        If there are more joints than `most`.
    """
    if joints > most:
        cost = estimate(joints, refine, processes).partition(": ")[2]
        allowed = f"would take {cost}; more than {most:,} are not begun unasked"
        mend = f"take fewer values, or --samples 200, or allow it by --most {joints}"
        raise BadInput(Fault("sweep", f"{joints:,} joints", allowed, mend))


def duration(seconds: float) -> str:
    """Return a time for people."""
    for unit, length in (("days", 86400.0), ("h", 3600.0), ("min", 60.0)):
        if seconds >= 1.5 * length:
            return f"{seconds / length:,.0f} {unit}"
    return f"{max(seconds, 1.0):.0f} s"


def size(count: float) -> str:
    """Return a number of bytes for people."""
    for unit, length in (("TB", 1e12), ("GB", 1e9), ("MB", 1e6)):
        if count >= length:
            return f"{count / length:.1f} {unit}"
    return f"{max(count / 1e3, 1.0):.0f} kB"
