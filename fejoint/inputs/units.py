"""Quantities as people write them ("4 mm", "5/32 in", "200 kgf") to mm, N, MPa and degrees.

The units that nearly every case uses are looked up in a table, since pint takes 0.2 s to import;
any other unit goes to pint. The tests hold the table against pint.
"""

from __future__ import annotations

import functools
import math
import re
from typing import Any, Literal

from fejoint.errors import nearest, shorten

Kind = Literal["length", "force", "stress", "angle", "density", "number"]

UNIT: dict[Kind, str] = {
    "length": "mm",
    "force": "N",
    "stress": "MPa",
    "angle": "deg",
    "density": "g/cm3",
    "number": "",
}

KGF = 9.80665
"""Newtons in a kilogram-force (exact)."""

_PSI = 4.4482216152605 / 25.4**2

_COMMON: dict[Kind, dict[str, float]] = {
    "length": {"mm": 1.0, "cm": 10.0, "m": 1000.0, "um": 1e-3, "µm": 1e-3, "in": 25.4},
    "force": {"N": 1.0, "kN": 1000.0, "kgf": KGF, "lbf": 4.4482216152605},
    "stress": {
        "MPa": 1.0,
        "GPa": 1000.0,
        "kPa": 1e-3,
        "Pa": 1e-6,
        "N/mm2": 1.0,
        "N/mm^2": 1.0,
        "N/mm²": 1.0,
        "psi": _PSI,
        "ksi": 1000.0 * _PSI,
    },
    "angle": {"deg": 1.0, "°": 1.0, "rad": 180.0 / math.pi},
    "density": {"g/cm3": 1.0, "g/cm^3": 1.0, "kg/m3": 1e-3, "kg/m^3": 1e-3},
    "number": {"": 1.0, "%": 0.01},
}

_EXAMPLE: dict[Kind, str] = {
    "length": '"4 mm", "5/32 in"',
    "force": '"2 kN", "200 kgf"',
    "stress": '"290 MPa", "193 GPa"',
    "angle": '"30 deg"',
    "density": '"7.9 g/cm3"',
    "number": '0.15, "15 %"',
}

_WORD: dict[Kind, str] = {
    "length": "a length",
    "force": "a force",
    "stress": "a stress",
    "angle": "an angle",
    "density": "a density",
    "number": "a plain number",
}

_DECIMAL = r"(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_QUANTITY = re.compile(
    rf"(?P<sign>[+-]?)\s*(?:(?:(?P<whole>\d+)\s+)?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)"
    rf"|(?P<decimal>{_DECIMAL}))\s*(?P<unit>.*)",
    re.DOTALL,
)
_COMMA = re.compile(r"\s*[+-]?\d+,\d+")
# What pint may see: short products of unit names, no numbers that it would have to work out.
_UNIT_SHAPE = re.compile(r"[A-Za-zµ°]{1,24}(?:\s?[*/]\s?[A-Za-zµ]{1,24})?(?:\^?[23²³])?")
_POWER = re.compile(r"(?<=[A-Za-z])\^?([23²³])$")
_DIGITS = {"2": "2", "3": "3", "²": "2", "³": "3"}


class Misread(ValueError):
    """A value that is not the quantity wanted: what is allowed (and why not), and the mend."""

    def __init__(self, must: str, mend: str, *, but: str = "") -> None:
        self.allowed = must + but
        self.mend = mend
        super().__init__(f"{self.allowed}; {mend}")


def read(value: Any, kind: Kind) -> float:
    """Return the quantity in fejoint's unit of its kind.

    Parameters
    ----------
    value : str, int or float
        Text with a unit, or a bare number already in mm, N, MPa, degrees or g/cm3.
    kind : str
        What it must be: "length", "force", "stress", "angle", "density" or "number".

    Returns
    -------
    float
        Finite, in `UNIT[kind]`.

    Raises
    ------
    Misread
        If it is no finite quantity of this kind.
    """
    must = f"must be {_WORD[kind]}"
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise Misread(must, _for_example(kind))
    try:
        number = _read_text(value, kind, must) if isinstance(value, str) else float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise Misread(must, _for_example(kind), but=", and finite")
    return number


