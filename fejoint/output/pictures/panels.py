"""Panels of a picture side by side, or under each other on one column, and the bar below."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fejoint.output.pictures import theme as look

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

NARROW = 4.5
"""Width below which panels stand under each other, inches: between one column and a page."""
LINE = 0.167
"""Height of a caption's line, inches."""
GAP = 0.1
"""Between a panel and its caption, and round about panels, inches."""
TOP = 0.05
"""Above a panel, inches."""
HIGHEST = 3.4
"""Height of a panel, inches."""

Rectangle = tuple[float, float, float, float]


def columns(width: float, count: int) -> int:
    """Return how many of so many panels stand side by side on a width in inches."""
    return 1 if width < NARROW else count


def cell(width: float, count: int) -> float:
    """Return the width of a panel, inches."""
    return width / columns(width, count) - 2.0 * GAP


def captioned(paragraphs: Sequence[str], width: float, count: int) -> str:
    """Return a caption wrapped to its panel."""
    room = cell(width, count)
    return "\n".join(line for p in paragraphs for line in look.broken(p, 8.0, room))


def _rows(captions: Sequence[str], width: float) -> list[float]:
    """Return the room for the captions of each row of panels, inches."""
    across = columns(width, len(captions))
    return [
        GAP + LINE * max(1 + c.count("\n") for c in captions[k : k + across])
        for k in range(0, len(captions), across)
    ]


def bar_height(label: str, width: float) -> float:
    """Return the room of a bar of colours with its label, inches."""
    return 0.5 + 0.14 * len(_label_lines(label, width))


def tall(
    captions: Sequence[str], ratio: float, label: str, width: float, top: float = TOP
) -> float:
    """Return the height that panels of a height over width take, inches."""
    rows = _rows(captions, width)
    panel = min(ratio * cell(width, len(captions)), HIGHEST)
    return sum(rows) + len(rows) * (panel + top + GAP) + bar_height(label, width)


def places(
    figure: Figure, captions: Sequence[str], label: str, top: float = TOP
) -> list[Rectangle]:
    """Write captions and return the place of each panel above its own, as shares of the figure.

    Parameters
    ----------
    figure : Figure
    captions : sequence of str
        One a panel, wrapped.
    label : str
        Of the bar below.
    top : float
        Room above each panel, inches.
    """
    width, height = figure.get_size_inches()
    rows, across = _rows(captions, width), columns(width, len(captions))
    room = height - bar_height(label, width) - sum(rows) - len(rows) * (top + GAP)
    panel = max(room / len(rows), 0.2)
    found = []
    above = height
    for k, caption in enumerate(captions):
        if k % across == 0:
            above -= top + panel
            foot = above - GAP
            above -= rows[k // across] + GAP
        left = (k % across) * width / across + GAP
        wide = width / across - 2.0 * GAP
        found.append((left / width, (foot + GAP) / height, wide / width, panel / height))
        figure.text(
            (left + 0.5 * wide) / width, foot / height, caption, ha="center", va="top",
            linespacing=1.35, fontsize=8.0,
        )  # fmt: skip
    return found


def bar(
    figure: Figure,
    image: Any,
    label: str,
    ticks: Sequence[float],
    marks: Sequence[tuple[str, float]] = (),
) -> None:
    """Draw the bar of colours with its ticks and what they mean, below the panels.

    Parameters
    ----------
    figure : Figure
    image : artist or mappable
        Whose colours are told.
    label : str
    ticks : sequence of float
    marks : sequence of (str, float)
        Values named above the bar; those beyond its end are left out.
    """
    width, height = figure.get_size_inches()
    lines = _label_lines(label, width)
    foot = (0.22 + 0.14 * len(lines)) / height
    wide = _bar_width(width) / width
    axes = figure.add_axes((0.5 - 0.5 * wide, foot, wide, 0.075 / height))
    colours = figure.colorbar(image, cax=axes, orientation="horizontal")
    colours.outline.set_visible(False)
    colours.set_ticks(list(ticks), labels=[f"{t:g}" for t in ticks])
    axes.tick_params(length=2.0, width=0.6, pad=1.5)
    axes.set_xlabel("\n".join(lines), labelpad=1.5)
    _marks(axes, image, marks)


def _marks(axes: Axes, image: Any, marks: Sequence[tuple[str, float]]) -> None:
    top = float(image.norm.vmax)
    inside = [(name, value) for name, value in marks if value <= top]
    wide = axes.get_window_extent().width / axes.figure.dpi
    near = len(inside) > 1 and (
        (inside[1][1] - inside[0][1]) / top * wide
        < 0.5 * sum(look.text_width(name, 7.0) for name, _ in inside) + 0.08
    )
    for k, (name, value) in enumerate(inside):
        axes.plot([value, value], [0.0, 1.7], color=axes.xaxis.label.get_color(), lw=0.8,
                  transform=axes.get_xaxis_transform(), clip_on=False)  # fmt: skip
        side = ("right" if k == 0 else "left") if near else "center"
        axes.text(value, 1.9, name, fontsize=7.0, ha=side, va="bottom",
                  transform=axes.get_xaxis_transform())  # fmt: skip


def even_bar(
    figure: Figure, image: Any, label: str, marks: Sequence[tuple[str, float]] = ()
) -> None:
    """Draw the bar of an even scale."""
    low, top = float(image.norm.vmin), float(image.norm.vmax)
    room = _bar_width(float(figure.get_size_inches()[0])) / (top - low)
    need = look.text_width(f"{top:.0f}", 7.5) + 0.1
    step = look.rounded((top - low) / 4.0)
    while step * room < need:
        step = look.rounded(2.6 * step)
    first = step * math.ceil(low / step - 1e-9) + 0.0
    count = int((top - first) / step + 1e-9) + 1
    bar(figure, image, label, [first + k * step for k in range(count)], marks)


def _bar_width(width: float) -> float:
    return min(3.2, 0.7 * width)


def _label_lines(label: str, width: float) -> list[str]:
    return look.broken(label, 8.0, width - 2.0 * GAP)
