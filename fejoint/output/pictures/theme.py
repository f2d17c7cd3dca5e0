"""The look of every picture: themes, colour maps, type, and how a figure is saved."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, cast

from fejoint.errors import BadInput, Fault
from fejoint.files import write_atomically
from fejoint.inputs.units import KGF

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axes._secondary_axes import SecondaryAxis
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure

ThemeName = Literal["print", "screen", "dark"]

MM = 25.4
"""In an inch."""
WIDTH = 7.2
"""Width of a figure in inches where none is asked for: type has one size whatever the pixels."""
PIXELS = 1800
"""Across a picture where none are asked for."""
TITLE = 0.28
"""Height of a title above a picture that leaves it no room, inches."""
NARROWEST, WIDEST = 60.0, 400.0
"""Widths in print that a picture is laid out for, mm."""
DOTS = 300.0
"""Dots to the inch where a width in print is asked for."""

SUFFIXES = (".png", ".svg", ".pdf")


@dataclass(frozen=True)
class Theme:
    """Colours of a theme.

    Attributes
    ----------
    paper, ink : str
        Ground, and text and outlines.
    quiet, faint : str
        Second-rank lines and text; hair lines and fillings.
    metal, steel : str
        Filling of ears and shank; of the pin.
    mark, second : str
        What the reader should see first; a second curve.
    dark : bool
        Whether small values are dark and large ones light.
    """

    paper: str
    ink: str
    quiet: str
    faint: str
    metal: str
    steel: str
    mark: str
    second: str
    dark: bool = False


THEMES: dict[str, Theme] = {
    "print": Theme(
        "#ffffff", "#1b2a33", "#64737c", "#c9d1d5", "#e9edef", "#cfd6da", "#a8480f", "#1f6487"
    ),
    "screen": Theme(
        "#fbfaf7", "#22313a", "#68767e", "#cdd3d5", "#e8ebeb", "#cdd5d8", "#a8480f", "#1f6487"
    ),
    "dark": Theme(
        "#12181c", "#e4e9eb", "#93a1a9", "#3d4950", "#27323a", "#46535b", "#f0a36b", "#7fc1e3", True
    ),
}

MAPS = {"stress": "devon", "plastic": "lajolla", "pin": "devon"}
"""Maps of Fabio Crameri's collection: perceptually even, safe for colour-blind eyes."""


def theme(name: str) -> Theme:
    """Return a theme.

    Raises
    ------
    BadInput
        If there is none of that name.
    """
    if name not in THEMES:
        raise BadInput(Fault("theme", name, f"must be one of {', '.join(THEMES)}", "change it"))
    return THEMES[name]


def colours(what: str, look: Theme) -> Colormap:
    """Return the colour map of a field: the paper's end means little, the far end much."""
    import numpy as np
    from cmcrameri import cm
    from matplotlib.colors import LinearSegmentedColormap, to_rgb

    if what == "thickness":
        return cast("Colormap", cm.berlin if look.dark else cm.vik)
    steps = getattr(cm, MAPS[what])(np.linspace(0.0, 1.0, 256))
    rising = float(steps[-1, :3].sum()) > float(steps[0, :3].sum())
    if rising != look.dark:
        steps = steps[::-1]
    # the far end is left to ink; the near end runs out into the paper, so that little is little
    blend = np.linspace(0.0, 1.0, 20)[:, None]
    steps = steps[4:238, :3]
    # on dark paper it runs out into the metal's grey: black metal would be lost in the paper
    little = np.array(to_rgb(look.metal if look.dark else look.paper))
    if look.dark:
        bright = np.array([0.2126, 0.7152, 0.0722])
        steps = steps[int(np.argmax(steps @ bright > little @ bright + 0.02)) :]
    steps[:20] = little + blend * (steps[:20] - little)
    return LinearSegmentedColormap.from_list(what, steps)


@contextmanager
def styled(look: Theme) -> Iterator[None]:
    """Draw in a theme, whatever the reader's own matplotlib settings are."""
    import matplotlib as mpl

    settings: dict[str, Any] = {
        "font.family": "DejaVu Sans",
        "font.size": 8.0,
        "axes.labelsize": 8.0,
        "xtick.labelsize": 7.5,
        "ytick.labelsize": 7.5,
        "axes.linewidth": 0.7,
        "axes.edgecolor": look.quiet,
        "axes.labelcolor": look.ink,
        "axes.facecolor": look.paper,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "figure.facecolor": look.paper,
        "savefig.facecolor": look.paper,
        "text.color": look.ink,
        "xtick.color": look.quiet,
        "ytick.color": look.quiet,
        "xtick.labelcolor": look.ink,
        "ytick.labelcolor": look.ink,
        "lines.solid_capstyle": "round",
    }
    with mpl.rc_context(rc=mpl.rcParamsDefault):
        mpl.rcParams.update(cast(Any, settings))
        yield


