"""Tolerance bands: what is drawn, and what is said of it."""

from __future__ import annotations

import numpy as np
import pytest
from support import cheap

import fejoint
from fejoint.errors import BadInput
from fejoint.joint import writer
from fejoint.studies.sweeps.sampling import Draws, spreads_of
from fejoint.studies.sweeps.tolerance_band import Band, scatter


def with_scatter(joint, table):
    return fejoint.load({**joint.case, "scatter": table})


def draw(joint, table, count=400):
    spreads = spreads_of(with_scatter(joint, table), known_metals=False)
    rows = Draws(with_scatter(joint, table), spreads, count)
    return rows, [rows.row(k) for k in range(count)]


def test_within_is_even_about_the_value(joint):
    _, rows = draw(joint, {"ear.hole": {"within": "0.05 mm"}})
    holes = np.sort([row.inputs["ear.hole"] for row in rows])
    assert holes == pytest.approx(np.linspace(4.05, 4.15, 400), abs=3e-4)
    assert rows[0].case["ear"][1]["hole"] == rows[0].inputs["ear.hole"]


def test_a_deviation_is_normal_and_may_be_a_share(joint):
    _, rows = draw(joint, {"ear.thickness": {"deviation": "2 %"}, "fit": {"friction": {
        "deviation": 0.01}}})  # fmt: skip
    thick = np.array([row.inputs["ear.thickness"] for row in rows])
    assert thick.mean() == pytest.approx(2.0, abs=1e-3)
    assert thick.std() == pytest.approx(0.04, rel=0.03)
    assert np.abs(thick - 2.0).max() <= 0.12
    assert np.std([row.inputs["fit.friction"] for row in rows]) == pytest.approx(0.01, rel=0.03)


def test_between_and_among_take_what_they_name(joint):
    _, rows = draw(joint, {"ear.shape": {"among": ["swift", "voce"]},
                           "fit.friction": {"from": 0.1, "to": 0.3}}, 100)  # fmt: skip
    assert sorted(row.inputs["ear.shape"] for row in rows) == ["swift"] * 50 + ["voce"] * 50
    assert {row.case["material"][row.case["ear"][0]["material"]]["shape"] for row in rows} == {
        "swift", "voce",
    }  # fmt: skip
    friction = [row.inputs["fit.friction"] for row in rows]
    assert min(friction) < 0.102
    assert max(friction) > 0.298


def test_strength_scales_the_part_s_own_metal_alone(joint):
    _, rows = draw(joint, {"ear.strength": {"deviation": "5 %"}}, 5)
    row = rows[0]
    before, after = joint.to_dict(), row.case
    ear = after["material"][after["ear"][0]["material"]]
    nominal = before["material"][before["ear"][0]["material"]]
    factor = row.inputs["ear.strength"]
    assert factor != 1.0
    assert ear["rm"] == pytest.approx(factor * nominal["rm"])
    assert ear["rp02"] == pytest.approx(factor * nominal["rp02"])
    shank = after["material"][after["shank"]["material"]]
    assert shank == before["material"][before["shank"]["material"]]


def test_fracture_strain_and_hardness_reach_the_joint(joint):
    _, rows = draw(joint, {"ear.fracture_strain": {"from": 0.8, "to": 1.2},
                           "pin.hardness": {"deviation": "1 HRC"}}, 20)  # fmt: skip
    made = fejoint.load(rows[0].case)
    assert made.ears[0].material.fracture_strain == rows[0].inputs["ear.fracture_strain"]
    strengths = [fejoint.load(row.case).pin.material.rm for row in rows]
    hard = [row.inputs["pin.hardness"] for row in rows]
    assert np.all(np.argsort(strengths) == np.argsort(hard))


def test_metals_scatter_by_their_known_bands_where_nothing_is_said(joint):
    known = {s.path for s in spreads_of(joint)}
    assert {"ear.strength", "pin.strength", "shank.strength", "ear.fracture_strain"} <= known
    said = spreads_of(with_scatter(joint, {"ear.strength": {"deviation": "1 %"}}))
    assert [s.size for s in said if s.path == "ear.strength"] == [0.01]
    assert spreads_of(joint, known_metals=False) == ()


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ({"ear.hol": {"within": "0.05 mm"}}, "did you mean ear.hole?"),
        ({"ear.hole": "0.05 mm"}, "must say how it scatters"),
        ({"ear.hole": {"within": "0.05 kg"}}, "must be a length"),
        ({"ear.hole": {"between": "0.05 mm"}}, "nothing that scatters"),
        ({"ear.hole": {"within": "0.05 mm", "deviation": "1 %"}}, "must hold within"),
        ({"ear.hole": {"within": "-0.05 mm"}}, "must not be negative"),
        ({"ear.hole": {"within": "90 %"}}, "at most 50 %"),
        ({"fit.friction": {"from": 0.3, "to": 0.1}}, "from less to more"),
        ({"ear.shape": {"among": ["cubic"]}}, "list of shapes"),
        ({"ear.shape": {"within": "5 %"}}, "does not fit"),
        ({"pull.angle": {"within": "5 deg"}}, "nothing that scatters"),
        ("wide", "must be a table"),
        ({"ear.end": {"within": "5 %"}}, "holds no number"),
        ({"ear.hole": {"within": "five %"}}, "must be a length"),
        ({"ear.hole": {"from": "0.001 mm", "to": "4.2 mm"}}, "must lie from"),
        ({"pin.hardness": {"within": "ten HRC"}}, "hardness"),
        ({"pin.hardness": {"within": "inf HRC"}}, "hardness"),
    ],
)
def test_a_slip_in_the_table_is_told_when_the_case_is_read(joint, table, told):
    with pytest.raises(BadInput) as caught:
        with_scatter(joint, table)
    assert told in str(caught.value)


