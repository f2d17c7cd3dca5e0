"""Reading a rig's log: a curve, a force against time, or a list of break loads."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Literal

import numpy as np

from fejoint.arrays import Bools, Floats, Ints
from fejoint.errors import BadInput, Fault
from fejoint.measured import (
    log_columns,
    log_dialect,
    log_ends,
    log_units,
    number_marks,
    row_order,
    time_stamps,
)
from fejoint.measured.log_columns import Role
from fejoint.measured.log_dialect import BadRow, Dialect
from fejoint.measured.log_record import Hints, Log, Spike

KEPT = 20_000
"""Most points kept of a curve: a longer one is averaged over equal runs of rows."""
_FEW = 200
"""Most rows that a list of break loads may have."""
_SAMPLE = 2000
_SUMMARY = re.compile(
    r"(?i)(?:mean|average|avg|median|std\.?(?: ?dev\.?)?|sd|s|stdev|cv|min(?:imum)?|max(?:imum)?|"
    r"sum|total|range|mittel(?:wert)?|summe|moyenne|ecart(?:-type)?|media|promedio|gemiddelde)\.?:?"
)
"""Labels of rows below a list that are no sample's."""


def read(path: Path, hints: Hints | None = None, expected: float | None = None) -> Log:
    """Read a log that holds one test; see `read_tests`.

    Raises
    ------
    BadInput
        If no force can be read from it, or it holds several tests.
    """
    found = read_tests(path, hints, expected)
    if len(found) > 1:
        allowed = f"holds {len(found)} tests"
        raise BadInput(Fault(str(path), "", allowed, "read them with read_tests"))
    return found[0]


