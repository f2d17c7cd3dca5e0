"""Every limit as a row: words, dot and band on the axis of pull, load, and by hand a tick."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis import definitions
from fejoint.analysis.odds import Odds
from fejoint.inputs.units import KGF, both_units, figures
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.panels import NARROW
from fejoint.output.pictures.picture import Picture

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

EDGE = 0.08
"""Room at the paper's edges, inches."""
TITLE, SMALL = 8.0, 7.0
"""Type of a row's first line and of those below it, points."""
LEADING = 1.25
"""Height of a line over its type."""
BETWEEN = 0.07
"""Between two rows, inches."""
SCALES = 0.26
"""Room of a scale above or below the rows, inches."""
BEYOND = 2.2
"""Values by hand farther out than so many times the highest load are told by an arrow."""
OUTSIDE = "a rule used outside its bounds"


@dataclass(frozen=True)
class Row:
    """One limit, or, with no load, the name of a joint above its limits."""

    title: str
    load: float | None = None
    cause: str = ""
    computed: bool = True
    first: bool = False
    handbook: float | None = None
    outside: bool = False
    """Whether the rule behind the value by hand is used beyond its bounds."""
    band: tuple[float, float] | None = None
    """Its upper end may be infinite: above all loads that were reached."""
    digits: int = 3
    """To how many figures its load is known."""

    def beside(self, *, narrow: bool) -> list[str]:
        """Return the lines at the right of the axis."""
        if self.load is None:
            return []
        if narrow:
            newtons, kgf = (figures(x, self.digits) for x in (self.load, self.load / KGF))
            return [f"{newtons} N", f"{kgf} kgf"]
        said = [both_units(self.load, self.digits)]
        if self.handbook is not None:
            hand = f"by hand {figures(self.handbook)} N"
            said.append(f"({hand})" if self.outside else hand)
        return said


def draw(figure: Figure, answer: Mapping[str, Any], theme: look.Theme) -> None:
    """Draw a row for each limit, in the order in which the pull meets them.

    Parameters
    ----------
    figure : Figure
        Empty.
    answer : mapping
        Plain data, as in `answer.json`.
    theme : Theme
    """
    draw_rows(figure, rows_of(answer), theme)


def tall(answer: Mapping[str, Any], width: float) -> float:
    """Return the height of `draw`'s picture on a width, inches."""
    return tall_rows(rows_of(answer), width)


def rows_of(answer: Mapping[str, Any], *, all_limits: bool = True) -> list[Row]:
    """Return an answer's limits as rows: all of them by their loads, or each member's first."""
    order = answer["verdict"]["order"]
    found, odds = [], Odds.of_answer(answer)
    for k, part in enumerate(order):
        for j, limit in enumerate((part, *part["later"])[: None if all_limits else 1]):
            found.append(row_of(limit, odds, first=k == 0 and j == 0))
    return sorted(found, key=lambda row: row.load or 0.0)


def rows_of_all(answers: Sequence[Mapping[str, Any]], names: Sequence[str]) -> list[Row]:
    """Return the first limit of every member of every joint, each joint under its name."""
    found = []
    for answer, name in zip(answers, names, strict=True):
        found += [Row(name), *rows_of(answer, all_limits=False)]
    return found


def row_of(limit: Mapping[str, Any], odds: Odds | None, *, first: bool = False) -> Row:
    """Return a limit of `answer.json` as a row."""
    member = limit.get("member", limit["part"])
    band, hand = limit.get("band_N"), limit["handbook_load_N"]
    computed, by_rule = limit["source"] == "computed", limit["source"] == definitions.RULE
    sure = None if odds is None else odds.band(member, limit["mode"], limit["cause"])
    if sure is not None:
        band = [sure.low, sure.high]
    past = ", past the highest pull" if limit.get("past_highest_pull") else ""
    return Row(
        definitions.named(limit["mode"], member),
        limit["load_N"],
        limit["cause"] + past if computed or by_rule else "by hand, not computed",
        computed,
        first,
        hand if computed or by_rule else None,
        bool(hand and limit.get("handbook_note")),
        (band[0], np.inf if band[1] is None else band[1]) if band else None,
        3 if sure is None else sure.figures,
    )


@dataclass(frozen=True)
class _Layout:
    """Where things stand, inches: columns from the left, and the wrapped words of every row."""

    axis: tuple[float, float]
    words: list[list[str]]
    heights: list[float]
    legend: list[str]


