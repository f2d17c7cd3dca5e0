"""Quantities as people write them."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fejoint.inputs import units
from fejoint.inputs.units import UNIT, Misread, read, show


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("4 mm", "length", 4.0),
        ("4mm", "length", 4.0),
        (" 4.10  mm ", "length", 4.1),
        ("5/32 in", "length", 3.96875),
        ("1 1/2 in", "length", 38.1),
        ("0.5 ft", "length", 152.4),
        ("1e-1 cm", "length", 1.0),
        ("-.5 mm", "length", -0.5),
        ("200 kgf", "force", 1961.33),
        ("2 kN", "force", 2000.0),
        ("100 lbf", "force", 444.82216152605),
        ("193 GPa", "stress", 193000.0),
        ("290 N/mm2", "stress", 290.0),
        ("290 N/mm²", "stress", 290.0),
        ("100 ksi", "stress", 689.4757293168),
        ("2 kN/mm2", "stress", 2000.0),
        ("30 deg", "angle", 30.0),
        ("30°", "angle", 30.0),
        ("7900 kg/m3", "density", 7.9),
        ("15 %", "number", 0.15),
        (3, "length", 3.0),
        ("80 mil", "length", 2.032),
        ("3mil", "length", 0.0762),
        ("5 thou", "length", 0.127),
        ('5/32"', "length", 3.96875),
        ("4 ″", "length", 101.6),
        ("9/16in", "length", 14.2875),
        ("½ in", "length", 12.7),
        ("1½ in", "length", 38.1),
        ("1 ½ in", "length", 38.1),
        ("1⁄2 in", "length", 12.7),
        ("−30 deg", "angle", -30.0),
        ("–30°", "angle", -30.0),
        ("4\u00a0mm", "length", 4.0),
        ("4\u202fmm", "length", 4.0),
        ("１２ ｍｍ", "length", 12.0),
        ("4 ㎜", "length", 4.0),
        ("4 \u03bcm", "length", 0.004),
        ("4 \u00b5m", "length", 0.004),
    ],
)
def test_quantity_is_read(text, kind, value):
    assert read(text, kind) == pytest.approx(value, rel=1e-12)


def test_the_table_of_common_units_agrees_with_pint():
    registry = units._registry()
    for kind, table in units._COMMON.items():
        if kind == "number":
            continue
        for unit, factor in table.items():
            plain = unit.replace("²", "**2").replace("mm2", "mm**2").replace("m3", "m**3")
            target = UNIT[kind].replace("cm3", "cm**3")
            assert registry.Quantity(1.0, plain).to(target).magnitude == pytest.approx(
                factor, rel=1e-12
            ), unit


def test_common_units_need_no_pint():
    import subprocess
    import sys

    code = (
        "import sys; from fejoint.inputs.units import read; read('5/32 in', 'length');"
        "read('200 kgf', 'force'); read('193 GPa', 'stress'); read('3 deg', 'angle');"
        "sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize(
    ("text", "kind", "said"),
    [
        ("4 kgf", "length", "not a force"),
        ("4 mm", "force", "not a length"),
        ("200 kg", "force", "not a mass"),
        ("4,1 mm", "length", '"4.1 mm"'),
        ("1,000 mm", "length", "no thousands mark"),
        ("4", "length", "with its unit"),
        ("4 Mpa", "stress", "did you mean MPa?"),
        ("4 mmm", "length", "did you mean mm?"),
        ("4 furlongs per week", "length", "unit"),
        ("3 mm", "number", "leave the unit out"),
        (True, "length", "must be a length"),
        (None, "length", "must be a length"),
        (float("nan"), "length", "finite"),
        (10**400, "length", "finite"),
        ("1,250 mm", "length", '"1.250 mm" or "1250 mm", whichever is meant'),
        ("-1,250 mm", "length", '"-1.250 mm" or "-1250 mm", whichever is meant'),
        ("１，２５０ mm", "length", '"1.250 mm" or "1250 mm"'),
        ("0,250 mm", "length", 'mark: "0.250 mm"'),
        ("1,25 mm", "length", 'mark: "1.25 mm"'),
        ("1250,500 mm", "length", 'mark: "1250.500 mm"'),
        ("1,5e3 mm", "length", 'mark: "1.5e3 mm"'),
        ("1,250.5 mm", "length", 'mark: "1250.5 mm"'),
        ("1.250,5 mm", "length", 'mark: "1250.5 mm"'),
        ("1,250,000 mm", "length", 'mark: "1250000 mm"'),
        ("1.250.000 mm", "length", 'mark: "1250000 mm"'),
        ("1'250 mm", "length", 'mark: "1250 mm"'),
        ("1’250,5 mm", "length", 'mark: "1250.5 mm"'),
        ("1_250 mm", "length", 'mark: "1250 mm"'),
        ("1 250 mm", "length", 'mark: "1250 mm"'),
        ("1,2,3 mm", "length", "one point and no thousands mark"),
        ("1-1/2 in", "length", '"1 1/2 in"'),
        ("10³ mm", "length", "unit of its kind"),
        ("14 15 mm", "length", "unit of its kind"),
    ],
)
def test_what_is_none_is_refused_with_its_mend(text, kind, said):
    with pytest.raises(Misread) as caught:
        read(text, kind)
    assert said in str(caught.value)


@pytest.mark.parametrize("text", ["4.10 mm", "1 1/2 in", "1 250/2 in", "4", "", "mm", "1.5e3 mm"])
def test_a_plain_number_needs_no_other_reading(text):
    assert units.readings(text) == []


@given(st.integers(0, 10**9), st.integers(0, 10**4), st.sampled_from(",.'’_ "))
def test_what_a_number_with_marks_may_mean_reads_as_itself(whole, rest, mark):
    text = f"{whole:,}".replace(",", mark) + ("," if mark == "." else ".") + f"{rest} mm"
    if whole >= 1000:
        (meant,) = units.readings(text)
        assert read(meant, "length") == float(f"{whole}.{rest}")


@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from([k for k in UNIT if k]))
def test_what_is_shown_reads_back_as_the_same_number(number, kind):
    assert read(show(number, kind), kind) == number


@given(st.text(max_size=40), st.sampled_from(list(UNIT)))
def test_any_text_is_read_or_refused(text, kind):
    with contextlib.suppress(Misread):
        read(text, kind)
