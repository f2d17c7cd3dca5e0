"""What `fejoint picture` and `fejoint report` do."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from fejoint import files
from fejoint.errors import BadInput, Fault
from fejoint.output import pictures, report, result_files

FILM = "film"
_MOST_PIXELS = 8000


def run(answer: Path, *, what: str, out: Path | None, size: str | None, theme: str) -> Path:
    """Draw one picture of a stored answer.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    BadInput
        If the answer cannot be read, or an option is none there is.
    """
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
        return (
            film(live, path, theme=theme)
            if pixels is None
            else film(live, path, size=pixels, theme=theme)
        )
    return pictures.picture(stored, what, path, size=pixels, theme=theme)


def write_report(answers: Sequence[Path], out: Path) -> Path:
    """Write the report of stored answers.

    Raises
    ------
    BadInput
        If there is no answer, one cannot be read, or the file cannot be written.
    """
    if not answers:
        raise BadInput(Fault("ANSWERS", "", "must name at least one answer.json", "name one"))
    stored = [result_files.read_answer(path) for path in answers]
    report.check_suffix(out)
    files.make_ready(out.parent)
    return report.write(stored, out)


def _pixels(size: str) -> tuple[int, int]:
    found = re.fullmatch(r"(\d{2,5})\s*[x\u00d7]\s*(\d{2,5})", size.strip())
    numbers = tuple(int(n) for n in found.groups()) if found else (0, 0)
    if not found or max(numbers) > _MOST_PIXELS:
        raise BadInput(
            Fault("--size", size, f"must be like 1600x1000, at most {_MOST_PIXELS}", "change it")
        )
    return numbers[0], numbers[1]
