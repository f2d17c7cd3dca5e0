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
    width: float | None = None,
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
    width : float, optional
        In print, mm: 80 is one column of a journal, 170 a page. The picture is laid out for it,
        as high as it needs to be.
    theme : {"print", "screen", "dark"}

    Returns
    -------
    Path

    Raises
    ------
    BadInput
        If there is no such picture, theme, width or kind of file, or the file cannot be written.
    """
    drawn, pixels = drawing_of(answer, what, size=size, width=width, theme=theme)
    return look.save(drawn, path, pixels)


def drawing_of(
    answer: Answer | Mapping[str, Any],
    what: str,
    *,
    size: Size | None = None,
    width: float | None = None,
    theme: str = "print",
) -> tuple[Figure, int]:
    """Return one picture as a figure, and its width in pixels; see `picture`."""
    if what not in table():
        raise BadInput(Fault("what", what, f"must be one of {', '.join(table())}", "change it"))
    if width is not None and not look.NARROWEST <= width <= look.WIDEST:
        said = f"must lie between {look.NARROWEST:g} and {look.WIDEST:g} mm"
        raise BadInput(Fault("width", f"{width:g} mm", said, "80 mm is one column of a journal"))
    found, colours = table()[what], look.theme(theme)
    needed = _needed(found, answer)
    wide = look.WIDTH if width is None else width / look.MM
    if size is not None:
        high = wide * size[1] / size[0]
    elif found.tall is not None:
        high = found.tall(needed, wide)
    else:
        high = wide * found.size[1] / found.size[0]
    if size is not None:
        pixels = size[0]
    else:
        pixels = found.size[0] if width is None else round(look.DOTS * wide)
    with look.styled(colours):
        figure = look.figure((wide, high))
        found.draw(figure, needed, colours)
    return figure, pixels


def _needed(found: Picture, answer: Answer | Mapping[str, Any]) -> Any:
    """Return what a picture is drawn from; sections that `answer.json` has not are solved again."""
    if found.needs == "joint":
        return joint_of(answer)
    if found.needs == "data":
        return data_of(answer)
    is_solved = isinstance(answer, Answer) and bool(answer.faces)
    return answer if is_solved else solve_again(data_of(answer))
