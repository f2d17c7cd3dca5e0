"""The [scatter] table of a case: how far its values may lie from what it says.

[scatter]
"ear.hole" = { within = "0.05 mm" }          # anywhere up to this much smaller or larger
"ear.thickness" = { deviation = "2 %" }      # normal; standard deviation, of the value
"pin.hardness" = { deviation = "1 HRC" }
"fit.friction" = { from = 0.1, to = 0.3 }    # anywhere between
"ear.strength" = { deviation = "5 %" }       # of the metal: strength, fracture_strain, shape
"ear.shape" = { among = ["swift", "voce"] }
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, get_args

from fejoint.errors import BadInput, Fault, nearest, shorten
from fejoint.inputs import units
from fejoint.inputs.fields import Field, Reading
from fejoint.inputs.units import Kind, Misread
from fejoint.materials import hardness

Law = Literal["within", "deviation", "between", "among"]

OF_METAL: dict[str, Field] = {
    "strength": Field("number", '"5 %"', 0.0, 0.5),
    "fracture_strain": Field("number", "1.0", 0.005, 5.0),
    "shape": Field("choice", '"swift"', choices=("swift", "voce")),
}
"""What of a part's metal may scatter."""

_LAWS: dict[Law, tuple[str, ...]] = {
    "within": ("within",),
    "deviation": ("deviation",),
    "between": ("from", "to"),
    "among": ("among",),
}
_KEYS = tuple(key for keys in _LAWS.values() for key in keys)
_EXAMPLE = 'write for example { within = "0.05 mm" } or { deviation = "2 %" }'


@dataclass(frozen=True)
class Spread:
    """How one value scatters.

    Attributes
    ----------
    path : str
        A key of the case, or PART.strength, PART.fracture_strain or PART.shape.
    law : {"within", "deviation", "between", "among"}
        Even about the value; normal about it (cut at three deviations); even between two ends;
        any of several words.
    size : float
        Half width or standard deviation; of the value itself where `relative`.
    relative : bool
    ends : (float, float)
        For "between".
    words : tuple of str
        For "among".
    unit : str
        Of a hardness.
    """

    path: str
    law: Law
    size: float = 0.0
    relative: bool = False
    ends: tuple[float, float] = (0.0, 0.0)
    words: tuple[str, ...] = ()
    unit: str = ""

    @property
    def part(self) -> str:
        """Name of the part or table."""
        return self.path.rpartition(".")[0]

    @property
    def key(self) -> str:
        """Last word of the path."""
        return self.path.rpartition(".")[2]

    @property
    def of_metal(self) -> bool:
        """Whether it is the part's metal that scatters, and no key of the case."""
        return self.key in OF_METAL


def read(
    table: Any, parts: Mapping[str, Mapping[str, Field]], reading: Reading
) -> tuple[Spread, ...]:
    """Read a [scatter] table.

    Parameters
    ----------
    table : mapping
        Of the case.
    parts : mapping
        The case's tables and their keys.
    reading : Reading
        Takes the faults.
    """
    if not isinstance(table, Mapping):
        reading.fault("scatter", table, "must be a table", f"write [scatter] and below it {_LINE}")
        return ()
    found = []
    for path, said in _flat(table):
        try:
            found.append(_spread(path, said, parts))
        except BadInput as bad:
            reading.faults += bad.faults
    return tuple(found)


_LINE = '"ear.hole" = { within = "0.05 mm" }'


def _flat(table: Mapping[str, Any], above: str = "") -> list[tuple[str, Any]]:
    """Return path and law of every entry; ear.hole without quotes is a table in a table."""
    found: list[tuple[str, Any]] = []
    for key, value in table.items():
        path = f"{above}{key}"
        if isinstance(value, Mapping) and not any(k in _KEYS for k in value) and value:
            found += _flat(value, f"{path}.")
        else:
            found.append((path, value))
    return found


