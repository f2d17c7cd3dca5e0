"""Map of a load over two dimensions: what gives first where, the joints solved, the joint as it is.

The line between two modes is where their loads cross. A row tells the load of its first mode and,
by its margin, that of the next; beside a border the two modes change places, so that the logarithm
of their ratio is known on both sides, and its zero is drawn. Where a row does not tell the next
mode (a pull may end soon after the first), the border runs between the joints.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis import definitions
from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.output.pictures import theme as look
from fejoint.studies.sweeps import map_labels

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

SIZE = (1800, 1260)
_LINES = 9


def draw(
    frame: pd.DataFrame,
    x: str,
    y: str,
    *,
    load: str = "load_N",
    present: tuple[float, float] | None = None,
    others: dict[str, float] | None = None,
    theme: str = "print",
    title: str = "",
) -> Figure:
    """Draw a contour map.

    Parameters
    ----------
    frame : DataFrame
        A sweep's table.
    x, y : str
        Its columns along the axes.
    load : str
        The column that is drawn, N: the pull at which the joint first gives without it.
    present : (float, float), optional
        The joint as it is.
    others : dict, optional
        Other varied columns, and the value near which the map is cut.
    theme : {"print", "screen", "dark"}
    title : str

    Returns
    -------
    Figure

    Raises
    ------
    BadInput
        If fewer than three joints have that load, or they lie on one line.
    """
    cut = _cut(frame, others or {})
    good = cut[cut[load].notna() & cut["mode"].notna()] if load in cut else cut[:0]
    if len(good) < 3 or good[x].nunique() < 2 or good[y].nunique() < 2:
        allowed = f"needs joints that differ in {x} and {y} and have a {load}"
        raise BadInput(Fault("map", f"{len(good)} joints", allowed, "vary both dimensions"))
    style = look.theme(theme)
    with look.styled(style):
        figure = look.page_figure(SIZE)
        axes = figure.add_axes((0.1, 0.11, 0.72, 0.78))
        levels = _levels(good[load].to_numpy(float))
        grid = len(cut) == cut[x].nunique() * cut[y].nunique()
        surface: Any
        lines: Any
        drawn: list[Artist] = []
        if grid:
            xs, ys, loads, modes = _gridded(cut, x, y, load)
            surface = axes.contourf(xs, ys, loads, levels, cmap=look.colours("stress", style))
            lines = axes.contour(xs, ys, loads, levels, colors=style.quiet, linewidths=0.5)
            drawn += _outline(axes, xs, ys, modes, _next_loads(cut, x, y), style)
            axes.plot(good[x], good[y], ".", color=style.quiet, markersize=2.5, clip_on=False)
        else:
            from matplotlib.tri import Triangulation

            mesh = Triangulation(good[x].to_numpy(float), good[y].to_numpy(float))
            z = good[load].to_numpy(float)
            surface = axes.tricontourf(mesh, z, levels, cmap=look.colours("stress", style))
            lines = axes.tricontour(mesh, z, levels, colors=style.quiet, linewidths=0.5)
            _name_points(axes, good, x, y, style)
        bar = figure.colorbar(surface, cax=figure.add_axes((0.85, 0.11, 0.025, 0.78)))
        bar.set_label(f"{spoken(load)} (pull on the whole joint)")
        if present is not None:
            drawn.append(_mark(axes, present, style))
        map_labels.label(axes, lines, surface, drawn, style)
        axes.set_xlabel(spoken(x))
        axes.set_ylabel(spoken(y))
        said = [title] if title else []
        said += [f"at {spoken(name)} {cut[name].iloc[0]:g}" for name in others or {}]
        figure.text(0.1, 0.93, ", ".join(said), fontsize=9.5)
        return look.shown(figure)


def _mark(axes: Axes, present: tuple[float, float], style: look.Theme) -> Text:
    """Mark the joint as it is, its words towards the middle of the map."""
    x, y = present
    right = x > sum(axes.get_xlim()) / 2
    high = y > sum(axes.get_ylim()) / 2
    axes.plot(
        [x], [y], "+", color=style.mark, markersize=13, markeredgewidth=2.2, clip_on=False, zorder=9
    )
    return axes.annotate(
        "the joint as it is", present, (-9 if right else 9, -9 if high else 9),
        textcoords="offset points", ha="right" if right else "left",
        va="top" if high else "bottom", color=style.mark, zorder=9,
        bbox={"facecolor": style.paper, "edgecolor": "none", "alpha": 0.75, "pad": 1.5},
    )  # fmt: skip


def _cut(frame: pd.DataFrame, others: dict[str, float]) -> pd.DataFrame:
    """Keep the joints whose other dimensions are nearest to the wanted values."""
    for name, wanted in others.items():
        values = np.sort(frame[name].unique())
        frame = frame[frame[name] == values[np.argmin(np.abs(values - wanted))]]
    return frame


def _levels(values: Floats) -> Floats:
    from matplotlib.ticker import MaxNLocator

    low, high = float(values.min()), float(values.max())
    spread = max(high - low, 1e-3 * abs(high))
    ticks = MaxNLocator(_LINES).tick_values(high - spread, high)
    return np.asarray(ticks, float)


def _gridded(frame: pd.DataFrame, x: str, y: str, load: str) -> tuple[Any, Any, Any, Any]:
    loads = frame.pivot(index=y, columns=x, values=load)
    modes = frame.pivot(index=y, columns=x, values="mode")
    return (
        loads.columns.to_numpy(float), loads.index.to_numpy(float), loads.to_numpy(float),
        modes.to_numpy(object),
    )  # fmt: skip


def _between(values: Floats) -> Floats:
    """Return the borders of the cells about grid values."""
    middle = 0.5 * (values[1:] + values[:-1])
    return np.concatenate([[values[0]], middle, [values[-1]]])


def _next_loads(frame: pd.DataFrame, x: str, y: str) -> tuple[Any, Any]:
    """Return what gives next and the logarithm of its load over the first's, both gridded."""
    if not {"next_mode", "margin_to_next"} <= set(frame):
        empty = np.full((frame[y].nunique(), frame[x].nunique()), np.nan)
        return empty.astype(object), empty
    gridded = [frame.pivot(index=y, columns=x, values=k) for k in ("next_mode", "margin_to_next")]
    return gridded[0].to_numpy(object), np.log1p(gridded[1].to_numpy(float))


