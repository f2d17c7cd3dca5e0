"""The keys of a case: what each may hold, its range, and what it means.

The ranges hold what fejoint is meant for, with room to spare; they keep a slip of a unit from
becoming a mesh.
"""

from __future__ import annotations

from fejoint.inputs.fields import Field

UNITS = "mm N MPa deg"
ENDS = ("round", "square", "clipped")
PIN_ENDS = ("free", "headed", "held")
LEGS = ("load", "displacement", "release")

HOLE: dict[str, Field] = {
    "hole_slot": Field(
        "length", '"0.3 mm"', 0.0, 500.0, note="longer than round by this, towards the end"
    ),
    "hole_offset": Field(
        "length", '"0.5 mm"', 0.0, 500.0, note="off the axis, to the side of a pull at +90 deg"
    ),
    "flare_depth": Field("length", '"0.5 mm"', 0.0, 100.0, note="conical mouth on the outer face"),
    "flare_angle": Field("angle", '"90 deg"', 20.0, 170.0, note="the cone's whole angle"),
}
"""What may be said of an ear's hole besides its diameter."""

EAR: dict[str, Field] = {
    "count": Field("count", "2", 1, 2, note="ears of this kind: 2, or 1 for single shear"),
    "thickness": Field("length", '"2 mm"', 0.05, 200.0, needed=True),
    "width": Field("length", '"14 mm"', 0.2, 2000.0, needed=True),
    "hole": Field("length", '"4.1 mm"', 0.1, 500.0, needed=True, note="diameter"),
    "edge_distance": Field(
        "length", '"7 mm"', 0.1, 2000.0, needed=True, note="hole centre to the end"
    ),
    "grip_length": Field(
        "length", '"25 mm"', 0.2, 10000.0, needed=True, note="hole centre to where it is held"
    ),
    "end": Field("choice", '"round"', choices=ENDS, note="round, square or clipped"),
    "clip": Field(
        "length", '"3 mm"', 0.0, 1000.0, note='leg of the 45 degree cut of a "clipped" end'
    ),
    **HOLE,
    "material": Field("text", '"316 strip, annealed"', note="see `fejoint materials`"),
    "hardness": Field("text", '"48 HRC"', note="instead of a material; steel only"),
}

PIN: dict[str, Field] = {
    "diameter": Field("length", '"4 mm"', 0.1, 500.0, needed=True),
    "material": EAR["material"],
    "hardness": EAR["hardness"],
    "rigid": Field("flag", "false", note="a pin that never gives"),
    "ends": Field("choice", '"free"', choices=PIN_ENDS, note="free, headed, or held in one ear"),
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
}

FIT: dict[str, Field] = {
    "gap": Field(
        "length",
        '"0.1 mm"',
        0.0,
        500.0,
        note="side gap between each ear and the shank; a list of two",
    ),
    "friction": Field("number", "0.15", 0.0, 1.5, note="coefficient of friction, pin in hole"),
}

PULL: dict[str, Field] = {
    "angle": Field("angle", '"0 deg"', -180.0, 180.0, note="from the ear's axis; 90 is sideways"),
    "stop_displacement": Field("length", '"2 mm"', 1e-6, 1000.0, note="where to stop"),
    "stop_load": Field("force", '"200 kgf"', 1e-3, 1e9, note="where to stop"),
    "large_strain": Field("flag", "true", note="false: small strain, for textbook checks"),
    "ductility": Field("flag", "true", note="false: metal that never tears"),
}

LEG: dict[str, Field] = {
    "load": Field("force", '"200 kgf"', 0.0, 1e9),
    "displacement": Field("length", '"0.3 mm"', 0.0, 1000.0),
    "release": Field("flag", "true"),
}

LEG_LIST = Field("texts", 'load = "200 kgf"', note="[[pull.leg]]: a path of pulls, in order")

TOP: dict[str, Field] = {
    "title": Field("text", '"My joint"'),
    "note": Field("text", '"..."'),
    "units": Field("choice", f'"{UNITS}"', choices=(UNITS,)),
    "assumptions": Field("texts", '["..."]'),
}
PARTS: dict[str, dict[str, Field]] = {
    "ear": EAR,
    "pin": PIN,
    "shank": SHANK,
    "fit": FIT,
    "pull": PULL,
}
