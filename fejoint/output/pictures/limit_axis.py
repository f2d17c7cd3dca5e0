"""Every part's limit as a labelled tick on one axis of pull, in N and kgf."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis import definitions
from fejoint.inputs.units import KGF, both_units
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.picture import Picture

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LABEL = 1.95
"""Width left for a label, inches."""
LINE = 0.135
"""Height of a line of text, inches."""
LEFT = 0.22
"""Where the axis begins, inches."""
BRACKETS = "in brackets: a rule used outside its bounds"
FLOOR = 0.16
"""Lowest label's height above the axis, inches."""


@dataclass(frozen=True)
class _Tick:
    """One limit: where it lies, what gives, and how that is known."""

    load: float
    title: str
    cause: str
    computed: bool
    first: bool
    handbook: float | None
    outside: bool
    """Whether the rule behind the value by hand is used beyond its bounds."""
    band: tuple[float, float] | None
    """Its upper end may be infinite: above all loads that were reached."""

    @property
    def lines(self) -> list[str]:
        """What is written beside it, the title apart."""
        said = [both_units(self.load)]
        if self.computed:
            said.append(self.cause)
        if self.handbook is not None:
            hand = f"by hand {both_units(self.handbook)}"
            said.append(f"({hand})" if self.outside else hand)
        return said

    @property
    def width(self) -> float:
        """Of its label, inches."""
        return 0.12 + max(0.076 * len(self.title), *(0.063 * len(x) for x in self.lines))


def pixels_for(answer: Mapping[str, Any], width: int) -> tuple[int, int]:
    """Return the pixels of a picture just as high as its labels need."""
    ticks = sorted(_ticks(answer["verdict"]["order"]), key=lambda t: -t.load)
    rows = max(_rows(ticks, (look.WIDTH - LEFT - LABEL) / (1.02 * max(ticks[0].load, 1.0))))
    inches = _foot(ticks) + FLOOR + 4.3 * LINE + 4.4 * LINE * rows + 0.08
    return width, round(width * inches / look.WIDTH)


def draw(figure: Figure, answer: Mapping[str, Any], theme: look.Theme) -> None:
    """Draw the axis; a label hangs to the right of its tick, so that no line crosses a word.

    Parameters
    ----------
    figure : Figure
        Empty.
    answer : mapping
        Plain data, as in `answer.json`.
    theme : Theme
    """
    ticks = sorted(_ticks(answer["verdict"]["order"]), key=lambda t: -t.load)
    width, height = figure.get_size_inches()
    left, foot = LEFT, _foot(ticks)
    axes = figure.add_axes((left / width, 0.0, 1.0 - left / width, 1.0))
    axes.set_axis_off()
    # the axes are in inches, from the axis of pull up; loads are scaled into them
    axes.set(xlim=(0.0, width - left), ylim=(-foot, height - foot))
    length = width - left - LABEL
    per_newton = length / (1.02 * max(ticks[0].load, 1.0))
    _rail(axes, length, per_newton, theme)
    rows = _rows(ticks, per_newton)
    room = height - foot - FLOOR - 4.2 * LINE
    step = min(4.4 * LINE, room / max(rows)) if max(rows) else 0.0
    for tick, row in zip(ticks, rows, strict=True):
        _flag(axes, tick, tick.load * per_newton, FLOOR + row * step, length, per_newton, theme)
    if not all(tick.computed for tick in ticks):
        axes.plot([0.05], [-foot + 0.1], "o", ms=4.6, color=theme.ink)
        axes.text(0.15, -foot + 0.1, "computed", fontsize=7.5, va="center")
        axes.plot([0.95], [-foot + 0.1], "o", ms=4.6, mfc=theme.paper, mec=theme.quiet)
        axes.text(1.05, -foot + 0.1, "by hand, not computed", fontsize=7.5, va="center")
    if any(tick.outside for tick in ticks):
        axes.text(2.5, -foot + 0.1, BRACKETS, fontsize=7.5, va="center")


def draw_lines(
    figure: Figure,
    answers: Sequence[Mapping[str, Any]],
    names: Sequence[str],
    theme: look.Theme,
) -> None:
    """Draw one line a joint with its parts' first limits, all to the scale of the axis below.

    Parameters
    ----------
    figure : Figure
        Empty.
    answers : sequence of mapping
        Plain data, as in `answer.json`.
    names : sequence of str
        Of the joints.
    theme : Theme
    """
    width, height = figure.get_size_inches()
    left, foot = LEFT, 0.5
    axes = figure.add_axes((left / width, 0.0, 1.0 - left / width, 1.0))
    axes.set_axis_off()
    axes.set(xlim=(0.0, width - left), ylim=(-foot, height - foot))
    length = width - left - LABEL
    top = max(row["load_N"] for a in answers for row in a["verdict"]["order"])
    per_newton = length / (1.02 * max(top, 1.0))
    _rail(axes, length, per_newton, theme)
    step = (height - foot - 0.05) / len(answers)
    for k, (answer, name) in enumerate(zip(answers, names, strict=True)):
        base = (len(answers) - 1 - k) * step + 0.18
        axes.plot([0.0, length], [base, base], color=theme.quiet, lw=0.6, zorder=1)
        axes.text(0.0, base + step - 0.24, name, fontsize=8.0, weight="bold", va="top",
                  bbox={"facecolor": theme.paper, "edgecolor": "none", "pad": 0.5})  # fmt: skip
        firsts = [dict(row, later=[]) for row in answer["verdict"]["order"]]
        for j, tick in enumerate(reversed(_ticks(firsts))):
            x = tick.load * per_newton
            colour = theme.mark if tick.first else theme.ink if tick.computed else theme.quiet
            words = f"{tick.title}  {both_units(tick.load)}"
            high = base + 0.12 + 0.17 * j
            axes.plot([x, x], [base, high + 0.04], color=colour, lw=0.7)
            axes.plot([x], [base], "o", ms=5.0, mec=colour,
                      mfc=colour if tick.computed else theme.paper, zorder=4)  # fmt: skip
            axes.text(x + 0.06, high, words, fontsize=7.5, color=colour, va="center")


