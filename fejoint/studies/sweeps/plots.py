"""Pictures of studies of many joints: load over one dimension, scatter, sensitivities, advice."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis import definitions
from fejoint.errors import BadInput, Fault
from fejoint.inputs.units import both_units, figures
from fejoint.output.pictures import theme as look
from fejoint.studies.sweeps import dimensions, maps
from fejoint.studies.sweeps.design_changes import Advice
from fejoint.studies.sweeps.maps import spoken
from fejoint.studies.sweeps.plan import Plan
from fejoint.studies.sweeps.row import borne
from fejoint.studies.sweeps.run import Table
from fejoint.studies.sweeps.sensitivities import Sensitivity
from fejoint.studies.sweeps.tolerance_band import LOW, Tolerance
from fejoint.studies.sweeps.variation import Variation

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MARKS = ("o", "s", "^", "D", "v", "P", "X")
HATCHES = ("", "////", "....", "xxxx", "\\\\\\\\", "++++")
ROW = 0.27
"""Height of a row of bars, inches."""
BINS = 14


def along(
    frame: pd.DataFrame,
    column: str,
    *,
    present: float | None = None,
    title: str = "",
    theme: str = "print",
) -> Figure:
    """Draw the load at which joints first give over one dimension, what gives, and the offset load.

    Parameters
    ----------
    frame : DataFrame
        A sweep's table.
    column : str
        The dimension's.
    present : float, optional
        The dimension of the joint as it is.
    title : str
    theme : {"print", "screen", "dark"}

    Raises
    ------
    BadInput
        If fewer than two joints were solved.
    """
    good = frame[frame["load_N"].notna()].sort_values(column) if "load_N" in frame else frame[:0]
    if len(good) < 2:
        allowed = f"needs two joints that differ in {column} and give"
        raise BadInput(Fault("picture", f"{len(good)} joints", allowed, "vary it further"))
    colours = look.theme(theme)
    with look.styled(colours):
        figure = look.page_figure((look.PIXELS, 980))
        axes = _axes(figure, title)
        x, load = good[column].to_numpy(float), good["load_N"].to_numpy(float)
        offset = good.get("offset_load_N")
        if offset is not None and offset.notna().any():
            axes.plot(x, offset.to_numpy(float), color=colours.second, lw=1.2, ls=(0, (6, 1.6)),
                      label="offset load of the hole")  # fmt: skip
        axes.plot(x, load, color=colours.ink, lw=1.6, zorder=3)
        modes = good["mode"].to_numpy(object)
        for k, mode in enumerate(dict.fromkeys(modes)):
            here = modes == mode
            axes.plot(x[here], load[here], MARKS[k % len(MARKS)], ms=5.5, mec=colours.ink,
                      mfc=(colours.ink, colours.paper)[k % 2], zorder=4,
                      label=f"first: {definitions.named(str(mode))}")  # fmt: skip
        if present is not None:
            axes.axvline(present, color=colours.mark, lw=1.0, ls=(0, (4, 3)), zorder=1,
                         label="the joint as it is")  # fmt: skip
        axes.set_ylim(0.0, 1.12 * float(np.nanmax([load.max(), *_known(offset)])))
        axes.set_xlabel(spoken(column))
        axes.set_ylabel("pull on the joint, N")
        look.loads_up(axes).set_ylabel("pull on the joint, kgf")
        axes.legend(frameon=False, fontsize=7.5, loc="lower right")
        return look.shown(figure)


def of_table(found: Table, *, title: str = "", theme: str = "print") -> Figure:
    """Draw a sweep: the map over its first two dimensions, or the line over a single one.

    Raises
    ------
    BadInput
        If its joints were given one by one, or too few of them give.
    """
    plan = found.plan
    if not isinstance(plan, Plan):
        allowed = "are of joints given one by one, with no dimension to draw them over"
        raise BadInput(Fault("picture", f"{len(plan)} joints", allowed, "see the table"))
    now = {d.path: d for d in dimensions.of(plan.base)}

    def present(v: Variation) -> float | None:
        d = now.get(v.path)
        return d.value if d is not None and d.unit == v.unit else None

    def near(v: Variation) -> float:
        at = present(v)
        return v.values[len(v.values) // 2] if at is None else at

    if len(plan.variations) == 1:
        (v,) = plan.variations
        return along(found.frame, v.column, present=present(v), title=title, theme=theme)
    x, y, *rest = plan.variations
    here = present(x), present(y)
    return maps.draw(
        found.frame, x.column, y.column, title=title, theme=theme,
        present=None if here[0] is None or here[1] is None else (here[0], here[1]),
        others={v.column: near(v) for v in rest},
    )  # fmt: skip


def _known(values: Any) -> list[float]:
    return [] if values is None else [float(x) for x in values.dropna()]


def _axes(figure: Figure, title: str) -> Axes:
    width, height = figure.get_size_inches()
    figure.text(0.74 / width, 1.0 - 0.2 / height, title, fontsize=9.5, va="center")
    return figure.add_axes((0.74 / width, 0.48 / height, 1.0 - 1.48 / width, 1.0 - 0.88 / height))


def histogram(found: Tolerance, *, title: str = "", theme: str = "print") -> Figure:
    """Draw how often joints of a scatter give at which load, what gives, and the odds."""
    colours = look.theme(theme)
    frame = found.table.frame
    good = frame[frame["load_N"].notna()]
    with look.styled(colours):
        figure = look.page_figure((look.PIXELS, 980))
        axes = _axes(figure, title)
        load = good["load_N"].to_numpy(float)
        edges = np.linspace(load.min(), max(load.max(), load.min() * 1.001), BINS + 1)
        base = np.zeros(BINS)
        fills = (colours.steel, colours.paper, colours.faint)
        for k, (mode, part) in enumerate(good.groupby("mode", sort=False)):
            count, _ = np.histogram(part["load_N"].to_numpy(float), edges)
            share = f"{100 * len(part) / len(good):.0f} %"
            axes.bar(edges[:-1], count, np.diff(edges), base, align="edge", lw=0.7,
                     facecolor=fills[k % 3], edgecolor=colours.ink, hatch=HATCHES[k % 6],
                     label=f"first: {definitions.named(str(mode))}, {share}")  # fmt: skip
            base += count
        b = found.load
        high = 1.32 * float(base.max())
        for value, said, place in (
            (b.low, f"1 in {100 / LOW:.0f} gives below\n{both_units(b.low)}", 0.99),
            (b.median, f"half give below\n{both_units(b.median)}", 0.9),
        ):
            axes.axvline(value, color=colours.mark, lw=1.2, ls=(0, (5, 2)))
            left = value > 0.5 * (edges[0] + edges[-1])
            axes.annotate(
                said, (value, place * high), (-4 if left else 4, 0), textcoords="offset points",
                ha="right" if left else "left", va="top", color=colours.mark, fontsize=7.5,
                bbox={"facecolor": colours.paper, "edgecolor": "none", "alpha": 0.8, "pad": 1.0},
            )  # fmt: skip
        axes.set_ylim(0.0, high)
        axes.xaxis.set_major_formatter(look.thousands)
        axes.set_xlabel("pull on the joint at which the first part gives, N")
        axes.set_ylabel(f"joints, of {len(good)}")
        handles, labels = axes.get_legend_handles_labels()
        figure.legend(handles, labels, frameon=False, fontsize=7.5, loc="upper right", ncols=2)
        return look.shown(figure)


def bars(
    rows: Sequence[tuple[str, float, str]],
    *,
    label: str,
    title: str = "",
    line: tuple[str, float] | None = None,
    theme: str = "print",
) -> Figure:
    """Draw numbers as level bars from zero, each with its name at the left and its words beside it.

    Parameters
    ----------
    rows : sequence of (str, float, str)
        From the top: name, number, words. A first row without words is the one to compare with.
    label : str
        Of the scale.
    title : str
    line : (str, float), optional
        A value to be met, and its name.
    theme : {"print", "screen", "dark"}
    """
    colours = look.theme(theme)
    values = np.array([value for _, value, _ in rows])
    size = 7.5
    with look.styled(colours):
        high = 0.95 + ROW * len(rows)
        figure = look.figure((look.WIDTH, high))
        names = [look.broken(name, size, 0.36 * look.WIDTH) for name, _, _ in rows]
        left = 0.15 + max(look.text_width(x, size) for lines in names for x in lines)
        axes = figure.add_axes(
            (left / look.WIDTH, 0.42 / high, 1.0 - (left + 0.15) / look.WIDTH, 1.0 - 0.9 / high)
        )
        figure.text(0.15 / look.WIDTH, 1.0 - 0.17 / high, title, fontsize=9.5, va="center")
        wide = look.WIDTH - left - 0.15
        said = max(look.text_width(words, size) for _, _, words in rows) + 0.12
        ends = [0.0, *values, *([line[1]] if line else [])]
        low, top = min(ends), max(ends)
        span = (top - low) / max(1.0 - said * (2.0 if low < 0.0 else 1.0) / wide, 0.2)
        axes.set_xlim(low - (span - (top - low)) * (0.5 if low < 0.0 else 0.0), low + span
                      if low >= 0.0 else top + 0.5 * (span - (top - low)))  # fmt: skip
        axes.set_ylim(len(rows) - 0.5, -0.5)
        for k, (_, value, words) in enumerate(rows):
            axes.barh(k, value, 0.62, facecolor=colours.steel, edgecolor=colours.ink, lw=0.7)
            axes.annotate(words, (value, k), (-4 if value < 0.0 else 4, 0), va="center",
                          textcoords="offset points", fontsize=size,
                          ha="right" if value < 0.0 else "left", zorder=6,
                          bbox={"facecolor": colours.paper, "edgecolor": "none", "pad": 0.5},
        )  # fmt: skip
        axes.axvline(0.0, color=colours.ink, lw=0.8)
        axes.set_yticks(range(len(rows)), ["\n".join(lines) for lines in names], fontsize=size)
        axes.tick_params(axis="y", length=0.0)
        axes.spines["left"].set_visible(False)
        if line is not None:
            axes.axvline(line[1], color=colours.mark, lw=1.2, ls=(0, (5, 2)), zorder=5)
            axes.annotate(line[0], (line[1], -0.5), (0, 3), textcoords="offset points",
                          ha="center", va="bottom", color=colours.mark, fontsize=size)  # fmt: skip
        axes.xaxis.set_major_formatter(lambda value, _: f"{value:,g}")
        axes.set_xlabel(label)
        return look.shown(figure)


def sensitivities(found: Sequence[Sensitivity], *, title: str = "", theme: str = "print") -> Figure:
    """Draw what one per cent of each dimension does to the pull, the strongest on top."""
    known = sorted((s for s in found if s.load is not None), key=lambda s: -abs(s.load or 0.0))
    if not known:
        raise BadInput(Fault("picture", "no sensitivity", "needs one", "see the table"))
    rows = [
        (_plain(s.dimension.name), s.load or 0.0, f"{s.load:+.2f}" + _then(s.modes)) for s in known
    ]
    label = "per cent of the pull at which the first part gives, per per cent of the dimension"
    return bars(rows, label=label, title=title, theme=theme)


def _plain(words: str) -> str:
    """Write the keys of a case in words: "ear.edge_distance" is "ear edge distance"."""
    return re.sub(r"(?<=[a-z])[._](?=[a-z])", " ", words).replace("->", "\u2192")


def _then(modes: Sequence[str]) -> str:
    different = list(dict.fromkeys(modes))
    named = [definitions.named(m) for m in different]
    return f"  then {' or '.join(named)}" if len(named) > 1 else ""


def advice(found: Advice, *, title: str = "", theme: str = "print") -> Figure:
    """Draw the load of the joint as it is and of each advised change, with the pull to carry."""
    rows = [("as it is", borne(found.present), _gives(found.present))]
    rows += [
        (_plain(c.words), float(c.row["load_N"]), _gives(c.row))
        for c in (*found.single, *found.double)
    ]
    goal = (f"to be carried: {both_units(found.goal)}", found.goal)
    return bars(rows, label="pull at which the first part gives, N", title=title, line=goal,
                theme=theme)  # fmt: skip


def _gives(row: Mapping[str, Any]) -> str:
    if row["load_N"] is None:
        return f"nothing gives up to {figures(borne(row))} N"
    return f"{figures(row['load_N'])} N, {definitions.named(str(row['mode']))}"