def _outline(
    axes: Axes, xs: Any, ys: Any, modes: Any, following: tuple[Any, Any], style: look.Theme
) -> list[Artist]:
    """Draw the line between joints that give in different ways, and name each region."""
    across, up = _between(xs), _between(ys)
    names = np.array([[m if isinstance(m, str) else "" for m in row] for row in modes])
    ink: dict[str, Any] = {"color": style.ink, "linewidth": 1.6}
    drawn: list[Artist] = []
    crossed: set[tuple[str, str]] = set()

    def told(one: tuple[int, int], other: tuple[int, int]) -> bool:
        """Whether each of two neighbours names the other's mode as its next."""
        pair = (names[one], names[other])
        known = following[0][one] == pair[1] and following[0][other] == pair[0]
        if known:
            crossed.add((min(pair), max(pair)))
        return bool(known)

    for i in range(len(ys)):
        for j in range(len(xs)):
            here, right, above = (i, j), (i, j + 1), (i + 1, j)
            if j + 1 < len(xs) and names[here] != names[right] and not told(here, right):
                drawn += axes.plot([across[j + 1]] * 2, [up[i], up[i + 1]], **ink)
            if i + 1 < len(ys) and names[here] != names[above] and not told(here, above):
                drawn += axes.plot([across[j], across[j + 1]], [up[i + 1]] * 2, **ink)
    for one, other in sorted(crossed):
        ratio = np.where((names == one) & (following[0] == other), -following[1], np.nan)
        ratio = np.where((names == other) & (following[0] == one), following[1], ratio)
        found = axes.contour(xs, ys, ratio, [0.0], linewidths=0.0)
        for line in found.allsegs[0]:
            for begin, end in pairwise(line):  # in pieces, so that labels keep clear of each
                drawn += axes.plot([begin[0], end[0]], [begin[1], end[1]], **ink)
    for name in sorted(set(names.ravel()) - {""}):
        rows, columns = np.nonzero(names == name)
        centre = np.argmin(
            (columns - columns.mean()) ** 2 + (rows - rows.mean()) ** 2
        )  # the member nearest the middle: a region may be bent round another
        j, i = columns[centre], rows[centre]
        x, y = (across[j] + across[j + 1]) / 2, (up[i] + up[i + 1]) / 2
        drawn.append(_write(axes, x, y, definitions.named(name), style))
    return drawn


def _name_points(axes: Axes, good: pd.DataFrame, x: str, y: str, style: look.Theme) -> None:
    marks = ("o", "s", "^", "D", "v", "P", "X")
    for mark, (name, part) in zip(marks, good.groupby("mode"), strict=False):
        axes.scatter(
            part[x], part[y], s=14, marker=mark, facecolor=style.paper, edgecolor=style.ink,
            linewidth=0.8, label=definitions.named(str(name)),
        )  # fmt: skip
    axes.legend(loc="lower right", fontsize=7.0)


def _write(axes: Axes, x: float, y: float, text: str, style: look.Theme) -> Text:
    written = axes.text(
        x, y, text, ha="center", va="center", fontsize=8.5, color=style.ink, zorder=8,
        bbox={"facecolor": style.paper, "edgecolor": "none", "alpha": 0.75, "pad": 2.0},
    )  # fmt: skip
    map_labels.keep_inside(axes, written)
    return written


def spoken(column: str) -> str:
    """Write a column's name for people: "ear.edge_distance_mm" is "ear edge distance, mm"."""
    if column == "load_N":
        return "joint first gives, N"
    name, _, unit = column.rpartition("_")
    if not name or unit not in ("mm", "N", "kgf", "MPa", "deg", "HV", "HRC", "HB", "g/cm3"):
        name, unit = column, ""
    words = name.replace(".", " ").replace("_", " ")
    return f"{words}, {unit}" if unit else words
