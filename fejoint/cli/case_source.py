"""The case that a command is given: a file or standard input, what is set in it, and its folder.

Two cases of one name never write into one folder unsaid. A folder of results keeps a mark: the
way from it to the case file, and what `--set` changed; a case of standard input is known by its
text.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import sys
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fejoint.cli import console
from fejoint.errors import BadInput, Fault
from fejoint.files import write_atomically
from fejoint.inputs import toml_syntax
from fejoint.joint import edit, model
from fejoint.joint.model import Joint

STDIN = Path("-")
"""Stands for standard input in the place of a case file."""
MARK = ".case"
"""File in a folder of results that says whose they are."""
_LARGEST = 1_000_000
"""Bytes that standard input may hold."""
_LONGEST = 80
"""Characters of a folder's name that say what was set."""


@dataclass(frozen=True)
class CaseSource:
    """A joint and where it came from.

    Attributes
    ----------
    joint : Joint
    case : Path
        Its file; `STDIN` for standard input.
    text : bytes
        What standard input held; empty for a file.
    changes : tuple of str
        What was set in it.
    """

    joint: Joint
    case: Path
    text: bytes
    changes: tuple[str, ...]

    def folder(self, out: Path | None, below: str = "") -> Path:
        """Return the folder for results, and say if it holds those of another case.

        Parameters
        ----------
        out : Path or None
            The folder that was asked for; one below "out" of the case's name without it.
        below : str
            What follows the case's name there.

        Raises
        ------
        BadInput
            If none was asked for, and the usual one holds results of another case.
        """
        folder = Path("out") / f"{self._name()}{below}" if out is None else out
        holder = _holder(folder)
        if holder is None or holder == self._mark(folder):
            return folder
        whose = _words(holder, folder)
        if out is None:
            allowed = f"holds the results of {whose}"
            raise BadInput(Fault(str(folder), "", allowed, "choose another folder with --out"))
        console.warn(f"{folder} held the results of {whose}: files of the same name are replaced")
        return folder

    def claim(self, folder: Path) -> None:
        """Mark a folder as the case's; for when its results are written.

        Raises
        ------
        BadInput
            If nothing can be written there.
        """
        mark = self._mark(folder)
        if _holder(folder) != mark:
            write_atomically(folder / MARK, json.dumps(mark) + "\n")

    def _name(self) -> str:
        name = "stdin" if self.case == STDIN else self.case.stem
        if not self.changes:
            return name
        changed = "+".join(re.sub(r"[^\w.=,-]+", "-", change) for change in self.changes)
        if len(changed) > _LONGEST:
            changed = hashlib.sha256(changed.encode()).hexdigest()[:12]
        return f"{name}+{changed}"

    def _mark(self, folder: Path) -> dict[str, Any]:
        if self.case == STDIN:
            return {"stdin": hashlib.sha256(self.text).hexdigest(), "set": list(self.changes)}
        try:
            way = os.path.relpath(self.case.resolve(), folder.resolve())
        except ValueError:  # it lies on another drive
            way = str(self.case.resolve())
        return {"case": Path(way).as_posix(), "set": list(self.changes)}


def read(case: Path, changes: Sequence[str]) -> CaseSource:
    """Read a case, and change in it what is to be changed.

    Parameters
    ----------
    case : Path
        A case file, or `STDIN`.
    changes : sequence of str
        KEY=VALUE each, as `pin.hardness=40 HRC`.

    Raises
    ------
    BadInput
        If it cannot be read or describes no joint, or a change is none.
    """
    text = b""
    if case == STDIN:
        text = _standard_input()
        try:
            table = toml_syntax.parse_text(text.decode("utf-8-sig"), "standard input")
        except UnicodeDecodeError as error:
            allowed = "is not UTF-8 text"
            raise BadInput(Fault("standard input", "", allowed, "send a case file")) from error
        joint = model.load(table)
    else:
        joint = model.load(case)
    if changes:
        # the file is checked as it stands first: what is then wrong is what was set
        tables: dict[str, Any] = dict(joint.case or joint.to_dict())
        for change in changes:
            key, equals, value = change.partition("=")
            if not equals or not key.strip():
                mend = 'write --set pin.hardness="40 HRC"'
                raise BadInput(Fault("--set", change, "must be KEY=VALUE", mend))
            tables = edit.changed(tables, key.strip(), _value(value.strip()))
        joint = model.load(tables)
    return CaseSource(joint, case, text, tuple(changes))


def _value(text: str) -> Any:
    """Return a value as a case file means it: a number, truth or list; else text, quoted or not."""
    try:
        found = tomllib.loads(f"value = {text}")
    except (ValueError, RecursionError):
        return text
    value = found["value"]
    return value if len(found) == 1 and isinstance(value, (bool, int, float, str, list)) else text


def _standard_input() -> bytes:
    if sys.stdin.isatty():
        console.warn("the case is read from standard input; Ctrl-D ends it")
    text = sys.stdin.buffer.read(_LARGEST + 1)
    if len(text) > _LARGEST:
        allowed = "is over 1 MB, which no case is"
        raise BadInput(Fault("standard input", "", allowed, "send a case file"))
    return text


def _holder(folder: Path) -> dict[str, Any] | None:
    """Return the mark of a folder, None where there is none that can be read."""
    try:
        found = json.loads((folder / MARK).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return found if isinstance(found, dict) else None


def _words(mark: dict[str, Any], folder: Path) -> str:
    """Say whose a mark is."""
    name = "another case of standard input"
    if "case" in mark:
        name = os.path.relpath(os.path.normpath(folder.resolve() / str(mark["case"])))
    changes = mark.get("set")
    if not (isinstance(changes, list) and changes):
        return name
    return f"{name} with {', '.join(map(str, changes))}"