def _layout(rows: Sequence[Row], width: float) -> _Layout:
    narrow = width < NARROW
    right = max(
        (
            look.text_width(line, TITLE if k == 0 else SMALL, bold=row.first and k == 0)
            for row in rows
            for k, line in enumerate(row.beside(narrow=narrow))
        ),
        default=0.0,
    )
    right = max(right, look.text_width("pull, kgf", SMALL))
    most = 0.4 * width
    words = [_words(row, most if row.load is not None else width - 2 * EDGE) for row in rows]
    left = max(
        look.text_width(line, TITLE if k < n else SMALL, bold=row.first and k < n)
        for row, (lines, n) in zip(rows, words, strict=True)
        for k, line in enumerate(lines)
        if row.load is not None
    )
    heights = [
        BETWEEN + max(_height(n, len(lines) - n), _height(1, len(row.beside(narrow=narrow)) - 1))
        for row, (lines, n) in zip(rows, words, strict=True)
    ]
    legend = look.broken(_legend(rows, narrow=narrow), SMALL, width - 2.0 * EDGE)
    axis = (EDGE + left + 0.12, width - EDGE - right - 0.12)
    return _Layout(axis, [lines for lines, _ in words], heights, legend)


def _words(row: Row, most: float) -> tuple[list[str], int]:
    """Return a row's lines at the left, and how many of them are its title's."""
    title = look.broken(row.title, TITLE, most, bold=row.first or row.load is None)
    return [*title, *(look.broken(row.cause, SMALL, most) if row.cause else [])], len(title)


def _height(titles: int, others: int) -> float:
    return (titles * TITLE + max(others, 0) * SMALL) * LEADING / 72.0


def _legend(rows: Sequence[Row], *, narrow: bool) -> str:
    said = []
    if any(row.band for row in rows):
        said.append("bar: how sure")
    if any(row.handbook is not None for row in rows):
        said.append("upright tick: by hand")
    if any(row.outside for row in rows):
        said.append(f"lighter{'' if narrow else ', in brackets'}: {OUTSIDE}")
    if any(not row.computed for row in rows):
        said.append("ring: not computed")
    return "; ".join(said)


def tall_rows(rows: Sequence[Row], width: float) -> float:
    """Return the height that rows take on a width, inches."""
    at = _layout(rows, width)
    legend = len(at.legend) * SMALL * LEADING / 72.0
    return 2.0 * SCALES + sum(at.heights) + legend + 2.0 * EDGE


def draw_rows(figure: Figure, rows: Sequence[Row], theme: look.Theme) -> None:
    """Draw rows on one axis of pull.

    Parameters
    ----------
    figure : Figure
        Empty; what it is higher than `tall_rows` is shared out between the rows.
    rows : sequence of Row
        At least one with a load.
    theme : Theme
    """
    width, height = figure.get_size_inches()
    at = _layout(rows, width)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    # in inches from the lower left corner
    axes.set(xlim=(0.0, width), ylim=(0.0, height))
    spare = max(height - tall_rows(rows, width), 0.0) / len(rows)
    begin, end = at.axis
    most = max(row.load for row in rows if row.load is not None)
    per_newton = (end - begin) / _reach(rows, most)
    y = height - EDGE - SCALES
    top = y
    for row, lines, tall_row in zip(rows, at.words, at.heights, strict=True):
        y -= tall_row + spare
        _draw_row(axes, row, lines, y + 0.5 * (tall_row + spare), at.axis, per_newton, theme)
    _scales(axes, (y, top), at.axis, per_newton, theme)
    for k, line in enumerate(reversed(at.legend)):
        axes.text(EDGE, EDGE + (k + 0.2) * SMALL * LEADING / 72.0, line, fontsize=SMALL,
                  color=theme.quiet, va="bottom")  # fmt: skip


def _reach(rows: Sequence[Row], most: float) -> float:
    """Return the axis' end, N: beyond all loads, bands and values by hand that are not far out."""
    ends = [most]
    for row in rows:
        ends += [x for x in (row.handbook, *(row.band or ())) if x is not None]
    return 1.04 * max(max(x for x in ends if x <= BEYOND * most), 1.0)


