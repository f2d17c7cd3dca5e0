"""Texts of a figure as they are drawn, and what is wrong with where they stand."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

TOUCH = 0.5
"""Overlap that is none yet: what stands below a line of type without a descender, points."""
LEAST = 6.0
"""Smallest type, points."""


def texts(figure: Figure) -> list[tuple[str, Bbox, float]]:
    """Return every text that is drawn, with its box and its type, all in points."""
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    scale = 72.0 / figure.dpi
    found = []
    for text in itertools.chain(figure.texts, *map(_of_axes, figure.axes)):
        if text.get_visible() and text.get_text().strip():
            box = text.get_window_extent(canvas.get_renderer())
            size = float(text.get_fontsize())
            found.append((text.get_text(), Bbox(box.get_points() * scale), size))
    return found


def _of_axes(axes: Any) -> Iterator[Text]:
    """Give the texts of axes and of the scales at their sides, those of ticks in view alone."""
    yield from axes.texts
    yield from (axes.title, axes._left_title, axes._right_title)
    for axis in (axes.xaxis, axes.yaxis) if axes.axison else ():
        if axis.get_visible():
            yield axis.label
            for tick in axis._update_ticks():
                yield from (tick.label1, tick.label2)
    for child in axes.child_axes:
        yield from _of_axes(child)


def faults(figure: Figure) -> list[str]:
    """Return what is wrong with a figure's labels."""
    shown = texts(figure)
    width, height = 72.0 * figure.get_size_inches()
    said = []
    for text, box, size in shown:
        if size < LEAST:
            said.append(f"{text!r} is set in {size:g} points")
        if box.x0 < 0.0 or box.y0 < 0.0 or box.x1 > width or box.y1 > height:
            said.append(f"{text!r} leaves the paper: {box.extents.round(1)} of {width, height}")
    for (one, a, _), (other, b, _) in itertools.combinations(shown, 2):
        across = min(a.x1, b.x1) - max(a.x0, b.x0)
        up = min(a.y1, b.y1) - max(a.y0, b.y0)
        if across > TOUCH and up > TOUCH:
            said.append(f"{one!r} touches {other!r} by {across:.1f} x {up:.1f} points")
    return said
