"""Bias and spread of the model, from the rows of `fejoint check`; writes what answers read.

The statistics are those of model uncertainty in structural reliability (test over prediction, the
tests' own scatter taken off: Ellingwood, Galambos, MacGregor and Cornell 1980, NBS SP 577, chapter
on resistance statistics, from memory), on logarithms. Rows of one metal hang together: a metal
counts as one in the degrees of freedom, and a metal's rows are left out together.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Protocol

import numpy as np

from fejoint.analysis.model_error import TABLE, Kind, ModelError
from fejoint.arrays import Floats
from fejoint.files import write_atomically

COVER = 0.90
"""Share of values that a stated band is meant to hold."""
SURE = 0.90
"""Confidence with which the references' noise is at least what is taken off."""
_UNIT = 1.6448536269514722
"""Half width of a normal band of `COVER`, over its standard deviation."""

TESTED: Mapping[str, Kind] = {
    "bearing yield strength": "hole stretches",
    "bearing ultimate strength": "greatest load",
}
"""Quantity of a test: the kind of limit it speaks of."""
FINER: Mapping[Kind, Mapping[tuple[str, str], int]] = {
    "pin hinge": {
        ("whole-joint-soft", "hinge load"): 1,
        ("whole-joint-soft", "pin's moment at 0.2 mm"): -1,
        ("whole-joint-soft", "pin's moment at 0.38 mm"): -1,
        ("whole-joint-hard", "pin's moment at 0.2 mm"): -1,
        ("whole-joint-hard", "pin's moment at 0.38 mm"): -1,
    },
    "bend left": {
        ("whole-joint-soft", "load at 0.1 mm"): 1,
        ("whole-joint-soft", "load at 0.2 mm"): 1,
    },
}
"""Rows of whole joints in the round; -1 where a value too high is a load too low. The soft pin
keeps 1 % of its span between the two travels."""
BORROWED: Mapping[Kind, Kind] = {
    "end dishes": "greatest load",
    "net section": "greatest load",
    "ear bends": "hole stretches",
    "pin shears": "pin hinge",
    "pin breaks": "pin hinge",
}
"""Kinds that no test speaks of, and whose error they take."""


class Compared(Protocol):
    """A row of the check, as far as it is needed here."""

    @property
    def label(self) -> tuple[str, str, str]:
        """Case, quantity and metal."""

    @property
    def ratio(self) -> float:
        """Computed over expected."""


@dataclass(frozen=True)
class Value:
    """One comparison: of which metal (or joint), under which label, and its log error."""

    metal: str
    label: str
    error: float


def values(rows: Iterable[Compared]) -> dict[Kind, tuple[Value, ...]]:
    """Sort the rows that speak of a limit by kind; the others are left out."""
    found: dict[Kind, list[Value]] = {}
    for row in rows:
        case, quantity, metal = row.label
        if quantity in TESTED and metal:
            value = Value(metal, case, math.log(row.ratio))
            found.setdefault(TESTED[quantity], []).append(value)
        for kind, signs in FINER.items():
            if sign := signs.get((case, quantity)):
                error = sign * math.log(row.ratio)
                found.setdefault(kind, []).append(Value(case, quantity, error))
    return {kind: tuple(some) for kind, some in found.items()}


def complete(rows: Iterable[Compared]) -> bool:
    """Say whether every row that speaks of a limit is there, with a number."""
    found = values(rows)
    needed = [*TESTED.values(), *FINER]
    enough = all(len({v.metal for v in found.get(kind, ())}) > 2 for kind in TESTED.values())
    return enough and all(found.get(k) and all(map(_known, found[k])) for k in needed)


def _known(value: Value) -> bool:
    return math.isfinite(value.error)


def half_width(errors: Floats, metals: int) -> float:
    """Return half the band of `COVER` for a value of a metal that is not among the errors'."""
    from scipy import stats

    quantile = float(stats.t.ppf(0.5 + 0.5 * COVER, metals - 1))
    return quantile * float(errors.std(ddof=1)) * math.sqrt(1.0 + 1.0 / metals)


def covered(some: Sequence[Value]) -> tuple[bool, ...]:
    """Say of each value whether the band of the other metals' holds it."""
    held = []
    for value in some:
        rest = [v for v in some if v.metal != value.metal]
        errors = np.array([v.error for v in rest])
        width = half_width(errors, len({v.metal for v in rest}))
        held.append(bool(abs(value.error - errors.mean()) <= width))
    return tuple(held)


def noise(some: Sequence[Value]) -> float:
    """Return how far references of one metal scatter about each other, at the least.

    Two tables that print one metal's strength at one edge distance differ by twice its variance;
    of so few pairs the lower confidence bound is taken.
    """
    from scipy import stats

    twins: dict[tuple[str, str], list[float]] = {}
    for value in some:
        twins.setdefault((value.metal, value.label.rpartition("-")[2]), []).append(value.error)
    several = [np.array(errors) for errors in twins.values() if len(errors) > 1]
    freedom = sum(len(errors) - 1 for errors in several)
    if not freedom:
        return 0.0
    squares = sum(float(((errors - errors.mean()) ** 2).sum()) for errors in several)
    return math.sqrt(squares / float(stats.chi2.ppf(SURE, freedom)))


def tested(kind: Kind, some: Sequence[Value]) -> ModelError:
    """Return the error of a kind that tests speak of."""
    errors, metals = np.array([v.error for v in some]), len({v.metal for v in some})
    spread, seen = float(errors.std(ddof=1)), noise(some)
    own = math.sqrt(max(spread**2 - seen**2, 0.0))
    deviation = own * half_width(errors, metals) / (_UNIT * spread)
    held, bias = sum(covered(some)), float(errors.mean())
    return ModelError(
        kind, "tests", bias, spread, seen, bias, deviation, len(some), metals, held,
        f"{len(some)} published bearing strengths of {metals} metals",
    )  # fmt: skip


