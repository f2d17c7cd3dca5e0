"""Fields of the tables that come from outside: what each may hold, and how it is read.

A table's faults are collected, none raised, so that one report can name them all. A number that
could not be read becomes nan, which no later comparison finds at fault.
"""

from __future__ import annotations

import itertools
import math
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from fejoint.errors import BadInput, Fault, nearest, shorten
from fejoint.inputs import units
from fejoint.inputs.units import Kind, Misread

_LONGEST_TEXT = 4000
_LONGEST_LIST = 2000
_MOST_TEXTS = 500
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_ENOUGH = 5
"""Faulty entries of one list that are told."""
_ENOUGH_KEYS = 20
"""Unknown keys of one table that are told one by one: to look for the nearest takes time."""

_SHAPES: dict[str, tuple[Callable[[Any], bool], str, str]] = {
    "flag": (
        lambda value: isinstance(value, bool),
        "must be true or false",
        "write it without quotes",
    ),
    "name": (
        lambda value: isinstance(value, str) and bool(re.fullmatch(r"[\w-]{1,64}", value)),
        "must be 1 to 64 letters, digits, _ or -",
        "change it",
    ),
    "table": (
        lambda value: isinstance(value, Mapping),
        "must be a table of keys and values",
        "send its keys and values",
    ),
}


@dataclass(frozen=True)
class Field:
    """What one key of a table may hold.

    Attributes
    ----------
    kind : str
        A kind of quantity, or "text", "texts", "name", "choice", "flag", "count", "numbers",
        "stresses", "table".
    example : str
        A value as written in a case file.
    low, high : float
        Allowed range of a quantity, ends included, in mm, N, MPa, degrees.
    choices : tuple of str
        Allowed words of a "choice".
    needed : bool
        Whether it is a fault to leave it out.
    note : str
        What it means, for comments in written case files.
    default : object
        What is taken where it is left out, in mm, N, MPa, degrees; None where nothing is, or where
        it follows from other keys and the note says how.
    lines : bool
        Whether a "text" may have several lines.
    longest : int
        Most characters of a "text".
    """

    kind: (
        Kind
        | Literal[
            "text", "texts", "name", "choice", "flag", "count", "numbers", "stresses", "table"
        ]
    )
    example: str = ""
    low: float = -math.inf
    high: float = math.inf
    choices: tuple[str, ...] = ()
    needed: bool = False
    note: str = ""
    default: Any = None
    lines: bool = False
    longest: int = _LONGEST_TEXT


