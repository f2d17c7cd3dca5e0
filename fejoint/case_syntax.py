"""The text of a case file to its tables, with a slip of syntax told in the file's own terms."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from fejoint.errors import BadInput, Fault, nearest

_LARGEST_FILE = 1_000_000
_KEY = re.compile(r"\s*([\w.\"' -]+?)\s*=\s*(.*)")
_LINE = re.compile(r"line (\d+)")


def parse(path: Path) -> dict[str, Any]:
    """Return the tables of a case file.

    Raises
    ------
    BadInput
        If there is no such file, or it is no TOML.
    """
    text = _text(path)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadInput(_syntax_fault(text, str(error))) from error
    except RecursionError as error:
        mend = "a case is tables of plain values"
        raise BadInput(Fault(str(path), "", "is nested too deeply", mend)) from error


def _text(path: Path) -> str:
    try:
        if path.is_dir():
            raise BadInput(Fault(str(path), "", "is a folder", "name the case file in it"))
        if path.stat().st_size > _LARGEST_FILE:
            raise BadInput(
                Fault(str(path), "", "is over 1 MB, which no case is", "name the case file")
            )
        return path.read_text(encoding="utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        fault = Fault(str(path), "", "is not UTF-8 text", "save it as UTF-8")
        raise BadInput(fault) from error
    except (OSError, ValueError) as error:
        raise BadInput(_no_file(path, error)) from error


def _no_file(path: Path, error: Exception) -> Fault:
    if not isinstance(error, FileNotFoundError):
        reason = getattr(error, "strerror", None) or str(error)
        return Fault(str(path), "", f"cannot be read ({reason})", "name a case file")
    beside = path.parent.glob("*.toml") if path.parent.is_dir() else ()
    like = nearest(path.name, sorted(each.name for each in beside))
    mend = f"did you mean {path.parent / like}?" if like else "`fejoint new FILE` writes a case"
    return Fault(str(path), "", "is not there", mend)


def _syntax_fault(text: str, message: str) -> Fault:
    lines = text.splitlines()
    found = _LINE.search(message)
    number = int(found[1]) if found else len(lines)
    line = lines[number - 1] if 0 < number <= len(lines) else ""
    match = _KEY.match(line)
    table = _table_above(lines[: number - 1])
    reason = message.split(" (at ")[0]
    if match is None:
        allowed = f"cannot be read as TOML ({reason})"
        return Fault(f"line {number}", line.strip(), allowed, "write key = value or [table]")
    field = f"{table}.{match[1]}" if table else match[1]
    value = match[2].strip()
    if "overwrite" in message:
        return Fault(field, value, f"stands twice (line {number})", "take one of them out")
    if re.match(r"[+-]?\d+,\d", value):
        mend = f'write it with a point and a unit in quotes: "{value.replace(",", ".", 1)} mm"'
        return Fault(field, value, f"has a decimal comma (line {number})", mend)
    if value[:1] not in {'"', "'"}:
        mend = f'put quotes round it: {match[1]} = "{value}"'
        return Fault(field, value, f"cannot be read (line {number}: {reason})", mend)
    return Fault(field, value, f"cannot be read (line {number}: {reason})", "check its quotes")


def _table_above(lines: list[str]) -> str:
    for line in reversed(lines):
        match = re.match(r"\s*\[+\s*([^\]]+?)\s*\]", line)
        if match:
            return match[1]
    return ""
