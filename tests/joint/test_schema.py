"""The schema of a case tells all that a guide needs, and what it tells is so."""

from __future__ import annotations

import dataclasses
import math
import tomllib

import pytest
from support.malformed_cases import GOOD

from fejoint.errors import BadInput
from fejoint.inputs import units
from fejoint.joint import parts, schema
from fejoint.joint.model import Joint, read
from fejoint.materials import library

KEYS = {f"{key.table}.{key.name}".strip("."): key for key in schema.describe()}
RANGED = {name: key for name, key in KEYS.items() if key.field.kind in units.UNIT}
OF_PARTS = {"ear": parts.Ear, "pin": parts.Pin, "shank": parts.Shank, "pull": parts.Pull}


def test_every_key_that_is_read_is_told():
    for table, fields in schema.PARTS.items():
        assert {f"{table}.{name}" for name in fields} <= KEYS.keys()
    assert {*schema.TOP, "pull.leg.load", "material.NAME.rp02"} <= KEYS.keys()
    assert KEYS["ear.thickness"].unit == "mm"
    assert KEYS["material.NAME.stress"].unit == "MPa"
    assert KEYS["fit.friction"].unit == ""


@pytest.mark.parametrize("name", KEYS)
def test_a_key_has_all_that_a_guide_tells(name):
    field = KEYS[name].field
    assert field.example
    assert not (field.needed and field.default is not None)
    assert field.note or name in {"ear.thickness", "ear.width", "pin.diameter", "shank.thickness"}
    if field.kind in units.UNIT:
        assert math.isfinite(field.low)
        assert math.isfinite(field.high)
        example = units.read(tomllib.loads(f"x = {field.example}")["x"], field.kind)
        assert field.low <= example <= field.high
        assert field.default is None or field.low <= field.default <= field.high
    if field.kind == "choice":
        assert field.default in (None, *field.choices)


@pytest.mark.parametrize("table", OF_PARTS)
def test_what_a_part_takes_by_itself_is_what_the_schema_tells(table):
    own = {f.name: f.default for f in dataclasses.fields(OF_PARTS[table])}
    apart = {"count", "material", "hardness", "outline_scale"}
    for name, field in schema.PARTS[table].items():
        if name not in apart:
            from_hole = name in schema.SHANK_HOLES if table == "shank" else False
            if field.needed or from_hole:
                assert own[name] is dataclasses.MISSING, name
            else:
                assert own[name] == field.default, name


def test_what_is_left_out_becomes_what_the_schema_tells():
    case = tomllib.loads(GOOD)
    case["ear"].pop("count")
    case["fit"] = {}
    joint = read(case)
    assert len(joint.ears) == KEYS["ear.count"].field.default
    assert joint.friction == KEYS["fit.friction"].field.default
    assert joint.gaps == (KEYS["fit.gap"].field.default,) * 2
    for name, holes in schema.SHANK_HOLES.items():
        assert getattr(joint.shank, name) == holes * joint.shank.hole
        assert f"{holes:g} holes if left out" in schema.SHANK[name].note
    metal = library.custom({"modulus": "200 GPa", "law": "linear", "yield": "300 MPa"})
    for name in ("poisson", "density", "family", "fracture_strain", "strength_band", "source"):
        assert getattr(metal, name) == library.FIELDS[name].default


@pytest.mark.parametrize("name", [n for n in RANGED if n.partition(".")[0] in ("ear", "shank")])
def test_a_number_beyond_its_told_range_is_refused_in_it(name):
    table, _, key = name.partition(".")
    for beyond in (math.nextafter(RANGED[name].field.high, math.inf), RANGED[name].field.low - 1.0):
        case = tomllib.loads(GOOD)
        case[table][key] = beyond
        with pytest.raises(BadInput) as bad:
            Joint.from_dict(case)
        assert name in {f.field for f in bad.value.faults}
