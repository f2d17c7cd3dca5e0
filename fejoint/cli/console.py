"""What reaches the terminal: every line, table, JSON text and progress bar passes through here.

Text of a case, a log or a file name may hold anything. `plain` takes out what a terminal would
obey, and nothing is printed that did not pass through it; JSON escapes the same characters.
"""

from __future__ import annotations

import json
import math
import os
import re
import shutil
import sys
import textwrap
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cyclopts.help import HelpPanel
    from rich.console import Console, ConsoleOptions

NARROWEST, WIDEST = 40, 200
"""Columns of a window within which text is wrapped."""
_PAIRS_WIDTH = 150
"""Columns for words beside names where the output is no terminal."""
_GAP = 2
"""Blanks between the columns of a table."""

_SEQUENCE = re.compile(
    r"(?:\x1b\[|\x9b)[0-?]*[ -/]*[@-~]?"  # a control sequence, as of colours and of the cursor
    r"|(?:\x1b[\]PX^_]|[\x90\x98\x9d\x9e\x9f])[^\x07\x1b\x9c]*(?:\x07|\x1b\\|\x9c)?"  # a string
    r"|\x1b[ -/]*[0-~]?"  # a single escape
)
"""Escape sequences of ECMA-48, whole or cut short, with 7-bit and 8-bit introducers."""


def plain(text: object) -> str:
    """Return text on one line without anything that a terminal obeys or that hides other text.

    Escape sequences go with their parameters; ends of lines and tabs become blanks; other control
    characters, marks of direction, invisible characters and lone surrogates go.
    """
    line = str(text)
    if line.isprintable():
        return line
    line = re.sub(r"[\t\n\v\f\r\x85\u2028\u2029]+", " ", _SEQUENCE.sub("", line))
    return "".join(c for c in line if unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Co"))


def say(*lines: object, bold: bool = False) -> None:
    """Print lines to standard output, wrapped at the window's edge where it is a terminal."""
    for line in map(plain, lines):
        if not sys.stdout.isatty():
            print(line)
            continue
        indent = line[: len(line) - len(line.lstrip())]
        shown = textwrap.fill(
            line, window(), subsequent_indent=indent, break_long_words=False,
            break_on_hyphens=False,
        )  # fmt: skip
        print(f"\x1b[1m{shown}\x1b[0m" if bold else shown)


def say_markdown(text: str) -> None:
    """Print Markdown: laid out on a terminal, as it is written in a pipe."""
    if not sys.stdout.isatty():
        print(text, end="")
        return
    from rich.console import Console
    from rich.markdown import Markdown

    Console(width=window()).print(Markdown(text))


def wrote(*paths: object) -> None:
    """Print which files were written, each on one line so that it can be copied."""
    for path in paths:
        print(f"wrote {plain(path)}")


def warn(*lines: object) -> None:
    """Print lines to standard error."""
    for line in lines:
        print(plain(line), file=sys.stderr)


def say_json(data: Any, *, indent: int | None = 1) -> None:
    """Print data as JSON."""
    say_json_text(json_text(data, indent=indent))


def json_text(data: Any, *, indent: int | None = 1) -> str:
    """Return data as JSON, which knows no infinite numbers: null stands for them."""
    return json.dumps(
        _finite(data), indent=indent, ensure_ascii=False, allow_nan=False, default=float
    )


def _finite(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _finite(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(each) for each in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def say_json_text(text: str) -> None:
    """Print JSON text; what is not printable can only stand in its strings, and is escaped."""
    print("".join(c if c.isprintable() or c == "\n" else json.dumps(c)[1:-1] for c in text))


def window() -> int:
    """Return how many columns lines are wrapped at."""
    return min(max(shutil.get_terminal_size().columns, NARROWEST), WIDEST)


def say_table(
    heads: Sequence[str],
    rows: Sequence[Sequence[object]],
    *,
    left: Sequence[str] = (),
    whole: Sequence[str] = (),
    styles: Sequence[str] | None = None,
    pipe_width: int = 80,
) -> None:
    """Print a table without rules, its heads bold; where it is too wide, a row a paragraph.

    Parameters
    ----------
    heads : sequence of str
        Titles of the columns.
    rows : sequence of sequences
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
    cells = [[plain(cell) for cell in row] for row in rows]
    width = window() if sys.stdout.isatty() else pipe_width
    if _narrowest(heads, cells, whole) > width:
        _say_paragraphs(heads, cells)
        return
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, header_style="bold")
    for head in heads:
        table.add_column(
            Text(head), justify="left" if head in left else "right", no_wrap=head in whole,
            overflow="fold",
        )  # fmt: skip
    for k, row in enumerate(cells):
        table.add_row(*map(Text, row), style=styles[k] if styles else None)
    _print(table, width)


def _narrowest(heads: Sequence[str], rows: Sequence[Sequence[str]], whole: Sequence[str]) -> int:
    """Return the columns below which a cell of a table would be cut."""
    taken = 0
    for k, head in enumerate(heads):
        parts = [word for word in head.split()] or [""]
        for row in rows:
            parts += [row[k]] if head in whole else row[k].split()
        taken += max(map(len, parts)) + _GAP
    return taken - _GAP


def _say_paragraphs(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    for k, row in enumerate(rows):
        if k:
            say("")
        for head, cell in zip(heads, row, strict=True):
            if cell:
                say(f"{head}: {cell}" if head else cell)


def say_pairs(title: str, rows: Sequence[tuple[str, str]]) -> None:
    """Print a title and below it what is known, a name and its words a row."""
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, show_header=False)
    table.add_column(no_wrap=True, style="dim")
    table.add_column(overflow="fold")
    for name, words in rows:
        table.add_row(Text(plain(name)), Text(plain(words)))
    say(title, bold=True)
    _print(table, window() if sys.stdout.isatty() else _PAIRS_WIDTH)


def _print(table: Any, width: int) -> None:
    from rich.console import Console

    console = Console(highlight=False, width=width)
    with console.capture() as captured:
        console.print(table)
    print("\n".join(line.rstrip() for line in captured.get().splitlines()))


@contextmanager
def progress_bar(of: str, *, quiet: bool = False) -> Iterator[Callable[..., None]]:
    """Show a bar with the time left on a terminal; nothing in a pipe.

    With FEJOINT_PROGRESS=lines in the environment every word of progress is a line of JSON on
    standard error, for the page that began the command.

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
    if os.environ.get("FEJOINT_PROGRESS") == "lines":
        yield lambda done, total, what=of: print(
            json.dumps({"done": done, "total": total, "what": what}), file=sys.stderr, flush=True
        )
        return
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
            bar.update(task, description=plain(what), completed=done, total=total)

        yield advance


@contextmanager
def progress_share(of: str, *, quiet: bool = False) -> Iterator[Callable[..., None]]:
    """As `progress_bar`, for a study that tells its phase, the share done and the load."""
    with progress_bar(of, quiet=quiet) as advance:
        yield lambda phase, share, load: advance(round(100.0 * share), 100, phase)


def progress_line(text: str) -> None:
    """Replace what the last line of the terminal shows, cut at the window's edge."""
    room = shutil.get_terminal_size().columns - 1  # a full line would begin a new one
    print(f"\r\x1b[2K{plain(text)[:room]}", end="", file=sys.stderr, flush=True)


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
