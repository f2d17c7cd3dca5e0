"""Drawing as on a workshop sketch: outlines, dimension lines, leaders, the pull."""

from __future__ import annotations

import string
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from fejoint.arrays import Floats
from fejoint.output.pictures import theme as look

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_ARROW = {"arrowstyle": "<|-|>,head_width=0.11,head_length=0.34", "lw": 0.6, "shrinkA": 0.0,
          "shrinkB": 0.0}  # fmt: skip


@dataclass
class Legend:
    """What the letters of a drawing stand for, and what it says without one."""

    rows: list[str] = field(default_factory=list)
    _next: Iterator[str] = field(default_factory=lambda: iter(string.ascii_uppercase))

    def letter(self, label: str) -> str:
        """Add a row; return its letter."""
        found = next(self._next)
        self.rows.append(f"{found} {label}")
        return found

    def say(self, label: str) -> None:
        """Add a row without a letter, once."""
        if label not in self.rows:
            self.rows.append(label)


@dataclass(frozen=True)
class Sketch:
    """Axes in mm with a theme and the height of a line of text.

    Attributes
    ----------
    axes : Axes
    theme : Theme
    text : float
        Height of a line of text, mm of the drawing.
    legend : Legend, optional
        Takes every label where the drawing has no room for them: dimensions have letters.
    """

    axes: Axes
    theme: look.Theme
    text: float
    legend: Legend | None = None

    def fill(
        self, shape: Floats, *, face: str, edge: str, hatch: bool = False, behind: bool = False
    ) -> None:
        """Draw a closed outline, filled; hatched where it is cut."""
        from matplotlib.patches import Polygon

        patch = Polygon(
            shape,
            closed=True,
            facecolor=face,
            edgecolor="none",
            lw=0.0,
            zorder=1.8 if behind else 2,
        )
        self.axes.add_patch(patch)
        if hatch:
            lines = Polygon(shape, closed=True, fill=False, edgecolor=self.theme.faint, lw=0.0)
            lines.set(hatch="////", zorder=2.1)
            self.axes.add_patch(lines)
        self.axes.plot(*np.asarray(shape).T, color=edge, lw=0.9, zorder=1.9 if behind else 3)

    def line(self, points: Floats, colour: str, *, dashed: bool = False) -> None:
        """Draw a thin line, dashed for hidden edges and axes."""
        style = (0, (5, 3)) if dashed else "solid"
        self.axes.plot(*np.asarray(points).T, color=colour, lw=0.6, ls=style, zorder=4)

    def circle(self, centre: tuple[float, ...], radius: float, *, face: str, edge: str) -> None:
        """Draw a filled circle."""
        from matplotlib.patches import Circle

        patch = Circle((centre[0], centre[1]), radius, facecolor=face, edgecolor=edge, lw=0.9)
        patch.set_zorder(5)
        self.axes.add_patch(patch)

    def centre(self, arm: float) -> None:
        """Draw the hole's centre lines."""
        style = (0, (7, 2, 1.5, 2))
        for x, y in (((-arm, arm), (0.0, 0.0)), ((0.0, 0.0), (-arm, arm))):
            self.axes.plot(x, y, color=self.theme.quiet, lw=0.5, ls=style, zorder=6)

    def across(
        self, span: tuple[float, float], at: float, label: str, feet: tuple[float, float]
    ) -> None:
        """Draw a horizontal dimension at a height, its feet from the given heights."""
        sign = np.sign(at)
        for x, foot in zip(span, feet, strict=True):
            self._foot((x, x), (foot + 0.4 * sign * self.text, at + 0.4 * sign * self.text))
        self._arrow((span[0], at), (span[1], at))
        self._label(span, at, label if self.legend is None or not label
                    else self.legend.letter(label))  # fmt: skip

    def upright(self, half: float, at: float, label: str, feet: float, middle: float = 0.0) -> None:
        """Draw a vertical dimension, half of it to either side of its middle, at a place."""
        sign = np.sign(at)
        for y in (middle - half, middle + half):
            self._foot((feet + 0.4 * sign * self.text, at + 0.4 * sign * self.text), (y, y))
        self._arrow((at, middle - half), (at, middle + half))
        said = label if self.legend is None else self.legend.letter(label)
        self.axes.text(
            at, middle, said, rotation=90 if len(said) > 1 else 0, ha="center", va="center",
            fontsize=8.0, zorder=8,
            bbox={"facecolor": self.theme.paper, "edgecolor": "none", "pad": 1.2},
        )  # fmt: skip

    def stack(
        self, at: float, low: float, high: float, label: str, feet: float, sign: float
    ) -> None:
        """Draw the thickness of a thin layer, named beside it."""
        if self.legend is not None:
            self.legend.say(f"{label} thick")
            return
        for y in (low, high):
            self._foot((feet + 0.4 * sign * self.text, at + 0.4 * sign * self.text), (y, y))
        if high - low > 2.2 * self.text:
            self._arrow((at, low), (at, high))
        else:
            for y, side in ((low, -1.0), (high, 1.0)):
                self.axes.annotate(
                    "", xy=(at, y), xytext=(at, y + side * 1.1 * self.text),
                    arrowprops={**_ARROW, "arrowstyle": "-|>,head_width=0.11,head_length=0.34",
                                "color": self.theme.quiet},
                )  # fmt: skip
        self.axes.text(
            at + 0.6 * sign * self.text, 0.5 * (low + high), label, fontsize=8.0, va="center",
            ha="left" if sign > 0.0 else "right",
        )  # fmt: skip

    def leader(self, at: ArrayLike, text: tuple[float, float], label: str) -> None:
        """Name a curve by a line from the text to it."""
        if self.legend is not None:
            self.legend.say(label)
            return
        x, y = np.asarray(at, float)
        self.axes.annotate(
            label, xy=(x, y), xytext=text, fontsize=8.0, ha="center", va="center", zorder=9,
            arrowprops={"arrowstyle": "-|>,head_width=0.11,head_length=0.34", "lw": 0.6,
                        "color": self.theme.quiet, "shrinkB": 0.0, "shrinkA": 2.0},
        )  # fmt: skip

    def note(self, at: tuple[float, float], label: str, side: str) -> None:
        """Write a quiet note."""
        if self.legend is not None:
            self.legend.say(label)
            return
        self.axes.text(*at, label, fontsize=7.5, color=self.theme.quiet, ha=side, va="center",
                       zorder=9)  # fmt: skip

    def held(self, x: float, half: float, middle: float = 0.0) -> None:
        """Draw the grip: short strokes along an edge that is held."""
        step = 0.7 * self.text
        for y in np.arange(middle - half, middle + half - 0.2 * step, step):
            self.axes.plot([x - 0.5 * step, x], [y, y + 0.5 * step], color=self.theme.quiet,
                           lw=0.6, zorder=2)  # fmt: skip

    def pull(
        self, start: tuple[float, float], direction: tuple[float, float], angle: float
    ) -> None:
        """Draw the pull as an arrow from the shank outward."""
        from matplotlib.patheffects import Normal, Stroke

        d = np.array(direction)
        a = np.array(start)
        b = a + 4.0 * self.text * d
        self.axes.annotate(
            "", xy=tuple(b), xytext=tuple(a), zorder=9,
            arrowprops={"arrowstyle": "-|>,head_width=0.22,head_length=0.5", "lw": 1.4,
                        "color": self.theme.mark, "shrinkA": 0.0, "shrinkB": 0.0},
        )  # fmt: skip
        label = "pull" if angle == 0.0 else f"pull, {angle:.3g}°"
        if self.legend is not None:
            self.legend.say(f"arrow: {label}")
            return
        if angle == 0.0:
            # above the arrow: what is dimensioned at the shank's end stands in its way
            x, y = 0.5 * (a + b) + 0.7 * self.text * np.array([0.0, 1.0])
            side = "center"
        else:
            x, y = b + 0.5 * self.text * d
            side = "left" if d[0] > 0.1 else "right" if d[0] < -0.1 else "center"
        said = self.axes.text(x, y, label, fontsize=8.0, color=self.theme.mark, va="center",
                              ha=side, zorder=9)  # fmt: skip
        # it may lie across an ear's edge
        said.set_path_effects([Stroke(linewidth=1.6, foreground=self.theme.paper), Normal()])

    def _arrow(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        self.axes.annotate("", xy=end, xytext=start, zorder=7,
                           arrowprops={**_ARROW, "color": self.theme.quiet})  # fmt: skip

    def _foot(self, x: tuple[float, float], y: tuple[float, float]) -> None:
        self.axes.plot(x, y, color=self.theme.quiet, lw=0.5, zorder=6)

    def _label(self, span: tuple[float, float], y: float, label: str) -> None:
        box = {"facecolor": self.theme.paper, "edgecolor": "none", "pad": 1.2}
        room, middle = span[1] - span[0], 0.5 * sum(span)
        if room > 0.55 * self.text * (len(label) + 2):
            self.axes.text(middle, y, label, ha="center", va="center", fontsize=8.0, zorder=8,
                           bbox=box)  # fmt: skip
            return
        # beside it, away from the hole: the dimension on its other side has its own
        side = -1.0 if middle < 0.0 else 1.0
        beside = middle + side * (0.5 * room + 0.4 * self.text)
        self.axes.text(beside, y, label, ha="left" if side > 0.0 else "right", va="center",
                       fontsize=8.0, zorder=8)  # fmt: skip
