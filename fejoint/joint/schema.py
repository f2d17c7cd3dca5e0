"""The keys of a case: what each may hold, its range, default and what it means; see `describe`.

The ranges hold what fejoint is meant for, with room to spare; they keep a slip of a unit from
becoming a mesh.
"""

from __future__ import annotations

from dataclasses import dataclass

from fejoint.inputs.fields import Field
from fejoint.inputs.units import UNIT
from fejoint.materials import library

UNITS = "mm N MPa deg"
ENDS = ("round", "square", "clipped")
PIN_ENDS = ("free", "headed", "held")
LEGS = ("load", "displacement", "release")

HOLE: dict[str, Field] = {
    "hole_slot": Field(
        "length",
        '"0.3 mm"',
        0.0,
        500.0,
        note="longer than round by this, towards the end",
        default=0.0,
    ),
    "hole_offset": Field(
        "length",
        '"0.5 mm"',
        0.0,
        500.0,
        note="off the axis, to the side of a pull at +90 deg",
        default=0.0,
    ),
    "flare_depth": Field(
        "length", '"0.5 mm"', 0.0, 100.0, note="conical mouth on the outer face", default=0.0
    ),
    "flare_angle": Field(
        "angle", '"90 deg"', 20.0, 170.0, note="the cone's whole angle", default=90.0
    ),
}
"""What may be said of an ear's hole besides its diameter."""

EAR: dict[str, Field] = {
    "count": Field(
        "count", "2", 1, 2, note="ears of this kind: 2, or 1 for single shear", default=2
    ),
    "thickness": Field("length", '"2 mm"', 0.05, 200.0, needed=True),
    "width": Field("length", '"14 mm"', 0.2, 2000.0, needed=True),
    "hole": Field("length", '"4.1 mm"', 0.1, 500.0, needed=True, note="diameter"),
    "edge_distance": Field(
        "length", '"7 mm"', 0.1, 2000.0, needed=True, note="hole centre to the end"
    ),
    "grip_length": Field(
        "length", '"25 mm"', 0.2, 10000.0, needed=True, note="hole centre to where it is held"
    ),
    "end": Field(
        "choice", '"round"', choices=ENDS, note="round, square or clipped", default="round"
    ),
    "clip": Field(
        "length",
        '"3 mm"',
        0.0,
        1000.0,
        note='leg of the 45 degree cut of a "clipped" end',
        default=0.0,
    ),
    **HOLE,
    "material": Field("text", '"316 strip, annealed"', note="see `fejoint materials`"),
    "hardness": Field("text", '"48 HRC"', note="instead of a material; steel only"),
    "outline": Field(
        "table",
        '"ear.dxf"',
        note="a drawing (DXF or SVG) of a plate that is no plain strip; its dimensions are then "
        "the drawing's, and edge_distance moves the end",
    ),
    "outline_scale": Field(
        "number", "1.1", 0.05, 20.0, note="of a drawn outline; the pin's hole keeps its size"
    ),
}

PIN: dict[str, Field] = {
    "diameter": Field("length", '"4 mm"', 0.1, 500.0, needed=True),
    "material": EAR["material"],
    "hardness": EAR["hardness"],
    "rigid": Field("flag", "false", note="a pin that never gives", default=False),
    "ends": Field(
        "choice",
        '"free"',
        choices=PIN_ENDS,
        note="free, headed, or held in one ear",
        default="free",
    ),
    "head": Field(
        "length",
        '"9 mm"',
        0.1,
        1000.0,
        note="diameter of the heads or washers outside the ears, each as close to its ear as the "
        "shank (fit.gap); only of a headed pin",
    ),
}

SHANK: dict[str, Field] = {
    "thickness": EAR["thickness"],
    "hole": EAR["hole"],
    "width": Field("length", '"12 mm"', 0.2, 5000.0, note="3 holes if left out"),
    "edge_distance": Field(
        "length", '"6 mm"', 0.1, 5000.0, note="hole centre to the end; 1.5 holes if left out"
    ),
    "length": Field(
        "length",
        '"20 mm"',
        0.2,
        10000.0,
        note="hole centre to where it is held; 5 holes if left out",
    ),
    "end": EAR["end"],
    "clip": EAR["clip"],
    "material": EAR["material"],
    "hardness": EAR["hardness"],
    "outline": EAR["outline"],
    "outline_scale": EAR["outline_scale"],
}

OF_OUTLINE = ("width", "grip_length", "length", "hole_offset", "end", "clip")
"""Keys of a part that its outline takes the place of."""

SHANK_HOLES = {"width": 3.0, "edge_distance": 1.5, "length": 5.0}
"""What is taken for a shank's dimension that is left out, in hole diameters."""

FIT: dict[str, Field] = {
    "gap": Field(
        "length",
        '"0.1 mm"',
        0.0,
        500.0,
        note="side gap between each ear and the shank; a list of two",
        default=0.0,
    ),
    "friction": Field(
        "number", "0.15", 0.0, 1.5, note="coefficient of friction, pin in hole", default=0.15
    ),
}

PULL: dict[str, Field] = {
    "angle": Field(
        "angle", '"0 deg"', -180.0, 180.0, note="from the ear's axis; 90 is sideways", default=0.0
    ),
    "stop_displacement": Field("length", '"2 mm"', 1e-6, 1000.0, note="where to stop"),
    "stop_load": Field("force", '"200 kgf"', 1e-3, 1e9, note="where to stop"),
    "large_strain": Field(
        "flag", "true", note="false: small strain, for textbook checks", default=True
    ),
    "ductility": Field("flag", "true", note="false: metal that never tears", default=True),
}

LEG: dict[str, Field] = {
    "load": Field("force", '"200 kgf"', 0.0, 1e9, note="pull to this load"),
    "displacement": Field("length", '"0.3 mm"', 0.0, 1000.0, note="pull to this displacement"),
    "release": Field("flag", "true", note="let go"),
}

LEG_LIST = Field("texts", 'load = "200 kgf"', note="[[pull.leg]]: a path of pulls, in order")

TOP: dict[str, Field] = {
    "title": Field("text", '"My joint"', note="one line, for people", default=""),
    "note": Field("text", '"..."', note="for people", default="", lines=True),
    "units": Field(
        "choice", f'"{UNITS}"', choices=(UNITS,), note="of numbers without one", default=UNITS
    ),
    "assumptions": Field("texts", '["..."]', note="what was taken for granted", default=()),
}

OWN_METAL = "material:"
"""How the assumption begins that says that a metal is not the library's of its name."""

PARTS: dict[str, dict[str, Field]] = {
    "ear": EAR,
    "pin": PIN,
    "shank": SHANK,
    "fit": FIT,
    "pull": PULL,
}


@dataclass(frozen=True)
class Key:
    """A key of a case as a guide tells it.

    Attributes
    ----------
    table : str
        Its table: "ear", "pull.leg", "material.NAME"; empty for a key above all tables.
    name : str
    field : Field
        Its kind, range (in `unit`), words, default, example and note.
    unit : str
        Of a number without one; empty where there is none.
    """

    table: str
    name: str
    field: Field
    unit: str


def describe() -> tuple[Key, ...]:
    """Return every key that a case may hold, in the order in which it is written."""
    tables = {"": TOP, **PARTS, "pull.leg": LEG, "material.NAME": library.FIELDS}
    units: dict[str, str] = {str(kind): unit for kind, unit in UNIT.items()}
    units["stresses"] = UNIT["stress"]
    return tuple(
        Key(table, name, field, units.get(field.kind, ""))
        for table, fields in tables.items()
        for name, field in fields.items()
    )
