"""The guide: short pages in Markdown beside this file, and the tables in them made from the code.

A line `@keys TABLE`, `@modes`, `@events` or `@said WHICH` of a page stands for what is made
of the schema of a case or of the definitions, so that it cannot drift from them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from fejoint.analysis import definitions
from fejoint.analysis.cautions import CAUTIONS, LIMITS
from fejoint.errors import BadInput, Fault, nearest, shorten
from fejoint.joint import schema

TOPICS: Mapping[str, str] = {
    "first-joint": "From nothing to a verdict",
    "case-file": "Every key of a case: unit, range, default",
    "modes": "What each way to fail, each event and each band means",
    "drawings": "Outlines from a drawing, cut files for a cutter",
    "metals": "Names, hardness, certificates, tables",
    "studies": "Hardness, sweeps, advice, scatter, directions",
    "rig": "Plan, match, learn, keep a book; used joints",
    "trust": "When to trust an answer, and when not",
    "python": "The same from Python",
    "machines": "Many cores and many machines",
    "physics": "What is solved, with the formulas",
}
"""Each page's name and what it is about, in reading order."""

_FOLDER = Path(__file__).resolve().parent


def page(topic: str) -> str:
    """Return a page as Markdown, its tables made.

    Raises
    ------
    BadInput
        If there is no such topic.
    """
    if topic not in TOPICS:
        like = nearest(topic, TOPICS)
        mend = f"did you mean {like}?" if like else f"the topics are {', '.join(TOPICS)}"
        raise BadInput(Fault("TOPIC", shorten(topic) or "''", "is no page of the guide", mend))
    text = (_FOLDER / f"{topic}.md").read_text(encoding="utf-8")
    return "\n".join(_filled(line) for line in text.splitlines()) + "\n"


def _filled(line: str) -> str:
    if not line.startswith("@"):
        return line
    word, _, rest = line[1:].partition(" ")
    return "\n".join(_MADE[word](rest))


def _keys(table: str) -> Iterable[str]:
    """Make the table of a case table's keys."""
    rows = [key for key in schema.describe() if key.table == table]
    yield "| key | may hold | default | meaning |"
    yield "|---|---|---|---|"
    for key in rows:
        field, default = key.field, key.field.default
        if field.needed:
            said = "**needed**"
        elif default is None:
            said = "–"
        elif isinstance(default, bool):
            said = str(default).lower()
        elif isinstance(default, tuple) or default == "":
            said = "none"
        else:
            said = f"{default:g} {key.unit}".strip() if isinstance(default, float | int) else (
                str(default)
            )  # fmt: skip
        yield f"| `{key.name}` | {_holds(key)} | {said} | {field.note} |".replace("  ", " ")


def _holds(key: schema.Key) -> str:
    field = key.field
    if field.choices:
        return " or ".join(f"`{word}`" for word in field.choices)
    if field.kind == "flag":
        return "`true` or `false`"
    if field.kind in ("text", "texts"):
        return "text" if field.kind == "text" else "a list of texts"
    low, high = f"{field.low:g}", f"{field.high:,.10g} {key.unit}".strip()
    span = f"from {low}" if math.isinf(field.high) else f"{low} to {high}"
    what = {"count": "a whole number", "numbers": "numbers", "stresses": "stresses"}
    example = f"`{field.example}`"
    return f"{what.get(field.kind, 'a ' + field.kind)}, {span}, as {example}"


def _modes(_: str) -> Iterable[str]:
    yield "| part | what gives | counted as | when | source |"
    yield "|---|---|---|---|---|"
    for d in definitions.DEFINITIONS:
        mode = definitions.MODES[d.mode]
        yield f"| {mode.part} | {mode.title} | {d.cause} | {d.read}: {d.threshold} | {d.source} |"


def _events(_: str) -> Iterable[str]:
    for name, title in definitions.EVENT_TITLES.items():
        yield f"- `{name}`: {title}"


def _said(which: str) -> Iterable[str]:
    for sentence in {"limits": LIMITS, "cautions": CAUTIONS}[which]:
        yield f"- {sentence}"


_MADE: Mapping[str, Callable[[str], Iterable[str]]] = {
    "keys": _keys,
    "modes": _modes,
    "events": _events,
    "said": _said,
}
