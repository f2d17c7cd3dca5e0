"""Where a map's contours are labelled: whole, clear of each other and of the map's words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from fejoint.arrays import Floats
from fejoint.output.pictures import theme

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.contour import QuadContourSet
    from matplotlib.text import Text
    from matplotlib.tri import TriContourSet

SIZE = 6.5
"""Of a label's type, points."""
CLEAR = 2.6 * SIZE
"""From the middle of a label to whatever else is drawn, points: a little over half its length."""


def label(
    axes: Axes,
    lines: QuadContourSet | TriContourSet,
    filled: QuadContourSet | TriContourSet,
    others: Sequence[Artist],
    style: theme.Theme,
) -> None:
    """Write each contour's value on it once, where there is room for all of it.

    Parameters
    ----------
    axes : Axes
        With its limits set.
    lines, filled : contour sets
        Of the same levels.
    others : sequence of Artist
        What labels keep clear of: words and borders.
    style : Theme
        A label is of its ink or paper, whichever stands out from the filling.
    """
    clear = CLEAR * axes.figure.dpi / 72.0
    taken = [other.get_window_extent().get_points() for other in others]
    places: list[Floats] = []
    for path in lines.get_paths():
        for piece in path.to_polygons(closed_only=False):
            places_on = _along(axes.transData.transform(piece), 0.25 * clear)
            room = np.min([_inside(axes, places_on), *(_away(places_on, x) for x in taken)], axis=0)
            best = int(np.argmax(room))
            if room[best] >= clear:
                places.append(places_on[best])
                taken.append(np.stack([places_on[best]] * 2))
    if not places:
        return
    found = axes.clabel(
        lines, fmt=theme.thousands, fontsize=SIZE,
        manual=[tuple(x) for x in axes.transData.inverted().transform(places)],
    )  # fmt: skip
    for text in found:
        value = float(str(text.get_text()).replace(",", ""))
        text.set_color(_standing_out(filled.to_rgba(np.array([value]))[0], style))


def keep_inside(axes: Axes, text: Text) -> None:
    """Move a text sideways until the axes hold it whole."""
    (left, _), (right, _) = text.get_window_extent().get_points()
    (first, _), (last, _) = axes.get_window_extent().get_points()
    margin = 0.4 * SIZE * axes.figure.dpi / 72.0
    by = max(first + margin - left, 0.0) + min(last - margin - right, 0.0)
    x, y = axes.transData.transform(text.get_position())
    text.set_position(tuple(axes.transData.inverted().transform((x + by, y))))


def _along(piece: Floats, step: float) -> Floats:
    """Return points along a line, about evenly spaced, (n, 2), pixels."""
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(piece, axis=0).T))])
    even = np.linspace(0.0, way[-1], 2 + int(way[-1] / step))
    return np.stack([np.interp(even, way, piece[:, k]) for k in (0, 1)], axis=1)


def _inside(axes: Axes, points: Floats) -> Floats:
    """Return how far points lie inside the axes, (n,), pixels."""
    low, high = axes.get_window_extent().get_points()
    return np.asarray(np.minimum(points - low, high - points).min(axis=1))


def _away(points: Floats, box: Floats) -> Floats:
    """Return how far points lie from a box given by two corners, (n,), pixels."""
    outside = np.maximum(np.maximum(box[0] - points, points - box[1]), 0.0)
    return np.asarray(np.hypot(*outside.T))


def _standing_out(ground: Floats, style: theme.Theme) -> str:
    from matplotlib.colors import to_rgb

    def contrast(colour: str) -> float:
        return float(abs(np.dot((0.3, 0.6, 0.1), np.subtract(to_rgb(colour), ground[:3]))))

    return max(style.ink, style.paper, key=contrast)
