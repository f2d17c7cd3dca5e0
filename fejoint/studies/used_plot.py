"""A used joint on its curve: the pull that it has seen, let go, and what it still bears."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fejoint.analysis.result import Answer
from fejoint.errors import BadInput, Fault
from fejoint.inputs.units import both_units
from fejoint.output.pictures import theme as look

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fejoint.studies.used_result import UsedJoint


def draw(found: UsedJoint, *, title: str = "", theme: str = "print") -> Figure:
    """Draw a used joint's pull from new to what it has seen, the release, and the pull on.

    Parameters
    ----------
    found : UsedJoint
        With its answer.
    title : str
    theme : {"print", "screen", "dark"}

    Raises
    ------
    BadInput
        If its marks contradict one another: it is not known what the joint has seen.
    """
    answer = found.answer
    if answer is None or found.seen is None:
        allowed = "needs marks that one pull can have left"
        raise BadInput(Fault("picture", "marks that contradict", allowed, "measure them again"))
    colours = look.theme(theme)
    with look.styled(colours):
        figure = look.page_figure((look.PIXELS, 980))
        width, height = figure.get_size_inches()
        figure.text(0.74 / width, 1.0 - 0.2 / height, title, fontsize=9.5, va="center")
        axes = figure.add_axes(
            (0.74 / width, 0.48 / height, 1.0 - 1.48 / width, 1.0 - 0.88 / height)
        )
        load, extension = answer.trace.load, answer.trace.extension
        seen, rest = turns(answer)
        for begin, end, ink, dash, name in (
            (0, seen, colours.quiet, "-", "new, as it was pulled"),
            (seen, rest, colours.second, (0, (6, 1.6)), "let go"),
            (rest, len(load) - 1, colours.ink, "-", "used, pulled on"),
        ):
            piece = slice(begin, end + 1)
            # what is let go lies on what is pulled on: its dashes are drawn over the line
            axes.plot(extension[piece], load[piece], color=ink, ls=dash, lw=1.5, label=name,
                      zorder=3 if name == "let go" else 2)  # fmt: skip
        axes.plot([extension[seen]], [load[seen]], "s", ms=6.0, color=colours.second, zorder=5,
                  label=f"it has seen {both_units(found.seen)}")  # fmt: skip
        axes.plot([extension[rest]], [load[rest]], "D", ms=5.0, mfc=colours.paper, zorder=5,
                  mec=colours.second, label="the used joint as it lies there")  # fmt: skip
        if found.gives is not None:
            at = rest + int(np.argmax(load[rest:] >= found.gives.load))
            axes.plot([extension[at]], [found.gives.load], "o", ms=6.5, color=colours.mark,
                      zorder=6, label=f"gives next at {both_units(found.gives.load)}")  # fmt: skip
        axes.set(xlim=(0.0, None), ylim=(0.0, None))
        axes.set_xlabel("extension of the joint, mm")
        axes.set_ylabel("pull on the joint, N")
        look.loads_up(axes).set_ylabel("pull on the joint, kgf")
        axes.legend(frameon=False, fontsize=7.5, loc="lower right")
        return look.shown(figure)


def turns(answer: Answer) -> tuple[int, int]:
    """Return the places on a curve where the first pull ends and where it has been let go."""
    legs = answer.axial.path.legs if answer.axial is not None else ()
    if len(legs) > 1:
        return int(legs[0]), int(legs[1])
    load = answer.trace.load
    falls = np.flatnonzero(np.diff(load) < 0.0)
    seen = int(falls[0]) if len(falls) else len(load) - 1
    return seen, seen + int(np.argmin(load[seen:]))