def figure(inches: tuple[float, float]) -> Figure:
    """Return an empty figure of a size in inches."""
    from matplotlib.figure import Figure

    return Figure(figsize=inches)


def page_figure(pixels: tuple[int, int]) -> Figure:
    """Return an empty figure as wide as a page, for a picture of so many pixels."""
    return figure((WIDTH, WIDTH * pixels[1] / pixels[0]))


def titled_figure(high: int, title: str, left: float) -> tuple[Figure, float]:
    """Return a page's figure with its title, and the height that was added for it, inches.

    Parameters
    ----------
    high : int
        Pixels without a title.
    title : str
    left : float
        Where it begins, inches.
    """
    room = TITLE if title else 0.0
    drawn = page_figure((PIXELS, round(high + room * PIXELS / WIDTH)))
    height = drawn.get_size_inches()[1]
    drawn.text(left / WIDTH, 1.0 - 0.2 / height, title, fontsize=9.5, va="center")
    return drawn, room


def encoded(drawn: Figure, kind: str, pixels: int) -> bytes:
    """Return a figure as a file's bytes.

    Parameters
    ----------
    drawn : Figure
    kind : {"png", "svg", "pdf"}
    pixels : int
        Width of a PNG; fields inside SVG and PDF are as fine.
    """
    import matplotlib as mpl

    buffer = io.BytesIO()
    stamp = {"svg": {"Date": None}, "pdf": {"CreationDate": None}, "png": {"Software": None}}
    # the same picture is the same file, whenever it is drawn
    with mpl.rc_context({"svg.hashsalt": "fejoint", "pdf.fonttype": 42}):
        drawn.savefig(
            buffer, format=kind, dpi=pixels / drawn.get_size_inches()[0], metadata=stamp[kind]
        )
    return buffer.getvalue()


def check_suffix(path: Path, allowed: Sequence[str] = SUFFIXES) -> None:
    """Refuse a picture's file whose suffix names no kind of picture.

    Raises
    ------
    BadInput
        If the suffix is none of those allowed.
    """
    if path.suffix.lower() not in allowed:
        said = f"must end in {'one of ' if len(allowed) > 1 else ''}{', '.join(allowed)}"
        raise BadInput(Fault("picture", str(path), said, "change its suffix"))


def shown(drawn: Figure, pixels: int = PIXELS) -> Figure:
    """Return a figure that a notebook shows, whatever its plotting is set to."""
    vars(drawn)["_repr_png_"] = lambda: encoded(drawn, "png", pixels)
    return drawn


def save(drawn: Figure, path: Path, pixels: int = PIXELS) -> Path:
    """Write a figure whole or not at all, as its suffix says.

    Raises
    ------
    BadInput
        If the suffix is none of SUFFIXES, or the file cannot be written.
    """
    check_suffix(path)
    write_atomically(path, encoded(drawn, path.suffix.lower()[1:], pixels))
    return path


def loads_up(axes: Axes) -> SecondaryAxis:
    """Write loads in N up the left of axes and in kgf up the right, and return the right scale."""
    right = axes.secondary_yaxis("right", functions=(_to_kgf, _from_kgf))
    right.spines["right"].set_visible(True)
    for scale in (axes, right):
        scale.yaxis.set_major_formatter(thousands)
    return right


def thousands(value: float, _place: Any = None) -> str:
    """Write a number of a scale, with commas between thousands."""
    return f"{value:,.10g}"


def _to_kgf(load: Any) -> Any:
    return load / KGF


def _from_kgf(load: Any) -> Any:
    return load * KGF


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return the width of a line of text in the pictures' type, inches."""
    from matplotlib.font_manager import FontProperties, findfont, get_font

    weight = "bold" if bold else "normal"
    font = get_font(findfont(FontProperties(family="DejaVu Sans", weight=weight)))
    font.set_size(size, 72.0)
    font.set_text(text)
    return float(font.get_width_height()[0]) / 64.0 / 72.0


def broken(text: str, size: float, width: float, *, bold: bool = False) -> list[str]:
    """Return text broken between words into lines no wider than a width in inches, where it can.

    A number stays with its unit.
    """
    lines: list[str] = []
    for word in re.sub(r"(?<=\d) (?=%|N\b|mm\b|MPa\b)", "\u00a0", text).split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size, bold=bold) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def places(value: float) -> int:
    """Return the decimals that tell a length in mm to two figures, at least two of them."""
    from math import floor, log10

    return 2 if abs(value) >= 0.1 or value == 0.0 else min(1 - floor(log10(abs(value))), 5)


def rounded(value: float) -> float:
    """Return the largest of 1, 2 and 5 times a power of ten that is not above a value."""
    from math import floor, log10

    power = 10.0 ** floor(log10(value))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= value * (1.0 + 1e-9))
