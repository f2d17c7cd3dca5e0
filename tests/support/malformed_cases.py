"""Malformed case files, made from a good one, each with the field that its message must name."""

from __future__ import annotations

GOOD = """\
title = "good"
note = "invented"

[ear]
count = 2
thickness = "2 mm"
width = "14 mm"
hole = "4.1 mm"
edge_distance = "7 mm"
grip_length = "25 mm"
end = "round"
material = "316 strip, annealed"

[pin]
diameter = "4 mm"
hardness = "48 HRC"
ends = "free"

[shank]
thickness = "6 mm"
hole = "4.1 mm"
material = "my bar"

[fit]
gap = "0.1 mm"
friction = 0.15

[pull]
angle = "0 deg"

[material."my bar"]
modulus = "200 GPa"
poisson = 0.3
law = "swift"
yield = "400 MPa"
strain0 = 0.01
exponent = 0.15
fracture_strain = 0.9
"""

# what is wrong: (line of the good case, line in its place, field named)
_EDITS: dict[str, tuple[str, str, str]] = {
    "a length in a unit of force": ('width = "14 mm"', 'width = "14 kgf"', "ear.width"),
    "a length in a unit of stress": ('width = "14 mm"', 'width = "14 MPa"', "ear.width"),
    "a length in a unit of time": ('width = "14 mm"', 'width = "14 s"', "ear.width"),
    "a length in an unknown unit": ('width = "14 mm"', 'width = "14 zoll"', "ear.width"),
    "a length without unit in quotes": ('width = "14 mm"', 'width = "14"', "ear.width"),
    "a length without number": ('width = "14 mm"', 'width = "mm"', "ear.width"),
    "an empty length": ('width = "14 mm"', 'width = ""', "ear.width"),
    "two numbers": ('width = "14 mm"', 'width = "14 mm 15 mm"', "ear.width"),
    "a sum": ('width = "14 mm"', 'width = "14 + 2 mm"', "ear.width"),
    "a flag for a length": ('width = "14 mm"', "width = true", "ear.width"),
    "a list for a length": ('width = "14 mm"', "width = [14, 15]", "ear.width"),
    "a date for a length": ('width = "14 mm"', "width = 2024-01-01", "ear.width"),
    "a table for a length": ('width = "14 mm"', "width = {mm = 14}", "ear.width"),
    "a decimal comma": ('width = "14 mm"', 'width = "14,5 mm"', "ear.width"),
    "a bare decimal comma": ('width = "14 mm"', "width = 14,5", "ear.width"),
    "a quantity without quotes": ('width = "14 mm"', "width = 14 mm", "ear.width"),
    "an open quote": ('width = "14 mm"', 'width = "14 mm', "ear.width"),
    "a key twice": ('width = "14 mm"', 'width = "14 mm"\nwidth = "15 mm"', "ear.width"),
    "not a number": ('width = "14 mm"', "width = nan", "ear.width"),
    "infinity": ('width = "14 mm"', "width = inf", "ear.width"),
    "a number beyond floats": ('width = "14 mm"', 'width = "1e999 mm"', "ear.width"),
    "a huge integer": ('width = "14 mm"', f"width = {10**400}", "ear.width"),
    "an absurdly large length": ('width = "14 mm"', 'width = "14 km"', "ear.width"),
    "a fraction over zero": ('width = "14 mm"', 'width = "5/0 in"', "ear.width"),
    "a unit that is a sum of work": ('width = "14 mm"', 'width = "14 mm**9**9**9"', "ear.width"),
    "a unit with code in it": ('width = "14 mm"', "width = '14 __import__(\"os\")'", "ear.width"),
    "a very long text": ('width = "14 mm"', f'width = "{"9" * 5000} mm"', "ear.width"),
    "a negative thickness": ('thickness = "2 mm"', 'thickness = "-2 mm"', "ear.thickness"),
    "no thickness at all": ('thickness = "2 mm"', "thickness = 0", "ear.thickness"),
    "a thickness a thousand times off": (
        'thickness = "2 mm"',
        'thickness = "2 um"',
        "ear.thickness",
    ),
    "a missing thickness": ('thickness = "2 mm"\n', "", "ear.thickness"),
    "a width under the hole": ('width = "14 mm"', 'width = "4 mm"', "ear.width"),
    "a width that leaves a thread": ('width = "14 mm"', 'width = "4.2 mm"', "ear.width"),
    "an edge without metal": (
        'edge_distance = "7 mm"',
        'edge_distance = "2 mm"',
        "ear.edge_distance",
    ),
    "a hole smaller than its pin": ('hole = "4.1 mm"\nedge', 'hole = "3.9 mm"\nedge', "ear.hole"),
    "a hole far larger than its pin": ('hole = "4.1 mm"\nedge', 'hole = "9 mm"\nedge', "ear.hole"),
    "a grip at the hole": ('grip_length = "25 mm"', 'grip_length = "3 mm"', "ear.grip_length"),
    "three ears": ("count = 2", "count = 3", "ear.count"),
    "an ear and a half": ("count = 2", "count = 1.5", "ear.count"),
    "a flag for a count": ("count = 2", "count = true", "ear.count"),
    "an unknown end": ('end = "round"', 'end = "rounded"', "ear.end"),
    "a number for an end": ('end = "round"', "end = 3", "ear.end"),
    "a clipped end without its cut": ('end = "round"', 'end = "clipped"', "ear.clip"),
    "a cut into the hole": (
        'end = "round"',
        'end = "clipped"\nclip = "13 mm"',
        "ear.clip",
    ),
    "a cut on a round end": ('end = "round"', 'end = "round"\nclip = "2 mm"', "ear.clip"),
    "an unknown material": ('"316 strip, annealed"', '"316 strip annealed soft"', "ear.material"),
    "a number for a material": ('"316 strip, annealed"', "316", "ear.material"),
    "an empty material": ('"316 strip, annealed"', '""', "ear.material"),
    "an ear of spring wire": ('"316 strip, annealed"', '"1.4310 spring wire, as drawn"', "ear.mat"),
    "no material": ('material = "316 strip, annealed"\n', "", "ear.material"),
    "austenitic metal by hardness": (
        'material = "316 strip, annealed"',
        'material = "316 strip, annealed"\nhardness = "180 HV"',
        "ear.hardness",
    ),
    "a misspelt key": ('width = "14 mm"', 'widht = "14 mm"', "ear.widht"),
    "a key of another table": (
        'width = "14 mm"',
        'width = "14 mm"\nfriction = 0.1',
        "ear.friction",
    ),
    "a key in no table": ('title = "good"', 'title = "good"\nfriction = 0.1', "friction"),
    "an unknown table": ("[fit]", "[fitting]", "fitting"),
    "a number for a title": ('title = "good"', "title = 5", "title"),
    "a pin without diameter": ('diameter = "4 mm"\n', "", "pin.diameter"),
    "a pin thicker than the shank's hole": (
        'diameter = "4 mm"',
        'diameter = "4.2 mm"',
        "shank.hole",
    ),
    "hardness without a scale": ('hardness = "48 HRC"', 'hardness = "48"', "pin.hardness"),
    "hardness as a number": ('hardness = "48 HRC"', "hardness = 48", "pin.hardness"),
    "hardness on an unknown scale": ('hardness = "48 HRC"', 'hardness = "48 HRB"', "pin.hardness"),
    "hardness beyond the table": ('hardness = "48 HRC"', 'hardness = "64 HRC"', "pin.hardness"),
    "hardness below the scale": ('hardness = "48 HRC"', 'hardness = "12 HRC"', "pin.hardness"),
    "hardness with a comma": ('hardness = "48 HRC"', 'hardness = "48,5 HRC"', "pin.hardness"),
    "a rigid pin of a hardness": (
        'hardness = "48 HRC"',
        'hardness = "48 HRC"\nrigid = true',
        "pin.hardness",
    ),
    "a word for a flag": ('hardness = "48 HRC"', 'hardness = "48 HRC"\nrigid = "no"', "pin.rigid"),
    "unknown pin ends": ('ends = "free"', 'ends = "loose"', "pin.ends"),
    "wire too thin for its table": (
        'diameter = "4 mm"\nhardness = "48 HRC"',
        'diameter = "1.5 mm"\nmaterial = "1.4310 spring wire, straightened"',
        "pin.material",
    ),
    "a shank that is no table": (
        '[shank]\nthickness = "6 mm"\nhole = "4.1 mm"\nmaterial = "my bar"',
        "[[shank]]",
        "shank",
    ),
    "an unknown metal of one's own": (
        'material = "my bar"',
        'material = "my bra"',
        "shank.material",
    ),
    "a negative gap": ('gap = "0.1 mm"', 'gap = "-0.1 mm"', "fit.gap"),
    "more gaps than ears": ('gap = "0.1 mm"', 'gap = ["0.1 mm", "0.1 mm", "0.1 mm"]', "fit.gap"),
    "a gap in a unit of force": ('gap = "0.1 mm"', 'gap = ["0.1 N", "0.1 mm"]', "fit.gap.1"),
    "friction with a unit": ("friction = 0.15", 'friction = "0.15 mm"', "fit.friction"),
    "negative friction": ("friction = 0.15", "friction = -0.15", "fit.friction"),
    "friction as a percentage number": ("friction = 0.15", "friction = 15", "fit.friction"),
    "an angle in a unit of length": ('angle = "0 deg"', 'angle = "3 mm"', "pull.angle"),
    "an angle past the back": ('angle = "0 deg"', 'angle = "190 deg"', "pull.angle"),
    "a stop in a unit of mass": (
        'angle = "0 deg"',
        'angle = "0 deg"\nstop_load = "200 kg"',
        "pull.stop_load",
    ),
    "a stop at nothing": ('angle = "0 deg"', "stop_displacement = 0", "pull.stop_displacement"),
    "a leg of two kinds": (
        'angle = "0 deg"',
        'leg = [{load = "200 kgf", release = true}]',
        "pull.leg.1",
    ),
    "a leg in the wrong unit": ('angle = "0 deg"', 'leg = [{load = "2 mm"}]', "pull.leg.1.load"),
    "a leg that is none": ('angle = "0 deg"', "leg = 3", "pull.leg"),
    "an unknown law": ('law = "swift"', 'law = "swit"', "material.my bar.law"),
    "a law without its key": ("exponent = 0.15\n", "", "material.my bar.exponent"),
    "a key of another law": (
        "exponent = 0.15",
        "exponent = 0.15\nrate = 3",
        "material.my bar.rate",
    ),
    "a modulus in a unit of force": ('"200 GPa"', '"200 N"', "material.my bar.modulus"),
    "a modulus in the wrong case": ('"200 GPa"', '"200 Gpa"', "material.my bar.modulus"),
    "no modulus": ('modulus = "200 GPa"\n', "", "material.my bar.modulus"),
    "an impossible Poisson's ratio": ("poisson = 0.3", "poisson = 0.5", "material.my bar.poisson"),
    "a negative yield stress": ('"400 MPa"', '"-400 MPa"', "material.my bar.yield"),
    "a fracture strain of nothing": (
        "fracture_strain = 0.9",
        "fracture_strain = 0.0",
        "material.my bar.fracture_strain",
    ),
    "a band beside its value": (
        "fracture_strain = 0.9",
        "fracture_strain = 0.9\nfracture_band = [1.0, 1.2]",
        "material.my bar.fracture_band",
    ),
    "a tensile strength below yield": (
        'law = "swift"\nyield = "400 MPa"\nstrain0 = 0.01\nexponent = 0.15',
        'law = "tensile"\nrp02 = "400 MPa"\nrm = "300 MPa"\nuniform_strain = 0.1',
        "material.my bar",
    ),
    "a table that falls back": (
        'law = "swift"\nyield = "400 MPa"\nstrain0 = 0.01\nexponent = 0.15',
        'law = "table"\nstrain = [0.0, 0.2, 0.1]\nstress = [400, 500, 600]',
        "material.my bar",
    ),
}


def _edited(old: str, new: str) -> str:
    assert GOOD.count(old) >= 1, old
    return GOOD.replace(old, new, 1)


MALFORMED: dict[str, tuple[bytes, str]] = {
    what: (_edited(old, new).encode(), field) for what, (old, new, field) in _EDITS.items()
} | {
    "an empty file": (b"", "ear"),
    "no pin": (GOOD.replace("[pin]", "[fit2]").encode(), "pin"),
    "no TOML": (b"this is a shopping list\n", "line 1"),
    "an open table": (GOOD.replace("[pin]", "[pin").encode(), "line 14"),
    "bytes of another encoding": (GOOD.replace("good", "g\xf6od").encode("latin-1"), "case.toml"),
    "a picture": (b"\x89PNG\r\n\x1a\n\x00\x00\x00", "case.toml"),
    "a megabyte too much": (b"# " + b"x" * 2_000_000, "case.toml"),
    "a deep nest": (b"title = " + b"[" * 100_000 + b"]" * 100_000, "case.toml"),
}
"""What is wrong: the file's bytes, and how the field named begins."""
