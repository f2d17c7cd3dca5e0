"""The page `cases/reference/README.md`, and as HTML: every row, the misses and their causes."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from fejoint.analysis import model_error as answers_read
from fejoint.analysis.model_error import ModelError
from fejoint.files import write_atomically
from fejoint.validation import model_error, page_pictures, reference_case
from fejoint.validation.models.convergence import Curve, curves
from fejoint.validation.page_pictures import BAND
from fejoint.validation.reference_case import KINDS
from fejoint.validation.run import Outcome, Row
from fejoint.validation.text import cells, summary

REFINED = "bearing-7050-t7451-e20"
"""The bearing test whose convergence is drawn."""
PAGE, PARITY, CONVERGENCE = "README.md", "parity.png", "convergence.png"
ERRORS = "model-error.png"
HTML = "reference.html"

GROUPS = {
    "linear": "Elastic plates, rings and lugs",
    "contact": "Elastic contact and friction",
    "plasticity": "Plastic bars, rings and plates",
    "joint": "The pin as a beam",
    "whole joint": "Joints solved whole, in the round",
    "experiment": "Bearing tests of real alloys",
    "handbook": "Design codes and tables",
    "common practice": "What the trade says",
    "second opinion": "Another finite-element library on the same meshes",
}
"""Headings of the kinds of cases."""


def write(outcome: Outcome, folder: Path | None = None) -> tuple[Path, ...]:
    """Write the page and its pictures; return their paths.

    Parameters
    ----------
    outcome : Outcome
        Of all cases.
    folder : Path, optional
        That of the reference cases without it; the table of errors lies where answers read it.
    """
    table = folder or Path(answers_read.__file__).parent
    folder = folder or reference_case.folder()
    found: tuple[Curve, ...] = ()
    paths = []
    compared = [row for row in outcome.rows if row.case.kind == "experiment"]
    if compared:
        paths.append(page_pictures.parity(compared, folder / PARITY))
    for row in outcome.rows:
        if row.case.name == REFINED:
            found = curves(row.case)
            paths.append(page_pictures.convergence(found, folder / CONVERGENCE))
            break
    errors: tuple[ModelError, ...] = ()
    if model_error.complete(outcome.rows):
        errors = model_error.errors_by_kind(outcome.rows)
        paths.append(model_error.draw(outcome.rows, errors, folder / ERRORS))
        paths.append(model_error.write(errors, table))
    page, told = folder / PAGE, text(outcome, found, errors)
    write_atomically(page, told)
    write_atomically(folder / HTML, html(told, folder))
    return (page, *paths, folder / HTML)


def text(outcome: Outcome, found: Sequence[Curve] = (), errors: Sequence[ModelError] = ()) -> str:
    """Return the page as Markdown."""
    lines = [
        "# Reference cases",
        "",
        "Written by `fejoint check --page`; do not edit. Each folder here holds one case: what the",
        "model is given (`case.toml`) and what is expected, who says so and how far that was",
        "confirmed (`expected.toml`).",
        "",
        f"**{summary(outcome).partition(';')[0]}.**",
        "",
        "Rows of groups other than bearing tests and common practice verify the program: one that",
        "misses makes `fejoint check` exit with 1. Bearing tests and common practice compare the",
        "model with metal: they say how far to trust it, and a miss has its cause beside it.",
        "",
        *_trust(outcome.rows),
        *(["", *model_error.lines(errors, ERRORS)] if errors else []),
    ]
    for kind in KINDS:
        rows = [row for row in outcome.rows if row.case.kind == kind]
        if rows:
            lines += ["", f"## {GROUPS[kind]}", ""]
            if kind == "experiment":
                lines += _about_tests(rows)
            lines += _table(rows)
    if found:
        lines += ["", "## Convergence", "", f"![convergence]({CONVERGENCE})", ""]
        lines += [
            f"- {c.title}: {', '.join(f'{100 * e:.2g} %' for e in c.errors)} off {c.against} at "
            f"{', '.join(map(str, c.sides))} sides round the hole."
            for c in found
        ]
        lines += [
            "",
            "Everyday refinement is 48 sides. The contact's error jumps with where in a side the",
            "arc ends; the others fall as they should.",
        ]
    return "\n".join(lines) + "\n"


def _trust(rows: Sequence[Row]) -> list[str]:
    lines = ["## Where not to trust it", ""]
    causes: dict[str, list[Row]] = {}
    for row in rows:
        if row.note:
            causes.setdefault(row.note, []).append(row)
    for group in causes.values():
        names = ", ".join(
            f"{row.name} ({row.error:+.1%})" if row.got == row.got else row.name for row in group
        )
        lines.append(f"- **{group[0].verdict}**: {names}: {group[0].note}.")
    return lines if causes else [*lines, "No row misses."]


def _about_tests(rows: Sequence[Row]) -> list[str]:
    errors = np.array([row.error for row in rows if row.got == row.got])
    inside = int((np.abs(errors) <= BAND).sum())
    return [
        f"{inside} of {len(rows)} predictions lie within 15 % of the printed strength; bias and",
        "spread stand above, offset loads and greatest loads apart. The same handbook's tensile",
        "values go in; friction is 0.15 for every alloy, one rule gives the hardening curve (for",
        "steels that of any steel known by its strength), and nothing is fitted. No test series of",
        "the open literature with its specimens' sizes, material and loads could be confirmed in",
        "print, so none is here.",
        "",
        f"![predicted against printed strength]({PARITY})",
        "",
    ]


def _table(rows: Sequence[Row]) -> list[str]:
    head = ("case: quantity", "expected", "got", "unit", "error", "allowed", "", "source")
    lines = ["| " + " | ".join(head) + " |", "|---|--:|--:|---|--:|--:|---|---|"]
    for row in rows:
        _, name, _, *numbers = cells(row)
        told = [name, *numbers, str(row.expected.source)]
        lines.append("| " + " | ".join(t.replace("|", "\\|") for t in told) + " |")
    return lines


def html(markdown: str, folder: Path) -> str:
    """Return the page as one HTML file that holds its pictures, in the look of the reports.

    Parameters
    ----------
    markdown : str
        As of `text`.
    folder : Path
        Where the pictures lie.
    """
    from markdown_it import MarkdownIt

    from fejoint.output import report

    body = MarkdownIt("commonmark", {"html": False}).enable("table").render(markdown)
    for name in (PARITY, CONVERGENCE):
        if (folder / name).exists():
            data = base64.b64encode((folder / name).read_bytes()).decode()
            body = body.replace(f'src="{name}"', f'src="data:image/png;base64,{data}"')
    body = body.replace("<table>", '<div class="wide"><table>').replace(
        "</table>", "</table></div>"
    )
    return report.framed("Reference cases", body)