@dataclass
class Reading:
    """The faults found so far while tables are read.

    Attributes
    ----------
    whole : str
        What the table without a name is called.
    """

    whole: str = "the case"
    faults: list[Fault] = field(default_factory=list)

    def fault(self, where: str, value: object, allowed: str, mend: str) -> None:
        """Note one fault."""
        shown = str(value).lower() if isinstance(value, bool) else shorten(value)
        self.faults.append(Fault(where, shown, allowed, mend))

    def table(self, where: str, table: object, fields: Mapping[str, Field]) -> dict[str, Any]:
        """Read the keys of one table.

        Parameters
        ----------
        where : str
            The table's name, the first part of its fields' names.
        table : object
            What stands there; anything but a mapping is a fault.
        fields : mapping
            The keys allowed in it.

        Returns
        -------
        dict
            Values of the keys that stand there; nan or None where one could not be read.
        """
        if not isinstance(table, Mapping):
            self.fault(where, table, "must be a table", f"write [{where}] and its keys below it")
            return {}
        strange = {key: value for key, value in table.items() if key not in fields}
        misspelt = self.unknown(where, strange, fields)
        for key, wanted in fields.items():
            if wanted.needed and key not in table and key not in misspelt:
                mend = f"write for example {key} = {wanted.example}"
                self.fault(_join(where, key), "", "is missing", mend)
        return {
            key: self.value(_join(where, key), table[key], wanted)
            for key, wanted in fields.items()
            if key in table
        }

    def unknown(
        self, where: str, strange: Mapping[Any, Any], known: Iterable[str]
    ) -> set[str | None]:
        """Note keys that have no meaning, and return the nearest ones that have.

        Parameters
        ----------
        where : str
            The table's name.
        strange : mapping
            The keys and what stands there.
        known : iterable of str
            The keys that have a meaning.
        """
        names = list(known)
        of = f"[{where}]" if where else self.whole
        meant = set()
        for key, value in itertools.islice(strange.items(), _ENOUGH_KEYS):
            like = nearest(str(key), names)
            meant.add(like)
            mend = f"did you mean {like}?" if like else f"its keys are {', '.join(names)}"
            shown = "" if isinstance(value, Mapping) else value
            self.fault(_join(where, shorten(key) or "''"), shown, f"is not a key of {of}", mend)
        more = len(strange) - _ENOUGH_KEYS
        if more > 0:
            mend = f"its keys are {', '.join(names)}"
            self.fault(where or self.whole, "", f"has {more:,} more keys without a meaning", mend)
        return meant

    def value(self, where: str, value: Any, wanted: Field) -> Any:
        """Read one value; nan (quantities) or None when it cannot be read."""
        if wanted.kind == "choice":
            return self._choice(where, value, wanted.choices)
        if wanted.kind == "text":
            return self._text(where, value, wanted)
        if wanted.kind == "texts":
            return self._texts(where, value)
        if wanted.kind in _SHAPES:
            fits, allowed, mend = _SHAPES[wanted.kind]
            if fits(value):
                return value
            self.fault(where, _written(value), allowed, mend)
            return None
        if wanted.kind == "count":
            return self._count(where, value, wanted)
        if wanted.kind in {"numbers", "stresses"}:
            kind: Kind = "number" if wanted.kind == "numbers" else "stress"
            return self._list(where, value, kind, wanted)
        return self.quantity(where, value, wanted.kind, wanted.low, wanted.high)

    def quantity(
        self, where: str, value: Any, kind: Any, low: float = -math.inf, high: float = math.inf
    ) -> float:
        """Read one quantity within its range, else nan."""
        try:
            number = units.read(value, kind)
        except Misread as misread:
            self.fault(where, _written(value), misread.allowed, misread.mend)
            return math.nan
        if not low <= number <= high:
            allowed, mend = _outside(number, kind, low, high)
            self.fault(where, value, allowed, mend)
            return math.nan
        return number

    def _choice(self, where: str, value: Any, choices: Sequence[str]) -> str | None:
        if isinstance(value, str) and value in choices:
            return value
        like = nearest(value, choices) if isinstance(value, str) else None
        mend = f"did you mean {like}?" if like else f'write for example "{choices[0]}"'
        self.fault(where, _written(value), f"must be {_either(choices)}", mend)
        return None

    def _text(self, where: str, value: Any, wanted: Field) -> str | None:
        if not isinstance(value, str):
            mend = f"write for example {where.rpartition('.')[2]} = {wanted.example}"
            self.fault(where, value, "must be text in quotes", mend)
            return None
        if len(value) > wanted.longest:
            self.fault(where, value, f"must be at most {wanted.longest} characters", "shorten it")
            return None
        strange = unfit(value, lines=wanted.lines)
        if strange is not None:
            self.fault(where, value, f"must not hold {strange}", "take it out")
            return None
        return value

    def _texts(self, where: str, value: Any) -> tuple[str, ...] | None:
        if not (isinstance(value, (list, tuple)) and all(isinstance(each, str) for each in value)):
            self.fault(where, value, "must be a list of texts", 'write ["first", "second"]')
            return None
        long = len(value) > _MOST_TEXTS or any(len(each) > _LONGEST_TEXT for each in value)
        strange = next(filter(None, (unfit(each, lines=True) for each in value)), None)
        if long or strange is not None:
            allowed = f"must be at most {_MOST_TEXTS} texts of at most {_LONGEST_TEXT} characters"
            mend = "shorten it" if long else "take it out"
            self.fault(where, value, allowed + (f", without {strange}" if strange else ""), mend)
            return None
        return tuple(value)

    def _count(self, where: str, value: Any, wanted: Field) -> int | None:
        if isinstance(value, int) and not isinstance(value, bool):
            if wanted.low <= value <= wanted.high:
                return value
        allowed = f"must be a whole number from {wanted.low:g} to {wanted.high:g}"
        self.fault(where, value, allowed, f"write for example {wanted.example}")
        return None

    def _list(self, where: str, value: Any, kind: Kind, wanted: Field) -> tuple[float, ...] | None:
        if not isinstance(value, (list, tuple)) or len(value) > _LONGEST_LIST:
            self.fault(where, value, "must be a list of numbers", f"write {wanted.example}")
            return None
        before = len(self.faults)
        numbers = []
        for place, each in enumerate(value, start=1):
            named = f"{where}.{place}"
            numbers.append(self.quantity(named, each, kind, wanted.low, wanted.high))
            if len(self.faults) - before == _ENOUGH:
                break
        return tuple(numbers) if len(self.faults) == before else None


