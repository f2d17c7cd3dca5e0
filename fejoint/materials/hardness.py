"""Hardness scales, and the tensile strength of carbon and low-alloy steel from hardness.

Conversion is by table and only for the metal that the tables were made on. Austenitic and
cold-drawn metal hardens differently under the indenter and is refused: it has its own data in
`fejoint.materials`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from fejoint.errors import BadInput, Fault, shorten

Scale = Literal["HV", "HRC", "HB"]

# ISO 18265:2013, Metallic materials - Conversion of hardness values, Table A.1 (unalloyed and
# low-alloy steel): HV, HB, HRC, Rm in MPa. From memory; the strengths at HV 100, 200, 300, 400,
# 500 and 600 agree with the rows of its predecessor DIN 50150. HRC begins at
# 240 HV there; the row before it is the first of ASTM E140.
_NONE = float("nan")
_ISO_18265_A1 = np.array(
    [
        (80, 76.0, _NONE, 255),
        (90, 85.5, _NONE, 285),
        (100, 95.0, _NONE, 320),
        (110, 105, _NONE, 350),
        (125, 119, _NONE, 400),
        (140, 133, _NONE, 450),
        (160, 152, _NONE, 510),
        (180, 171, _NONE, 575),
        (200, 190, _NONE, 640),
        (220, 209, _NONE, 705),
        (238, 226, 20.0, 763),
        (240, 228, 20.3, 770),
        (250, 238, 22.2, 800),
        (260, 247, 24.0, 835),
        (280, 266, 27.1, 900),
        (300, 285, 29.8, 965),
        (320, 304, 32.2, 1030),
        (350, 333, 35.5, 1125),
        (380, 361, 38.8, 1220),
        (400, 380, 40.8, 1290),
        (420, 399, 42.7, 1350),
        (450, 428, 45.3, 1455),
        (480, 456, 47.7, 1555),
        (500, 475, 49.1, 1630),
        (520, 494, 50.5, 1700),
        (550, 523, 52.3, 1810),
        (580, 551, 54.1, 1920),
        (600, 570, 55.2, 1995),
        (620, 589, 56.3, 2070),
        (650, 618, 57.8, 2180),
    ]
)
_ISO = "ISO 18265:2013 Table A.1, unalloyed and low-alloy steel (rows from memory)"

# SAE J417 / ASTM A370 approximate relations for carbon and alloy constructional steels:
# HRC, HV, Rm in MPa (from ksi).
_SAE = np.array(
    [
        (20, 238, 758),
        (24, 260, 820),
        (28, 286, 903),
        (30, 302, 952),
        (32, 318, 1007),
        (34, 336, 1048),
        (36, 354, 1110),
        (38, 372, 1179),
        (40, 392, 1255),
        (42, 412, 1338),
        (45, 446, 1482),
        (48, 484, 1641),
        (50, 513, 1758),
        (52, 544, 1882),
        (55, 595, 2075),
        (58, 653, 2330),
    ],
    dtype=float,
)
_SECOND = "SAE J417 / ASTM A370 approximate relations, carbon and alloy steel"

STEEL = "carbon or low-alloy steel"
SCATTER = 0.04
"""Relative standard deviation of a converted strength (common practice, no source)."""

_RANGE: dict[Scale, tuple[float, float]] = {
    "HV": (80.0, 650.0),
    "HRC": (20.0, 57.8),
    "HB": (76.0, 618.0),
}
_TEXT = re.compile(
    r"(?P<number>\d+(?:\.\d+)?)\s*(?P<scale>HV|HRC|HBW|HB)\s*(?:\d+(?:/\d+)*)?", re.IGNORECASE
)
_REVERSED = re.compile(r"(HV|HRC|HBW|HB)\s*(\d+(?:\.\d+)?)", re.IGNORECASE)
_LONG_NAMES = {"rockwell": "HRC", "vickers": "HV", "brinell": "HB"}


@dataclass(frozen=True)
class Hardness:
    """A hardness number on its scale."""

    value: float
    scale: Scale

    def __str__(self) -> str:
        """Return it as written in a case file."""
        return f"{self.value:g} {self.scale}"


@dataclass(frozen=True)
class StrengthEstimate:
    """Tensile strength estimated from hardness.

    Attributes
    ----------
    rm, low, high : float
        Estimate and its band (two standard deviations, widened to hold the second table), MPa.
    scatter : float
        Relative standard deviation.
    source, valid : str
        The table, and the range of hardness it covers.
    second_rm : float or None
        The other published table's value, MPa, where it has one.
    second_source : str
        That table.
    """

    rm: float
    low: float
    high: float
    scatter: float
    source: str
    valid: str
    second_rm: float | None = None
    second_source: str = ""


def parse(text: Any, field: str = "hardness") -> Hardness:
    """Read a hardness such as "48 HRC", "500 HV" or "285 HB".

    Parameters
    ----------
    text : str or Hardness
        The number before its scale; the order "HRC 48" is read too.
    field : str
        What to call the field in an error.

    Raises
    ------
    BadInput
        If it is no hardness on one of the three scales.
    """
    if isinstance(text, Hardness):
        return text
    allowed = "must be a hardness on the scale HV, HRC or HB"
    if not isinstance(text, str):
        mend = 'name the scale, for example "48 HRC"'
        raise BadInput(Fault(field, shorten(text), allowed, mend))
    words = text.strip()
    turned = _REVERSED.fullmatch(words)
    if turned:
        words = f"{turned[2]} {turned[1]}"
    match = _TEXT.fullmatch(words)
    if match is None:
        raise BadInput(Fault(field, shorten(text) or "''", allowed, _mend(words)))
    name = match["scale"].upper()
    scale: Scale = "HB" if name in {"HB", "HBW"} else "HV" if name == "HV" else "HRC"
    return Hardness(float(match["number"]), scale)


def is_hardness(text: str) -> bool:
    """Whether a text is meant as a hardness, such as "48 HRC", and not as a metal's name."""
    words = text.strip()
    return (_TEXT.fullmatch(words) or _REVERSED.fullmatch(words)) is not None


