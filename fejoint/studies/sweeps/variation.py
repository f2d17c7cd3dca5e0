"""One dimension of a sweep as it is written, such as "ear.hole=4.0:5.0:11 mm"."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast, get_args

import numpy as np

from fejoint.errors import BadInput, Fault, nearest, shorten
from fejoint.inputs import units
from fejoint.inputs.fields import Field
from fejoint.inputs.units import Kind, Misread
from fejoint.joint import schema
from fejoint.materials import hardness, library

MOST_VALUES = 100_000
"""Values of one dimension."""

_SPEC = re.compile(r"([-+\d.,:eE\s]+?)\s*((?![eE][-+\d])[A-Za-zµ°%][^\s:,]*)?")
_EXAMPLE = 'write for example "ear.hole=4.0:5.0:11 mm" or "pin.hardness=300,400 HV"'


@dataclass(frozen=True)
class Variation:
    """The values that one field of the case takes.

    Attributes
    ----------
    path : str
        A key of the case, as `Joint.replace` takes it.
    unit : str
        Unit of the values: fejoint's own of the field's kind, or a hardness scale.
    values : tuple of float
        The values of a grid or list; lowest and highest of a range.
    is_range : bool
        Whether values are drawn between the two.
    """

    path: str
    unit: str
    values: tuple[float, ...]
    is_range: bool = False

    @property
    def column(self) -> str:
        """Name of the table's column, with the unit."""
        return f"{self.path}_{self.unit}" if self.unit else self.path

    def in_case(self, value: float) -> float | str:
        """Return a value as a case holds it."""
        return f"{value!r} {self.unit}" if self.path.endswith(".hardness") else value

    def at(self, share: float) -> float:
        """Return the value a share (0 to 1) of the way through the range or the list."""
        if self.is_range:
            low, high = self.values
            return rounded(low + share * (high - low))
        return self.values[min(int(share * len(self.values)), len(self.values) - 1)]


def parse(text: str) -> Variation:
    """Read one dimension of a sweep.

    Parameters
    ----------
    text : str
        PATH=FIRST:LAST:COUNT UNIT (a grid), PATH=A,B,C UNIT (a list), or PATH=LOW:HIGH UNIT (a
        range to draw from).

    Raises
    ------
    BadInput
        If it cannot be read, is no numeric key of a case, or holds a value outside its range.
    """
    path, equals, spec = (part.strip() for part in text.partition("="))
    if not equals:
        raise BadInput(Fault("--vary", shorten(text), "must be PATH=VALUES UNIT", _EXAMPLE))
    wanted = numeric_field(path)
    match = _SPEC.fullmatch(spec)
    if match is None:
        raise BadInput(Fault(path, shorten(spec), "cannot be read as values and a unit", _EXAMPLE))
    numbers, is_range = _numbers(path, match[1])
    unit = match[2] or ""
    if wanted is None:
        return Variation(path, *_of_hardness(path, numbers, unit), is_range)
    kind = cast(Kind, wanted.kind)
    values = tuple(_quantity(path, x, unit, kind, wanted) for x in numbers)
    return Variation(path, units.UNIT[kind], values, is_range)


def of(path: str, values: Any) -> Variation:
    """Return a dimension from Python: text as `parse` takes it after the "=", or a list of values.

    Parameters
    ----------
    path : str
    values : str, or sequence of float or str
        Bare numbers are mm, N, MPa or degrees.
    """
    if isinstance(values, str):
        return parse(f"{path}={values}")
    if not isinstance(values, Iterable):
        raise BadInput(Fault(path, shorten(repr(values)), "must be a list of values", _EXAMPLE))
    wanted = numeric_field(path)
    if wanted is not None:
        kind = cast(Kind, wanted.kind)
        got = tuple(_quantity(path, x, "", kind, wanted) for x in values)
        return Variation(path, units.UNIT[kind], got)
    given = [hardness.parse(x, path) for x in values]
    scales = sorted({g.scale for g in given})
    if len(scales) != 1:
        allowed = "must be values of one hardness scale"
        raise BadInput(Fault(path, shorten(str(values)), allowed, 'write ["300 HV", "400 HV"]'))
    return Variation(path, scales[0], tuple(g.value for g in given))


