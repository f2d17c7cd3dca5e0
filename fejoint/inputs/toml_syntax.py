"""The text of a case file to its tables, with a slip of syntax told in the file's own terms."""

from __future__ import annotations

import itertools
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fejoint import files
from fejoint.errors import BadInput, Fault, nearest, shorten
from fejoint.inputs import units
from fejoint.inputs.fields import unfit

_LARGEST_FILE = 1_000_000
_DEEPEST = 8
_MOST_KEYS = 2000
_MOST_ENTRIES = 100_000
_SHOWN = 300
"""Characters of a faulty line that are looked at."""
_KEY = re.compile(r"\s*([\w.\"' -]+?)\s*=\s*(.*)")
_LINE = re.compile(r"line (\d+)")
_WORD = r"""(?:[\w-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*')"""
# The parser's time grows with the square of the words in a dotted key.
_DOTTED = re.compile(
    rf"(?:^|[{{,])[ \t]*(?:\[[ \t\[]*)?{_WORD}(?:[ \t]*\.[ \t]*{_WORD}){{20}}", re.MULTILINE
)

_BEGINS_A_KEY = re.compile(r"""^[ \t]*(?:\[|[\w"'][^\n=,#\[\]{}]*=)""", re.MULTILINE)


def parse(path: Path) -> dict[str, Any]:
    """Return the tables of a case file.

    Raises
    ------
    BadInput
        If there is no such file, or it is no TOML.
    """
    return parse_text(_text(path), str(path))


def parse_text(text: str, where: str) -> dict[str, Any]:
    """Return the tables of a case file's text.

    Parameters
    ----------
    text : str
    where : str
        What to call the text as a whole in an error.

    Raises
    ------
    BadInput
        If it is no TOML.
    """
    if "\r" in text:
        text = text.replace("\r\n", "\n")
    if _DOTTED.search(text):
        raise BadInput(_too_deep(where))
    if _holds_too_many(text):
        raise BadInput(_too_many(where))
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadInput(_syntax_fault(text, str(error))) from error
    except RecursionError as error:
        raise BadInput(_too_deep(where)) from error
    except ValueError as error:  # Python reads no whole number of more than 4,300 digits
        allowed = "holds a number of thousands of digits"
        raise BadInput(Fault(where, "", allowed, "write it with an exponent")) from error


def plain(table: object) -> dict[str, Any]:
    """Return a case table as plain dicts, lists and numbers, a copy.

    Raises
    ------
    BadInput
        If it is no table, is nested too deeply, holds more than any case, or a key is no text.
    """
    if not isinstance(table, Mapping):
        allowed = "must be the tables of a case"
        raise BadInput(Fault("case", shorten(table) or "''", allowed, "give a dict"))
    copied = _Copy()
    made: dict[str, Any] = copied.of(table, 0)
    return made


class _Copy:
    def __init__(self) -> None:
        self.keys = self.entries = 0

    def of(self, value: Any, depth: int) -> Any:
        """Return a copy of a value at that depth."""
        if depth > _DEEPEST:
            raise BadInput(_too_deep("case"))
        if isinstance(value, Mapping):
            self.keys += len(value)
            self._count()
            return {self._key(key): self.of(each, depth + 1) for key, each in value.items()}
        if isinstance(value, (list, tuple)):
            self.entries += len(value)
            self._count()
            return [self.of(each, depth + 1) for each in value]
        # numpy's float is one of Python's by descent, but writes itself otherwise
        return float(value) if isinstance(value, float) else value

    def _count(self) -> None:
        if self.keys > _MOST_KEYS or self.entries > _MOST_ENTRIES:
            raise BadInput(_too_many("case"))

    def _key(self, key: Any) -> str:
        if isinstance(key, str) and len(key) <= _SHOWN and unfit(key) is None:
            return key
        mend = "write a name in plain characters"
        raise BadInput(Fault("case", shorten(key) or "''", "is no name of a key", mend))


def _holds_too_many(text: str) -> bool:
    """Tell whether keys or commas are too many: seconds of parsing for what is refused anyway."""
    keys = itertools.islice(_BEGINS_A_KEY.finditer(text), _MOST_KEYS + 1)
    return text.count(",") > _MOST_ENTRIES or sum(1 for _ in keys) > _MOST_KEYS


def _too_deep(where: str) -> Fault:
    return Fault(where, "", "is nested too deeply", "a case is tables of plain values")


def _too_many(where: str) -> Fault:
    allowed = f"holds more than {_MOST_KEYS:,} keys or {_MOST_ENTRIES:,} entries"
    return Fault(where, "", allowed, "name the case of one joint")


def _text(path: Path) -> str:
    large = Fault(str(path), "", "is over 1 MB, which no case is", "name the case file")
    try:
        raw = files.read(path, _LARGEST_FILE, large, "name the case file")
        return raw.decode("utf-8-sig")
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
    lines = text.split("\n")
    found = _LINE.search(message)
    number = int(found[1]) if found else len(lines)
    line = lines[number - 1][:_SHOWN] if 0 < number <= len(lines) else ""
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
    bare = value.partition("#")[0].rstrip()
    meant = [one if re.search("[^\\W\\d_]", one) else f"{one} mm" for one in units.readings(bare)]
    if meant:
        mend = f"{units.which_meant(meant)} (in quotes, with its own unit)"
        comma = "has a decimal comma" if "," in value else "has thousands marks"
        return Fault(field, value, f"{comma} (line {number})", mend)
    if value[:1] not in {'"', "'"}:
        mend = f'put quotes round it: {match[1]} = "{shorten(value)}"'
        return Fault(field, value, f"cannot be read (line {number}: {reason})", mend)
    return Fault(field, value, f"cannot be read (line {number}: {reason})", "check its quotes")


def _table_above(lines: list[str]) -> str:
    for line in reversed(lines):
        match = re.match(r"\s*\[+\s*([^\]]+?)\s*\]", line[:_SHOWN])
        if match:
            return match[1]
    return ""
