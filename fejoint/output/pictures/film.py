"""The pull as a short film: the ear about its hole from first touch to the end."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis import definitions
from fejoint.analysis.odds import both_as_sure
from fejoint.analysis.result import Answer
from fejoint.errors import BadInput, Fault
from fejoint.files import write_atomically
from fejoint.output.field_snapshot import Snapshot, at, in_joint
from fejoint.output.pictures import load_curve, stress_fields
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.picture import member_of, weakest_ear

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from PIL import Image

FRAMES = 36
REST = 1500
"""Time that the last picture stands, milliseconds."""
CURVE = 1.05
"""Room of the small curve above the part, inches."""
KINDS = (".gif", ".webp")


def film(
    answer: Answer,
    path: Path,
    *,
    what: str = "plastic",
    size: tuple[int, int] = (900, 880),
    theme: str = "print",
    seconds: float = 4.0,
) -> Path:
    """Write the pull as an animated GIF or WebP, to one scale of colours throughout.

    Parameters
    ----------
    answer : Answer
        With its solved sections.
    path : Path
        Ending in .gif or .webp; a WebP is smaller and has all colours.
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

    look.check_suffix(path, KINDS)
    if what not in stress_fields.QUANTITIES:
        allowed = f"must be one of {', '.join(stress_fields.QUANTITIES)}"
        raise BadInput(Fault("what", what, allowed, "change it"))
    name, colours = weakest_ear(answer), look.theme(theme)
    shots = [_shot(answer, name, k) for k in places(answer, name)]
    box = stress_fields.window(answer.faces[name], shots)
    quantity = stress_fields.QUANTITIES[what]
    norm = stress_fields.scale(what, [stress_fields.shown(shots[-1], quantity, box)])
    frames = []
    for shot in shots:
        with look.styled(colours):
            figure = look.figure((4.2, 4.2 * size[1] / size[0]))
            said = [said_of(answer, name, shot)]
            stress_fields.draw_shots(
                figure, answer, name, [shot], said, what, norm, box, colours, top=CURVE,
            )  # fmt: skip
            _small_curve(figure, answer, shot, colours)
            pixels = look.encoded(figure, "png", size[0])
        frames.append(Image.open(io.BytesIO(pixels)).convert("RGB"))
    pause = round(1000.0 * seconds / FRAMES)
    buffer = io.BytesIO()
    more: dict[str, Any] = {"optimize": True}
    if path.suffix.lower() == ".webp":
        more = {"quality": 80, "method": 4}
    else:
        palette = _palette(what, colours)
        frames = [f.quantize(palette=palette, dither=Image.Dither.NONE) for f in frames]
    frames[0].save(
        buffer, path.suffix[1:].upper(), save_all=True, append_images=frames[1:], loop=0,
        duration=[pause] * (FRAMES - 1) + [REST], **more,
    )  # fmt: skip
    write_atomically(path, buffer.getvalue())
    return path


def places(answer: Answer, name: str) -> list[float]:
    """Return fractional indices of the joint's path, even in the root of the hole's growth.

    The beginning is slow, as it deserves.
    """
    grown = answer.faces[name].elongation
    if name in answer.plates:
        grown = answer.plates[name].hole_elongation
    rising = np.maximum.accumulate(grown)
    shares = np.linspace(0.0, 1.0, FRAMES) ** 2
    return [float(k) for k in np.interp(shares * rising[-1], rising, np.arange(len(rising)))]


def said_of(answer: Answer, name: str, shot: Snapshot) -> str:
    """Say the pull, and the last event that it has passed."""
    pull = shot.load if shot.pull is None else shot.pull
    growth = f"{stress_fields.hole_in(member_of(answer, name))} {shot.elongation:.2f} mm longer"
    passed = [
        e for e in answer.events if e.load is not None and e.hole_elongation is not None
        and e.hole_elongation <= shot.elongation + 1e-9
    ]  # fmt: skip
    last = max(passed, key=lambda e: e.hole_elongation or 0.0, default=None)
    event = "first touch"
    if last is not None:
        title = definitions.EVENT_TITLES[last.name]
        event = f"{last.member}: {title}" if last.member else title
    return f"pull {both_as_sure(pull, answer.odds)}, {growth}\nlast passed: {event}"


def _shot(answer: Answer, name: str, index: float) -> Snapshot:
    if name in answer.plates:
        return in_joint(answer, name, index, "")
    return at(answer.faces[name], index, "")


def _small_curve(figure: Figure, answer: Answer, shot: Snapshot, theme: look.Theme) -> None:
    """Draw the joint's curve above the part, with a dot where the pull is."""
    width, height = figure.get_size_inches()
    axes = figure.add_axes((0.62 / width, 1.0 - 0.68 / height, 1.0 - 0.8 / width, 0.6 / height))
    curve = answer.trace
    axes.plot(*load_curve.smooth(curve.hole_elongation, curve.load), color=theme.ink, lw=1.0)
    pull = shot.load if shot.pull is None else shot.pull
    axes.plot([shot.elongation], [pull], "o", ms=4.5, color=theme.mark, clip_on=False, zorder=5)
    axes.set(xlim=(0.0, None), ylim=(0.0, None))
    axes.set_xlabel("hole longer, mm", labelpad=1.0, fontsize=7.0)
    axes.set_ylabel("pull, N", fontsize=7.0)
    axes.yaxis.set_major_formatter(look.thousands)
    axes.locator_params(axis="y", nbins=3)
    axes.tick_params(length=2.0, width=0.6, pad=1.5, labelsize=6.5)


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
