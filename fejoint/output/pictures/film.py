"""The pull as a short film: the ear about its hole from first touch to the end."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from fejoint.analysis.result import Answer
from fejoint.errors import BadInput, Fault
from fejoint.files import write_atomically
from fejoint.inputs.units import both_units
from fejoint.kernel import load_curve
from fejoint.output.field_snapshot import at, last_index
from fejoint.output.pictures import stress_fields
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.picture import weakest_ear

if TYPE_CHECKING:
    from PIL import Image

FRAMES = 36
REST = 1500
"""Time that the last picture stands, milliseconds."""


def film(
    answer: Answer,
    path: Path,
    *,
    what: str = "plastic",
    size: tuple[int, int] = (900, 760),
    theme: str = "print",
    seconds: float = 4.0,
) -> Path:
    """Write the pull as an animated GIF, to one scale of colours throughout.

    Parameters
    ----------
    answer : Answer
        With its solved sections.
    path : Path
        Ending in .gif.
    what : {"stress", "plastic", "thickness"}
    size : (int, int)
        Pixels.
    theme : {"print", "screen", "dark"}
    seconds : float
        From first touch to the end.

    Raises
    ------
    BadInput
        If the suffix is another, there is no such field or theme, or the file cannot be written.
    """
    from PIL import Image

    look.check_suffix(path, (".gif",))
    if what not in stress_fields.QUANTITIES:
        allowed = f"must be one of {', '.join(stress_fields.QUANTITIES)}"
        raise BadInput(Fault("what", what, allowed, "change it"))
    name = weakest_ear(answer)
    history, colours = answer.faces[name], look.theme(theme)
    last = last_index(answer, name)
    # even in the square root of the hole's growth: the beginning is slow, as it deserves
    reach = load_curve.at_index(history.elongation, last)
    rising = np.maximum.accumulate(history.elongation)
    grown = reach * np.linspace(0.0, 1.0, FRAMES) ** 2
    places = np.interp(grown, rising, np.arange(len(rising)))
    shots = [at(history, float(k), "") for k in places]
    box = stress_fields.window(history, shots)
    quantity = stress_fields.QUANTITIES[what]
    norm = stress_fields.scale(what, [stress_fields.shown(s, quantity, box) for s in (shots[-1],)])
    frames = []
    for shot in shots:
        said = f"{both_units(shot.load)} on the {name}, hole {shot.elongation:.2f} mm longer"
        with look.styled(colours):
            figure = look.figure(size, width=4.2)
            stress_fields.side_by_side(figure, history, [shot], [said], what, norm, box, colours)
            pixels = look.encoded(figure, "png", size[0])
        frames.append(Image.open(io.BytesIO(pixels)).convert("RGB"))
    palette = _palette(what, colours)
    drawn = [f.quantize(palette=palette, dither=Image.Dither.NONE) for f in frames]
    pause = round(1000.0 * seconds / FRAMES)
    buffer = io.BytesIO()
    drawn[0].save(
        buffer, "GIF", save_all=True, append_images=drawn[1:], loop=0, optimize=True,
        duration=[pause] * (FRAMES - 1) + [REST],
    )  # fmt: skip
    write_atomically(path, buffer.getvalue())
    return path


def _palette(what: str, theme: look.Theme) -> Image.Image:
    """Return one palette for all pictures: the field's colours, and the lines' softened edges."""
    from matplotlib.colors import to_rgb
    from PIL import Image

    field = look.colours(what, theme)(np.linspace(0.0, 1.0, 196))[:, :3]
    steps = [field]
    for line, count in ((theme.ink, 36), (theme.quiet, 8), (theme.steel, 8), (theme.mark, 8)):
        ends = (theme.ink, theme.steel) if line == theme.steel else (line, theme.paper)
        one, other = (np.array(to_rgb(c)) for c in ends)
        share = np.linspace(0.0, 1.0, count)[:, None]
        steps.append(one + share * (other - one))
    palette = Image.new("P", (1, 1))
    palette.putpalette(np.round(255.0 * np.vstack(steps)).astype(np.uint8).tobytes())
    return palette
