"""Load against hole elongation, with what happens on the way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis import definitions
from fejoint.arrays import Floats
from fejoint.kernel import load_curve
from fejoint.kernel.pchip import Monotone
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.picture import Picture
from fejoint.sections.face.pull import OFFSET

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

CLOSE = 2.4
"""The left panel ends at so many times the elongation at the offset load."""


def draw(figure: Figure, answer: Mapping[str, Any], theme: look.Theme) -> None:
    """Draw the curve twice: up to the offset load, with its construction, and whole.

    Parameters
    ----------
    figure : Figure
        Empty.
    answer : mapping
        Plain data, as in `answer.json`.
    theme : Theme
    """
    load = np.array(answer["curve"]["load_N"], float)
    grown = np.array(answer["curve"]["hole_elongation_mm"], float)
    hole = float(answer["case"]["ear"][0]["hole"])
    offset = load_curve.offset_point(load, grown, OFFSET * hole)
    seen = [e for e in answer["events"] if e["load_N"] is not None]
    width, height = figure.get_size_inches()
    left, bottom = 0.74 / width, 0.48 / height
    across, up = 1.0 - left - 0.74 / width, 1.0 - bottom - 0.4 / height
    end = 1.03 * float(grown.max())
    near = CLOSE * offset.elongation if offset is not None else np.inf
    if offset is None or near > 0.7 * end:
        axes = figure.add_axes((left, bottom, across, up))
        _panel(axes, load, grown, seen, theme, end)
        _offset_line(axes, offset, hole, theme)
        scales(axes, theme, left=True, right=True)
        return
    gap = 0.62 / width
    half = 0.46 * (across - gap)
    close = figure.add_axes((left, bottom, half, up))
    whole = figure.add_axes((left + half + gap, bottom, across - half - gap, up))
    early = [e for e in seen if e["hole_elongation_mm"] <= 1.03 * offset.elongation]
    late = [e for e in seen if e not in early or e["name"] == "offset load"]
    _panel(close, load, grown, early, theme, near)
    _offset_line(close, offset, hole, theme)
    _panel(whole, load, grown, late, theme, end)
    whole.set_title("the whole pull", fontsize=8.0, loc="left", pad=5.0)
    scales(close, theme, left=True, right=False)
    scales(whole, theme, left=False, right=True)


def _panel(
    axes: Axes,
    load: Floats,
    grown: Floats,
    events: Sequence[Mapping[str, Any]],
    theme: look.Theme,
    to: float,
) -> None:
    axes.plot(*smooth(grown, load), color=theme.ink, lw=1.5, zorder=3)
    top = float(np.interp(to, grown, load)) if to < grown.max() else float(load.max())
    axes.set(xlim=(0.0, to), ylim=(0.0, max(1.08 * top, 1.0)))
    axes.set_xlabel("hole elongation, mm")
    _name_events(axes, load, grown, [e for e in events if e["hole_elongation_mm"] <= to], theme)


def smooth(grown: Floats, load: Floats) -> tuple[Floats, Floats]:
    """Return the curve as it is read for the offset load, without its corners.

    Every stretch that grows or shrinks throughout is rounded by itself.
    """
    step = np.sign(np.diff(grown))
    ends = np.flatnonzero(np.diff(step) != 0.0) + 1
    xs, ys = [], []
    for begin, end in zip([0, *ends], [*ends, len(grown) - 1], strict=True):
        x, y = grown[begin : end + 1], load[begin : end + 1]
        if len(x) > 2 and step[begin] != 0.0:
            places = np.arange(8 * len(x) - 7) / 8.0
            fine = np.interp(places, np.arange(len(x)), x)
            order = slice(None) if step[begin] > 0.0 else slice(None, None, -1)
            x, y = fine, np.asarray(Monotone(x[order], y[order])(fine))
        xs.append(x)
        ys.append(y)
    return np.concatenate(xs), np.concatenate(ys)


def _name_events(
    axes: Axes,
    load: Floats,
    grown: Floats,
    events: Sequence[Mapping[str, Any]],
    theme: look.Theme,
) -> None:
    """Mark events and name them in a column under the curve, where a rising curve leaves room."""
    reach, high = axes.get_xlim()[1], axes.get_ylim()[1]
    room = axes.get_window_extent().height * 72.0 / axes.figure.dpi
    spacing = 23.0 / room * high
    column = 0.5 * reach
    under = float(np.interp(column, grown, load)) - 0.75 * spacing
    falling = sorted(events, key=lambda e: -e["load_N"])
    places: list[float] = []
    for k, event in enumerate(falling):
        place = min(event["load_N"], under, (places[-1] - spacing) if places else np.inf)
        # leave room for those below
        places.append(max(place, (len(falling) - k - 0.35) * spacing))
    for event, place in zip(falling, places, strict=True):
        x, y = event["hole_elongation_mm"], event["load_N"]
        main = event["name"] == "offset load"
        colour = theme.mark if main else theme.ink
        axes.plot(
            [x], [y], "o", ms=4.4, mfc=theme.mark if main else theme.paper, mec=colour, mew=1.0,
            zorder=5, clip_on=False,
        )  # fmt: skip
        beside = x < column
        foot = (
            (column - 0.012 * reach, place)
            if beside
            else (min(x, 1.6 * column), place + 0.5 * spacing)
        )
        axes.plot([x, foot[0]], [y, foot[1]], color=theme.quiet, lw=0.5, zorder=2)
        axes.text(
            column,
            place,
            f"{_named(event)}\n{definitions.load_words(event['name'], y)}",
            va="center",
            fontsize=7.5,
            linespacing=1.2,
            color=colour,
            zorder=6,
        )


def _named(event: Mapping[str, Any]) -> str:
    title = definitions.EVENT_TITLES.get(event["name"], event["name"])
    member = event.get("member")
    return f"{member}: {title}" if member else title


def _offset_line(
    axes: Axes, offset: load_curve.OffsetPoint | None, hole: float, theme: look.Theme
) -> None:
    """Draw the elastic line moved by 2 % of the hole's diameter."""
    if offset is None:
        return
    start = OFFSET * hole
    top = min(axes.get_ylim()[1], 1.06 * offset.load)
    axes.plot(
        [start, start + top / offset.slope], [0.0, top], color=theme.mark, lw=0.8,
        ls=(0, (5, 3)), zorder=2,
    )  # fmt: skip
    axes.set_title(
        "up to the offset load; dashed: the elastic\n"
        f"line moved by {100.0 * OFFSET:g} % of the hole, {start:.3f} mm",
        fontsize=8.0,
        loc="left",
        pad=5.0,
    )


def scales(axes: Axes, theme: look.Theme, *, left: bool, right: bool) -> None:
    """Write loads in N on the left and in kgf on the right."""
    from matplotlib.ticker import MaxNLocator

    axes.yaxis.set_major_formatter(look.thousands)
    axes.yaxis.set_major_locator(MaxNLocator(6))
    axes.tick_params(length=2.5, width=0.6)
    if left:
        axes.set_ylabel("pull on the joint, N")
    if right:
        other = look.loads_up(axes)
        other.yaxis.set_major_locator(MaxNLocator(6))
        other.tick_params(length=2.5, width=0.6)
        other.spines["right"].set(color=theme.quiet, linewidth=0.7)
        other.set_ylabel("pull on the joint, kgf")


PICTURES = (
    Picture(
        "curve", "curve", "Pull on the joint against the growth of the hole", (1800, 900), "data",
        draw, "load-curve.png", rank=2, vector=True,
    ),
)  # fmt: skip
