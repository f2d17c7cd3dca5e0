"""Hardness scales and strength: the published rows, their range, and for which metal."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fejoint.errors import BadInput
from fejoint.materials import hardness
from fejoint.materials.hardness import Hardness, convert, parse, to_hv, to_strength


@pytest.mark.parametrize(
    ("text", "value", "scale"),
    [
        ("48 HRC", 48.0, "HRC"),
        ("48HRC", 48.0, "HRC"),
        ("48.5 hrc", 48.5, "HRC"),
        ("HRC 48", 48.0, "HRC"),
        ("500 HV", 500.0, "HV"),
        ("500 HV10", 500.0, "HV"),
        ("500 HV 30", 500.0, "HV"),
        ("285 HB", 285.0, "HB"),
        ("285 HBW", 285.0, "HB"),
    ],
)
def test_hardness_is_read_as_people_write_it(text, value, scale):
    assert parse(text) == Hardness(value, scale)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("48", '"48 HRC" or "48 HV"'),
        ("48,5 HRC", "decimal point"),
        ("48 HRB", "only HRC"),
        ("48 Rockwell", '"48 HRC"'),
        ("HRC", "write for example"),
        ("-48 HRC", "write for example"),
        ("", "write for example"),
        (48, "name the scale"),
        (None, "name the scale"),
    ],
)
def test_what_is_no_hardness_is_refused_with_its_mend(text, said):
    with pytest.raises(BadInput, match=said):
        parse(text)


# DIN 50150 (predecessor of ISO 18265), HV to Rm of unalloyed and low-alloy steel.
@pytest.mark.parametrize(
    ("hv", "rm"), [(100, 320), (200, 640), (300, 965), (400, 1290), (500, 1630), (600, 1995)]
)
def test_strength_agrees_with_the_rows_of_din_50150(hv, rm):
    assert to_strength(f"{hv} HV").rm == pytest.approx(rm)


# SAE J417 / ASTM A370: HRC, HV, HB, Rm in MPa; the two tables differ by up to 5 %.
@pytest.mark.parametrize(
    ("hrc", "hv", "hb", "rm"),
    [
        (55, 595, 560, 2075),
        (50, 513, 481, 1758),
        (45, 446, 421, 1482),
        (40, 392, 371, 1255),
        (34, 336, 319, 1048),
        (28, 286, 271, 903),
        (20, 238, 226, 758),
    ],
)
def test_both_published_tables_lie_inside_the_band(hrc, hv, hb, rm):
    estimate = to_strength(f"{hrc} HRC")
    assert to_hv(f"{hrc} HRC") == pytest.approx(hv, rel=0.01)
    assert convert(f"{hrc} HRC", "HB") == pytest.approx(hb, rel=0.02)
    assert estimate.second_rm == pytest.approx(rm)
    assert estimate.low <= rm <= estimate.high
    assert estimate.rm == pytest.approx(rm, rel=0.055)


def test_the_estimate_says_where_it_comes_from_and_how_far_it_holds():
    estimate = to_strength("48 HRC")
    assert "ISO 18265" in estimate.source
    assert "from memory" in estimate.source
    assert "650 HV" in estimate.valid
    assert estimate.low < estimate.rm < estimate.high


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        ("60 HRC", "brittle"),
        ("19 HRC", "HV or HB"),
        ("700 HV", "brittle"),
        ("60 HV", "tensile data"),
        ("700 HB", "brittle"),
    ],
)
def test_outside_the_table_nothing_is_extrapolated(text, mend):
    with pytest.raises(BadInput, match=mend):
        to_strength(text)


def test_austenitic_metal_is_never_converted_by_the_steel_table():
    with pytest.raises(BadInput, match="own tensile data"):
        to_strength("383 HV", "austenitic stainless steel, cold worked")


def test_soft_steel_has_no_rockwell_c():
    assert convert("200 HV", "HRC") is None
    assert convert("300 HV", "HRC") == pytest.approx(29.8)


@given(st.floats(80.0, 649.0))
def test_strength_rises_with_hardness(hv):
    assert to_strength(Hardness(hv + 1.0, "HV")).rm > to_strength(Hardness(hv, "HV")).rm


@given(st.floats(239.0, 650.0), st.sampled_from(["HRC", "HB"]))
def test_scales_convert_there_and_back(hv, scale):
    there = convert(Hardness(hv, "HV"), scale)
    low, high = hardness._RANGE[scale]
    assert there is not None
    assert low <= there <= high
    assert to_hv(Hardness(there, scale)) == pytest.approx(hv, rel=1e-9)