def read_tests(
    path: Path, hints: Hints | None = None, expected: float | None = None
) -> tuple[Log, ...]:
    """Read a log as the rig wrote it, test by test.

    Parameters
    ----------
    path : Path
    hints : Hints, optional
    expected : float, optional
        Load expected, N: decides between units where the log names none.

    Raises
    ------
    BadInput
        If no force can be read from it, or its numbers can be read in two ways.
    """
    hints = hints or Hints()
    where = str(path)
    text = log_dialect.load_text(path)
    lines = log_dialect.lines_of(text)
    del text
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
    _ask_marks(where, lines, first, dialect)
    header = [dialect.cells(x) for x in lines[max(0, first - 6) : first] if x.strip()]
    names = log_columns.header_names(header, dialect.columns)
    assumed = [_dialect_line(dialect, hints, first)]
    roles = _roles(lines, first, dialect, names, hints)
    if "force" not in roles:
        shown = ", ".join(n for n in names if n) or f"{dialect.columns} columns without names"
        raise BadInput(Fault(where, "", f"has no force column ({shown})", "give --force-column"))
    order = [r for r in ("force", "travel", "time") if r in roles]
    values, at, bad = log_dialect.read_columns(lines, first, dialect, [roles[r] for r in order])
    if len(values) == 0:
        raise BadInput(Fault(where, "", "has no row without a fault", _first_faults(bad)))
    samples = ~_summaries(lines, at, dialect)
    bad += [BadRow(int(k) + 1, "a summary, no sample") for k in at[~samples]]
    values, at = values[samples], at[samples]
    data = {role: values[:, k].copy() for k, role in enumerate(order)}
    del values
    picked = [lines[j] for j in at[:: max(1, len(at) // _SAMPLE)]]
    for role in order:
        k = roles[role]
        names[k] = log_units.with_cells_unit(names[k], role, k, picked, dialect)
        data[role], line = log_units.scaled(role, data[role], names[k], k, hints, expected)
        assumed.append(line)
    if "time" not in data and hints.time is None:
        stamps = _stamps(lines, at, dialect)
        if stamps is not None:
            data["time"] = stamps
            assumed.append("time: from the stamps of the rows (--time-column)")
    _refuse_second_header(where, lines, first, bad, dialect)
    assumed += _left_beside(data["force"], at, bad)
    del lines
    found = _tests(path.name, data, at, names, hints, tuple(bad), assumed)
    return tuple(replace(log, digest=_digest(log)) for log in found)


def _digest(log: Log) -> str:
    """Return what a sample is known by again: its numbers, however the file writes them.

    A list of break loads is known by its name too: its loads may be those of another.
    """
    known = hashlib.sha256()
    for column in (log.force, log.travel, log.time) if log.kind != "peaks" else ():
        known.update(b"-" if column is None else np.ascontiguousarray(column).tobytes())
    if log.kind == "peaks":
        known.update(log.name.encode())
    return known.hexdigest()


def _summaries(lines: Sequence[str], at: Ints, dialect: Dialect) -> Bools:
    """Mark the rows of a short list that hold a mean or the like and no sample."""
    if len(at) > _FEW:
        return np.zeros(len(at), bool)
    return np.array([any(map(_SUMMARY.fullmatch, dialect.cells(lines[k]))) for k in at], bool)


def _ask_marks(where: str, lines: Sequence[str], first: int, dialect: Dialect) -> None:
    """Refuse a log whose numbers or columns can be read in two ways.

    Raises
    ------
    BadInput
        With both readings and the options that choose between them.
    """
    if dialect.open_cells and len(dialect.open_cells) > 1 and dialect.evidence == "":
        shown = " and ".join(dialect.open_cells[:2])
    else:
        shown = dialect.open_cells[0] if dialect.open_cells else ""
    if shown:
        point, comma = number_marks.readings(dialect.open_cells[0])
        allowed = "can be read in two ways, and no other number of the file shows which"
        mend = f"give --decimal . (then it is {point}) or --decimal , (then it is {comma})"
        raise BadInput(Fault(where, shown, allowed, mend))
    above = [x for x in lines[max(0, first - 3) : first] if x.strip()]
    if dialect.separator != "," or not above or dialect.evidence == "as stated":
        return
    named = len(dialect.cells(above[-1]))
    row = lines[first]
    grouped = re.search(r"(?:^|,)\d{1,3},\d{3}(?:$|[.,])", row)
    if 1 <= named < dialect.columns and grouped:
        allowed = f"has {named} names above {dialect.columns} columns: the comma may part thousands"
        mend = "give --separator comma --decimal . if it parts columns, or export with semicolons"
        raise BadInput(Fault(where, row, allowed, mend))


def _stamps(lines: Sequence[str], at: Ints, dialect: Dialect) -> Floats | None:
    """Return seconds from a column of time stamps; None where there is none."""
    picked = at[:: max(1, len(at) // 50)]
    table = [dialect.cells(lines[k]) for k in picked]
    table = [row for row in table if len(row) == dialect.columns]
    if not table:
        return None
    date, clock = time_stamps.columns_of(table)
    if clock is None:
        return None
    rows = [dialect.cells(lines[k]) for k in at]
    dates = None if date is None or date == clock else [row[date] for row in rows]
    found = time_stamps.seconds(dates, [row[clock] for row in rows])
    return found if bool(np.isfinite(found).all()) and float(np.ptp(found)) > 0.0 else None


def _tests(
    name: str,
    data: dict[Role, Floats],
    at: Ints,
    names: Sequence[str],
    hints: Hints,
    bad: tuple[BadRow, ...],
    assumed: list[str],
) -> tuple[Log, ...]:
    """Part a log into its tests, without their spikes."""
    force, travel, time = data["force"], data.get("travel"), data.get("time")
    if _is_peaks(force, travel, time, names, hints):
        return (_made(name, data, names, hints, bad, assumed, ()),)
    parts = row_order.tests(time, travel, len(force))
    if parts is None:
        allowed = "has its rows in no order"
        mend = "log the time too, or name its column with --time-column"
        raise BadInput(Fault(name, "", allowed, mend))
    if len(parts) == 1 and travel is not None:
        rows = parts[0]
        parts = np.split(rows, log_ends.broken_and_again(force[rows], travel[rows]))
    if len(parts) > 1:
        assumed = [*assumed, f"{len(parts)} tests in one file, parted where it starts again"]
    elif bool(np.any(np.diff(parts[0]) < 0)):
        assumed = [*assumed, "rows put in the order of time: the file has them in another"]
    logs = []
    for k, rows in enumerate(parts, start=1):
        own = {role: values[rows] for role, values in data.items()}
        marked = row_order.spikes(own["force"])
        if "travel" in own:
            marked = marked | row_order.spikes(own["travel"])
        factor = -1.0 if -float(own["force"][~marked].min()) > float(
            own["force"][~marked].max()) else 1.0  # fmt: skip
        found = tuple(
            Spike(
                int(at[rows[j]]) + 1,
                factor * float(own["force"][j]),
                float(own["travel"][j]) if "travel" in own else None,
            )
            for j in np.flatnonzero(marked)
        )
        own = {role: values[~marked] for role, values in own.items()}
        title = name if len(parts) == 1 else f"{name}, test {k}"
        logs.append(_made(title, own, names, hints, bad if k == 1 else (), assumed, found))
    return tuple(logs)


def _refuse_second_header(
    where: str, lines: Sequence[str], first: int, bad: Sequence[BadRow], dialect: Dialect
) -> None:
    """Refuse a file in which a second table begins, in other columns or units.

    Raises
    ------
    BadInput
        With its line.
    """
    for each in bad:
        cells = dialect.cells(lines[each.line - 1]) if each.line > first else []
        roles = {log_columns.role_of(cell) for cell in cells if cell} - {None}
        again = lines[each.line - 1] in lines[max(0, first - 6) : first]
        if len(roles) > 1 and not again:
            allowed = f"begins another table at line {each.line}"
            raise BadInput(Fault(where, "", allowed, "part the file"))


def _left_beside(force: Floats, at: Ints, bad: Sequence[BadRow]) -> list[str]:
    """Say where rows that could not be read lie among the largest loads."""
    size, top = np.abs(force), 0.97 * float(np.abs(force).max())
    places = np.searchsorted(at, [each.line - 1 for each in bad])
    high = sum(
        (0 < k < len(size) and size[k - 1] > top) or (k == len(size) and size[-1] > top)
        for k in places
    )
    if high < 3:
        return []
    return [f"{high} rows among the largest loads hold no number: the highest pull may be missing"]


def _separator(asked: str | None) -> str | None:
    if asked is None or asked in log_dialect.SEPARATORS:
        return asked
    for mark, name in log_dialect.NAMES.items():
        if asked.lower() == name or (asked == r"\t" and name == "tab"):
            return mark
    allowed = f"must be one of {', '.join(log_dialect.NAMES.values())}"
    raise BadInput(Fault("--separator", asked, allowed, "leave it out to have it guessed"))


def _dialect_line(dialect: Dialect, hints: Hints, first: int) -> str:
    line = f"columns parted by {log_dialect.NAMES[dialect.separator]}, decimal {dialect.decimal!r}"
    if dialect.columns == 1:
        line = f"one column, decimal {dialect.decimal!r}"
    if dialect.thousands:
        line += f", thousands {dialect.thousands!r}"
    if hints.decimal is None and dialect.decimal + dialect.thousands != "." and dialect.evidence:
        line += f" ({dialect.evidence})"
    guessed = hints.separator is None or hints.decimal is None
    return f"{line}, numbers from line {first + 1}" + (
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
    numbers = np.array([log_dialect.read_row(x, dialect, columns) for x in sample])
    for role in list(roles):
        if asked[role] is None and not np.any(np.isfinite(numbers[:, roles[role]])):
            del roles[role]
    if "force" in roles and (len(roles) > 1 or hints.peaks):
        return roles
    left = [k for k in columns if k not in roles.values()]
    return log_columns.by_numbers(numbers, left, roles)


def _made(
    name: str,
    data: dict[Role, Floats],
    names: Sequence[str],
    hints: Hints,
    bad: tuple[BadRow, ...],
    assumed: list[str],
    spikes: tuple[Spike, ...],
) -> Log:
    assumed = list(assumed)
    force, travel, time = data["force"], data.get("travel"), data.get("time")
    rows = len(force)
    if travel is None and time is not None and hints.speed:
        travel = hints.speed * (time - time[0])
        assumed.append(f"travel: time at {60.0 * hints.speed:g} mm/min (--speed)")
    if _is_peaks(force, travel, time, names, hints):
        if np.median(force) < 0.0:
            force = -force
            assumed.append("force: turned round, the loads were negative")
        force = force[force > 0.0]
        if len(force) == 0:
            raise BadInput(Fault(name, "", "holds no load above 0", "name a list of break loads"))
        assumed.append(f"a list of {len(force)} break loads (no travel or time beside them)")
        return Log(
            name, "peaks", force, None, None, float(force.max()), rows, bad, tuple(assumed), spikes
        )
    if rows < 5:
        raise BadInput(Fault(name, "", f"has only {rows} good rows", "a curve needs at least 5"))
    if -float(force.min()) > float(force.max()):
        force = -force
        assumed.append("force: turned round, the pull was negative")
    peak = int(np.argmax(force))
    if force[peak] <= 0.0:
        raise BadInput(Fault(name, "", "holds no load above 0", "give --force-column"))
    if travel is not None and travel[peak] < travel[0]:
        travel = -travel
        assumed.append("travel: turned round, it fell while the force rose")
    highest = float(force[peak])
    kind: Literal["curve", "time"] = "time" if travel is None else "curve"
    if kind == "time":
        assumed.append(
            "no travel: only the load maximum is compared (--speed makes travel of time)"
        )
    if rows > KEPT:
        width = -(-rows // KEPT)
        assumed.append(f"{rows:,} rows averaged {width} at a time")
        force = _averaged(force, width)
        travel = None if travel is None else _averaged(travel, width)
        time = None if time is None else _averaged(time, width)
    return Log(name, kind, force, travel, time, highest, rows, bad, tuple(assumed), spikes)


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
    counted = time is not None and bool(np.allclose(np.diff(time), 1.0))
    if log_columns.says_peaks(names) and (time is None or counted):
        return True
    size = np.abs(force)
    alike = float(size.min()) > 0.2 * float(size.max())
    return (log_columns.says_peaks(names) or time is None or counted) and alike


def _first_faults(bad: Sequence[BadRow]) -> str:
    shown = "; ".join(f"line {b.line}: {b.why}" for b in bad[:3])
    return f"mend its rows ({shown})" if shown else "name the log of a pull"
