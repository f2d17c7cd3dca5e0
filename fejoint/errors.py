"""The one family of errors: what is wrong, where, what is allowed, and how to mend it."""

from __future__ import annotations

import difflib
import errno
from collections.abc import Iterable
from dataclasses import dataclass

DISK_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
"""Numbers of the system's errors where there is no more room to write."""
_LONGEST_VALUE = 60
_LONGEST_TEXT = 300
_LONGEST_FIELD = 300


class FejointError(Exception):
    """Anything that fejoint raises on purpose."""

    exit_code = 1


@dataclass(frozen=True)
class Fault:
    """One thing wrong with the input.

    Attributes
    ----------
    field : str
        Where, as a path: "ear.hole", "ear.2.width", "material.my strip.exponent".
    value : str
        What was found there, as written; empty where nothing was.
    allowed : str
        What would be right, worded to follow the value: "must be at least 4 mm".
    mend : str
        What to do about it.
    """

    field: str
    value: str
    allowed: str
    mend: str

    def __str__(self) -> str:
        """Return the fault as one line."""
        where = shorten(self.field, _LONGEST_FIELD)
        if self.value:
            where = f"{where} = {shorten(self.value)}"
        allowed, mend = (shorten(text, _LONGEST_TEXT) for text in (self.allowed, self.mend))
        return " ".join(_visible(f"{where}: {allowed}; {mend}").split())


class BadInput(FejointError):
    """The input cannot be used; `faults` lists everything that is wrong with it."""

    exit_code = 2

    def __init__(self, *faults: Fault) -> None:
        self.faults: tuple[Fault, ...] = faults
        super().__init__("\n".join(map(str, faults)))

    def __reduce__(self) -> tuple[type[BadInput], tuple[Fault, ...]]:
        """Pickle by the faults, so that a worker process can hand the error back."""
        return type(self), self.faults


class SolveStopped(FejointError):
    """The solve could not go on to the end that was asked for; what it has is kept."""

    exit_code = 3


def shorten(text: object, longest: int = _LONGEST_VALUE) -> str:
    """Return the text on one line, cut where it would fill the terminal."""
    try:
        full = str(text)
    except ValueError:  # Python writes no whole number of more than 4,300 digits
        full = "a whole number of thousands of digits"
    cut = full[: 20 * longest]
    line = " ".join(_visible(cut).split())
    if len(full) == len(cut) and len(line) <= longest:
        return line
    return line[: longest - 3] + "..."


def _visible(text: str) -> str:
    """Write out what a terminal would obey or hide: controls, marks of direction, surrogates."""
    if text.isprintable():
        return text
    return "".join(
        c if c.isprintable() or c.isspace() else c.encode("unicode_escape").decode("ascii")
        for c in text
    )


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word most like the one given, or None when none is like it."""
    choices = {name.casefold(): name for name in known}
    word = word[:100]
    found = difflib.get_close_matches(word.casefold(), choices, n=1, cutoff=0.5)
    if found:
        return choices[found[0]]
    inside = [name for low, name in choices.items() if word and word.casefold() in low]
    return min(inside, key=len) if inside else None
