"""Cases as text for people: TOML with units and comments."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, get_args

from fejoint.inputs import units
from fejoint.inputs.fields import Field
from fejoint.joint.schema import LEG, PARTS, TOP
from fejoint.materials import library

if TYPE_CHECKING:
    from tomlkit.items import Table
    from tomlkit.toml_document import TOMLDocument

STARTER: dict[str, Any] = {
    "title": "My joint",
    "note": "What it is for, and where the dimensions were taken.",
    "ear": {
        "count": 2,
        "thickness": "2 mm",
        "width": "14 mm",
        "hole": "4.1 mm",
        "edge_distance": "7 mm",
        "grip_length": "25 mm",
        "end": "round",
        "material": "316 strip, annealed",
    },
    "pin": {"diameter": "5/32 in", "hardness": "45 HRC", "ends": "free"},
    "shank": {"thickness": "6 mm", "hole": "4.1 mm", "material": "S235 steel"},
    "fit": {"gap": "0.1 mm", "friction": 0.15},
    "pull": {"angle": "0 deg"},
}

_HEADING = (
    "A case for fejoint: ears on a pin through a shank, pulled until something gives.",
    "Lengths with their unit (mm, in, 5/32 in), stresses in MPa, GPa or ksi, pulls in N, kN, kgf.",
    "A line that begins with # is left out: take the # away to use it.",
)
_OWN_METAL = (
    "A metal of your own, by its tensile test (uniform_strain is the extension at maximum force):",
    '[material."my strip"]',
    'modulus = "193 GPa"',
    'law = "tensile"      # or linear, swift, voce, ramberg-osgood, table',
    'rp02 = "290 MPa"',
    'rm = "620 MPa"',
    'uniform_strain = "45 %"  # or what a mill certificate prints: a5, a50, a80 with thickness',
    "fracture_strain = 1.2  # local true strain at fracture, ln(A0/Af)",
)


def write(case: Mapping[str, Any]) -> str:
    """Return a case table as TOML; bare quantities get their unit, text stays as it was written.

    Parameters
    ----------
    case : mapping
        A valid case table.
    """
    import tomlkit

    return tomlkit.dumps(_document(case, optional=False))


def starter() -> str:
    """Return a commented case to begin from, with every optional key shown."""
    import tomlkit

    document = tomlkit.document()
    for line in _HEADING:
        document.add(tomlkit.comment(line))
    document.add(tomlkit.nl())
    for key, item in _document(STARTER, optional=True).body:
        document.add(key, item) if key else document.add(item)
    document.add(tomlkit.nl())
    for line in _OWN_METAL:
        document.add(tomlkit.comment(line))
    return tomlkit.dumps(document)


def _document(case: Mapping[str, Any], *, optional: bool) -> TOMLDocument:
    import tomlkit

    document = tomlkit.document()
    for key in TOP:
        if key in case:
            document.add(key, _item(case[key]))
    for name, fields in PARTS.items():
        content = case.get(name)
        if content is None:
            continue
        if isinstance(content, Mapping):
            document.add(name, _table(content, fields, optional=optional))
        else:
            several = tomlkit.aot()
            for each in content:
                several.append(_table(each, fields, optional=optional))
            document.add(name, several)
    if case.get("scatter"):
        document.add("scatter", tomlkit.item(case["scatter"]))
    own = case.get("material")
    if own:
        metals = tomlkit.table(is_super_table=True)
        for name, content in own.items():
            metals.add(name, _table(content, library.FIELDS, optional=False))
        document.add("material", metals)
    return document


def _table(content: Mapping[str, Any], fields: Mapping[str, Field], *, optional: bool) -> Table:
    import tomlkit

    table = tomlkit.table()
    for key, field in fields.items():
        if key in content:
            item = _item(_with_unit(content[key], field))
            if field.note and field.kind != "text":
                item.comment(field.note)
            table.add(key, item)
        elif optional and not (key == "hardness" and "material" in content):
            table.add(tomlkit.comment(f"{key} = {field.example}  # {field.note}"))
    if "leg" in content:
        legs = tomlkit.aot()
        for leg in content["leg"]:
            legs.append(tomlkit.item(_leg(leg)))
        table.add("leg", legs)
    return table


def _leg(leg: Mapping[str, Any]) -> dict[str, Any]:
    return {key: _with_unit(value, LEG[key]) for key, value in leg.items()}


def _with_unit(value: Any, field: Field) -> Any:
    kind = {"stresses": "stress", "numbers": "number"}.get(field.kind, field.kind)
    if kind not in get_args(units.Kind) or kind == "number":
        return value
    if isinstance(value, (list, tuple)):
        return [_with_unit(each, field) for each in value]
    return value if isinstance(value, str) else units.show(value, kind)  # type: ignore[arg-type]


def _item(value: Any) -> Any:
    import tomlkit

    if isinstance(value, str) and len(value) > 80 and "\n" not in value:
        return tomlkit.string(value)
    return tomlkit.item(list(value) if isinstance(value, tuple) else value)
