"""Pictures of an answer, for paper and screen: PNG, SVG and PDF."""

from __future__ import annotations

import functools
import importlib
import pkgutil
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fejoint.analysis.result import Answer
from fejoint.errors import BadInput, Fault
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.picture import Picture, Size, data_of, joint_of
from fejoint.output.result_files import solve_again

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@functools.cache
def table() -> Mapping[str, Picture]:
    """Return every picture by its name: those that the modules of this folder hold, by rank."""
    modules = (
        importlib.import_module(f"{__name__}.{m.name}") for m in pkgutil.iter_modules(__path__)
    )
    found: list[Picture] = [p for module in modules for p in getattr(module, "PICTURES", ())]
    return {p.name: p for p in sorted(found, key=lambda p: p.rank)}


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
    for p in table().values():
        if p.file and p.is_of(answer):
            yield picture(answer, p.name, folder / p.file, theme=theme)


def picture(
    answer: Answer | Mapping[str, Any],
    what: str,
    path: Path,
    *,
    size: Size | None = None,
    theme: str = "print",
) -> Path:
    """Draw one picture of an answer.

    Parameters
    ----------
    answer : Answer or mapping
        A mapping is the plain data of `answer.json`; stress and strain are then solved again.
    what : str
        A name of `table`.
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
    size: Size | None = None,
    theme: str = "print",
) -> tuple[Figure, int]:
    """Return one picture as a figure, and its width in pixels; see `picture`."""
    if what not in table():
        raise BadInput(Fault("what", what, f"must be one of {', '.join(table())}", "change it"))
    found = table()[what]
    pixels = size or found.size
    if size is None and found.pixels is not None:
        pixels = found.pixels(data_of(answer), found.size[0])
    colours = look.theme(theme)
    with look.styled(colours):
        figure = look.figure(pixels)
        found.draw(figure, _needed(found, answer), colours)
    return figure, pixels[0]


def _needed(found: Picture, answer: Answer | Mapping[str, Any]) -> Any:
    """Return what a picture is drawn from; sections that `answer.json` has not are solved again."""
    if found.needs == "joint":
        return joint_of(answer)
    if found.needs == "data":
        return data_of(answer)
    is_solved = isinstance(answer, Answer) and bool(answer.faces)
    return answer if is_solved else solve_again(data_of(answer))
