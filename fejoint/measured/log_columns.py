"""Which column of a rig's log is force, travel or time, and in what units."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault, nearest
from fejoint.inputs.units import KGF

Role = Literal["force", "travel", "time"]

_LBF = 4.4482216152605

UNITS: Mapping[Role, Mapping[str, float]] = {
    "force": {
        "n": 1.0, "kn": 1e3, "dan": 10.0, "mn": 1e6, "kgf": KGF, "kp": KGF, "kg": KGF,
        "g": KGF / 1e3, "gf": KGF / 1e3, "t": KGF * 1e3, "lbf": _LBF, "lbs": _LBF, "lb": _LBF,
        "klbf": _LBF * 1e3, "kip": _LBF * 1e3, "newton": 1.0, "newtons": 1.0, "tonnes": KGF * 1e3,
    },
    "travel": {
        "mm": 1.0, "cm": 10.0, "m": 1e3, "um": 1e-3, "µm": 1e-3, "μm": 1e-3, "in": 25.4,
        "inch": 25.4, "inches": 25.4, "mil": 0.0254, '"': 25.4,
    },
    "time": {
        "s": 1.0, "sec": 1.0, "seconds": 1.0, "ms": 1e-3, "msec": 1e-3, "us": 1e-6, "min": 60.0,
        "h": 3600.0,
    },
}  # fmt: skip
"""Factors to N, mm and s; a mass stands for its weight."""

_WORDS: Mapping[Role, str] = {
    "force": r"force|load|pull|tension|kraft|last|zug|effort|charge|forza|carico|fuerza|carga|"
    r"kracht|kraften|peak|break|bruch|rupture|\bf\b|\bp\b|\bfmax\b",
    "travel": r"displ|exten|elong|stroke|travel|position|crosshead|cross-head|deflec|stretch|weg|"
    r"traverse|verl[aä]ng|d[eé]pl|allong|course|spost|allung|despl|alarg|verplaats|\bpos\b|\bdl\b|"
    r"\bx\b",
    "time": r"time|zeit|temps|tempo|tiempo|tijd|second|\bt\b|clock|elapsed",
}
_SPEED = re.compile(r"speed|\brate\b|velocity|geschwind|vitesse|velocit|velocidad")
_PER_TIME = re.compile(r"/\s*(?:s|sec|min|h)\b")
"""Columns that change with no pull: how fast it goes."""
_PEAK = re.compile(r"peak|break|max|bruch|rupture|ultimate|failure|rottura|rotura", re.IGNORECASE)
_IN_BRACKETS = re.compile(r"[(\[{<]\s*([^)\]}>]{1,8})\s*[)\]}>]")
_EXACT: Mapping[str, float] = {"mN": 1e-3, "MN": 1e6}
"""Force units that differ by a capital only."""
_OF_TIME = re.compile(r"^\s*(\w{1,2})\((?:t|x|s)\)")
"""A symbol as a function of time or travel, such as F(t): no unit."""
_WORD_OF_T = re.compile(r"^\s*(?:\w{3,}|\w{1,2}\s+)\(t\)")
"""Such as Force(t) or F (t): of time, or in tonnes."""
_NO_UNIT = re.compile(
    r"(?i)(?:max|min|abs|raw|avg|mean|set|actual|calc|net|true|ch(?:annel)?\s*\d*|cell\s*\d*|\d+|"
    r"[a-z]\d|t|x|s)\.?"
)
"""What stands in brackets and is no unit: a channel, a statistic, what it is a function of."""
_BEHIND = re.compile(r"[-+]?[\d.,'\u2019\u00a0\u202f ]*\d(?:[eE][-+]?\d+)?\s*([^\W\d_]{1,4}|\")")
_AT_END = re.compile(r"(?:^|[\s/,_:.-])([A-Za-zµμ\"]{1,7})\.?$")


@dataclass(frozen=True)
class Column:
    """A column taken from a log.

    Attributes
    ----------
    index : int
        From 0.
    factor : float or None
        To N, mm or s; None where no unit was found.
    said : str
        Name and unit in words.
    """

    index: int
    factor: float | None
    said: str


def unit_factor(role: Role, unit: str, where: str) -> float:
    """Return the factor of a unit that the user named.

    Raises
    ------
    BadInput
        If it is no unit of that role.
    """
    known = UNITS[role]
    factor = _factor(role, unit.strip())
    if factor is not None:
        return factor
    like = nearest(unit, known)
    mend = f"did you mean {like}?" if like else f"write for example {next(iter(known))}"
    raise BadInput(Fault(where, unit, f"must be one of {', '.join(known)}", mend))


def named_column(asked: str, names: Sequence[str], columns: int, where: str) -> int:
    """Return the column that the user asked for, by its number from 1 or by its name.

    Raises
    ------
    BadInput
        If there is none such.
    """
    if asked.strip().isdecimal() and len(asked) < 10:
        number = int(asked)
        if 1 <= number <= columns:
            return number - 1
        raise BadInput(Fault(where, asked, f"must be 1 to {columns}", "count from the left"))
    low = [n.lower() for n in names]
    for test in (str.__eq__, str.startswith, str.__contains__):
        hits = [k for k, n in enumerate(low) if n and test(n, asked.strip().lower())]
        if len(hits) == 1:
            return hits[0]
    shown = ", ".join(n or f"column {k + 1}" for k, n in enumerate(names)) or "no names"
    raise BadInput(Fault(where, asked, f"names no column (they are: {shown})", "use its number"))


def header_names(header: Sequence[Sequence[str]], columns: int) -> list[str]:
    """Return the columns' names, with units where a row of their own holds them.

    Parameters
    ----------
    header : sequence of sequences of str
        Cells of the lines above the table's numbers.
    columns : int
    """
    fitting = [row for row in header[-4:] if len(row) == columns and any(row)]
    if not fitting:
        return [""] * columns
    # names and units may stand in rows of their own, in either order, channel numbers below
    of_units = [row for row in fitting if _is_units(row)]
    of_names = [row for row in fitting if row not in of_units]
    if not of_names:
        return list(fitting[-1])
    names = max(reversed(of_names), key=lambda row: sum(role_of(c) is not None for c in row))
    if not of_units:
        return list(names)
    bare = [c.strip("()[]{}<> ") for c in of_units[-1]]
    return [f"{a} [{b}]" if b else a for a, b in zip(names, bare, strict=True)]


def _is_units(row: Sequence[str]) -> bool:
    """Tell a row of units from one of names."""
    units = sum(_plain_unit(c) for c in row)
    return bool(units) and units >= 0.5 * sum(bool(c) for c in row)


def _plain_unit(cell: str) -> bool:
    bare = cell.strip("()[]{}<> ").lower()
    return any(bare in table for table in UNITS.values())


def _factor(role: Role, unit: str) -> float | None:
    """Return a unit's factor; None where it is none of that role."""
    if role == "force" and unit.lower() == "mn":
        return _EXACT.get(unit)
    return UNITS[role].get(unit.lower())


