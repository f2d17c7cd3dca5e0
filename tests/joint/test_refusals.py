"""Rarer faults, each refused at its own field and with its own words."""

from __future__ import annotations

import copy
import tomllib

import numpy as np
import pytest
from support.malformed_cases import GOOD

import fejoint
from fejoint.errors import BadInput
from fejoint.kernel.hardening import Hardening
from fejoint.measured import log_reader
from fejoint.measured.log_record import Hints
from fejoint.reference_models.open_hole import open_hole
from fejoint.validation import reference_case

RAMBERG = {"law": "ramberg-osgood", "rp02": "250 MPa"}


def changed(*path, value):
    """The good case with one value set."""
    case = copy.deepcopy(tomllib.loads(GOOD))
    table = case
    for key in path[:-1]:
        table = table[key]
    table[path[-1]] = value
    return case


def ears(count):
    case = tomllib.loads(GOOD)
    ear = {k: v for k, v in case["ear"].items() if k != "count"}
    return case | {"ear": [ear] * count}


def metal(**more):
    own = tomllib.loads(GOOD)["material"]["my bar"]
    kept = {k: own[k] for k in ("modulus", "poisson", "fracture_strain")}
    return changed("material", "my bar", value=kept | more)


@pytest.mark.parametrize(
    ("case", "field", "said"),
    [
        (ears(3), "ear", "one or two ears"),
        (ears(0), "ear", "one or two ears"),
        (
            changed("ear", value=[tomllib.loads(GOOD)["ear"]]),
            "ear.1.count",
            "belongs to one [ear]",
        ),
        (changed("title", value="x" * 100_000), "title", "at most"),
        (changed("ear", "flare_depth", value="1.9 mm"), "ear.flare_depth", "land of a fifth"),
        (changed("shank", "length", value="1 mm"), "shank.length", "at least the shank's width"),
        (metal(), "material.my bar.law", "is missing"),
        (metal(**RAMBERG, exponent=0.9), "material.my bar.exponent", "exceed 1"),
        (
            metal(law="swift", strain0=0.01, exponent=2.5, **{"yield": "400 MPa"}),
            "material.my bar.exponent",
            "less than 2",
        ),
    ],
)
def test_a_case_s_rarer_faults_are_named(case, field, said):
    with pytest.raises(BadInput) as bad:
        fejoint.load(case)
    found = {f.field: f.allowed for f in bad.value.faults}
    assert field in found
    assert said in found[field]


@pytest.mark.parametrize(
    ("rp02", "rm", "ag", "shape", "said"),
    [
        (300.0, 250.0, 0.1, "swift", "must lie above"),
        (250.0, 300.0, 0.0005, "swift", "too small"),
        (100.0, 900.0, 0.003, "voce", "Voce curve"),
        (50.0, 1000.0, 0.0025, "swift", "no Swift curve passes Rp0.2 and Rm"),
        (50.0, 100.0, 1.5, "voce", "no Voce curve passes Rp0.2 and Rm"),
        (250.0, 500.0, 0.2, "straight", "not 'swift' or 'voce'"),
    ],
)
def test_a_tensile_test_that_no_curve_passes_is_refused(rp02, rm, ag, shape, said):
    with pytest.raises(ValueError, match=said):
        Hardening.from_tensile(200e3, rp02, rm, ag, shape)


def test_a_hardening_curve_is_equal_to_no_other_thing():
    assert Hardening.linear(250.0) != 250.0
    assert Hardening.linear(250.0) == Hardening.linear(250.0)


@pytest.mark.parametrize(
    ("hole", "more", "said"),
    [
        ((2.0, 1.0), {"edge": "infinite plate"}, "circular hole"),
        (2.0, {"remote": (0.0, 0.0, 0.0)}, "must hold a stress"),
        (20.0, {}, "must be more than"),
    ],
)
def test_a_plate_that_cannot_be_is_refused(hole, more, said):
    with pytest.raises(BadInput, match=said):
        open_hole(hole, 20.0, 20.0, **more)


CASE = "given = 1\n"
EXPECTED = """\
title = "a case"
kind = "{kind}"
run = "bar"
[source]
author = "A"
title = "T"
year = 1950
where = "p. 1"
status = "read"
{rows}
"""
ROW = '[[expect]]\nquantity = "load"\nvalue = {value}\nunit = "N"\ntolerance = 0.01\nreason = "r"\n'


@pytest.mark.parametrize(
    ("kind", "rows", "said"),
    [
        ("linear", "", "must hold a row"),
        ("magic", ROW.format(value=1.0), "must be one of linear"),
        ("linear", ROW.format(value='"much"'), "must be a number"),
        ("linear", ROW.format(value=1.0) + 'sense = "sideways"\n', "must be one of"),
        ("linear", "[[expect", "is no TOML"),
    ],
)
def test_a_reference_case_that_is_none_is_refused_with_its_folder(kind, rows, said, tmp_path):
    folder = tmp_path / "odd"
    folder.mkdir()
    (folder / "case.toml").write_text(CASE)
    (folder / "expected.toml").write_text(EXPECTED.format(kind=kind, rows=rows))
    with pytest.raises(BadInput, match=said) as bad:
        reference_case.read_all(tmp_path)
    assert [f.field.partition(":")[0] for f in bad.value.faults] == ["odd"]


def test_a_folder_without_cases_is_refused(tmp_path):
    with pytest.raises(BadInput, match="one folder each"):
        reference_case.read_all(tmp_path)


@pytest.fixture
def log(tmp_path):
    def write(text):
        path = tmp_path / "log.csv"
        path.write_text(text)
        return path

    return write


ROWS = [(0.05 * k, 100.0 * k) for k in range(60)]


@pytest.mark.parametrize(
    ("hints", "said"),
    [
        (Hints(decimal="'"), "must be . or ,"),
        (Hints(separator="and"), "must be one of"),
    ],
)
def test_a_log_s_marks_that_are_none_are_refused(hints, said, log):
    path = log("travel mm;force N\n" + "".join(f"{x};{f}\n" for x, f in ROWS))
    with pytest.raises(BadInput, match=said):
        log_reader.read(path, hints)


def test_a_separator_can_be_named_in_words(log):
    path = log("travel mm\tforce N\n" + "".join(f"{x}\t{f}\n" for x, f in ROWS))
    assert log_reader.read(path, Hints(separator="tab")).rows == len(ROWS)


def test_loads_that_are_counted_downwards_are_turned_round(log):
    path = log("travel mm;force N\n" + "".join(f"{x};{-f}\n" for x, f in ROWS))
    found = log_reader.read(path, Hints())
    assert np.max(found.force) == pytest.approx(5900.0)
    assert any("turned round" in said for said in found.assumed)
