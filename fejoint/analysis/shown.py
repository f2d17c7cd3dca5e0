"""An answer as plain data of Python: compared, pickled, copied, shown, and kept in a file.

What draws and writes stands above this room, and is found by its name when it is called for.
"""

from __future__ import annotations

import copy
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from fejoint.analysis.plotted import from_above
from fejoint.errors import BadInput, Fault, shorten

if TYPE_CHECKING:
    import pandas as pd
    import pyvista
    from matplotlib.figure import Figure

SOLVED: dict[str, Any] = {"faces": {}, "axial": None, "plates": {}}
"""What is left of the solved sections where an answer goes to a file or another process: a picture
that needs them solves them again."""
_NOT_SAID = ("cost", "versions", "digest")


class Shown:
    """What an answer does as an object of Python."""

    def _said(self) -> dict[str, Any]:
        plain: dict[str, Any] = self.to_dict()  # type: ignore[attr-defined]
        trust = {k: v for k, v in plain["trust"].items() if k != "band_cpu_s"}
        return {k: v for k, v in plain.items() if k not in _NOT_SAID} | {"trust": trust}

    def __eq__(self, other: object) -> bool:
        """Whether two answers say the same, whatever they cost and wherever they were solved."""
        if type(other) is not type(self):
            return NotImplemented
        return self is other or self._said() == other._said()

    def __hash__(self) -> int:
        """Return a hash that equal answers share."""
        return hash(self.verdict.sentence)  # type: ignore[attr-defined]

    def __getstate__(self) -> dict[str, Any]:
        """Leave the solved sections behind."""
        return self.__dict__ | SOLVED

    def __copy__(self) -> Self:
        """Return an answer of the same parts, the solved sections too."""
        made = object.__new__(type(self))
        made.__dict__.update(self.__dict__)
        return made

    def __deepcopy__(self, memo: dict[int, Any]) -> Self:
        """Copy all but the solved sections, which nobody changes."""
        made = self.__copy__()
        own = {k: v for k, v in self.__dict__.items() if k not in SOLVED}
        made.__dict__.update(copy.deepcopy(own, memo))
        return made

    def __repr__(self) -> str:
        """Return one line: what was pulled, and what gave first."""
        first = self.verdict.first  # type: ignore[attr-defined]
        title = self.joint.title  # type: ignore[attr-defined]
        return f"<Answer: {title!r}, {first.member}, {first.mode} at {first.load:.0f} N>"

    def __str__(self) -> str:
        """Return the verdict and the table of limits."""
        return str(from_above("output.summary", "text")(self))

    def _repr_html_(self) -> str:
        """Return the summary that a notebook shows: verdict, drawing, limits and curve."""
        return str(from_above("output.summary", "html")(self))

    def plot(self, what: str = "curve", *, theme: str = "print") -> Figure:
        """Draw one picture of the answer.

        Parameters
        ----------
        what : str
            "curve", "stress", "plastic", "limits", "drawing", "pin", ...: a picture that
            `fejoint picture` knows.
        theme : {"print", "screen", "dark"}

        Returns
        -------
        matplotlib.figure.Figure
            With a `savefig`; a notebook shows it.

        Raises
        ------
        BadInput
            If there is no such picture or theme.

        Notes
        -----
        An answer out of a file or another process holds no fields: stress and strain are then
        solved again.
        """
        drawn: Figure = from_above("output.summary", "plot")(self, what, theme)
        return drawn

    @property
    def curve(self) -> pd.DataFrame:
        """The pull, a row a point: load_N, extension_mm, hole_elongation_mm; `trace` as arrays."""
        return self.trace.frame  # type: ignore[attr-defined]

    @property
    def mesh(self) -> pyvista.UnstructuredGrid:
        """The weaker ear and the pin in it as a pyvista grid, with the fields in its point data."""
        return from_above("output.summary", "grid")(self)

    def save(self, path: str | os.PathLike[str]) -> Path:
        """Write the answer as an `answer.json`, whole or not at all.

        Parameters
        ----------
        path : path

        Returns
        -------
        Path

        Raises
        ------
        BadInput
            If the file cannot be written.
        """
        written: Path = from_above("output.result_files", "write_answer")(self, _path(path))
        return written

    @classmethod
    def load(cls, path: str | os.PathLike[str]) -> Self:
        """Read an answer back from an `answer.json`, or from the folder that holds it.

        Parameters
        ----------
        path : path

        Returns
        -------
        Answer
            Equal to the one that was saved.

        Raises
        ------
        BadInput
            If it cannot be read, is no answer, or was changed since.
        """
        plain = from_above("output.result_files", "read_answer")(_path(path))
        read: Self = from_above("analysis.stored", "answer_of")(plain)
        return read


def _path(path: Any) -> Path:
    try:
        return Path(os.fsdecode(path))
    except TypeError as error:
        mend = 'write for example "answer.json"'
        raise BadInput(Fault("path", shorten(repr(path)), "must be a path", mend)) from error
