"""The look of every picture: themes, colour maps, type, and how a figure is saved."""

from __future__ import annotations

import io
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

WIDTH = 7.2
"""Width of every figure in inches, so that type has one size in print whatever the pixels."""

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
    paper = np.array(to_rgb(look.paper))
    steps[:20] = paper + blend * (steps[:20] - paper)
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


def figure(size: tuple[int, int], width: float = WIDTH) -> Figure:
    """Return an empty figure for a picture of so many pixels and inches of width."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width, width * size[1] / size[0]))


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


def save(drawn: Figure, path: Path, pixels: int) -> Path:
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
    """Write a number of a scale, whole and with commas between thousands."""
    return f"{value:,.0f}"


def _to_kgf(load: Any) -> Any:
    return load / KGF


def _from_kgf(load: Any) -> Any:
    return load * KGF


def wrapped(*paragraphs: str, characters: int = 54) -> str:
    """Return a caption for half a picture's width, each paragraph on lines of its own."""
    import textwrap

    return "\n".join(line for p in paragraphs for line in textwrap.wrap(p, characters))


def foot(captions: Sequence[str]) -> float:
    """Return the room that captions and a colour bar take below the panels, inches."""
    return 0.68 + 0.175 * max(1 + caption.count("\n") for caption in captions)


def rounded(value: float) -> float:
    """Return the largest of 1, 2 and 5 times a power of ten that is not above a value."""
    from math import floor, log10

    power = 10.0 ** floor(log10(value))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= value * (1.0 + 1e-9))
