"""What each release of a path of pulls leaves: the hole's set and the pin's bend, pull by pull."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis.definitions import BEND_SHARE, SET_SHARE
from fejoint.analysis.result import Answer
from fejoint.errors import BadInput, Fault
from fejoint.inputs.units import figures
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.panels import NARROW
from fejoint.output.pictures.picture import Picture

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SIDE, FOOT, HEAD = 0.72, 0.62, 0.42
"""Room beside, below and above a panel, inches."""
PANEL = 1.9
"""Height of a panel, inches."""
MOST_NAMED = 8
"""Pulls that are each named by their load."""


def releases(answer: Mapping[str, Any]) -> list[dict[str, float]]:
    """Return what each release of a path left: highest pull before it (N), hole and pin (mm).

    Raises
    ------
    BadInput
        If the answer has none.
    """
    found: list[dict[str, float]] = []
    highest = 0.0
    for leg in answer["path"]:
        highest = max(highest, leg["load_N"])
        if leg["leg"].startswith("release") and leg["reached"]:
            found.append({
                "pull": highest, "hole": leg["hole_mean_mm"], "inner": leg["hole_inner_mm"],
                "pin": leg["pin_bend_mm"],
            })  # fmt: skip
            highest = 0.0
    if not found:
        allowed = "needs a path of pulls that lets the joint go, which this answer has not"
        raise BadInput(Fault("what", "releases", allowed, "draw another"))
    return found


def draw(figure: Figure, answer: Mapping[str, Any], theme: look.Theme) -> None:
    """Draw what stays of the hole's stretch and of the pin's bend after each pull.

    Parameters
    ----------
    figure : Figure
        Empty.
    answer : mapping
        Plain data, as in `answer.json`, with a path.
    theme : Theme
    """
    left = releases(answer)
    width, height = figure.get_size_inches()
    across = 1 if width < NARROW else 2
    cell, high = width / across, height / (3 - across)
    case = answer["case"]
    hole = max(float(ear["hole"]) for ear in case["ear"])
    rigid = bool(case["pin"].get("rigid"))
    for k in range(2):
        row = k // across
        axes = figure.add_axes(
            (
                ((k % across) * cell + SIDE) / width,
                (height - (row + 1) * high + FOOT) / height,
                (cell - SIDE - 0.15) / width,
                (high - FOOT - HEAD) / height,
            )
        )
        if k == 0:
            _steps(axes, [r["hole"] for r in left], theme, "mean over the thickness")
            _steps(axes, [r["inner"] for r in left], theme, "at its worst", second=True)
            axes.set_title("hole stays longer by, mm", fontsize=8.0, loc="left")
            _limit(axes, SET_SHARE * hole, "2 % of the hole", theme)
            # below what is said of a limit far above
            axes.legend(frameon=False, fontsize=7.0, loc="upper left", bbox_to_anchor=(0.0, 0.94))
        else:
            _steps(axes, [0.0 if rigid else r["pin"] for r in left], theme, "")
            axes.set_title("pin stays bent by, mm", fontsize=8.0, loc="left")
            bend = None if rigid else answer["pin"].get("bend_limit_mm")
            if bend:
                _limit(axes, bend, f"{100 * BEND_SHARE:g} % of its span", theme)
        _pulls(axes, [r["pull"] for r in left], cell - SIDE - 0.15)


def _steps(
    axes: Axes, values: list[float], theme: look.Theme, label: str, *, second: bool = False
) -> None:
    x = np.arange(len(values) + 1)
    axes.plot(x, [0.0, *values], "o", ls=(0, (5, 2)) if second else "-", ms=4.5,
              lw=1.0 if second else 1.4, color=theme.second if second else theme.ink,
              mfc=theme.paper if second else theme.ink, label=label)  # fmt: skip


def _limit(axes: Axes, value: float, words: str, theme: look.Theme) -> None:
    """Draw the limit where it is in sight, or say how far above it lies."""
    top = 1.45 * max(axes.dataLim.y1, 1e-6)
    axes.set_ylim(0.0, top)
    if value <= 3.0 * top:
        axes.set_ylim(0.0, max(top, 1.15 * value))
        axes.axhline(value, color=theme.mark, lw=1.0, ls=(0, (5, 2)))
        axes.annotate(words, (1.0, value), (-2, 2), xycoords=("axes fraction", "data"),
                      textcoords="offset points", ha="right", va="bottom", fontsize=7.0,
                      color=theme.mark)  # fmt: skip
        return
    axes.text(1.0, 1.0, f"{words}: {value:.2g} mm, far above", transform=axes.transAxes, ha="right",
              va="top", fontsize=7.0, color=theme.mark)  # fmt: skip


def _pulls(axes: Axes, pulls: list[float], width: float) -> None:
    """Name each pull by its load where there is room; else by its number."""
    n = len(pulls)
    names = ["before", *(f"{k + 1}\n{figures(p)}" for k, p in enumerate(pulls))]
    widest = max(look.text_width(x, 7.0) for name in names for x in name.split("\n"))
    if n <= MOST_NAMED and widest + 0.06 < width / (n + 1):
        axes.set_xticks(range(n + 1), names, fontsize=7.0)
        axes.set_xlabel("let go after pull number, N")
    else:
        ticks = list(range(0, n + 1, max(1, -(-n // MOST_NAMED))))
        axes.set_xticks(ticks, [str(t) for t in ticks], fontsize=7.0)
        axes.set_xlabel("let go after pull number")
    axes.set_xlim(-0.5, n + 0.5)
    axes.ticklabel_format(axis="y", style="plain", useOffset=False)


def tall(answer: Mapping[str, Any], width: float) -> float:
    """Return the height of `draw`'s picture on a width, inches."""
    return (PANEL + FOOT + HEAD) * (2.0 if width < NARROW else 1.0)


def _lets_go(answer: Answer) -> bool:
    return any(leg.leg.startswith("release") for leg in answer.path)


PICTURES = (
    Picture(
        "releases", "what stays", "What each release of the path leaves", (1800, 740), "data", draw,
        "releases.png", rank=6, vector=True, shows=_lets_go, tall=tall,
    ),
)  # fmt: skip