def finer(kind: Kind, some: Sequence[Value]) -> ModelError:
    """Return the error of a kind that only the joints solved in the round speak of.

    So few joints tell a shift but no spread: the spread is taken as no less than the shift.
    """
    errors, joints = np.array([v.error for v in some]), len({v.metal for v in some})
    bias, spread = float(errors.mean()), float(errors.std(ddof=1))
    count = "one joint" if joints == 1 else f"{joints} joints"
    return ModelError(
        kind, "finer model", bias, spread, 0.0, bias, max(spread, abs(bias)), len(some), joints,
        None, f"no test exists: {count} solved in the round, model against model",
    )  # fmt: skip


def errors_by_kind(rows: Iterable[Compared]) -> tuple[ModelError, ...]:
    """Return every kind's error from the rows of the check."""
    found = values(rows)
    told: dict[Kind, ModelError] = {}
    for kind in TESTED.values():
        told[kind] = tested(kind, found[kind])
    for kind in FINER:
        told[kind] = finer(kind, found[kind])
    for kind, parent in BORROWED.items():
        e = told[parent]
        rms = math.hypot(e.shift, e.deviation)
        told[kind] = ModelError(
            kind, "borrowed", 0.0, rms, 0.0, 0.0, rms, 0, 0, None,
            f'no test exists: as far off as "{parent}", either way',
        )  # fmt: skip
    told["strip yields"] = ModelError(
        "strip yields", "textbook", 0.0, 0.0, 0.0, 0.0, 0.0, 0, 0, None,
        "Rp0.2 by the section: as sure as the metal",
    )  # fmt: skip
    return tuple(told.values())


def write(errors: Iterable[ModelError], folder: Path) -> Path:
    """Write the table that answers read; return its path."""
    lines = ["# Written by `fejoint check --page`; do not edit. ln(predicted/true), see", ""]
    lines[0] += " model_error.py."
    for error in errors:
        lines.append("[[limit]]")
        for field in fields(error):
            value = asdict(error)[field.name]
            if value is not None:
                lines.append(f"{field.name} = {_toml(value)}")
        lines.append("")
    path = folder / TABLE
    write_atomically(path, "\n".join(lines))
    return path


def _toml(value: float | str) -> str:
    if isinstance(value, str):
        quoted = value.replace('"', "'")
        return f'"{quoted}"'
    return str(value) if isinstance(value, int) else f"{value:.4f}"


def lines(errors: Iterable[ModelError], picture: str) -> list[str]:
    """Return the section of the page that tells bias and spread, as lines of Markdown."""
    told = [
        "## Bias and spread, limit by limit",
        "",
        "Of ln(predicted/printed), so that +10 % promises too much. The band is what an answer",
        "states: the bias taken off, nine joints in ten of a metal that no row has seen, before",
        "the metal's own scatter. *Held*: rows inside the band that the other metals' rows give",
        "(the references' noise in it). Noise: how far two tables of one metal differ, at least.",
        "",
        "| limit | from | rows | metals | bias | spread | noise | held | true over predicted |",
        "|---|---|--:|--:|--:|--:|--:|--:|--:|",
    ]
    for e in errors:
        low, high = (math.exp(-e.shift + s * _UNIT * e.deviation) for s in (-1, 1))
        held = "" if e.covered is None else f"{e.covered} ({100 * e.covered / e.rows:.0f} %)"
        count = [str(n) if n else "" for n in (e.rows, e.groups)]
        shares = [f"{100 * x:+.1f} %" if e.rows else "" for x in (e.bias,)]
        shares += [f"{100 * x:.1f} %" if x else "" for x in (e.spread * bool(e.rows), e.noise)]
        band = "as the metal" if e.basis == "textbook" else f"{low:.2f} to {high:.2f}"
        cells = (e.kind, e.says, *count, *shares, held, band)
        told.append("| " + " | ".join(cells) + " |")
    return [*told, "", f"![error and band, limit by limit]({picture})", ""]


def draw(rows: Iterable[Compared], errors: Iterable[ModelError], path: Path) -> Path:
    """Draw every value that speaks of a limit, and the band that answers take."""
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot as plt

    found, kinds = values(rows), list(errors)
    figure, ax = plt.subplots(figsize=(6.4, 3.6), layout="constrained")
    for place, e in enumerate(kinds):
        low, high = (100.0 * (e.shift + s * _UNIT * e.deviation) for s in (-1, 1))
        ax.barh(place, high - low, 0.7, low, color="0.88")
        ax.plot([100.0 * e.shift] * 2, [place - 0.35, place + 0.35], color="0.3", linewidth=1.2)
        some = found.get(e.kind, ())
        metals = sorted({v.metal for v in some})
        for v in some:
            y = place - 0.25 + 0.5 * (metals.index(v.metal) + 0.5) / len(metals)
            filled = "0.2" if e.basis == "tests" else "none"
            ax.plot(100.0 * v.error, y, "o", color="0.2", markerfacecolor=filled, markersize=4)
    ax.axvline(0.0, color="0.5", linewidth=0.6)
    ax.set_yticks(range(len(kinds)), [e.kind for e in kinds])
    ax.invert_yaxis()
    ax.set_xlabel("100 ln(predicted/true): tests filled, a finer model open; bands hold 9 in 10")
    figure.savefig(path, dpi=100, metadata={"Software": None})
    plt.close(figure)
    return path
