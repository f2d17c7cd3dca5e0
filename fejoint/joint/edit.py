"""One value of a case changed, as sweeps do."""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from typing import Any

from fejoint.errors import BadInput, Fault, nearest, shorten
from fejoint.joint import schema
from fejoint.materials import library

# A part is made of one of these: naming another takes the place of the first.
_INSTEAD = ("material", "hardness", "rigid")


def changed(case: Mapping[str, Any], path: str, value: Any) -> dict[str, Any]:
    """Return a copy of a case table with the value at a path changed.

    Parameters
    ----------
    case : mapping
        A case table.
    path : str
        "ear.hole" (every ear), "ear.2.hole", "pin.hardness", "fit.gap", "material.my strip.yield",
        or a key of the top such as "title".
    value : object
        As in a case.

    Raises
    ------
    BadInput
        If the path names no key of a case.
    """
    if not isinstance(path, str):
        raise BadInput(Fault("path", shorten(path) or "''", "must be text", 'write "ear.hole"'))
    table = copy.deepcopy(dict(case))
    first, _, rest = path.partition(".")
    if isinstance(table.get("assumptions"), (list, tuple)):
        table["assumptions"] = _still_true(table["assumptions"], first, path)
    if first == "material":
        name, _, key = rest.rpartition(".")
        _set(_own_material(table, name, path), key, value, library.FIELDS, path)
    elif first == "ear":
        _change_ear(table, rest, value, path)
    elif first in schema.PARTS:
        _set(table.setdefault(first, {}), rest, value, schema.PARTS[first], path)
    else:
        _set(table, path, value, schema.TOP, path)
    return table


def _still_true(assumptions: Sequence[Any], part: str, path: str) -> list[Any]:
    """Leave out what was assumed for the value that is being given."""
    key = path.rpartition(".")[2].replace("_", " ")
    return [said for said in assumptions if not str(said).startswith(f"{part}: {key} not given")]


def _change_ear(table: dict[str, Any], rest: str, value: Any, path: str) -> None:
    ears = table.get("ear", {})
    number, _, key = rest.partition(".")
    if not (number.isdecimal() and len(number) < 10):
        for ear in ears if isinstance(ears, list) else [ears]:
            _set(ear, rest, value, schema.EAR, path)
        return
    if not isinstance(ears, list):
        alone = {name: each for name, each in ears.items() if name != "count"}
        ears = [dict(alone) for _ in range(ears.get("count", 2))]
        table["ear"] = ears
    if not 1 <= int(number) <= len(ears):
        allowed = f"must name one of the {len(ears)} ears, counted from 1"
        raise BadInput(Fault(path, "", allowed, "write ear.1 or ear.2"))
    _set(ears[int(number) - 1], key, value, schema.EAR, path)


def _own_material(table: dict[str, Any], name: str, path: str) -> dict[str, Any]:
    own: dict[str, Any] = table.get("material", {})
    if name not in own:
        mend = "write it into the case, from `fejoint materials NAME`"
        raise BadInput(Fault(path, "", f'needs a [material."{shorten(name)}"] table', mend))
    material: dict[str, Any] = own[name]
    return material


def _set(table: dict[str, Any], key: str, value: Any, fields: Mapping[str, Any], path: str) -> None:
    if key not in fields:
        like = nearest(key, fields)
        mend = f"did you mean {path.removesuffix(key)}{like}?" if like else "see a case file"
        raise BadInput(Fault(path or "path", "", "is not a key of a case", mend))
    if key in _INSTEAD and value is not False:
        for other in _INSTEAD:
            table.pop(other, None)
    table[key] = value