def quantity(
    where: str, value: Any, kind: Kind, low: float = -math.inf, high: float = math.inf
) -> float:
    """Read one quantity that stands alone, such as an option's.

    Raises
    ------
    BadInput
        If it is none of its kind, or out of range.
    """
    reading = Reading()
    number = reading.quantity(where, value, kind, low, high)
    if reading.faults:
        raise BadInput(*reading.faults)
    return number


def per(
    where: str, value: Any, above: Kind, below: Literal["length", "time"], example: str
) -> float:
    """Read a quantity over another, such as "12 kN/mm" or "5 mm/min"; a number as it is.

    Raises
    ------
    BadInput
        If it is none, or not above 0.
    """
    mend = f"write {example}"
    try:
        found = _over(value, above, below)
    except (Misread, KeyError, TypeError) as error:
        raise BadInput(Fault(where, shorten(value), f"must be such as {example}", mend)) from error
    if not 0.0 < found < math.inf:
        raise BadInput(Fault(where, shorten(value), "must be above 0", mend))
    return found


def _over(value: Any, above: Kind, below: Literal["length", "time"]) -> float:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    if not isinstance(value, str):
        raise TypeError
    top, _, bottom = value.partition("/")
    if below == "time":
        unit = {"s": 1.0, "min": 60.0, "h": 3600.0}[bottom.strip()]
    else:
        unit = units.read(f"1 {bottom.strip()}", below)
    return units.read(top.strip(), above) / unit


def unfit(value: str, *, lines: bool = False) -> str | None:
    """Return what no text of a case may hold and this one does, or None.

    Parameters
    ----------
    value : str
    lines : bool
        Whether it may have several lines, and tabs.
    """
    if value.isprintable():
        return None
    for c in value.replace("\r\n", "\n") if lines else value:
        if "\ud800" <= c <= "\udfff":  # no file can hold it
            return "half a character"
        if c in _TURNING:
            return f"a mark that turns the direction of writing (U+{ord(c):04X})"
        if c in "\n\t" and not lines:
            return "a tab or the end of a line"
        if unicodedata.category(c) == "Cc" and c not in "\n\t":  # a terminal obeys it
            return f"a control character (U+{ord(c):04X})"
    return None


def _written(value: Any) -> Any:
    """Return an empty text as it is written, since a fault without a value shows none."""
    return "''" if isinstance(value, str) and not value else value


def _join(where: str, key: str) -> str:
    return f"{where}.{key}" if where else key


def _either(words: Sequence[str]) -> str:
    return " or ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _outside(number: float, kind: Kind, low: float, high: float) -> tuple[str, str]:
    least, most = units.show_short(low, kind), units.show_short(high, kind)
    if math.isinf(high):
        return f"must be at least {least}", "make it larger"
    allowed = f"must lie from {least} to {most}"
    if number < 0.0 <= low:
        return allowed, "give it without a minus sign"
    return allowed, "make it larger" if number < low else "make it smaller, or check its unit"
