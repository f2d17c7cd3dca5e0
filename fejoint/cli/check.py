"""`fejoint check`."""

from __future__ import annotations

from pathlib import Path

from fejoint.cli import console
from fejoint.cli.options import Flag, Json, WholeOrNone
from fejoint.errors import BadInput, Fault

_STYLES = {"pass": "", "MISS": "bold red", "known miss": "yellow", "not run": "dim"}
_PIPE_WIDTH = 160


def check(
    *, only: str | None = None, jobs: WholeOrNone = None, page: Flag = False, as_json: Json = False
) -> int:
    """Compute the reference cases and compare with textbooks, tests and a second library.

    Parameters
    ----------
    only
        Compute only this group (linear, contact, plasticity, joint, whole joint, experiment,
        handbook, common practice, second opinion) or the case of this name.
    jobs
        How many processes compute; as many as there are cores if left out.
    page
        Write cases/reference/README.md with its pictures too.
    """
    from fejoint.system import resources
    from fejoint.validation import run
    from fejoint.validation.text import cells, summary

    if page and not resources.is_checkout():
        allowed = "is written in a checkout of the project only"
        raise BadInput(Fault("page", "", allowed, "leave out --page"))
    if page and only is not None:
        allowed = f"shows all reference cases, and --only {only} computes some"
        raise BadInput(Fault("--page", "", allowed, "leave out one of the two"))
    with console.progress_bar("reference cases") as advance:
        outcome = run.run(only, jobs=jobs, tell=advance)
    written: tuple[Path, ...] = ()
    if page:
        from fejoint.validation import page as check_page

        written = check_page.write(outcome)
    if as_json:
        console.say_json(outcome.as_dict())
        return outcome.exit_code
    heads = ("group", "what", "source", "expected", "got", "unit", "error", "allowed", "")
    console.say_table(
        heads,
        [cells(row) for row in outcome.rows],
        left=("group", "what", "source", "unit", ""),
        styles=[_STYLES[row.verdict] for row in outcome.rows],
        pipe_width=_PIPE_WIDTH,
    )
    for row in outcome.rows:
        if row.note:
            console.say(f"{row.verdict}: {row.name}: {row.note}")
    console.say(summary(outcome))
    console.wrote(*written)
    return outcome.exit_code
