"""What a comparison sets side by side: the inputs that differ, and the loads."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from fejoint.analysis.definitions import EVENT_TITLES, MESH_SCALE, NOTHING, load_words, named, title
from fejoint.analysis.result import EVENTS

_UNITS = {
    "thickness": "mm", "width": "mm", "hole": "mm", "edge distance": "mm", "length": "mm",
    "clip": "mm", "diameter": "mm", "gap": "mm", "angle": "°", "stop displacement": "mm",
    "stop load": "N",
}  # fmt: skip

_PASSED_OVER = ("title", "note", "units", "assumptions", "material")


def differences(cases: Sequence[Mapping[str, Any]]) -> list[tuple[str, list[str]]]:
    """Return the inputs in which the cases differ: a name with its unit, and a value a case."""
    flat = [dict(_flat(case)) for case in cases]
    rows: dict[str, list[str]] = {}
    for key in dict.fromkeys(key for one in flat for key in one):
        values = [one.get(key) for one in flat]
        if any(value != values[0] for value in values):
            unit = next((u for name, u in _UNITS.items() if key.endswith(name)), "")
            rows[f"{key}, {unit}" if unit else key] = [_said(v) for v in values]
    return list(_together(rows))


def _together(rows: Mapping[str, list[str]]) -> Iterator[tuple[str, list[str]]]:
    """Give two ears that are alike in every joint one row."""
    for name, values in rows.items():
        if name.startswith("ear 1 ") and rows.get(name.replace("1", "2", 1)) == values:
            yield name.replace("ear 1", "ears", 1), values
        elif not (name.startswith("ear 2 ") and rows.get(name.replace("2", "1", 1)) == values):
            yield name, values


def side_by_side(answers: Sequence[Mapping[str, Any]]) -> list[tuple[str, list[str]]]:
    """Return what the answers say, row by row: a name, and a text an answer."""
    verdicts = [a["verdict"] for a in answers]
    rows = [
        ("first to give", [_first(v) for v in verdicts]),
        ("at a pull of", [_load(v["load_N"]) for v in verdicts]),
        ("margin to the next part", [_share(v["margin_to_next"]) for v in verdicts]),
    ]
    parts = dict.fromkeys(
        row["part"] for v in verdicts for row in v["order"] if row["mode"] != NOTHING
    )
    for part in parts:
        rows.append((f"{part} gives at", [_part(v["order"], part) for v in verdicts]))
    for name in EVENTS:
        found = [next(e for e in a["events"] if e["name"] == name) for a in answers]
        if any(e["load_N"] is not None for e in found):
            rows.append((_event(name), [_load(e["load_N"], name) for e in found]))
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


def _load(load: float | None, event: str = "") -> str:
    return "not reached" if load is None else load_words(event, load)


def _first(verdict: Mapping[str, Any]) -> str:
    return named(verdict["first_to_give"], verdict["member"])


def _event(name: str) -> str:
    """Name an event, and the part where that alone tells two of them apart."""
    return (
        f"{name.rpartition(' ')[2]}: {EVENT_TITLES[name]}"
        if name in MESH_SCALE
        else EVENT_TITLES[name]
    )


def _share(value: float | None) -> str:
    return "–" if value is None else f"{100.0 * value:.0f} %"


def _part(order: Sequence[Mapping[str, Any]], part: str) -> str:
    row = next((r for r in order if r["part"] == part), None)
    return "–" if row is None else f"{_load(row['load_N'])}, {title(row['mode'])}"
