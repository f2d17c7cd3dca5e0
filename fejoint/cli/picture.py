"""`fejoint picture`."""

from __future__ import annotations

import re
from pathlib import Path

from fejoint.cli import console
from fejoint.errors import BadInput, Fault

FILM = "film"
FILMS = (".gif", ".webp")
_MOST_PIXELS = 8000


def picture(
    answer: Path,
    /,
    *,
    what: str = "stress",
    out: Path | None = None,
    size: str | None = None,
    width: str | None = None,
    theme: str = "print",
) -> None:
    """Draw one picture of an answer.

    Parameters
    ----------
    answer
        The answer.json of a pull, or its folder; pictures of fields solve its case again.
    what
        Which picture: stress, plastic, thickness, relief, pin, curve, limits, releases, dishing,
        drawing, or film.
    out
        The file to write, beside the answer if left out; its suffix says PNG, SVG or PDF, of
        a film GIF or WebP.
    size
        How many pixels wide and high it is, for example 1600x1000.
    width
        How wide it is in print, for example "80 mm" for one column of a journal; it is laid out
        anew for that.
    theme
        The colours: print, screen or dark.
    """
    from fejoint import files
    from fejoint.output import pictures, result_files

    kinds = (*pictures.table(), FILM)
    if what not in kinds:
        raise BadInput(Fault("--what", what, f"must be one of {', '.join(kinds)}", "choose one"))
    if size is not None and width is not None:
        raise BadInput(Fault("--size", size, "cannot stand beside --width", "leave one out"))
    if width is not None and what == FILM:
        raise BadInput(Fault("--width", width, "is not for films", "give --size"))
    pixels = None if size is None else _pixels(size)
    wide = None if width is None else _millimetres(width)
    stored = result_files.read_answer(answer)
    folder = answer if answer.is_dir() else answer.parent
    path = out or folder / ("film.gif" if what == FILM else f"{what}.png")
    # before the solve that pictures of fields take
    pictures.look.check_suffix(path, FILMS if what == FILM else pictures.look.SUFFIXES)
    files.make_ready(path.parent)
    if what == FILM:
        from fejoint.output.pictures.film import film

        live = result_files.solve_again(stored)
        if pixels is None:
            console.wrote(film(live, path, theme=theme))
        else:
            console.wrote(film(live, path, size=pixels, theme=theme))
    else:
        console.wrote(pictures.picture(stored, what, path, size=pixels, width=wide, theme=theme))


def _millimetres(width: str) -> float:
    from fejoint.inputs import units

    try:
        return units.read(width, "length")
    except units.Misread as error:
        raise BadInput(Fault("--width", width, str(error), 'write it as "80 mm"')) from error


def _pixels(size: str) -> tuple[int, int]:
    found = re.fullmatch(r"(\d{2,5})\s*[x\u00d7]\s*(\d{2,5})", size.strip())
    numbers = tuple(int(n) for n in found.groups()) if found else (0, 0)
    if not found or max(numbers) > _MOST_PIXELS:
        raise BadInput(
            Fault("--size", size, f"must be like 1600x1000, at most {_MOST_PIXELS}", "change it")
        )
    return numbers[0], numbers[1]
