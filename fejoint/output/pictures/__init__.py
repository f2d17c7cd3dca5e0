"""Pictures of an answer, for paper and screen: PNG, SVG and PDF."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fejoint.analysis.result import Answer
from fejoint.errors import BadInput, Fault
from fejoint.joint.model import Joint
from fejoint.output.pictures import theme as look
from fejoint.output.result_files import solve_again

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SIZES = {
    "stress": (1800, 940),
    "plastic": (1800, 940),
    "thickness": (1800, 940),
    "relief": (1800, 1100),
    "pin": (1800, 1040),
    "curve": (1800, 900),
    "limits": (1800, 960),
    "drawing": (1800, 1100),
}
"""What can be drawn, and the pixels of its picture where none are asked for."""

SOLVED = ("stress", "plastic", "thickness", "relief", "pin")
"""Those that need the solved sections, which `answer.json` has not."""

FILES = {
    "stress": "stress.png",
    "plastic": "plastic-strain.png",
    "pin": "pin.png",
    "curve": "load-curve.png",
    "limits": "limits.png",
    "drawing": "joint.png",
}
"""Names of the pictures that go with every answer."""


def write_all(answer: Answer, folder: Path, theme: str = "print") -> list[Path]:
    """Write the pictures that go with an answer.

    Parameters
    ----------
    answer : Answer
    folder : Path
        Made if it is not there.
    theme : {"print", "screen", "dark"}

    Returns
    -------
    list of Path
        Every file written.
    """
    return list(write_each(answer, folder, theme))


def write_each(answer: Answer, folder: Path, theme: str = "print") -> Iterator[Path]:
    """Write the pictures of `write_all` one after another, and tell each as it is there."""
    for what, file in FILES.items():
        if what != "pin" or has_pin(answer):
            yield picture(answer, what, folder / file, theme=theme)


def picture(
    answer: Answer | Mapping[str, Any],
    what: str,
    path: Path,
    *,
    size: tuple[int, int] | None = None,
    theme: str = "print",
) -> Path:
    """Draw one picture of an answer.

    Parameters
    ----------
    answer : Answer or mapping
        A mapping is the plain data of `answer.json`; stress and strain are then solved again.
    what : str
        A key of SIZES.
    path : Path
        Its suffix says PNG, SVG or PDF.
    size : (int, int), optional
        Pixels; type keeps its size in print, so more pixels are a finer picture.
    theme : {"print", "screen", "dark"}

    Returns
    -------
    Path

    Raises
    ------
    BadInput
        If there is no such picture, theme or kind of file, or the file cannot be written.
    """
    drawn, pixels = drawing_of(answer, what, size=size, theme=theme)
    return look.save(drawn, path, pixels)


def drawing_of(
    answer: Answer | Mapping[str, Any],
    what: str,
    *,
    size: tuple[int, int] | None = None,
    theme: str = "print",
) -> tuple[Figure, int]:
    """Return one picture as a figure, and its width in pixels; see `picture`."""
    if what not in SIZES:
        raise BadInput(Fault("what", what, f"must be one of {', '.join(SIZES)}", "change it"))
    pixels = size or _pixels(answer, what)
    colours = look.theme(theme)
    with look.styled(colours):
        figure = look.figure(pixels)
        _draw(figure, answer, what, colours)
    return figure, pixels[0]


def _pixels(answer: Answer | Mapping[str, Any], what: str) -> tuple[int, int]:
    if what != "limits":
        return SIZES[what]
    from fejoint.output.pictures import limit_axis

    plain = answer.to_dict() if isinstance(answer, Answer) else answer
    return limit_axis.pixels_for(plain, SIZES[what][0])


def _draw(figure: Figure, answer: Answer | Mapping[str, Any], what: str, theme: look.Theme) -> None:
    if what in SOLVED:
        solved = answer if isinstance(answer, Answer) and answer.faces else None
        if solved is None:
            stored = answer.to_dict() if isinstance(answer, Answer) else answer
            solved = solve_again(stored)
        _draw_solved(figure, solved, what, theme)
        return
    if what == "drawing":
        from fejoint.output.pictures import joint_drawing

        joint = answer.joint if isinstance(answer, Answer) else Joint.from_dict(answer["case"])
        joint_drawing.draw(figure, joint, theme)
        return
    plain = answer.to_dict() if isinstance(answer, Answer) else answer
    if what == "limits":
        from fejoint.output.pictures import limit_axis

        limit_axis.draw(figure, plain, theme)
    else:
        from fejoint.output.pictures import load_curve

        load_curve.draw(figure, plain, theme)


def _draw_solved(figure: Figure, answer: Answer, what: str, theme: look.Theme) -> None:
    if what == "pin":
        from fejoint.output.pictures import bent_pin

        bent_pin.draw(figure, answer, theme)
    elif what == "relief":
        from fejoint.output.pictures import ear_3d

        ear_3d.draw(figure, answer, weakest_ear(answer), theme)
    else:
        from fejoint.output.pictures import stress_fields

        stress_fields.draw(figure, answer, weakest_ear(answer), what, theme)


def has_pin(answer: Answer) -> bool:
    """Whether the answer has a pin to draw: one that was solved along its axis and can bend."""
    return answer.axial is not None and not answer.joint.pin.rigid


def weakest_ear(answer: Answer) -> str:
    """Return the ear that is shown: the one whose first limit comes first, as in the events."""
    return answer.weaker_ear
