"""Reading a rig's log: a curve, a force against time, or a list of break loads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.measured import log_columns, log_dialect
from fejoint.measured.log_columns import Role
from fejoint.measured.log_dialect import BadRow, Dialect

KEPT = 20_000
"""Most points kept of a curve: a longer one is averaged over equal runs of rows."""
_FEW = 200
"""Most rows that a list of break loads may have."""
_SAMPLE = 2000


@dataclass(frozen=True)
class Hints:
    """What the user says of a log; whatever is left out is guessed.

    Attributes
    ----------
    force, travel, time : str or None
        Column, by name or number from 1.
    force_unit, travel_unit, time_unit : str or None
    separator : str or None
        "tab", "semicolon", "comma", "bar" or "blank", or the mark itself.
    decimal : str or None
        "." or ",".
    peaks : bool
        The log is a list of break loads.
    speed : float or None
        Of the rig, mm/s: makes travel of time.
    """

    force: str | None = None
    travel: str | None = None
    time: str | None = None
    force_unit: str | None = None
    travel_unit: str | None = None
    time_unit: str | None = None
    separator: str | None = None
    decimal: str | None = None
    peaks: bool = False
    speed: float | None = None


@dataclass(frozen=True, eq=False)
class Log:
    """A measured pull, or several peaks.

    Attributes
    ----------
    name : str
    kind : {"curve", "time", "peaks"}
    force : (n,) array
        N, positive in the pull; for "peaks" one value a sample.
    travel : (n,) array or None
        Of the rig, mm.
    time : (n,) array or None
        s.
    peak : float
        Largest force of any row, before averaging, N.
    rows : int
        Rows read.
    bad : tuple of BadRow
        Rows left out.
    assumed : tuple of str
        What was guessed, in words, with the option that overrides it.
    """

    name: str
    kind: Literal["curve", "time", "peaks"]
    force: Floats
    travel: Floats | None
    time: Floats | None
    peak: float
    rows: int
    bad: tuple[BadRow, ...]
    assumed: tuple[str, ...]


def read(path: Path, hints: Hints | None = None, expected: float | None = None) -> Log:
    """Read a log as the rig wrote it.

    Parameters
    ----------
    path : Path
    hints : Hints, optional
    expected : float, optional
        Load expected, N: decides between units where the log names none.

    Raises
    ------
    BadInput
        If no force can be read from it.
    """
    hints = hints or Hints()
    where = str(path)
    lines = log_dialect.lines_of(log_dialect.load_text(path))
    separator = _separator(hints.separator)
    if hints.decimal not in (None, ".", ","):
        raise BadInput(Fault("--decimal", str(hints.decimal), "must be . or ,", "leave it out"))
    dialect = log_dialect.find_dialect(lines, separator, hints.decimal)
    if dialect is None:
        raise BadInput(Fault(where, "", "holds no table of numbers", "name the log of a pull"))
    first = log_dialect.first_data_line(lines, dialect)
    if first == len(lines):
        allowed = f"holds no rows of {dialect.columns} columns"
        raise BadInput(Fault(where, "", allowed, "give --separator and --decimal"))
    header = [dialect.cells(x) for x in lines[max(0, first - 6) : first] if x.strip()]
    names = log_columns.header_names(header, dialect.columns)
    told = [_said_dialect(dialect, hints, first)]
    roles = _roles(lines, first, dialect, names, hints)
    if "force" not in roles:
        shown = ", ".join(n for n in names if n) or f"{dialect.columns} columns without names"
        raise BadInput(Fault(where, "", f"has no force column ({shown})", "give --force-column"))
    order = [r for r in ("force", "travel", "time") if r in roles]
    values, bad = log_dialect.read_columns(lines, first, dialect, [roles[r] for r in order])
    if len(values) == 0:
        raise BadInput(Fault(where, "", "has no row without a fault", _first_faults(bad)))
    data = {role: values[:, k].copy() for k, role in enumerate(order)}
    del values, lines
    for role in order:
        data[role], said = _scaled(
            role, data[role], names[roles[role]], roles[role], hints, expected
        )
        told.append(said)
    return _made(path.name, data, names, hints, tuple(bad), told)


def _separator(asked: str | None) -> str | None:
    if asked is None or asked in log_dialect.SEPARATORS:
        return asked
    for mark, name in log_dialect.NAMES.items():
        if asked.lower() == name or (asked == r"\t" and name == "tab"):
            return mark
    allowed = f"must be one of {', '.join(log_dialect.NAMES.values())}"
    raise BadInput(Fault("--separator", asked, allowed, "leave it out to have it guessed"))


def _said_dialect(dialect: Dialect, hints: Hints, first: int) -> str:
    said = f"columns parted by {log_dialect.NAMES[dialect.separator]}, decimal {dialect.decimal!r}"
    if dialect.columns == 1:
        said = f"one column, decimal {dialect.decimal!r}"
    if dialect.thousands:
        said += f", thousands {dialect.thousands!r}"
    guessed = hints.separator is None or hints.decimal is None
    return f"{said}, numbers from line {first + 1}" + (
        " (--separator, --decimal)" if guessed else ""
    )


def _roles(
    lines: Sequence[str], first: int, dialect: Dialect, names: Sequence[str], hints: Hints
) -> dict[Role, int]:
    roles: dict[Role, int] = {}
    asked: dict[Role, str | None] = {
        "force": hints.force, "travel": hints.travel, "time": hints.time
    }  # fmt: skip
    for role, name in asked.items():
        if name is not None:
            where = f"--{role}-column"
            roles[role] = log_columns.named_column(name, names, dialect.columns, where)
    for k, name in enumerate(names):
        role_or_none = log_columns.role_of(name) if name else None
        if role_or_none and role_or_none not in roles and k not in roles.values():
            roles[role_or_none] = k
    data = lines[first:]
    sample = [x for x in data[:: max(1, len(data) // _SAMPLE)] if x.strip()]
    columns = range(dialect.columns)
    numbers = np.array([log_dialect._slow(x, dialect, columns) for x in sample])
    for role in list(roles):
        if asked[role] is None and not np.any(np.isfinite(numbers[:, roles[role]])):
            del roles[role]
    if "force" in roles and (len(roles) > 1 or hints.peaks):
        return roles
    left = [k for k in columns if k not in roles.values()]
    return log_columns.by_numbers(numbers, left, roles)


def _scaled(
    role: Role, values: Floats, name: str, index: int, hints: Hints, expected: float | None
) -> tuple[Floats, str]:
    column = f"{role}: column {index + 1}" + (f' "{name}"' if name else "")
    asked = {"force": hints.force_unit, "travel": hints.travel_unit, "time": hints.time_unit}[role]
    option = f"--{role}-column, --{role}-unit"
    if asked is not None:
        return values * log_columns.unit_factor(
            role, asked, f"--{role}-unit"
        ), f"{column} in {asked}"
    found = log_columns.unit_in(name, role)
    if found is not None:
        note = (
            ", a mass taken as its weight"
            if found[2].lower() in {"kg", "g", "t", "lb", "lbs"}
            else ""
        )
        return values * found[1], f"{column} in {found[2]}{note} ({option})"
    unit = {"force": "N", "travel": "mm", "time": "s"}[role]
    why = "no unit is named"
    if role == "force" and expected:
        peak = float(np.abs(values).max())
        near = {u: abs(np.log(max(peak, 1e-300) * log_columns.UNITS["force"][u.lower()] / expected))
                for u in ("N", "kN", "kgf")}  # fmt: skip
        best = min(near, key=lambda u: near[u])
        if near[best] < np.log(3.0):
            unit, why = best, "no unit is named, and so it comes nearest to the prediction"
    return values * log_columns.UNITS[role][
        unit.lower()
    ], f"{column} taken in {unit}: {why} ({option})"


def _made(
    name: str,
    data: dict[Role, Floats],
    names: Sequence[str],
    hints: Hints,
    bad: tuple[BadRow, ...],
    told: list[str],
) -> Log:
    force, travel, time = data["force"], data.get("travel"), data.get("time")
    rows = len(force)
    if travel is None and time is not None and hints.speed:
        travel = hints.speed * (time - time[0])
        told.append(f"travel: time at {60.0 * hints.speed:g} mm/min (--speed)")
    if _is_peaks(force, travel, time, names, hints):
        if np.median(force) < 0.0:
            force = -force
            told.append("force: turned round, the loads were negative")
        force = force[force > 0.0]
        if len(force) == 0:
            raise BadInput(Fault(name, "", "holds no load above 0", "name a list of break loads"))
        told.append(f"a list of {len(force)} break loads (no travel or time beside them)")
        return Log(name, "peaks", force, None, None, float(force.max()), rows, bad, tuple(told))
    if rows < 5:
        raise BadInput(Fault(name, "", f"has only {rows} good rows", "a curve needs at least 5"))
    if -float(force.min()) > float(force.max()):
        force = -force
        told.append("force: turned round, the pull was negative")
    peak = int(np.argmax(force))
    if force[peak] <= 0.0:
        raise BadInput(Fault(name, "", "holds no load above 0", "give --force-column"))
    if travel is not None and travel[peak] < travel[0]:
        travel = -travel
        told.append("travel: turned round, it fell while the force rose")
    highest = float(force[peak])
    kind: Literal["curve", "time"] = "time" if travel is None else "curve"
    if kind == "time":
        told.append("no travel: only the load maximum is compared (--speed makes travel of time)")
    if rows > KEPT:
        width = -(-rows // KEPT)
        told.append(f"{rows:,} rows averaged {width} at a time")
        force = _averaged(force, width)
        travel = None if travel is None else _averaged(travel, width)
        time = None if time is None else _averaged(time, width)
    return Log(name, kind, force, travel, time, highest, rows, bad, tuple(told))


def _averaged(values: Floats, width: int) -> Floats:
    whole = len(values) // width * width
    return np.asarray(values[:whole].reshape(-1, width).mean(axis=1))


def _is_peaks(
    force: Floats, travel: Floats | None, time: Floats | None, names: Sequence[str], hints: Hints
) -> bool:
    if hints.peaks:
        return True
    if travel is not None or len(force) > _FEW:
        return False
    size = np.abs(force)
    alike = float(size.min()) > 0.2 * float(size.max())
    counted = time is not None and bool(np.allclose(np.diff(time), 1.0))
    return (log_columns.says_peaks(names) or time is None or counted) and alike


def _first_faults(bad: Sequence[BadRow]) -> str:
    shown = "; ".join(f"line {b.line}: {b.why}" for b in bad[:3])
    return f"mend its rows ({shown})" if shown else "name the log of a pull"
