"""Limits, and the pin's kept bend, over the pin's hardness."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from fejoint.analysis import definitions
from fejoint.arrays import Floats
from fejoint.inputs.units import both_units
from fejoint.output.pictures import theme as look
from fejoint.studies.pin_hardness import PinRange

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
Box = tuple[float, float, float, float]

HIGH = 1180
"""Pixels of both pictures' height, without a title."""
REACH = 1.9
"""Loads are shown up to so many times the largest first limit."""

_DASHES: dict[str, str | tuple[float, tuple[float, ...]]] = {
    "solid": "solid",
    "dashed": (0, (6, 2)),
    "dotted": (0, (2, 1.5)),
    "dashdot": (0, (6, 2, 1.5, 2)),
    "longdash": (0, (12, 3)),
    "longdashdot": (0, (12, 3, 2, 3)),
}


def draw(found: PinRange, *, title: str = "", theme: str = "print") -> Figure:
    """Draw the lowest load of every mode over the hardness, and the kept bend below it."""
    colours = look.theme(theme)
    with look.styled(colours):
        figure, over = look.titled_figure(HIGH, title, 0.74)
        _draw(figure, found, over, colours)
        return look.shown(figure)


def _draw(figure: Figure, found: PinRange, over: float, theme: look.Theme) -> None:
    width, height = figure.get_size_inches()
    left, right = 0.74 / width, 0.74 / width
    upper = figure.add_axes((left, 1.85 / height, 1 - left - right, 1 - (2.2 + over) / height))
    lower = figure.add_axes((left, 0.45 / height, 1 - left - right, 1.05 / height))
    _limits(upper, found, theme)
    _bends(lower, found, theme)
    for axes in (upper, lower):
        axes.set_xlim(found.points[0].hardness, found.points[-1].hardness)
        for c in found.crossings:
            axes.axvline(c.hardness, color=theme.mark, lw=0.8, ls=(0, (4, 3)), zorder=1)
    upper.set_xticklabels([])
    lower.set_xlabel("hardness of the pin, HV (steel)")


def _limits(axes: Axes, found: PinRange, theme: look.Theme) -> None:
    hardness = np.array([p.hardness for p in found.points])
    first = np.array([p.first.load for p in found.points])
    top = REACH * float(first.max())
    axes.plot(hardness, first, color=theme.mark, lw=5.0, alpha=0.28, zorder=2,
              solid_capstyle="butt")  # fmt: skip
    axes.set(xlim=(hardness[0], hardness[-1]), ylim=(0.0, top))
    lines = {mode: _lowest(found, mode) for mode in definitions.MODES}
    lines = {mode: loads for mode, loads in lines.items() if np.any(loads < top)}
    taken = _marked(axes, found, theme)
    for mode, loads in lines.items():
        told = definitions.MODES[mode]
        axes.plot(
            hardness, loads, color=getattr(theme, told.colour), lw=1.4, ls=_DASHES[told.dash],
            zorder=3,
        )  # fmt: skip
    grid = np.linspace(hardness[0], hardness[-1], 161)
    curves = {mode: np.interp(grid, hardness, loads) for mode, loads in lines.items()}
    for mode in lines:
        _name(axes, mode, grid, curves, taken, getattr(theme, definitions.MODES[mode].colour))
    axes.set_ylabel("pull on the joint, N")
    look.loads_up(axes).set_ylabel("pull on the joint, kgf")
    axes.set_title("where each part gives; band: the first of them", fontsize=8.0, loc="left",
                   pad=5.0)  # fmt: skip


def _marked(axes: Axes, found: PinRange, theme: look.Theme) -> list[Box]:
    """Mark every crossing, and return the room its text takes."""
    taken = []
    low, high = axes.get_xlim()
    top = axes.get_ylim()[1]
    for c in found.crossings:
        axes.plot([c.hardness], [c.load], "o", ms=5.5, color=theme.mark, zorder=5)
        side = 1.0 if c.hardness < 0.5 * (low + high) else -1.0
        axes.annotate(
            f"{c.hardness:.0f} HV\n{both_units(c.load)}", (c.hardness, c.load),
            xytext=(8.0 * side, -8.0), textcoords="offset points", va="top",
            ha="left" if side > 0 else "right", color=theme.mark, linespacing=1.35,
        )  # fmt: skip
        ends = sorted((c.hardness, c.hardness + 0.24 * side * (high - low)))
        taken.append((ends[0], ends[1], c.load - 0.2 * top, c.load))
        taken.append((c.hardness, c.hardness, 0.0, top))
    return taken


def _lowest(found: PinRange, mode: str) -> Floats:
    return np.array(
        [min((x.load for x in p.limits if x.mode == mode), default=np.nan) for p in found.points]
    )


def _name(
    axes: Axes, mode: str, grid: Floats, curves: Mapping[str, Floats], taken: list[Box], ink: str
) -> None:
    """Write a mode's name above or below its line, where it is farthest from all else."""
    low, high = axes.get_xlim()
    top = axes.get_ylim()[1]
    name = definitions.named(mode)
    wide, tall = (0.006 + 0.0125 * len(name)) * (high - low), 0.045 * top
    best, room = None, -np.inf
    for right in grid[4:-4]:
        under = (grid >= right - wide) & (grid <= right)
        own = curves[mode][under]
        if right - wide < low or not np.all(np.isfinite(own)):
            continue
        for bottom in (np.max(own) + 0.012 * top, np.min(own) - tall - 0.02 * top):
            box = (float(right) - wide, float(right), float(bottom), float(bottom) + tall)
            if box[3] > top:
                continue
            gaps = [_gap(box, held, high - low, top) for held in taken]
            for other, line in curves.items():
                if other != mode and np.any(np.isfinite(line[under])):
                    away = np.maximum(line[under] - box[3], box[2] - line[under])
                    gaps.append(float(np.nanmin(away)) / top)
            # little is gained beyond a few heights of the text; level lines carry a name best
            clear = min(*gaps, 0.12, 0.12) - 0.3 * float(np.ptp(own)) / top
            if clear > room:
                best, room = box, clear
    if best is None:
        return
    taken.append(best)
    axes.text(best[1], best[2], name, ha="right", va="bottom", fontsize=7.5, color=ink, zorder=6)


def _gap(a: Box, b: Box, width: float, height: float) -> float:
    """Distance between two boxes over the size of the axes; negative where they overlap."""
    across = max(a[0] - b[1], b[0] - a[1]) / width
    up = max(a[2] - b[3], b[2] - a[3]) / height
    return max(across, up)


def _bends(axes: Axes, found: PinRange, theme: look.Theme) -> None:
    told = [p for p in found.points if p.bend_mm is not None]
    unable = [p.hardness for p in found.points if p.bend_mm is None]
    sag = np.array([p.bend_mm for p in told], float)
    axes.plot([p.hardness for p in told], sag, color=theme.second, lw=1.4, marker="o", ms=2.8)
    axes.set_yscale("log")
    if len(sag):
        axes.set_ylim(max(1e-3, 0.6 * float(sag.min())), 2.0 * float(sag.max()))
    axes.yaxis.set_major_formatter(lambda x, _: f"{x:g}")
    axes.set_ylabel("bend left, mm")
    said = f"bend left in the pin after a pull of {both_units(found.after)}"
    if unable:
        across = axes.get_xaxis_transform()
        axes.plot(unable, [0.1] * len(unable), "x", ms=5.0, color=theme.mark, transform=across,
                  clip_on=False)  # fmt: skip
        said += "; ×: the joint carries less"
    axes.set_title(said, fontsize=8.0, loc="left", pad=5.0)
