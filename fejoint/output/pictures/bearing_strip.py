"""How the bearing spreads along the pin, drawn beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.continuation import EquilibriumPoint
from fejoint.output.pictures import theme as look
from fejoint.sections.axial.pull import AxialHistory

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def bearing(history: AxialHistory, point: EquilibriumPoint) -> list[tuple[Floats, Floats]]:
    """Return grid lines along each plate (mm) and the force per length on it (N/mm)."""
    problem = history.problem
    found = []
    for k, columns in enumerate(problem.columns):
        sense = 1.0 if k != problem.case.shank else -1.0
        force = sense * problem.slice_forces(point, k) / np.diff(problem.cuts)[columns]
        found.append((problem.cuts[np.append(columns, columns[-1] + 1)], np.asarray(force)))
    return found


def _at_faces(cuts: Floats, line: Floats) -> Floats:
    """Carry the bearing of slices on to a plate's two faces, never beyond nothing."""
    if len(line) == 1:
        return np.repeat(line, 2)
    middles = 0.5 * (cuts[1:] + cuts[:-1])
    slopes = (
        (line[1] - line[0]) / (middles[1] - middles[0]),
        (line[-1] - line[-2]) / (middles[-1] - middles[-2]),
    )
    ends = np.array(
        [
            line[0] + slopes[0] * (cuts[0] - middles[0]),
            line[-1] + slopes[1] * (cuts[-1] - middles[-1]),
        ]
    )
    sides = np.sign(line[[0, -1]])
    return np.where(ends * sides < 0.0, 0.0, np.where(sides == 0.0, 0.0, ends))


def draw(
    axes: Axes, lines: list[tuple[Floats, Floats]], theme: look.Theme, heaviest: float
) -> None:
    """Draw the force per length of pin beside it, to the side that it pushes the plate to."""
    for cuts, line in lines:
        axes.stairs(line, -cuts, orientation="horizontal", fill=True, color=theme.second,
                    alpha=0.35, lw=0.0)  # fmt: skip
        middles = 0.5 * (cuts[1:] + cuts[:-1])
        through = np.concatenate([cuts[:1], middles, cuts[-1:]])
        ends = _at_faces(cuts, line)
        axes.plot(np.concatenate([ends[:1], line, ends[1:]]), -through, color=theme.second, lw=0.9)
    axes.axvline(0.0, color=theme.ink, lw=0.7)
    axes.set(xlim=(-1.12 * heaviest, 1.12 * heaviest))
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    step = look.rounded(0.5 * heaviest)
    step *= float(np.floor(heaviest / step))
    axes.set_xticks([-step, 0.0, step], labels=[f"{step:,.0f}", "", f"{step:,.0f}"])
    axes.tick_params(length=2.5, width=0.6, labelsize=7.0, pad=1.5)
    axes.set_title("bearing, N/mm", fontsize=7.5, pad=3.0)
    axes.annotate("← on plates →", (0.5, 0.0), xytext=(0.0, 2.0), xycoords="axes fraction",
                  textcoords="offset points", fontsize=7.0, ha="center", va="bottom",
                  bbox={"facecolor": theme.paper, "edgecolor": "none", "pad": 0.5})  # fmt: skip