def show(number: float, kind: Kind) -> str:
    """Return the quantity as text that `read` turns back into the very same number."""
    text = repr(float(number))
    text = text.removesuffix(".0")
    return f"{text} {UNIT[kind]}".rstrip()


def show_short(number: float, kind: Kind) -> str:
    """Return the quantity for people, to five figures."""
    return f"{number:.5g} {UNIT[kind]}".rstrip()


def _for_example(kind: Kind) -> str:
    return f"write for example {_EXAMPLE[kind]}"


def _read_text(text: str, kind: Kind, must: str) -> float:
    if _COMMA.match(text):
        pointed = shorten(text.replace(",", ".", 1))
        mend = f'write it with a point and no thousands mark: "{pointed}"'
        raise Misread(must, mend, but=" with a decimal point")
    match = _QUANTITY.fullmatch(text.strip()) if len(text) <= 100 else None
    if match is None:
        raise Misread(must, f"write a number and its unit, for example {_EXAMPLE[kind]}")
    if match["decimal"]:
        number = float(match["decimal"])
    else:
        if int(match["bottom"]) == 0:
            raise Misread(must, "a fraction cannot have 0 below the line")
        number = int(match["whole"] or 0) + int(match["top"]) / int(match["bottom"])
    number *= _factor(match["unit"].strip(), kind, must)
    return -number if match["sign"] == "-" else number


def _factor(unit: str, kind: Kind, must: str) -> float:
    known = _COMMON[kind].get(unit)
    if known is not None:
        return known
    if not unit:
        raise Misread(must, _for_example(kind), but=" with its unit")
    if kind == "number":
        raise Misread(must, f"leave the unit out: for example {_EXAMPLE[kind]}")
    for other, table in _COMMON.items():
        if other != kind and unit in table:
            raise Misread(must, _for_example(kind), but=f", not {_WORD[other]}")
    if kind == "force" and unit in {"kg", "g", "t", "lb", "lbs"}:
        raise Misread(must, "a pull is in N, kN, kgf or lbf", but=", not a mass")
    return _pint_factor(unit, kind, must)


def _pint_factor(unit: str, kind: Kind, must: str) -> float:
    like = nearest(unit, _COMMON[kind])
    mend = f"did you mean {like}?" if like else _for_example(kind)
    if _UNIT_SHAPE.fullmatch(unit) is None:
        raise Misread(must, mend, but=" in a unit of its kind")
    registry = _registry()
    try:
        plain = _POWER.sub(lambda match: f"**{_DIGITS[match[1]]}", unit)
        quantity = registry.Quantity(1.0, registry.parse_units(plain))
    except Exception as error:  # pint's parser lets several kinds of errors through
        but = f" in a known unit ({shorten(unit)} is none)"
        raise Misread(must, mend, but=but) from error
    try:
        return float(quantity.to(UNIT[kind].replace("cm3", "cm**3")).magnitude)
    except Exception as error:
        but = f", which {shorten(unit)} does not measure"
        raise Misread(must, mend, but=but) from error


@functools.cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)


def figures(value: float, digits: int = 3) -> str:
    """Write a number for people to so many figures, the digits beyond them as zeros."""
    if value == 0.0 or not math.isfinite(value):
        return f"{value:.0f}"
    places = digits - 1 - math.floor(math.log10(abs(value)))
    # 9,996 is 10,000 to three figures, and then 10,000 to as many
    rounded = round(value, places)
    return f"{rounded:,.{max(digits - 1 - math.floor(math.log10(abs(rounded))), 0)}f}"


def both_units(load: float, digits: int = 3) -> str:
    """Write a load given in N for people, in N and kgf, to so many figures."""
    return f"{figures(load, digits)} N ({figures(load / KGF, digits)} kgf)"
