"""The table and the progress bar of `fejoint check` on a terminal."""

from __future__ import annotations

import json
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn
from rich.table import Table

from fejoint.cli import console as terminal
from fejoint.errors import BadInput, Fault
from fejoint.system import resources
from fejoint.validation import run
from fejoint.validation.run import Outcome
from fejoint.validation.text import cells, summary

STYLES = {"pass": "", "MISS": "bold red", "known miss": "yellow", "not run": "dim"}


def show(
    only: str | None = None, *, as_json: bool = False, jobs: int | None = None, page: bool = False
) -> int:
    """Run the cases, print the answer and return the exit code.

    Parameters
    ----------
    only : str, optional
        Group or case.
    as_json : bool
        Print JSON instead of a table.
    jobs : int, optional
        Processes.
    page : bool
        Write the page of the cases' folder with its pictures too.

    Raises
    ------
    BadInput
        If the page is asked for where there is no checkout to hold it.
    """
    if page and not resources.is_checkout():
        allowed = "is written in a checkout of the project only"
        raise BadInput(Fault("page", "", allowed, "leave out --page"))
    outcome = _run_with_bar(only, jobs)
    written: tuple[Path, ...] = ()
    if page:
        from fejoint.validation import page as check_page

        written = check_page.write(outcome)
    if as_json:
        print(json.dumps(outcome.as_dict(), ensure_ascii=False, indent=1))
        return outcome.exit_code
    console = Console(width=None if Console().is_terminal else 160)
    console.print(table(outcome))
    for row in outcome.rows:
        if row.note:
            console.print(f"{row.verdict}: {row.name}: {row.note}", highlight=False)
    console.print(summary(outcome), highlight=False)
    for path in written:
        console.print(f"wrote {path}", highlight=False, soft_wrap=True)
    return outcome.exit_code


def _run_with_bar(only: str | None, jobs: int | None) -> Outcome:
    console = Console(stderr=True)
    columns = (TextColumn("reference cases"), BarColumn(), MofNCompleteColumn())
    with Progress(
        *columns, TimeElapsedColumn(), console=console, transient=True,
        disable=not console.is_terminal,
    ) as bar:  # fmt: skip
        task = bar.add_task("", total=None)
        return run.run(
            only, jobs=jobs, tell=lambda done, of: bar.update(task, completed=done, total=of)
        )


def table(outcome: Outcome) -> Table:
    """Return the rows as a table."""
    found = terminal.table()
    for name in ("group", "what", "source"):
        found.add_column(name, overflow="fold")
    for name in ("expected", "got", "unit", "error", "allowed", ""):
        found.add_column(name, justify="left" if name in ("unit", "") else "right")
    for row in outcome.rows:
        found.add_row(*cells(row), style=STYLES[row.verdict])
    return found
