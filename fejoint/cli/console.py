"""How what is printed looks: one console and one kind of table for every command."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table


def console(pipe_width: int | None = None) -> Console:
    """Return the console of the standard output; it breaks no line by itself.

    Parameters
    ----------
    pipe_width : int, optional
        Columns for tables where the output is no terminal; the usual ones without it.
    """
    from rich.console import Console

    found = Console(highlight=False, soft_wrap=True)
    if pipe_width is None or found.is_terminal:
        return found
    return Console(highlight=False, soft_wrap=True, width=pipe_width)


def table() -> Table:
    """Return an empty table without rules, its heads bold."""
    from rich.table import Table

    return Table(box=None, pad_edge=False, header_style="bold")
