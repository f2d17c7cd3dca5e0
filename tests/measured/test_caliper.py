from __future__ import annotations

import tomllib

import numpy as np
import pytest

import fejoint
from fejoint.errors import BadInput
from fejoint.measured import caliper

SHEET = {
    "peak": "9.5 kN",
    "pin_bend": "0.05 mm",
    "broke": "hole elongation",
    "hole": [
        {"where": "ear 1", "face": "inner", "before": 4.1, "after": 4.35},
        {"where": "ear 1", "face": "outer", "before": "4.10 mm", "after": "4.20 mm"},
        {"where": "ear 2", "face": "inner", "before": 4.1, "after": 4.35},
        {"where": "ear 1", "before": 4.1, "after": 4.3},
    ],
}


@pytest.fixture(scope="module")
def rows(joint):
    return caliper.by_caliper(joint, caliper.read(SHEET), refine=0.5)


def test_predicted_lengths_stand_beside_the_measured(rows):
    assert [round(r.measured, 3) for r in rows] == [0.25, 0.1, 0.25, 0.2, 0.05]
    inner, outer, other, mean, bend = (r.predicted for r in rows)
    assert inner > mean > outer >= 0.0
    assert other == pytest.approx(inner, rel=0.05)
    assert 0.05 < mean < 0.5
    assert 0.0 <= bend < 0.2


def test_a_peak_beyond_the_prediction_is_said(joint):
    sheet = caliper.read({"peak": 90_000.0, "hole": SHEET["hole"][:1]})
    (row,) = caliper.by_caliper(joint, sheet, refine=0.5)
    assert row.predicted is None
    assert "never reaches" in row.why


def test_the_blank_sheet_loads_once_it_is_filled(joint):
    text = caliper.blank(joint)
    with pytest.raises(BadInput, match="peak"):
        caliper.read(tomllib.loads(text))
    filled = text.replace('peak = ""', 'peak = "850 kgf"')
    filled = filled.replace('before = ""', 'before = "4.1 mm"').replace('after = ""', "after = 4.2")
    sheet = caliper.read(tomllib.loads(filled))
    assert sheet.peak == pytest.approx(850 * 9.80665)
    assert {(h.where, h.face) for h in sheet.holes} >= {("ear 1", "inner"), ("ear 2", "outer")}


def test_every_fault_of_a_sheet_is_told():
    with pytest.raises(BadInput) as caught:
        caliper.read({"peak": "8 kg", "broke": "all", "hole": [{"where": "fluke"}], "depth": 3})
    fields = {f.field for f in caught.value.faults}
    assert {"peak", "broke", "depth", "hole.1.where", "hole.1.before", "hole.1.after"} <= fields


def test_a_joint_that_is_no_joint_of_the_sheet_says_so(joint):
    single = fejoint.load({**joint.to_dict(), "ear": joint.to_dict()["ear"][:1],
                           "fit": {"gap": 0.1, "friction": 0.15}})  # fmt: skip
    sheet = caliper.read({"peak": 100.0, "hole": SHEET["hole"][2:3]})
    (row,) = caliper.by_caliper(single, sheet, refine=0.5)
    assert "no ear 2" in row.why


def test_a_sheet_is_tables_a_table_comes_back_and_the_case_s_own_stop_is_left_aside(joint):
    stopped = joint.replace("pull.stop_load", "100 N")
    told = []
    given = {"peak": "8.4 kN", "hole": {"where": "ear 1", "before": "4.1 mm", "after": 4.25}}
    found = caliper.by_caliper(stopped, given, refine=0.35, progress=lambda *x: told.append(x))
    assert found.sheet.peak == 8400.0
    assert list(found.frame["measured_mm"]) == [pytest.approx(0.15)]
    assert 0.05 < found.frame["predicted_mm"][0] < 0.25
    assert told[-1][:2] == ("done", 1.0)


def test_samples_are_one_where_the_same_was_measured_of_them():
    one = caliper.read({"peak": "9 kN", "note": "third"})
    assert one.digest == caliper.read({"peak": 9000, "note": "third", "broke": "pin shear"}).digest
    for other in ({"peak": "9.1 kN", "note": "third"}, {"peak": "9 kN", "note": "fourth"}):
        assert caliper.read(other).digest != one.digest


def test_a_hole_that_shrank_to_less_than_half_was_measured_the_other_way_round():
    hole = {"where": "ear 1", "before": 9.0, "after": 4.1}
    with pytest.raises(BadInput, match=r"hole\.1\.after.*swap them"):
        caliper.read({"peak": "8 kN", "hole": [hole]})


@pytest.mark.parametrize(
    ("plate", "inner", "outer"),
    [(0, 0.95, 0.55), (1, 0.95, 0.55), (2, 0.55, 0.95)],
)
def test_a_face_is_half_a_slice_beyond_the_slices_beside_it(plate, inner, outer):
    kept, names = np.array([0.6, 0.7, 0.8, 0.9]), ("ear", "shank", "ear")
    for face, found in (("inner", inner), ("outer", outer), ("mean", 0.75)):
        assert caliper._on_face(kept, face, plate, names) == pytest.approx(found)
