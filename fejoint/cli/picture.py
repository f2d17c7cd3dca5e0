"""`fejoint picture`."""

from __future__ import annotations

import re
from pathlib import Path

from fejoint.cli import console
from fejoint.errors import BadInput, Fault

FILM = "film"
_MOST_PIXELS = 8000


def picture(
    answer: Path,
    /,
    *,
    what: str = "stress",
    out: Path | None = None,
    size: str | None = None,
    theme: str = "print",
) -> None:
    """Draw one picture of an answer.

    Parameters
    ----------
    answer
        The answer.json of a pull, or its folder; pictures of fields solve its case again.
    what
        Which picture: stress, plastic, thickness, relief, pin, curve, limits, drawing, or film (a
        GIF).
    out
        The file to write, beside the answer if left out; its suffix says PNG, SVG, PDF or GIF.
    size
        How many pixels wide and high it is, for example 1600x1000.
    theme
        The colours: print, screen or dark.
    """
    from fejoint import files
    from fejoint.output import pictures, result_files

    kinds = (*pictures.table(), FILM)
    if what not in kinds:
        raise BadInput(Fault("--what", what, f"must be one of {', '.join(kinds)}", "choose one"))
    pixels = None if size is None else _pixels(size)
    stored = result_files.read_answer(answer)
    folder = answer if answer.is_dir() else answer.parent
    path = out or folder / ("film.gif" if what == FILM else f"{what}.png")
    # before the solve that pictures of fields take
    pictures.look.check_suffix(path, (".gif",) if what == FILM else pictures.look.SUFFIXES)
    files.make_ready(path.parent)
    if what == FILM:
        from fejoint.output.pictures.film import film

        live = result_files.solve_again(stored)
        if pixels is None:
            console.wrote(film(live, path, theme=theme))
        else:
            console.wrote(film(live, path, size=pixels, theme=theme))
    else:
        console.wrote(pictures.picture(stored, what, path, size=pixels, theme=theme))


def _pixels(size: str) -> tuple[int, int]:
    found = re.fullmatch(r"(\d{2,5})\s*[x\u00d7]\s*(\d{2,5})", size.strip())
    numbers = tuple(int(n) for n in found.groups()) if found else (0, 0)
    if not found or max(numbers) > _MOST_PIXELS:
        raise BadInput(
            Fault("--size", size, f"must be like 1600x1000, at most {_MOST_PIXELS}", "change it")
        )
    return numbers[0], numbers[1]
