"""In what unit a log's column stands: as asked, as its name or its cells say, or asked about."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.measured import log_columns
from fejoint.measured.log_columns import Role
from fejoint.measured.log_dialect import Dialect
from fejoint.measured.log_record import Hints

LIKELY, POSSIBLE = (0.2, 1.6), 0.01
"""Largest load of a log over the predicted one: where a pull ends, and where one may be stopped."""


def scaled(
    role: Role, values: Floats, name: str, index: int, hints: Hints, expected: float | None
) -> tuple[Floats, str]:
    """Return a column in N, mm or s, and how its unit was found.

    Raises
    ------
    BadInput
        If the unit is unknown, can be read in two ways, or is not named and not clear.
    """
    column = f"{role}: column {index + 1}" + (f' "{name}"' if name else "")
    asked = {"force": hints.force_unit, "travel": hints.travel_unit, "time": hints.time_unit}[role]
    option = f"--{role}-column, --{role}-unit"
    if asked is not None:
        return values * log_columns.unit_factor(
            role, asked, f"--{role}-unit"
        ), f"{column} in {asked}"
    both = log_columns.unclear_unit(name, role)
    if both is not None:
        allowed = "names a unit that can be read in two ways"
        raise BadInput(Fault(f"column {index + 1}", name, allowed, f"give {both[0]} or {both[1]}"))
    found = log_columns.unit_in(name, role)
    if found is not None:
        note = (
            ", a mass taken as its weight"
            if found[2].lower() in {"kg", "g", "t", "lb", "lbs"}
            else ""
        )
        return values * found[1], f"{column} in {found[2]}{note} ({option})"
    unknown = log_columns.unknown_unit(name, role)
    if unknown:
        known = {"force": "N, kN, kgf or lbf", "travel": "mm or in", "time": "s or min"}[role]
        allowed = f"names {unknown!r}, which is no unit of {role} that is known"
        mend = f"give --{role}-unit, such as {known}"
        raise BadInput(Fault(f"column {index + 1}", name, allowed, mend))
    unit = {"force": "N", "travel": "mm", "time": "s"}[role]
    why = "no unit is named"
    if role == "force" and expected:
        peak = float(np.abs(values).max())
        near = {u: peak * log_columns.UNITS["force"][u.lower()] / expected
                for u in ("N", "kN", "kgf")}  # fmt: skip
        likely = [u for u, share in near.items() if LIKELY[0] < share < LIKELY[1]]
        possible = [u for u, share in near.items() if POSSIBLE < share < LIKELY[1]]
        if len(likely) != 1 or possible != likely:
            allowed = (
                f"names no unit, and its largest, {peak:,.4g}, may be "
                + (" or ".join(possible) if len(possible) > 1 else "of any")
                + f" beside the {expected:,.0f} N predicted"
            )
            mend = f"give --force-unit {', '.join(near)} or another"
            raise BadInput(Fault(f"column {index + 1}", name, allowed, mend))
        unit, why = likely[0], "no unit is named, and no other is possible beside the prediction"
    return values * log_columns.UNITS[role][
        unit.lower()
    ], f"{column} taken in {unit}: {why} ({option})"


def with_cells_unit(
    name: str, role: Role, index: int, rows: Sequence[str], dialect: Dialect
) -> str:
    """Return a column's name with the unit that stands behind its numbers.

    Raises
    ------
    BadInput
        If its cells name several units, or another than the name does.
    """
    found = set()
    for row in rows:
        cells = dialect.cells(row)
        unit = log_columns.unit_behind(cells[index]) if index < len(cells) else ""
        if unit:
            found.add(unit)
    if not found:
        return name
    named = log_columns.unit_in(name, role)
    own = {*found, *([named[2]] if named else [])}
    if len({u.lower() for u in own}) > 1:
        allowed = f"has numbers in {' and '.join(sorted(own))}"
        raise BadInput(
            Fault(f"column {index + 1}", name, allowed, "log one unit, or part the file")
        )
    return name if named else f"{name} [{found.pop()}]".strip()
