"""Two or more joints in one picture: their curves, their limits, their pins."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis import definitions
from fejoint.analysis.result import Answer
from fejoint.output.pictures import bent_pin, limit_axis, load_curve
from fejoint.output.pictures import theme as look

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PIXELS = 1800


def limits_of(
    answers: Sequence[Mapping[str, Any]], names: Sequence[str], theme: str = "print"
) -> tuple[Figure, int]:
    """Return the first limit of every part of every joint, on one scale, a line a joint."""
    colours = look.theme(theme)
    rows = limit_axis.rows_of_all(answers, names)
    with look.styled(colours):
        figure = look.figure((look.WIDTH, limit_axis.tall_rows(rows, look.WIDTH)))
        limit_axis.draw_rows(figure, rows, colours)
    return figure, PIXELS


def curves_of(
    answers: Sequence[Mapping[str, Any]], names: Sequence[str], theme: str = "print"
) -> tuple[Figure, int]:
    """Return all curves in one frame, each named at its end."""
    colours = look.theme(theme)
    with look.styled(colours):
        figure = look.page_figure((PIXELS, 900))
        width, height = figure.get_size_inches()
        axes = figure.add_axes((0.74 / width, 0.48 / height, 1.0 - 1.5 / width, 1.0 - 0.6 / height))
        strokes = ["solid", (0, (6, 2)), (0, (2, 1.5)), (0, (6, 2, 1.5, 2))]
        inks = [colours.mark, colours.second, colours.ink, colours.quiet]
        most = 0.0
        for k, answer in enumerate(answers):
            load = np.array(answer["curve"]["load_N"], float)
            grown = np.array(answer["curve"]["hole_elongation_mm"], float)
            most = max(most, float(grown.max()))
            ink = inks[k % len(inks)]
            axes.plot(*load_curve.smooth(grown, load), color=ink, lw=1.5, ls=strokes[k % 4])
            first = answer["verdict"]["load_N"]
            reached = np.flatnonzero(load >= first)
            if len(reached):
                x = float(np.interp(first, load[: reached[0] + 1], grown[: reached[0] + 1]))
                axes.plot([x], [first], "o", ms=5.0, color=ink, zorder=5)
            axes.plot([0.38, 0.44], [0.3 - 0.08 * k] * 2, color=ink, lw=1.5, ls=strokes[k % 4],
                      transform=axes.transAxes)  # fmt: skip
            mode = answer["verdict"]["first_to_give"]
            said = f"{names[k]}: {definitions.named(mode, answer['verdict']['member'])}"
            said += "" if mode == definitions.NOTHING else " first"
            axes.text(
                0.46, 0.3 - 0.08 * k, said, va="center", color=ink, transform=axes.transAxes,
                bbox={"facecolor": colours.paper, "edgecolor": "none", "pad": 1.0},
            )  # fmt: skip
        axes.set(xlim=(0.0, 1.03 * most), ylim=(0.0, None))
        axes.set_xlabel("hole longer, mm; dot: the first part gives")
        load_curve.scales(axes, colours, left=True, right=True)
    return figure, PIXELS


def pins_of(answers: Sequence[Answer], theme: str = "print") -> tuple[Figure, int]:
    """Return the pins of two joints side by side at the same pull, to one scale."""
    colours = look.theme(theme)
    with look.styled(colours):
        figure = look.figure((look.WIDTH, bent_pin.tall_pair(answers, look.WIDTH)))
        bent_pin.draw_pair(figure, answers, colours)
    return figure, PIXELS