def _ticks(order: Sequence[Mapping[str, Any]]) -> list[_Tick]:
    found = []
    for k, row in enumerate(order):
        for j, limit in enumerate((row, *row["later"])):
            what, member = definitions.title(limit["mode"]), limit.get("member", limit["part"])
            title = what if what.startswith(member) else f"{member}: {what}"
            band = limit.get("band_N")
            computed = limit["source"] == "computed"
            hand = limit["handbook_load_N"] if computed and j == 0 else None
            found.append(
                _Tick(
                    limit["load_N"],
                    title,
                    limit["cause"],
                    computed,
                    k == 0 and j == 0,
                    hand,
                    hand is not None and bool(limit.get("handbook_note")),
                    (band[0], np.inf if band[1] is None else band[1]) if band else None,
                )
            )
    return found


def _foot(ticks: Sequence[_Tick]) -> float:
    """Return the room below the axis, inches: its scales, and what dots and brackets mean."""
    plain = all(tick.computed and not tick.outside for tick in ticks)
    return 0.56 if plain else 0.78


def _rows(ticks: Sequence[_Tick], per_newton: float) -> list[int]:
    """Return a row for each label, given from right to left: above all that it would touch."""
    rows: list[int] = []
    for tick in ticks:
        end = tick.load * per_newton + tick.width
        near = [
            row for other, row in zip(ticks, rows, strict=False) if other.load * per_newton < end
        ]
        rows.append(max(near, default=-1) + 1)
    return rows


def _flag(
    axes: Axes,
    tick: _Tick,
    x: float,
    y: float,
    length: float,
    per_newton: float,
    theme: look.Theme,
) -> None:
    colour = theme.mark if tick.first else theme.ink if tick.computed else theme.quiet
    top = y + LINE * (len(tick.lines) + 1)
    axes.plot([x, x], [0.0, top], color=colour, lw=1.3 if tick.first else 0.7,
              ls="solid" if tick.computed else (0, (3, 2)), zorder=3)  # fmt: skip
    axes.plot([x], [0.0], "o", ms=6.0 if tick.first else 4.6, mec=colour, zorder=5,
              mfc=colour if tick.computed else theme.paper)  # fmt: skip
    if tick.band is not None:
        low, high = (min(load * per_newton, length) for load in tick.band)
        axes.plot([low, high], [0.0, 0.0], color=colour, lw=4.0, alpha=0.35, zorder=2,
                  solid_capstyle="butt")  # fmt: skip
    axes.text(
        x + 0.06, top, tick.title, va="top", fontsize=8.0, color=colour,
        weight="bold" if tick.first else "normal",
    )  # fmt: skip
    axes.text(
        x + 0.06, top - LINE, "\n".join(tick.lines), va="top", fontsize=7.2, color=colour,
        linespacing=1.25,
    )  # fmt: skip


def _rail(axes: Axes, length: float, per_newton: float, theme: look.Theme) -> None:
    """Draw the axis of pull with its two scales."""
    axes.plot([0.0, length], [0.0, 0.0], color=theme.ink, lw=1.1, zorder=4)
    for unit, factor, low in (("N", 1.0, -0.1), ("kgf", KGF, -0.32)):
        end = length / per_newton / factor
        step = look.rounded(end / 5.0)
        values = np.arange(0.0, end + 1e-9, step)
        for value in values:
            x = value * factor * per_newton
            axes.plot([x, x], [low + 0.045, low + 0.1] if unit == "kgf" else [-0.055, 0.0],
                      color=theme.quiet, lw=0.7, zorder=1)  # fmt: skip
            axes.text(x, low + 0.035, f"{value:,.0f}", fontsize=7.5, ha="center", va="top")
        axes.text(length + 0.36, low + 0.035, f"{unit}, pull on the joint", fontsize=7.5, va="top")


PICTURES = (
    Picture(
        "limits", "limits", "Every part's limit on one axis of pull", (1800, 960), "data", draw,
        "limits.png", rank=1, vector=True, pixels=pixels_for,
    ),
)  # fmt: skip
