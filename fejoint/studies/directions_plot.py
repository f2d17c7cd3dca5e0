"""A joint's loads over the direction of the pull, drawn round the hole."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fejoint.analysis import definitions
from fejoint.joint.parts import Ear
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.joint_drawing import profile
from fejoint.studies.directions import Direction, Directions

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.projections.polar import PolarAxes

SIZE = (1800, 1160)
"""Pixels of the picture."""


def draw(found: Directions, *, title: str = "", theme: str = "print") -> Figure:
    """Draw what a joint bears over the direction of the pull, as lobes about its ear.

    Parameters
    ----------
    found : Directions
        At least two.
    title : str
        The joint's own if left out.
    theme : {"print", "screen", "dark"}
    """
    shade = look.theme(theme)
    with look.styled(shade):
        return look.shown(_drawn(found, title or found.joint.title, shade))


def _drawn(found: Directions, title: str, shade: look.Theme) -> Figure:
    from typing import cast

    rows, ear = found.rows, found.joint.ears[0]

    figure = look.page_figure(SIZE)
    whole = min(row.angle for row in rows) < 0.0
    place = (0.2, 0.1, 0.6, 0.76) if whole else (0.03, -0.08, 0.94, 1.06)
    axes = cast("PolarAxes", figure.add_axes(place, projection="polar"))
    angles = np.radians([row.angle for row in rows])
    first = np.array([row.first_load for row in rows])
    axes.fill(np.append(angles, 0.0 if not whole else angles[0]),
              np.append(first, 0.0 if not whole else first[0]), color=shade.faint, alpha=0.45,
              lw=0.0)  # fmt: skip
    curves = (
        ("the first part gives", list(first), shade.ink, "-", 2.0),
        ("hole: offset load", [r.hole_load for r in rows], shade.second, (0, (6, 1.6)), 1.3),
        ("joint leaves its elastic line", [r.joint_load for r in rows], shade.second,
         (0, (1, 1.4)), 1.3),
        ("by hand, between 0 and 90", [r.interaction_load for r in rows], shade.quiet,
         (0, (4, 3)), 1.0),
    )  # fmt: skip
    for name, loads, colour, dash, width in curves:
        values = np.array([np.nan if x is None else x for x in loads])
        axes.plot(angles, values, color=colour, ls=dash, lw=width, label=name)
    if not whole:
        axes.set_thetamin(0.0)
        axes.set_thetamax(180.0)
    axes.set_xticks(np.radians(np.arange(-150.0 if whole else 0.0, 181.0, 30.0)))
    top = 1.08 * max(float(first.max()), axes.get_rmax() / 1.05)
    step = look.rounded(top / 3.0)
    rings = np.arange(step, top, step)
    named = [
        f"{look.thousands(x)} N" if k % 2 and x > 0.25 * top else "" for k, x in enumerate(rings)
    ]
    axes.set_rgrids(rings, named, fontsize=6.5)
    axes.grid(color=shade.faint, linewidth=0.6)
    axes.set_rlim(0.0, top)
    _modes(axes, found, shade)
    axes.legend(loc="lower center", bbox_to_anchor=(0.5, -0.12 if whole else 0.07), ncols=4,
                frameon=False, fontsize=7.0)  # fmt: skip
    _ear(figure, axes, ear, shade)
    figure.text(0.02, 0.965, title, fontsize=9.5, fontweight="bold", va="top")
    figure.text(0.02, 0.925, found.sentence, va="top", color=shade.mark)
    figure.text(
        0.02, 0.885, "pull on the joint over its angle to the ear: 0 straight, 90 sideways, 180 "
        "pushed back", color=shade.quiet, va="top",
    )  # fmt: skip
    return figure


def _modes(axes: PolarAxes, found: Directions, shade: look.Theme) -> None:
    """Mark the lowest, and name what gives first, once in each stretch of directions."""
    low, rows = found.lowest, found.rows
    if low is not None:
        at = [np.radians(low.angle)], [low.first_load]
        axes.plot(*at, "o", color=shade.mark, ms=7.0, zorder=6)
    stretch: list[Direction] = []
    for row in [*rows, None]:
        if row is not None and (not stretch or row.first_mode == stretch[-1].first_mode):
            stretch.append(row)
            continue
        middle = stretch[len(stretch) // 2]
        turn = np.radians(middle.angle)
        axes.annotate(
            definitions.named(middle.first_mode), (turn, middle.first_load),
            (9.0 * np.cos(turn), max(9.0 * abs(np.sin(turn)), 7.0) * (-1.0 if turn < 0.0 else 1.0)),
            textcoords="offset points", fontsize=7.5,
            ha="left" if np.cos(turn) > 0.25 else "right" if np.cos(turn) < -0.25 else "center",
            va="bottom" if np.sin(turn) >= 0.0 else "top", zorder=7,
            color=shade.mark if low in stretch else shade.ink,
            bbox={"facecolor": shade.paper, "edgecolor": "none", "alpha": 0.8, "pad": 1.0},
        )  # fmt: skip
        stretch = [] if row is None else [row]


def _ear(figure: Figure, axes: PolarAxes, ear: Ear, shade: look.Theme) -> None:
    """Draw the ear about the middle, its end towards 0 degrees."""
    from matplotlib.patches import Circle, Polygon

    middle = figure.transFigure.inverted().transform(axes.transData.transform((0.0, 0.0)))
    width, height = figure.get_size_inches()
    shape = profile(ear)
    shape = np.maximum(shape, [-0.9 * ear.width, -np.inf])
    size = 0.5
    reach = size * max(ear.width, 1.0)
    inset = figure.add_axes(
        (middle[0] - size / width, middle[1] - size / height, 2 * size / width, 2 * size / height)
    )
    inset.set_axis_off()
    inset.patch.set_alpha(0.0)
    inset.set(xlim=(-1.5 * reach, 1.5 * reach), ylim=(-1.5 * reach, 1.5 * reach), aspect="equal")
    inset.add_patch(Polygon(shape, facecolor=shade.metal, edgecolor=shade.ink, lw=0.7, alpha=0.9))
    inset.add_patch(Circle((0.0, 0.0), 0.5 * ear.hole, facecolor=shade.paper,
                           edgecolor=shade.ink, lw=0.7))  # fmt: skip