def unit_in(name: str, role: Role | None = None) -> tuple[Role, float, str] | None:
    """Return role, factor and unit of the unit that a column's name holds.

    A bracket that says of what a column is a function, as in F(t), is no unit.
    """
    bare = _OF_TIME.sub(r"\1 ", name)
    in_brackets = _IN_BRACKETS.findall(bare)
    if _WORD_OF_T.match(bare) and len(in_brackets) > 1:
        in_brackets = in_brackets[1:]
    for text in (*reversed(in_brackets), *_AT_END.findall(_IN_BRACKETS.sub(" ", bare).strip())):
        for r in (role,) if role else ("force", "travel", "time"):
            factor = _factor(r, text.strip())
            if factor is not None:
                return r, factor, text.strip()
    return None


def unknown_unit(name: str, role: Role) -> str:
    """Return what stands in a name's brackets like a unit and is none; "" where there is none."""
    if role == "time":
        return ""
    bare = _OF_TIME.sub(r"\1 ", name)
    texts = [t.strip() for t in _IN_BRACKETS.findall(bare)]
    unlike = [t for t in texts if not _NO_UNIT.fullmatch(t)]
    return unlike[-1] if unlike and unit_in(name) is None else ""


def unit_behind(cell: str) -> str:
    """Return the unit behind a cell's number, such as the lbf of "3552 lbf"; "" without one."""
    found = _BEHIND.fullmatch(cell.strip())
    return found[1] if found else ""


