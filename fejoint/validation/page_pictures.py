"""The two pictures of the reference page: measured against predicted strengths, and convergence."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from fejoint.output.pictures import theme as look
from fejoint.validation.models.convergence import Curve
from fejoint.validation.run import Row

if TYPE_CHECKING:
    from matplotlib.axes import Axes

BAND = 0.15
"""The band of the parity plot, fixed before the first run."""
PIXELS = 1400


def parity(rows: Sequence[Row], path: Path) -> Path:
    """Draw printed against predicted strengths with the fixed band; each miss by its name.

    Parameters
    ----------
    rows : sequence of Row
        Bearing tests.
    path : Path
    """
    theme = look.theme("print")
    with look.styled(theme):
        figure = look.page_figure((PIXELS, 1180))
        width, height = figure.get_size_inches()
        axes = figure.add_axes((0.75 / width, 0.5 / height, 1 - 0.95 / width, 1 - 0.65 / height))
        limits = np.array([0.8, 1.25]) * (
            min(min(r.expected.value, r.got) for r in rows),
            max(max(r.expected.value, r.got) for r in rows),
        )
        # the band is of the prediction, as the axis across is
        axes.fill_between(limits, limits / (1 + BAND), limits / (1 - BAND), color=theme.faint,
                          alpha=0.5, lw=0.0, label="prediction within 15 %")  # fmt: skip
        axes.plot(limits, limits, color=theme.quiet, lw=0.8)
        kinds = sorted({row.expected.quantity for row in rows})
        looks = zip(kinds, (theme.mark, theme.second), "os", strict=False)
        for kind, colour, marker in looks:
            for near in (True, False):
                some = [
                    r for r in rows
                    if r.expected.quantity == kind and r.case.name.endswith("e15") is near
                ]  # fmt: skip
                axes.plot(
                    [r.got for r in some], [r.expected.value for r in some], marker, color=colour,
                    mfc=colour if near else theme.paper, ms=5.0, zorder=4,
                    label=f"{kind}, e/D {'1.5' if near else '2.0'}",
                )  # fmt: skip
        axes.set(xscale="log", yscale="log", xlim=limits, ylim=limits)
        axes.set_xlabel("predicted, MPa")
        axes.set_ylabel("printed, MPa")
        ticks = [
            t for t in (300, 500, 700, 1000, 1500, 2000, 3000, 4000) if limits[0] < t < limits[1]
        ]
        for axis in (axes.xaxis, axes.yaxis):
            axis.set_ticks(ticks, [f"{t:,}" for t in ticks])
            axis.set_ticks([], minor=True)
        axes.legend(frameon=False, loc="upper left", fontsize=7.5)
        _name_misses(axes, [r for r in rows if abs(r.error) > BAND], theme)
        return look.save(figure, path, PIXELS)


def _name_misses(axes: Axes, misses: Sequence[Row], theme: look.Theme) -> None:
    """Write a number beside each miss, and its name into a list where no point can lie."""
    for k, row in enumerate(sorted(misses, key=lambda r: r.error)):
        side = 1.0 if row.error > 0.0 else -1.0
        axes.annotate(
            f"{k + 1}", (row.got, row.expected.value), (5.0 * side, -5.0 * side),
            textcoords="offset points", fontsize=7.0, ha="left" if side > 0 else "right",
            va="top" if side > 0 else "bottom", weight="bold",
        )  # fmt: skip
        name = row.case.name.removeprefix("bearing-")
        axes.text(
            0.62, 0.05 + 0.033 * (len(misses) - 1 - k), f"{k + 1}  {name}: {row.error:+.0%}",
            fontsize=7.5, transform=axes.transAxes,
        )  # fmt: skip
    if misses:
        axes.text(0.62, 0.05 + 0.033 * len(misses), "further off than 15 %", fontsize=7.5,
                  color=theme.quiet, transform=axes.transAxes)  # fmt: skip


def convergence(found: Sequence[Curve], path: Path) -> Path:
    """Draw error against unknowns, each with the slope that is expected of it."""
    theme = look.theme("print")
    pixels = round(PIXELS * max(len(found), 2) / 3)
    with look.styled(theme):
        figure = look.figure((look.WIDTH * pixels / PIXELS, 2.7))
        width, height = figure.get_size_inches()
        share = (width - 0.7) / len(found)
        for k, curve in enumerate(found):
            place = (0.62 + k * share, 0.48, share - 0.42, height - 1.15)
            axes = figure.add_axes(
                (place[0] / width, place[1] / height, place[2] / width, place[3] / height)
            )
            n, error = np.array(curve.unknowns), np.array(curve.errors)
            sides = np.array(curve.sides)
            guide = error[-1] * (sides[-1] / sides) ** curve.order
            axes.loglog(n, guide, color=theme.quiet, lw=0.9, ls=(0, (5, 3)),
                        label=f"order {curve.order}")  # fmt: skip
            axes.loglog(n, error, "o-", color=theme.second, ms=4.0, lw=1.3)
            title = look.broken(f"{curve.group}: {curve.title}", 8.0, share - 0.3)
            axes.set_title("\n".join(title), fontsize=8.0, loc="left")
            axes.set_xlabel("unknowns")
            axes.minorticks_off()
            ticks = 1000.0 * 4.0 ** np.arange(-2, 4)
            ticks = ticks[(ticks > 0.7 * n.min()) & (ticks < 1.4 * n.max())]
            axes.set_xticks(ticks, [f"{t:,g}" for t in ticks])
            axes.legend(fontsize=7.0, frameon=False)
            if k == 0:
                axes.set_ylabel("relative error")
        return look.save(figure, path, pixels)
