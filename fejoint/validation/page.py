"""The page `cases/reference/README.md`: every row, the misses and their causes, three pictures."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from fejoint.analysis import model_error as answers_read
from fejoint.analysis.model_error import ModelError
from fejoint.files import write_atomically
from fejoint.validation import model_error, reference_case
from fejoint.validation.models.convergence import Curve, curves
from fejoint.validation.reference_case import KINDS
from fejoint.validation.run import Outcome, Row
from fejoint.validation.text import cells, summary

BAND = 0.15
"""The band of the parity plot, fixed before the first run."""
REFINED = "bearing-7050-t7451-e20"
"""The bearing test whose convergence is drawn."""
PAGE, PARITY, CONVERGENCE = "README.md", "parity.png", "convergence.png"
ERRORS = "model-error.png"

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
        paths.append(_parity(compared, folder / PARITY))
    for row in outcome.rows:
        if row.case.name == REFINED:
            found = curves(row.case)
            paths.append(_convergence(found, folder / CONVERGENCE))
            break
    errors: tuple[ModelError, ...] = ()
    if model_error.complete(outcome.rows):
        errors = model_error.errors_by_kind(outcome.rows)
        paths.append(model_error.draw(outcome.rows, errors, folder / ERRORS))
        paths.append(model_error.write(errors, table))
    page = folder / PAGE
    write_atomically(page, text(outcome, found, errors))
    return (page, *paths)


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


def _axes(columns: int, size: tuple[float, float]) -> tuple[Any, Any]:
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot as plt

    return plt.subplots(1, columns, figsize=size, layout="constrained", squeeze=False)


def _colours(count: int) -> list[Any]:
    from cmcrameri import cm

    return [cm.batlow(x) for x in np.linspace(0.1, 0.75, count)]


def _save(figure: Any, path: Path) -> Path:
    from matplotlib import pyplot as plt

    figure.savefig(path, dpi=100, metadata={"Software": None})
    plt.close(figure)
    return path


def _parity(rows: Sequence[Row], path: Path) -> Path:
    """Draw predicted against printed strengths, with the fixed band."""
    figure, axes = _axes(1, (5.6, 5.2))
    ax = axes[0, 0]
    limits = np.array([300.0, 4000.0])
    ax.fill_between(limits, limits * (1 - BAND), limits * (1 + BAND), color="0.9", label="±15 %")
    ax.plot(limits, limits, color="0.5", linewidth=0.8)
    kinds = sorted({row.expected.quantity for row in rows})
    for kind, colour, marker in zip(kinds, _colours(len(kinds)), "os", strict=False):
        for near, face in ((True, colour), (False, "none")):
            some = [
                row for row in rows
                if row.expected.quantity == kind and row.case.name.endswith("e15") is near
            ]  # fmt: skip
            ax.plot(
                [row.expected.value for row in some], [row.got for row in some], marker,
                color=colour, markerfacecolor=face, markersize=5,
                label=f"{kind}, e/D {'1.5' if near else '2.0'}",
            )  # fmt: skip
    ax.set(
        xscale="log", yscale="log", xlim=limits, ylim=limits, aspect="equal",
        xlabel="printed, MPa", ylabel="predicted, MPa",
    )  # fmt: skip
    ticks = [300, 500, 1000, 2000, 4000]
    for axis in (ax.xaxis, ax.yaxis):
        axis.set_ticks(ticks, [str(t) for t in ticks])
        axis.set_ticks([], minor=True)
    ax.legend(fontsize=8, frameon=False)
    return _save(figure, path)


def _convergence(found: Sequence[Curve], path: Path) -> Path:
    """Draw error against unknowns, each with the slope that is expected of it."""
    figure, axes = _axes(len(found), (3.0 * len(found), 2.9))
    for ax, curve, colour in zip(axes[0], found, _colours(len(found)), strict=True):
        n, error = np.array(curve.unknowns), np.array(curve.errors)
        sides = np.array(curve.sides)
        guide = error[-1] * (sides[-1] / sides) ** curve.order
        ax.loglog(n, guide, "--", color="0.6", label=f"order {curve.order}")
        ax.loglog(n, error, "o-", color=colour, markersize=4)
        title = curve.title.replace(", ", ",\n", 1)
        ax.set_title(f"{curve.group}: {title}", fontsize=8)
        ax.set_xlabel("unknowns", fontsize=8)
        ax.tick_params(labelsize=7)
        ax.minorticks_off()
        ticks = 1000.0 * 2.0 ** np.arange(-2, 6)
        ticks = ticks[(ticks > 0.8 * n.min()) & (ticks < 1.2 * n.max())]
        ax.set_xticks(ticks, [f"{t:g}" for t in ticks])
        ax.legend(fontsize=7, frameon=False)
    axes[0, 0].set_ylabel("relative error", fontsize=8)
    return _save(figure, path)