def unclear_unit(name: str, role: Role) -> tuple[str, str] | None:
    """Return the two readings of a unit that can be read in two ways, each as its option."""
    if role != "force":
        return None
    found = [*_IN_BRACKETS.findall(name), *_AT_END.findall(name.strip())]
    if any(t.strip().lower() == "mn" and t.strip() not in _EXACT for t in found):
        return "--force-unit mN (thousandths of a newton)", "--force-unit MN (millions of newtons)"
    if _WORD_OF_T.match(name) and len(_IN_BRACKETS.findall(name)) == 1:
        return "--force-unit t (tonnes)", "--force-unit N (force as a function of time, in N)"
    return None


def role_of(name: str) -> Role | None:
    """Return what a column's name says that it holds."""
    bare = _IN_BRACKETS.sub(" ", name).lower().replace("_", " ")
    bare = re.sub(r"(?<=[a-z])(?=\d)", " ", bare)
    if _SPEED.search(bare) or _PER_TIME.search(name):
        return None
    hits: list[tuple[int, Role]] = []
    for role, words in _WORDS.items():
        match = re.search(words, bare)
        if match:
            hits.append((match.start(), role))
    unit = unit_in(name)
    if unit and (not hits or unit[0] in {r for _, r in hits}):
        return unit[0]
    return min(hits)[1] if hits else None


def says_peaks(names: Sequence[str]) -> bool:
    """Tell whether a column is named after peaks or breaks."""
    return any(_PEAK.search(n) for n in names)


def by_numbers(values: Floats, left: Sequence[int], roles: Mapping[Role, int]) -> dict[Role, int]:
    """Give roles to columns without telling names, from a sample of their numbers.

    Time rises evenly; travel rises more steadily than force, which falls at the break.

    Parameters
    ----------
    values : (n, n_columns) array
        NaN where a cell holds no number.
    left : sequence of int
        Columns without a role.
    roles : mapping
        Roles given already.
    """
    found: dict[Role, int] = dict(roles)
    usable = [c for c in left if _varies(values[:, c])]
    if len(usable) + len(found) > 1 and "time" not in found:
        even = [c for c in usable if _evenly_rising(values[:, c])]
        if even and ("force" not in found or len(usable) > 1 or "travel" in found):
            steady = [c for c in usable if c not in even]
            # two even columns are time and travel at one speed: the first is taken as time
            if len(even) > 1 or steady:
                found["time"] = even[0]
                usable.remove(even[0])
    if "force" not in found and usable:
        if "travel" in found or len(usable) == 1:
            found["force"] = max(usable, key=lambda c: float(np.ptp(_finite(values[:, c]))))
        else:
            found["force"] = min(usable, key=lambda c: _like_travel(values[:, c]))
        usable.remove(found["force"])
    if "travel" not in found and usable:
        best = max(usable, key=lambda c: _like_travel(values[:, c]))
        if _steadiness(values[:, best]) > 0.75 and not _counts(values[:, best]):
            found["travel"] = best
    return found


def _varies(column: Floats) -> bool:
    known = _finite(column)
    return len(known) > 0.6 * len(column) and float(np.ptp(known)) > 0.0


def _finite(column: Floats) -> Floats:
    return column[np.isfinite(column)]


def _evenly_rising(column: Floats) -> bool:
    steps = np.diff(_finite(column))
    return (
        len(steps) > 2
        and bool(np.all(steps > 0.0))
        and float(np.std(steps) / np.mean(steps)) < 0.05
    )


def _counts(column: Floats) -> bool:
    """Tell a row or sample number."""
    steps = np.diff(_finite(column))
    return bool(np.all(steps == 1.0))


def _like_travel(column: Floats) -> tuple[float, float]:
    """Rank by how steadily a column rises, then by how even its steps are."""
    steps = np.diff(_finite(column))
    mean = abs(float(np.mean(steps)))
    return round(_steadiness(column), 2), -float(np.std(steps)) / max(mean, 1e-300)


def _steadiness(column: Floats) -> float:
    """Net change over the sum of all changes: 1 for a column that only rises or only falls."""
    x = _finite(column)
    total = float(np.abs(np.diff(x)).sum())
    return abs(float(x[-1] - x[0])) / total if total > 0.0 else 0.0
