"""One thing that the doctor tried: what it was, how it went, and what mends it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Finding:
    """One thing tried.

    Attributes
    ----------
    what : str
    fine : bool
    detail : str
        How it went.
    mend : str
        What mends it, as a line to type or to follow; empty where it is fine.
    needed : bool
        Whether nothing can be solved without it.
    cure : callable, optional
        Mends it here and now, and returns whether it could; None where only the user can.
    """

    what: str
    fine: bool
    detail: str
    mend: str = ""
    needed: bool = True
    cure: Callable[[], bool] | None = None

    def __str__(self) -> str:
        """One line, and a second one with the mend where there is one."""
        mark = "ok  " if self.fine else "FAIL" if self.needed else "none"
        line = f"{mark}  {self.what}: {self.detail}"
        return f"{line}\n      mend: {self.mend}" if self.mend else line