def all_of(vary: Mapping[str, Any] | Sequence[str] | str) -> tuple[Variation, ...]:
    """Return the dimensions of a sweep from Python: values by path, or texts as `parse` takes them.

    Raises
    ------
    BadInput
        If it is neither, or as for `parse`.
    """
    given: object = [vary] if isinstance(vary, str) else vary
    if isinstance(given, Mapping):
        return tuple(of(path, values) for path, values in given.items())
    if isinstance(given, Sequence) and all(isinstance(text, str) for text in given):
        return tuple(parse(text) for text in given)
    allowed, mend = "must say what varies", 'write {"ear.hole": "4.0:5.0:11 mm"}'
    raise BadInput(Fault("vary", shorten(repr(vary)), allowed, mend))


def numeric_field(path: str) -> Field | None:
    """Return the field of a path; None for a hardness.

    Raises
    ------
    BadInput
        If the path is no key of a case, or one that holds no number.
    """
    first, _, rest = path.partition(".")
    key = rest.rpartition(".")[2]
    fields = library.FIELDS if first == "material" else schema.PARTS.get(first)
    if fields is None or not key:
        like = nearest(first, [*schema.PARTS, "material"])
        mend = f"did you mean {like}.{rest}?" if like and rest else "write for example ear.hole"
        raise BadInput(Fault("--vary", shorten(path), "is not a key of a case", mend))
    if key not in fields:
        like = nearest(key, fields)
        mend = f"did you mean {path.removesuffix(key)}{like}?" if like else "see a case file"
        raise BadInput(Fault("--vary", shorten(path), "is not a key of a case", mend))
    if key == "hardness":
        return None
    if fields[key].kind not in get_args(Kind):
        allowed = "holds no number, so it cannot be varied"
        raise BadInput(Fault("--vary", path, allowed, "vary a dimension, a hardness or a constant"))
    return fields[key]


def rounded(value: float) -> float:
    """Return the value to 12 figures: the same whatever sum it came from."""
    return float(f"{value:.12g}")


def _numbers(path: str, text: str) -> tuple[list[float], bool]:
    try:
        if ":" not in text:
            return [float(each) for each in text.split(",")], False
        parts = text.split(":")
        low, high = float(parts[0]), float(parts[1])
        if len(parts) == 2:
            return [low, high], True
        count = int(parts[2])
    except (ValueError, IndexError) as error:
        raise BadInput(Fault(path, shorten(text), "cannot be read", _EXAMPLE)) from error
    if len(parts) > 3 or not 1 <= count <= MOST_VALUES:
        allowed = f"must be FIRST:LAST:COUNT with a count from 1 to {MOST_VALUES:,}"
        raise BadInput(Fault(path, shorten(text), allowed, _EXAMPLE))
    return [rounded(float(x)) for x in np.linspace(low, high, count)], False


def _quantity(path: str, number: Any, unit: str, kind: Kind, wanted: Field) -> float:
    try:
        text = f"{number!r} {unit}" if unit else number
        value = rounded(units.read(text, kind))
    except Misread as misread:
        shown = f"{number} {unit}".strip()
        raise BadInput(Fault(path, shorten(shown), misread.allowed, misread.mend)) from misread
    if not wanted.low <= value <= wanted.high:
        least, most = (units.show_short(x, kind) for x in (wanted.low, wanted.high))
        allowed = f"must lie from {least} to {most}" if math.isfinite(wanted.high) else (
            f"must be at least {least}"
        )  # fmt: skip
        raise BadInput(Fault(path, units.show_short(value, kind), allowed, "change the range"))
    return value


def _of_hardness(path: str, numbers: list[float], unit: str) -> tuple[str, tuple[float, ...]]:
    given = [hardness.parse(f"{x:.10g} {unit}".strip(), path) for x in numbers]
    for each in given:
        hardness.to_strength(each, field=path)
    return given[0].scale, tuple(g.value for g in given)
