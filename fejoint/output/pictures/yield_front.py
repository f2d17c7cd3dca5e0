"""Where metal has yielded: the line round it, smooth and without islands, and its name inside."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.arrays import Floats
from fejoint.output.pictures import theme as look

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.tri import Triangulation

YIELDED = 0.002
"""Plastic strain on the line."""
ISLAND, NOTCH = 0.5, 0.15
"""Lines shorter than this share of the longest shown are left out, as elements that yield by
themselves: rings, and lines that end on the part's edge, which go round a piece of it."""
SMOOTH = 0.07
"""Deviation of the bell by which a line is smoothed, over the size of what is shown."""
SAID = f"line: metal yielded inside (plastic strain over {100.0 * YIELDED:g} %)"


def draw(
    axes: Axes, mesh: Triangulation, strain: Floats, theme: look.Theme, size: float, *,
    zorder: float = 3.0, edges: Floats | None = None,
) -> None:  # fmt: skip
    """Draw the front and, where there is room, "yielded" inside it.

    Parameters
    ----------
    axes : Axes
        With its limits set.
    mesh : Triangulation
    strain : (n,) array
        Plastic strain at the mesh's points.
    theme : Theme
    size : float
        Of what is shown, such as the hole's or the pin's diameter, mm.
    zorder : float
    edges : (k, 2) array, optional
        Outlines that the word keeps clear of.
    """
    found = lines(axes, mesh, strain, size)
    for line in found:
        axes.plot(*line.T, color=theme.paper, lw=2.0, zorder=zorder, solid_capstyle="butt")
        axes.plot(*line.T, color=theme.mark, lw=0.9, zorder=zorder)
    if found:
        others = [*found] if edges is None else [*found, edges]
        _name(axes, mesh, strain, np.vstack(others), theme, zorder)


def lines(axes: Axes, mesh: Triangulation, strain: Floats, size: float) -> list[Floats]:
    """Return the front's lines, (k, 2) each, mm."""
    drawn = axes.tricontour(mesh, strain, levels=[YIELDED], linewidths=0.0)
    pieces = [np.asarray(p) for p in drawn.allsegs[0] if len(p) > 4]
    drawn.remove()
    if not pieces:
        return []
    longest = max(_length(p, axes) for p in pieces)
    return [
        _smooth(p, _length(p), SMOOTH * size)
        for p in pieces
        if _length(p, axes) >= (ISLAND if _is_ring(p) else NOTCH) * longest > 0.0
    ]


def _is_ring(piece: Floats) -> bool:
    return bool(np.allclose(piece[0], piece[-1]))


def _length(piece: Floats, within: Axes | None = None) -> float:
    """Return a line's length, or that of what of it lies within axes."""
    steps = np.hypot(*np.diff(piece, axis=0).T)
    if within is not None:
        low, high = np.sort(np.array([within.get_xlim(), within.get_ylim()]), axis=1).T
        middles = 0.5 * (piece[1:] + piece[:-1])
        steps = steps[np.all((middles > low) & (middles < high), axis=1)]
    return float(steps.sum())


def _smooth(piece: Floats, length: float, by: float) -> Floats:
    """Round a line's corners by a bell along it; its ends stay."""
    from scipy.ndimage import gaussian_filter1d

    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(piece, axis=0).T))])
    count = max(int(8.0 * length / by), 8)
    even = np.linspace(0.0, length, min(count, 4000))
    line = np.column_stack([np.interp(even, along, piece[:, k]) for k in (0, 1)])
    sigma = by / max(length / (len(even) - 1), 1e-300)
    if _is_ring(piece):
        ring = gaussian_filter1d(line[:-1], sigma, axis=0, mode="wrap")
        return np.vstack([ring, ring[:1]])
    # turned about its ends, so that the bell leaves them in place
    first, last = 2.0 * line[0] - line[:0:-1], 2.0 * line[-1] - line[-2::-1]
    whole = gaussian_filter1d(np.vstack([first, line, last]), sigma, axis=0, mode="nearest")
    return np.asarray(whole[len(first) : len(first) + len(line)])


def _name(
    axes: Axes, mesh: Triangulation, strain: Floats, edges: Floats, theme: look.Theme,
    zorder: float,
) -> None:  # fmt: skip
    """Write the word where the yielded metal leaves it room."""
    from matplotlib.patheffects import Normal, Stroke

    to_pixels = axes.transData.transform
    points = to_pixels(np.column_stack([mesh.x, mesh.y]))
    point = axes.figure.dpi / 72.0
    half: Any = np.array([15.0, 4.5]) * point
    # the whole word within the picture
    low, high = axes.bbox.get_points() + np.array([[1.0], [-1.0]]) * half
    seen = np.all((points > low) & (points < high), axis=1)
    inside = points[(strain > 1.5 * YIELDED) & seen]
    if not len(inside):
        return
    away = to_pixels(edges)
    inside = inside[:: max(len(inside) // 400, 1)]
    # room: how many times its own half size a word in the middle could grow
    apart = np.abs(inside[:, None, :] - away[None, :, :]) / half
    room = apart.max(axis=2).min(axis=1)
    best = int(np.argmax(room))
    if room[best] > 1.15:
        x, y = axes.transData.inverted().transform(inside[best])
        said = axes.text(x, y, "yielded", fontsize=6.5, color=theme.mark, ha="center",
                         va="center", zorder=zorder + 0.1)  # fmt: skip
        said.set_path_effects([Stroke(linewidth=1.6, foreground=theme.paper), Normal()])