def _draw_row(
    axes: Axes,
    row: Row,
    lines: Sequence[str],
    y: float,
    axis: tuple[float, float],
    per_newton: float,
    theme: look.Theme,
) -> None:
    begin, end = axis
    colour = theme.mark if row.first else theme.ink
    if row.load is None:
        axes.text(EDGE, y, "\n".join(lines), fontsize=TITLE, weight="bold", va="center")
        return
    narrow = axes.get_xlim()[1] < NARROW
    titles = len(lines) - len(
        look.broken(row.cause, SMALL, 0.4 * axes.get_xlim()[1]) if row.cause else []
    )
    _block(axes, begin - 0.12, y, lines, titles, "right", colour, theme, bold=row.first)
    _block(axes, end + 0.12, y, row.beside(narrow=narrow), 1, "left", colour, theme, bold=row.first)
    axes.plot([begin, end], [y, y], color=theme.faint, lw=0.8, zorder=1)
    if row.band is not None:
        low, high = (min(begin + load * per_newton, end) for load in row.band)
        axes.plot([low, high], [y, y], color=colour, lw=6.5, alpha=0.3, zorder=2,
                  solid_capstyle="butt")  # fmt: skip
    if row.handbook is not None:
        ink = theme.quiet if row.outside else theme.ink
        x = begin + row.handbook * per_newton
        if x <= end:
            axes.plot([x, x], [y - 0.075, y + 0.075], color=ink, lw=1.4, zorder=3,
                      solid_capstyle="butt")  # fmt: skip
        else:
            axes.plot([end - 0.03], [y], ">", ms=4.0, color=ink, zorder=3)
    x = begin + row.load * per_newton
    axes.plot([x], [y], "o", ms=6.5 if row.first else 4.8, mec=colour, zorder=5,
              mfc=colour if row.computed else theme.paper)  # fmt: skip


def _block(
    axes: Axes,
    x: float,
    y: float,
    lines: Sequence[str],
    titles: int,
    side: str,
    colour: str,
    theme: look.Theme,
    *,
    bold: bool,
) -> None:
    """Write lines one under the other about a height."""
    high = _height(titles, len(lines) - titles)
    at = y + 0.5 * high
    for k, line in enumerate(lines):
        is_title = k < titles
        size = TITLE if is_title else SMALL
        at -= size * LEADING / 72.0
        axes.text(
            x, at + 0.24 * size / 72.0, line, ha=side, va="baseline", fontsize=size,
            color=colour if is_title else theme.quiet,
            weight="bold" if bold and is_title else "normal",
        )  # fmt: skip


def _scales(
    axes: Axes,
    between: tuple[float, float],
    axis: tuple[float, float],
    per_newton: float,
    theme: look.Theme,
) -> None:
    """Draw the scale in N below the rows and that in kgf above them."""
    begin, end = axis
    for unit, factor, y, way in (("N", 1.0, between[0], -1.0), ("kgf", KGF, between[1], 1.0)):
        axes.plot([begin, end], [y, y], color=theme.ink, lw=0.8, zorder=4)
        top = (end - begin) / per_newton / factor
        for value in _ticks(top, end - begin):
            x = begin + value * factor * per_newton
            axes.plot([x, x], [y, y + 0.05 * way], color=theme.ink, lw=0.7)
            axes.text(x, y + 0.07 * way, look.thousands(value), fontsize=SMALL, ha="center",
                      va="bottom" if way > 0.0 else "top")  # fmt: skip
        said = f"pull, {unit}"
        axes.text(end + 0.12, y + 0.07 * way, said, fontsize=SMALL, color=theme.quiet,
                  va="bottom" if way > 0.0 else "top")  # fmt: skip


def _ticks(top: float, length: float) -> list[float]:
    """Return round values whose figures keep clear of each other and of the scale's name."""

    def wide(value: float) -> float:
        return look.text_width(look.thousands(value), SMALL)

    shown = [0.0]
    power = math.floor(math.log10(top))
    # beside the usual steps the odd ones: on a short scale of large loads nothing else may fit
    for heads in ((1, 2, 5), range(1, 10)):
        for step in (head * 10.0**k for k in range(power - 2, power + 1) for head in heads):
            values = step * np.arange(int(top / step) + 1)
            if step / top * length < max(map(wide, values)) + 0.12:
                continue
            shown = [v for v in values if length * (1.0 - v / top) > 0.5 * wide(v) - 0.02]
            if len(shown) > 1:
                return shown
    return shown


PICTURES = (
    Picture(
        "limits", "limits", "Every limit on one axis of pull", (1800, 960), "data", draw,
        "limits.png", rank=1, vector=True, tall=tall,
    ),
)  # fmt: skip
