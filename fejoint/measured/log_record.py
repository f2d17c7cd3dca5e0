"""A rig's log after reading, and what the user may say of it beforehand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fejoint.arrays import Floats
from fejoint.measured.log_dialect import BadRow


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


@dataclass(frozen=True)
class Spike:
    """A row not used: its line in the file, counted from 1, its force (N) and travel (mm)."""

    line: int
    force: float
    travel: float | None


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
    spikes : tuple of Spike
        Rows that leave their neighbours and come back: shown and named, not used.
    digest : str
        Of the file's text and the test's place in it: the same sample, however it is read.
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
    spikes: tuple[Spike, ...] = ()
    digest: str = ""
