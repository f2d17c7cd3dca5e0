"""The case files that come with the package: where they lie, and a copy of the demo's to work on.

A checkout keeps them in `cases/` at its top; a wheel carries the same folders inside the package.
"""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Literal

from fejoint.errors import BadInput, Fault

_PACKAGE = Path(__file__).resolve().parent.parent
_WHEEL = _PACKAGE / "cases"
_CHECKOUT = _PACKAGE.parent / "cases"


def is_checkout() -> bool:
    """Whether the package runs from a checkout of the project, not from an installed wheel."""
    return not _WHEEL.is_dir()


def folder(name: Literal["demo", "reference"]) -> Path:
    """Return where the demo's case files or the reference cases lie."""
    return (_CHECKOUT if is_checkout() else _WHEEL) / name


def copy_demo(target: Path, overwrite: bool = False) -> tuple[Path, ...]:
    """Copy the demo's case files and measured pulls into a folder.

    Parameters
    ----------
    target : Path
        Made where it does not exist.
    overwrite : bool
        Replace files that are there.

    Returns
    -------
    tuple of Path
        The files written, case files first.

    Raises
    ------
    BadInput
        If one of the files is there already, or cannot be written; nothing is replaced then.
    """
    source = folder("demo")
    found = sorted(p for p in source.rglob("*") if p.suffix in (".toml", ".csv"))
    found.sort(key=lambda path: path.suffix != ".toml")
    files = [(path, target / path.relative_to(source)) for path in found]
    there = [new for _, new in files if new.exists() and not overwrite]
    if there:
        mend = "name another folder, or --overwrite"
        raise BadInput(*(Fault(str(path), "", "is there already", mend) for path in there))
    for path, new in files:
        try:
            new.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, new)
        except OSError as error:
            reason = f"cannot be written ({error.strerror})"
            raise BadInput(Fault(str(new), "", reason, "name another folder")) from error
    return tuple(new for _, new in files)