def to_hv(hardness: str | Hardness, field: str = "hardness") -> float:
    """Return the Vickers hardness, by ISO 18265 Table A.1 (carbon and low-alloy steel).

    Raises
    ------
    BadInput
        If the hardness lies outside the table.
    """
    given = parse(hardness, field)
    low, high = _RANGE[given.scale]
    if not low <= given.value <= high:
        raise BadInput(
            Fault(
                field,
                str(given),
                f"must lie from {low:g} to {high:g} {given.scale}, the range of the table",
                _out_of_range(given, low),
            )
        )
    return _interpolate(given.value, given.scale, "HV")


def convert(hardness: str | Hardness, scale: Scale, field: str = "hardness") -> float | None:
    """Return the hardness on another scale, or None where the table has no value on it."""
    given = parse(hardness, field)
    vickers = to_hv(given, field)
    if scale == given.scale:
        return given.value
    if scale == "HRC" and vickers < 238.0:
        return None
    return _interpolate(vickers, "HV", scale)


def to_strength(
    hardness: str | Hardness, metal: str = STEEL, field: str = "hardness"
) -> StrengthEstimate:
    """Estimate the tensile strength from hardness, for carbon and low-alloy steel only.

    Parameters
    ----------
    hardness : str or Hardness
        For example "48 HRC".
    metal : str
        The family of the metal; any other than carbon or low-alloy steel is refused.
    field : str
        What to call the field in an error.

    Raises
    ------
    BadInput
        If the metal is of another family, or the hardness lies outside the table.
    """
    given = parse(hardness, field)
    if metal != STEEL:
        raise BadInput(
            Fault(
                field,
                str(given),
                f"converts to strength for {STEEL} only, and this is {metal}",
                "take the metal's own tensile data: a material from `fejoint materials`, or "
                '[material."my metal"] with rp02, rm and uniform_strain',
            )
        )
    vickers = to_hv(given, field)
    rm = float(np.interp(vickers, _ISO_18265_A1[:, 0], _ISO_18265_A1[:, 3]))
    second = _second_table(given, vickers)
    low, high = rm * (1.0 - 2.0 * SCATTER), rm * (1.0 + 2.0 * SCATTER)
    if second is not None:
        low, high = min(low, second), max(high, second)
    return StrengthEstimate(
        rm=rm,
        low=low,
        high=high,
        scatter=SCATTER,
        source=_ISO,
        valid="80 to 650 HV, 76 to 618 HB, 20 to 57.8 HRC",
        second_rm=second,
        second_source=_SECOND if second is not None else "",
    )


def _second_table(given: Hardness, vickers: float) -> float | None:
    column, value = (0, given.value) if given.scale == "HRC" else (1, vickers)
    inside = _SAE[0, column] <= value <= _SAE[-1, column]
    return float(np.interp(value, _SAE[:, column], _SAE[:, 2])) if inside else None


def _interpolate(value: float, scale: Scale, wanted: Scale) -> float:
    columns: dict[Scale, int] = {"HV": 0, "HB": 1, "HRC": 2}
    known, sought = _ISO_18265_A1[:, columns[scale]], _ISO_18265_A1[:, columns[wanted]]
    usable = np.isfinite(known) & np.isfinite(sought)
    return float(np.interp(value, known[usable], sought[usable]))


def _mend(words: str) -> str:
    if "," in words:
        return 'write it with a decimal point, for example "48.5 HRC"'
    for name, scale in _LONG_NAMES.items():
        if name in words.casefold():
            return f'write the scale as {scale}, for example "{_example(scale)}"'
    if re.fullmatch(r"\d+(?:\.\d+)?", words):
        return f'name the scale, for example "{words} HRC" or "{words} HV"'
    if "HRB" in words.upper() or "HRA" in words.upper():
        return "only HRC of the Rockwell scales is tabulated here: convert it to HV or HB first"
    return 'write for example "48 HRC", "500 HV" or "285 HB"'


def _example(scale: str) -> str:
    return {"HRC": "48 HRC", "HV": "500 HV", "HB": "285 HB"}[scale]


def _out_of_range(given: Hardness, low: float) -> str:
    if given.scale == "HRC" and given.value < low:
        return "softer steel is measured in HV or HB: give one of these"
    if given.value < low:
        return "metal this soft is given by its tensile data"
    return "steel this hard has no tabulated strength: it is brittle, test it, or give its own law"