def test_the_table_survives_being_written(joint):
    table = {"ear.hole": {"within": "0.05 mm"}}
    text = writer.write(with_scatter(joint, table).case)
    import tomllib

    assert tomllib.loads(text)["scatter"] == table


def test_median_band_and_cause_are_those_of_the_known_distribution(joint):
    table = {"ear.thickness": {"deviation": "5 %"}, "ear.width": {"deviation": "5 %"}}
    found = scatter(
        with_scatter(joint, table), draws=250, known_metals=False, workers=0,
        model=cheap.closed_form,
    )  # fmt: skip
    middle = cheap.closed_form(joint.to_dict(), {})["load_N"]
    deviation = 0.05 * np.hypot(1.0, 0.3)
    assert found.load.median == pytest.approx(middle, rel=0.005)
    assert found.load.low == pytest.approx(middle * (1.0 - 1.645 * deviation), rel=0.01)
    assert found.load.high == pytest.approx(middle * (1.0 + 1.645 * deviation), rel=0.01)
    assert [c.path for c in found.causes] == ["ear.thickness", "ear.width"]
    assert found.causes[0].share == pytest.approx(1.0 / 1.09, abs=0.03)
    assert found.modes == {("ear", "hole elongation"): 1.0}
    assert "ear: hole stretches 100 %" in found.sentence


def test_modes_are_counted(joint):
    soft = joint.replace("pin.hardness", "255 HV")
    load = cheap.closed_form(soft.to_dict(), {})
    table = {"pin.strength": {"deviation": "20 %"}}
    found = scatter(
        with_scatter(soft, table), draws=200, known_metals=False, workers=0,
        model=cheap.closed_form,
    )  # fmt: skip
    ratio = load["offset_load_N"] / (0.4 * 64.0 * soft.pin.material.rp02 / 3.0)
    from scipy.stats import norm

    expected = norm.cdf((ratio - 1.0) / 0.2)
    assert found.modes.get(("pin", "pin bending"), 0.0) == pytest.approx(expected, abs=0.03)
    assert sum(found.modes.values()) == pytest.approx(1.0)


def test_scatter_without_anything_that_scatters_is_refused(joint):
    with pytest.raises(BadInput, match="scatter"):
        scatter(joint, known_metals=False, workers=0, model=cheap.closed_form)


def test_a_deviation_of_fracture_strain_is_about_the_metal_s_own(joint):
    _, rows = draw(joint, {"ear.fracture_strain": {"deviation": "4 %"}})
    middle = joint.ears[0].material.fracture_strain
    drawn = np.array([row.inputs["ear.fracture_strain"] for row in rows])
    assert drawn.mean() == pytest.approx(middle, rel=1e-3)
    assert drawn.std() == pytest.approx(0.04 * middle, rel=0.03)


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ({"ear.3.hole": {"within": "0.05 mm"}}, "names no ear of this joint"),
        ({"pin.hardness": {"within": "20 HV"}}, "on the same scale"),
        ({"shank.hardness": {"within": "2 HRC"}}, "only where the case gives the hardness"),
    ],
)
def test_what_this_joint_has_not_cannot_scatter(joint, table, told):
    with pytest.raises(BadInput, match=told):
        draw(joint, table, 1)


def test_a_drawn_joint_that_cannot_be_is_a_row_with_its_reason(joint):
    _, rows = draw(joint, {"ear.hole": {"from": "3.8 mm", "to": "4.2 mm"}}, 20)
    for row in rows:
        fits = row.inputs["ear.hole"] >= joint.pin.diameter
        assert (row.case is not None) == fits
        assert fits or "at least the pin's diameter" in row.reason
    assert sum(row.case is None for row in rows) == 10


def test_a_shape_scatters_only_where_two_curves_pass_the_tensile_points(joint):
    assert "ear.shape" in {s.path for s in spreads_of(joint)}
    own = {"modulus": "200 GPa", "poisson": 0.3, "fracture_strain": 0.8}
    flat = {"law": "tensile", "rp02": "500 MPa", "rm": "520 MPa", "uniform_strain": 0.02}
    named = {"law": "swift", "yield": "400 MPa", "strain0": 0.01, "exponent": 0.2}
    for law in (flat, named):
        case = {**joint.case, "material": {"mine": own | law}}
        case["ear"] = {**case["ear"], "material": "mine"}
        assert "ear.shape" not in {s.path for s in spreads_of(fejoint.load(case))}


def test_a_band_of_nothing_is_none_and_too_few_joints_rank_no_cause(joint):
    assert Band.of([None, float("nan")]) is None
    found = scatter(
        with_scatter(joint, {"ear.width": {"within": "1 mm"}}), draws=3, known_metals=False,
        workers=0, model=cheap.closed_form,
    )  # fmt: skip
    assert found.causes == ()
    assert found.load.count == 3


def test_a_hardness_between_two_keeps_its_scale(joint):
    _, rows = draw(joint, {"pin.hardness": {"from": "40 HRC", "to": "50 HRC"}}, 20)
    drawn = [row.inputs["pin.hardness"] for row in rows]
    assert 40.0 <= min(drawn) < 41.0 < 49.0 < max(drawn) <= 50.0
    assert all(row.case["pin"]["material"].endswith(" HRC") for row in rows)
