"""What a comparison sets side by side: the inputs that differ, and the loads."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from fejoint.analysis.definitions import (
    EARS_ALIKE,
    EVENT_PARTS,
    EVENT_TITLES,
    NOTHING,
    load_words,
    named,
    title,
)
from fejoint.analysis.odds import Odds, figures_as_sure
from fejoint.analysis.result import EVENTS
from fejoint.joint import schema

_UNITS = {"length": "mm", "angle": "°", "force": "N"}
"""Of a field, by its kind."""

_PASSED_OVER = ("title", "note", "units", "assumptions", "material")


def differences(cases: Sequence[Mapping[str, Any]]) -> list[tuple[str, list[str]]]:
    """Return the inputs in which the cases differ: a name with its unit, and a value a case."""
    flat = [dict(_flat(case)) for case in cases]
    rows: dict[str, list[str]] = {}
    for key in dict.fromkeys(key for one in flat for key in one):
        values = [one.get(key) for one in flat]
        if any(value != values[0] for value in values):
            unit = _unit(key)
            rows[f"{key}, {unit}" if unit else key] = [_said(v) for v in values]
    return list(_together(rows))


def _unit(key: str) -> str:
    """Return the unit of an input, "ear 2 hole slot" say; "" for one without."""
    fields = ((name, field) for part in schema.PARTS.values() for name, field in part.items())
    kinds = (f.kind for name, f in fields if key.endswith(f" {name.replace('_', ' ')}"))
    return _UNITS.get(next(kinds, ""), "")


def _together(rows: Mapping[str, list[str]]) -> Iterator[tuple[str, list[str]]]:
    """Give two ears that are alike in every joint one row."""
    for name, values in rows.items():
        if name.startswith("ear 1 ") and rows.get(name.replace("1", "2", 1)) == values:
            yield name.replace("ear 1", "ears", 1), values
        elif not (name.startswith("ear 2 ") and rows.get(name.replace("2", "1", 1)) == values):
            yield name, values


def side_by_side(answers: Sequence[Mapping[str, Any]]) -> list[tuple[str, list[str]]]:
    """Return what the answers say, row by row: a name, and a text an answer."""
    verdicts, odds = [a["verdict"] for a in answers], [Odds.of_answer(a) for a in answers]
    rows = [
        ("first to give", [_first(v) for v in verdicts]),
        ("at a pull of", [_load(v["load_N"], o) for v, o in zip(verdicts, odds, strict=True)]),
        ("margin to the next part", [_share(v["margin_to_next"]) for v in verdicts]),
    ]
    members = dict.fromkeys(
        row["member"] for v in verdicts for row in v["order"] if row["mode"] != NOTHING
    )
    for member in members:
        gives = [_member(v["order"], member, o) for v, o in zip(verdicts, odds, strict=True)]
        rows.append((f"{member} give{'' if member == EARS_ALIKE else 's'} at", gives))
    for name in EVENTS:
        found = [next(e for e in a["events"] if e["name"] == name) for a in answers]
        if any(e["load_N"] is not None for e in found):
            told = [_load(e["load_N"], o, name) for e, o in zip(found, odds, strict=True)]
            rows.append((_event(name), told))
    return rows


def _flat(table: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        if not above and key in _PASSED_OVER:
            continue
        name = f"{above} {key.replace('_', ' ')}".strip()
        if isinstance(value, Mapping):
            yield from _flat(value, name)
        elif isinstance(value, list) and value and isinstance(value[0], Mapping):
            for k, one in enumerate(value):
                yield from _flat(one, f"{name} {k + 1}")
        else:
            yield name, value


def _said(value: Any) -> str:
    if value is None:
        return "–"
    if isinstance(value, list):
        return " and ".join(dict.fromkeys(_said(v) for v in value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def _load(load: float | None, odds: Odds | None, event: str = "") -> str:
    if load is None:
        return "not reached"
    return load_words(event, load, figures_as_sure(load, odds))


def _first(verdict: Mapping[str, Any]) -> str:
    return named(verdict["first_to_give"], verdict["member"])


def _event(name: str) -> str:
    """Name an event, with the part where it is that of one part alone."""
    part = EVENT_PARTS.get(name)
    return f"{part}: {EVENT_TITLES[name]}" if part else EVENT_TITLES[name]


def _share(value: float | None) -> str:
    return "–" if value is None else f"{100.0 * value:.0f} %"


def _member(order: Sequence[Mapping[str, Any]], member: str, odds: Odds | None) -> str:
    row = next((r for r in order if r["member"] == member), None)
    return "–" if row is None else f"{_load(row['load_N'], odds)}, {title(row['mode'])}"
