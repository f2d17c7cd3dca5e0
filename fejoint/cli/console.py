"""What reaches the terminal: every line, table, JSON text and progress bar passes through here."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cyclopts.help import HelpPanel
    from rich.console import Console, ConsoleOptions
    from rich.table import Table

_PAIRS_WIDTH = 150
"""Columns for words beside names where the output is no terminal."""


def say(*lines: str, bold: bool = False) -> None:
    """Print lines to standard output."""
    for line in lines:
        if bold and sys.stdout.isatty():
            print(f"\x1b[1m{line}\x1b[0m")
        else:
            print(line)


def wrote(*paths: Any) -> None:
    """Print which files were written."""
    say(*(f"wrote {path}" for path in paths))


def warn(*lines: str) -> None:
    """Print lines to standard error."""
    for line in lines:
        print(line, file=sys.stderr)


def say_json(data: Any, *, indent: int | None = 1) -> None:
    """Print data as JSON."""
    say(json.dumps(data, indent=indent, ensure_ascii=False))


def say_table(
    heads: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    left: Sequence[str] = (),
    whole: Sequence[str] = (),
    styles: Sequence[str] | None = None,
    pipe_width: int = 80,
) -> None:
    """Print a table without rules, its heads bold; no line ends in spaces.

    Parameters
    ----------
    heads : sequence of str
        Titles of the columns; none if all are empty.
    rows : sequence of sequences of str
        Cells.
    left : sequence of str
        Columns whose cells stand at the left; the others hold numbers.
    whole : sequence of str
        Columns whose cells are never broken.
    styles : sequence of str, optional
        A style for each row.
    pipe_width : int
        Columns where the output is no terminal.
    """
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, header_style="bold", show_header=any(heads))
    for head in heads:
        table.add_column(
            Text(head),
            justify="left" if head in left else "right",
            no_wrap=head in whole,
            overflow="fold",
        )
    for k, row in enumerate(rows):
        table.add_row(*map(Text, row), style=styles[k] if styles else None)
    _print(table, pipe_width)


def say_pairs(title: str, rows: Sequence[tuple[str, str]]) -> None:
    """Print a title and below it what is known, a name and its words a row."""
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, show_header=False)
    table.add_column(no_wrap=True, style="dim")
    table.add_column(overflow="fold")
    for name, words in rows:
        table.add_row(Text(name), Text(words))
    say(title, bold=True)
    _print(table, _PAIRS_WIDTH)


def _print(table: Table, pipe_width: int) -> None:
    console = _console(pipe_width)
    with console.capture() as captured:
        console.print(table)
    say(*(line.rstrip() for line in captured.get().splitlines()))


def _console(pipe_width: int) -> Console:
    from rich.console import Console

    found = Console(highlight=False)
    return found if found.is_terminal else Console(highlight=False, width=pipe_width)


@contextmanager
def progress_bar(of: str, *, quiet: bool = False) -> Iterator[Callable[..., None]]:
    """Show a bar with the time left on a terminal; nothing in a pipe.

    Parameters
    ----------
    of : str
        What is counted.
    quiet : bool
        Show nothing.

    Yields
    ------
    callable
        Takes how many are done, of how many, and optionally what is being done.
    """
    if quiet or not sys.stderr.isatty():
        yield lambda done, total, what=of: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TextColumn("{task.completed} of {task.total}"),
        TimeRemainingColumn(),
        TextColumn("left"),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(of, total=None)

        def advance(done: int, total: int | None, what: str = of) -> None:
            bar.update(task, description=what, completed=done, total=total)

        yield advance


class HelpPages:
    """How a command's help is laid out: its words flow over the ends of the docstring's lines."""

    def __call__(self, console: Console, options: ConsoleOptions, panel: HelpPanel) -> None:
        """Print one panel: commands, arguments or parameters."""
        from cyclopts.help import DefaultFormatter
        from rich.text import Text

        for entry in panel.entries:
            words = getattr(entry.description, "primary_renderable", None)
            if isinstance(words, Text):
                words.plain = " ".join(words.plain.split())
        DefaultFormatter()(console, options, panel)

    def render_usage(self, console: Console, options: ConsoleOptions, usage: Any) -> None:
        """Print the usage line."""
        console.print(f"Usage: {usage}", style="bold", markup=False, highlight=False)