def _spread(path: str, said: Any, parts: Mapping[str, Mapping[str, Field]]) -> Spread:
    where = f"scatter.{shorten(path)}"
    wanted = _field(where, path, parts)
    if not isinstance(said, Mapping):
        raise BadInput(Fault(where, shorten(str(said)), "must say how it scatters", _EXAMPLE))
    law = next((law for law, keys in _LAWS.items() if set(said) == set(keys)), None)
    if law is None:
        allowed = "must hold within, or deviation, or from and to, or among"
        raise BadInput(Fault(where, ", ".join(map(shorten, said)), allowed, _EXAMPLE))
    if (law == "among") != (wanted is not None and wanted.kind == "choice"):
        mend = 'write { among = ["swift", "voce"] } for a shape alone'
        raise BadInput(Fault(where, law, "does not fit this value", mend))
    if law == "among":
        return _among(where, path, said["among"])
    if law == "between":
        ends = tuple(_ends(where, said[k], wanted) for k in ("from", "to"))
        if not ends[0][0] < ends[1][0]:
            raise BadInput(Fault(where, "", "must go from less to more", "swap the two"))
        return Spread(path, law, ends=(ends[0][0], ends[1][0]), unit=ends[0][1])
    text = said[law]
    share = _share(text)
    if share is None:
        size, unit = _ends(where, text, wanted, width=True)
        spread = Spread(path, law, size, unit=unit)
    else:
        # a strength scatters about 1, so that its shares are plain numbers
        spread = Spread(path, law, share, relative=True)
    if not spread.size >= 0.0:
        raise BadInput(Fault(where, str(text), "must not be negative", "leave the sign out"))
    if spread.relative and spread.size > 0.5:
        raise BadInput(Fault(where, str(text), "must be at most 50 %", "make it smaller"))
    return spread


def _field(where: str, path: str, parts: Mapping[str, Mapping[str, Field]]) -> Field | None:
    """Return the field that scatters; None for a hardness."""
    part, _, key = path.rpartition(".")
    first = part.partition(".")[0]
    fields = dict(parts.get(first, {}))
    if first in ("ear", "pin", "shank"):
        fields |= OF_METAL
    if key not in fields or first == "pull":
        choices = [k for k, f in fields.items() if f.kind in get_args(Kind) or k in OF_METAL]
        like = nearest(key, choices)
        mend = f"did you mean {part}.{like}?" if like else f"write for example {_LINE}"
        raise BadInput(Fault(where, "", "is nothing that scatters", mend))
    if key == "hardness":
        return None
    if fields[key].kind not in get_args(Kind) and key not in OF_METAL:
        raise BadInput(Fault(where, "", "holds no number", f"write for example {_LINE}"))
    return fields[key]


def _among(where: str, path: str, words: Any) -> Spread:
    allowed = OF_METAL["shape"].choices
    if not isinstance(words, (list, tuple)) or not words or any(w not in allowed for w in words):
        mend = 'write among = ["swift", "voce"]'
        raise BadInput(Fault(where, shorten(str(words)), "must be a list of shapes", mend))
    return Spread(path, "among", words=tuple(dict.fromkeys(words)))


def _share(text: Any) -> float | None:
    if not isinstance(text, str) or not text.rstrip().endswith("%"):
        return None
    try:
        return units.read(text, "number")
    except Misread:
        return None


def _ends(where: str, text: Any, wanted: Field | None, width: bool = False) -> tuple[float, str]:
    """Return a value, or a width, and a hardness' unit."""
    if wanted is None:
        words = str(text).split()
        if width and len(words) == 2 and words[1].upper() in ("HRC", "HV", "HB"):
            with contextlib.suppress(Misread):
                return units.read(words[0], "number"), words[1].upper()
        given = hardness.parse(text, where)
        return given.value, given.scale
    kind: Any = wanted.kind
    try:
        value = units.read(text, kind)
    except Misread as misread:
        raise BadInput(Fault(where, shorten(str(text)), misread.allowed, misread.mend)) from misread
    if not width and not wanted.low <= value <= wanted.high:
        allowed = f"must lie from {wanted.low:g} to {wanted.high:g}"
        raise BadInput(Fault(where, shorten(str(text)), allowed, "change it"))
    return value, ""
