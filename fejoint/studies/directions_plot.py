"""A joint's loads over the direction of the pull, drawn round the hole."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from fejoint.inputs.units import KGF
from fejoint.output.pictures import theme as look
from fejoint.studies.directions import Direction

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.projections.polar import PolarAxes

SIZE = (1800, 1160)
"""Pixels of the picture."""


def polar(rows: Sequence[Direction], path: Path, *, title: str = "", theme: str = "print") -> Path:
    """Draw what a joint bears over the direction of the pull.

    Parameters
    ----------
    rows : sequence of Direction
        At least two.
    path : Path
        Its suffix says PNG, SVG or PDF.
    title : str
    theme : {"print", "screen", "dark"}

    Returns
    -------
    Path
    """
    shade = look.theme(theme)
    with look.styled(shade):
        return look.save(_drawn(rows, title, shade), path, SIZE[0])


def _drawn(rows: Sequence[Direction], title: str, shade: look.Theme) -> Figure:
    from typing import cast

    drawn = look.page_figure(SIZE)
    axes = cast("PolarAxes", drawn.add_axes((0.03, -0.08, 0.94, 1.06), projection="polar"))
    angles = np.array([row.angle for row in rows])
    curves = (
        ("hole offset load", [r.hole_load for r in rows], shade.mark, "-", 2.0),
        (
            "joint leaves its elastic line",
            [r.joint_load for r in rows],
            shade.second,
            (0, (6, 1.6)),
            1.4,
        ),
        ("handbook interaction", [r.interaction_load for r in rows], shade.quiet, (0, (4, 3)), 1.0),
    )
    for name, loads, colour, dash, width in curves:
        values = np.array([np.nan if x is None else x for x in loads])
        axes.plot(
            np.radians(angles), values, color=colour, linestyle=dash, linewidth=width, label=name,
            marker="o", markersize=2.6,
        )  # fmt: skip
    if angles.min() >= 0.0:
        axes.set_thetamin(0.0)
        axes.set_thetamax(180.0)
    axes.set_xticks(np.radians(np.arange(min(0.0, angles.min() // 30 * 30), 181.0, 30.0)))
    top = axes.get_rmax()
    step = look.rounded(top / 3.0)
    rings = np.arange(step, top, step)
    axes.set_rgrids(rings, [f"{x:,.0f} N\n{x / KGF:,.0f} kgf" for x in rings], fontsize=6.5)
    axes.grid(color=shade.faint, linewidth=0.6)
    axes.set_rmin(0.0)
    axes.legend(loc="lower center", bbox_to_anchor=(0.5, 0.07), ncols=3, frameon=False)
    drawn.text(0.02, 0.965, title, fontsize=9.5, fontweight="bold", va="top")
    drawn.text(
        0.02, 0.925, "pull on the joint over its angle to the ear: 0 straight, 90 sideways, "
        "180 pushed back", color=shade.quiet, va="top",
    )  # fmt: skip
    return drawn
