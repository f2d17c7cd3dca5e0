"""Whether the labels of a figure have room: none touches another or leaves the paper."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure

TOUCH = 0.5
"""Overlap that is none yet: what stands below a line of type without a descender, points."""


def labels_keep_clear(figure: Figure) -> bool:
    """Return whether every text that stands on a figure and its axes keeps clear."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    renderer: Any = FigureCanvasAgg(figure).get_renderer()  # type: ignore[no-untyped-call]
    texts = itertools.chain(figure.texts, *(axes.texts for axes in figure.axes))
    point = figure.dpi / 72.0
    boxes = [t.get_window_extent(renderer) for t in texts if t.get_text().strip()]
    width, height = figure.dpi * figure.get_size_inches()
    if any(b.x0 < 0.0 or b.y0 < 0.0 or b.x1 > width or b.y1 > height for b in boxes):
        return False
    return not any(
        min(a.x1, b.x1) - max(a.x0, b.x0) > TOUCH * point
        and min(a.y1, b.y1) - max(a.y0, b.y0) > TOUCH * point
        for a, b in itertools.combinations(boxes, 2)
    )
