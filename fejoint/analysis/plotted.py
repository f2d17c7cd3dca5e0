"""Results that draw themselves, and results that are sequences of rows."""

from __future__ import annotations

import importlib
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar, overload

if TYPE_CHECKING:
    from matplotlib.figure import Figure

One = TypeVar("One", covariant=True)


def from_above(module: str, name: str) -> Any:
    """Return what stands above who asks for it, by its module within the package and its name."""
    return getattr(importlib.import_module(f"fejoint.{module}"), name)


class Plotted:
    """A result with a picture of its own."""

    _drawn_by: ClassVar[tuple[str, str]]
    """Module within the package, and the function in it that draws."""

    def plot(self, *, title: str = "", theme: str = "print") -> Figure:
        """Draw the result.

        Parameters
        ----------
        title : str
        theme : {"print", "screen", "dark"}

        Returns
        -------
        matplotlib.figure.Figure
            With a `savefig`; a notebook shows it.

        Raises
        ------
        BadInput
            If there is no such theme, or too little was found to be drawn.
        """
        drawn: Figure = from_above(*self._drawn_by)(self, title=title, theme=theme)
        return drawn


class RowsOf(Sequence[One]):
    """A result that is the sequence of its rows."""

    rows: tuple[One, ...]

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(self.rows)

    @overload
    def __getitem__(self, place: int) -> One: ...

    @overload
    def __getitem__(self, place: slice) -> tuple[One, ...]: ...

    def __getitem__(self, place: int | slice) -> One | tuple[One, ...]:
        """Return a row by its place."""
        return self.rows[place]
