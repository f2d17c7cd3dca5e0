"""Closed forms: the published worked examples, the statics, and the list of a joint's limits."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support import closed_forms

from fejoint.handbook import beams, limit_loads, strip_bending
from fejoint.handbook import design_codes as codes
from fejoint.joint import model


def _metal(rp02: float, rm: float) -> SimpleNamespace:
    return SimpleNamespace(rp02=rp02, rm=rm)


def _ear(thickness: float = 2.0, strength: float = 290.0) -> SimpleNamespace:
    return SimpleNamespace(
        thickness=thickness,
        width=14.0,
        hole=4.1,
        edge_distance=7.0,
        hole_slot=0.0,
        hole_offset=0.0,
        flare_depth=0.0,
        grip_length=25.0,
        strip_width=14.0,
        outline=None,
        material=_metal(strength, 620.0),
    )


def _joint(
    ears: int = 2, pin_yield: float = 1200.0, *, rigid: bool = False, angle: float = 0.0
) -> Any:
    return SimpleNamespace(
        ears=tuple(_ear() for _ in range(ears)),
        gaps=(0.1,) * ears,
        pull=SimpleNamespace(angle=angle),
        pin=SimpleNamespace(
            head=None,
            diameter=4.0,
            rigid=rigid,
            ends="free",
            material=_metal(pin_yield, 1.3 * pin_yield),
        ),
        shank=SimpleNamespace(
            thickness=6.0, hole=4.1, edge_distance=6.15, material=_metal(600.0, 800.0)
        ),
    )


def test_design_sheet_a_hollow_pin_of_150_mm_to_en_1993() -> None:
    """Printed design sheet to EN 1993-1-8, author not named: 1042, 1084 kN, 224 kNm, 361, 785."""
    assert codes.en_bearing(15, 150, 355, partial=1.15) / 1e3 == pytest.approx(1042, abs=0.5)
    assert codes.en_pin_shear(5104, 460, partial=1.3) / 1e3 == pytest.approx(1084, abs=0.5)
    assert codes.en_pin_bending(4.84e5, 355, partial=1.15) / 1e6 == pytest.approx(224, abs=0.5)
    assert codes.en_contact_stress(210e3, 150e3, 150, 154, 15) == pytest.approx(361, abs=0.5)
    assert codes.en_contact_limit(355, partial=1.13) == pytest.approx(785, abs=0.5)


def test_design_sheet_b_pin_of_16_mm_to_en_1993() -> None:
    """Printed design sheet to EN 1993-1-8, author not named: 35 kN, 123 Nm, 76 Nm.

    The partial factors 1.25, 1.15 and 1.0 are inferred from the printed results.
    """
    area, modulus = beams.round_area(16), beams.round_section_modulus(16)
    assert area == pytest.approx(201.062, abs=1e-3)
    assert modulus == pytest.approx(402.124, abs=1e-3)
    assert codes.en_pin_shear(area, 360, partial=1.25) / 1e3 == pytest.approx(35, abs=0.5)
    assert codes.en_pin_bending(modulus, 235, partial=1.15) / 1e3 == pytest.approx(123, abs=0.5)
    assert codes.en_pin_bending_replaceable(modulus, 235) / 1e3 == pytest.approx(76, abs=0.5)


def test_design_sheet_c_pin_plate_of_20_mm_to_aisc_360() -> None:
    """Printed design sheet to AISC 360-10: 369, 405.9, 371.25 and 990 kN.

    Its b = 30 mm does not follow from its own width of 200 mm; it is a test of arithmetic only.
    """
    t, b, a, d, fy, fu = 20.0, 30.0, 30.0, 50.0, 275.0, 410.0
    loads = (
        codes.aisc_net_tension(t, b, fu, phi=0.75),
        codes.aisc_end_shear(t, a, d, fu, phi=0.75),
        codes.aisc_bearing(t, d, fy, phi=0.75),
        codes.aisc_gross_yield(200.0, t, fy, phi=0.9),
    )
    assert loads == pytest.approx((369e3, 405.9e3, 371.25e3, 990e3), rel=1e-9)
    assert codes.aisc_effective_width(t, 75.0) == 56.0


def test_contact_constant_of_en_1993_is_plane_strain_line_contact() -> None:
    d, d0, t, modulus, load, nu = 20.0, 21.0, 10.0, 210e3, 50e3, 0.3
    reduced = modulus / (2.0 * (1.0 - nu**2))
    relative_radius = 1.0 / (2.0 / d - 2.0 / d0)
    exact = math.sqrt(load / t * reduced / (math.pi * relative_radius))
    # the standard writes d^2 for d d0
    assert codes.en_contact_stress(modulus, load, d, d0, t) * math.sqrt(d / d0) == pytest.approx(
        exact, rel=1e-3
    )


def test_double_shear_moment_is_that_of_the_simple_beam() -> None:
    load, b, c, a = 1000.0, 4.0, 0.2, 2.5
    half = load / 2.0
    by_hand = half * (a / 2 + c + b / 2) - half * b / 4
    assert limit_loads.double_shear_moment(load, b, c, a) == pytest.approx(by_hand)
    assert by_hand == pytest.approx(1225.0)


def test_table_3_9_turned_round_gives_back_its_rule() -> None:
    t, d0, fy = 10.0, 20.0, 235.0
    load = codes.en_load_of_end(t, d0, 25.0, fy)
    assert load / (2 * t * fy) + 2 * d0 / 3 == pytest.approx(25.0)
    assert codes.en_load_of_end(t, d0, 10.0, fy) == 0.0


def test_bolt_rule_splits_bearing_from_tear_out() -> None:
    near = closed_forms.aisc_bolt_bearing(10, 20, 15, 400, deformation_counts=True)
    far = closed_forms.aisc_bolt_bearing(10, 20, 60, 400, deformation_counts=True)
    assert near == pytest.approx(1.2 * 15 * 10 * 400)
    assert far == pytest.approx(2.4 * 20 * 10 * 400)


def test_limits_scale_with_the_number_of_ears_and_cover_every_part() -> None:
    two, one = limit_loads.limits(_joint(2)), limit_loads.limits(_joint(1))
    assert {limit.part for limit in two} == {"ear", "pin", "shank"}
    for ear_limit in (limit for limit in two if limit.part == "ear"):
        single = next(
            x for x in one if (x.source, x.formula) == (ear_limit.source, ear_limit.formula)
        )
        assert ear_limit.load == pytest.approx(2.0 * single.load)
    bearing = limit_loads.headline(two, "hole elongation", "ear", "bearing yield")
    assert bearing is not None
    assert bearing.load == pytest.approx(2 * 1.5 * 2 * 4 * 290)


def test_limits_of_a_joint_read_from_a_case() -> None:
    joint = model.read(
        {
            "ear": {
                "thickness": 2.0,
                "width": 14.0,
                "hole": 4.1,
                "edge_distance": 7.0,
                "grip_length": 25.0,
                "material": "strip",
            },
            "pin": {"diameter": 4.0, "hardness": "48 HRC"},
            "shank": {"thickness": 6.0, "hole": 4.1, "hardness": "300 HV"},
            "fit": {"gap": 0.1},
            "material": {
                "strip": {
                    "modulus": 193e3,
                    "law": "tensile",
                    "rp02": 290.0,
                    "rm": 620.0,
                    "uniform_strain": 0.45,
                }
            },
        }
    )
    bearing = limit_loads.headline(
        limit_loads.limits(joint), "hole elongation", "ear", "bearing yield"
    )
    assert bearing is not None
    assert bearing.load == pytest.approx(2 * 1.5 * 2 * 4 * 290, rel=1e-3)


def test_every_limit_carries_source_formula_and_status() -> None:
    for limit in limit_loads.limits(_joint()):
        assert limit.load > 0
        assert limit.source
        assert limit.formula
        assert limit.status


def test_a_rigid_pin_has_no_limits_and_leaves_the_bearing_to_the_ear() -> None:
    found = limit_loads.limits(_joint(rigid=True, pin_yield=100.0))
    assert not [limit for limit in found if limit.part == "pin"]
    bearing = limit_loads.headline(found, "hole elongation", "ear", "bearing yield")
    assert bearing is not None
    assert bearing.load == pytest.approx(2 * 1.5 * 2 * 4 * 290)
    assert limit_loads.headline(found, "pin shear", "pin", "shear yield") is None


def test_a_soft_pin_bends_before_the_ear_and_a_hard_one_after() -> None:
    for pin_yield, first in ((250.0, "pin bending"), (1600.0, "hole elongation")):
        found = limit_loads.limits(_joint(pin_yield=pin_yield))
        strengths = [limit for limit in found if "Table 3.9" not in limit.source]
        assert min(strengths, key=lambda limit: limit.load).mode == first


def test_an_ear_of_two_unequal_ones_counts_twice_its_own() -> None:
    joint = _joint()
    joint.ears = (_ear(2.0), _ear(3.0))
    found = limit_loads.limits(joint)
    for member, thickness in (("ear 1", 2.0), ("ear 2", 3.0)):
        line = limit_loads.headline(found, "hole elongation", "ear", "bearing yield", member)
        assert line is not None
        assert line.load == pytest.approx(2 * 1.5 * thickness * 4 * 290)


def test_a_pin_between_ears_that_pull_unevenly_is_outside_its_rules() -> None:
    even, thick, wide, held = (_joint() for _ in range(4))
    thick.ears = (_ear(2.0), _ear(3.0))
    wide.gaps = (0.1, 0.4)
    held.pin.ends = "held"
    for joint, said in ((even, ""), (thick, "evenly"), (wide, "evenly"), (held, "evenly")):
        rows = [x for x in limit_loads.limits(joint) if x.part == "pin"]
        assert len(rows) == 6
        assert all(bool(x.outside) is bool(said) and said in x.outside for x in rows)


def test_a_rule_outside_its_bounds_says_so_and_gives_way_to_one_within() -> None:
    joint = _joint()
    joint.ears[0].edge_distance = joint.ears[1].edge_distance = 8.0
    line = limit_loads.headline(
        limit_loads.limits(joint), "hole elongation", "ear", "bearing yield"
    )
    assert line is not None
    assert line.outside == ""
    joint.ears[0].edge_distance = joint.ears[1].edge_distance = 5.0
    line = limit_loads.headline(
        limit_loads.limits(joint), "hole elongation", "ear", "bearing yield"
    )
    assert line is not None
    assert "shorter" in line.outside
    narrow = _joint()
    narrow.ears[0].width = narrow.ears[1].width = 8.0
    narrow.ears[0].edge_distance = narrow.ears[1].edge_distance = 8.0
    line = limit_loads.headline(
        limit_loads.limits(narrow), "hole elongation", "ear", "bearing yield"
    )
    assert line is not None
    assert "narrower" in line.outside
    stubby = _joint()
    stubby.ears[0].edge_distance = stubby.ears[1].edge_distance = 6.0
    line = limit_loads.headline(limit_loads.limits(stubby), "net section", "ear", "breaking")
    assert line is not None
    assert line.source.startswith("textbook")


def test_rules_for_a_straight_pull_say_so_at_another_angle() -> None:
    found = limit_loads.limits(_joint(angle=40.0))
    ears = [x for x in found if x.part == "ear"]
    assert all(("straight" in x.outside) != (x.mode == "ear bending") for x in ears)


def test_a_strip_is_fully_plastic_at_its_grip_at_its_hinge_load() -> None:
    ear = _ear()
    sideways = strip_bending.strip_hinge_load(ear, 90.0)
    assert sideways * 25.0 == pytest.approx(2.0 * 14.0**2 / 4.0 * 290.0)
    assert strip_bending.strip_hinge_load(ear, 0.0) == pytest.approx(14.0 * 2.0 * 290.0)
    assert sum(strip_bending.strip_use(ear, strip_bending.strip_hinge_load(ear, 50.0), 50.0)) == (
        pytest.approx(1.0)
    )
    ear.hole_offset = 1.0
    moment, pull = strip_bending.strip_use(ear, 1000.0, 0.0)
    assert moment == pytest.approx(1000.0 * 1.0 / (2.0 * 14.0**2 / 4.0 * 290.0))
    assert pull == pytest.approx((1000.0 / (14.0 * 2.0 * 290.0)) ** 2)


def test_the_flares_rule_is_told_of_the_flared_ear_only() -> None:
    joint = _joint()
    joint.ears = (_ear(2.0), _ear(2.0))
    joint.ears[1].flare_depth = 0.8
    found = limit_loads.limits(joint)
    for member, thickness, formula in (("ear 1", 2.0, "1.5 t d fy"), ("ear 2", 1.6, "flare")):
        line = limit_loads.headline(found, "hole elongation", "ear", "bearing yield", member)
        assert line is not None
        assert line.load == pytest.approx(2 * 1.5 * thickness * 4 * 290)
        assert formula in line.formula


@given(st.floats(-90, 90), st.floats(1.0, 1e5), st.floats(1.0, 1e5))
def test_oblique_load_meets_its_ends_and_is_even(angle: float, axial: float, side: float) -> None:
    load = limit_loads.oblique_load(axial, side, angle)
    assert load == pytest.approx(limit_loads.oblique_load(axial, side, -angle))
    assert limit_loads.oblique_load(axial, side, 0.0) == pytest.approx(axial)
    assert limit_loads.oblique_load(axial, side, 90.0) == pytest.approx(side)
    assert load <= 1.2 * max(axial, side)


def test_oblique_load_has_no_back_thrust() -> None:
    with pytest.raises(ValueError, match="-90 to 90"):
        limit_loads.oblique_load(1.0, 1.0, 120.0)


def test_combined_use_is_one_at_the_load_solved_for() -> None:
    bending, plane, arm = 4000.0, 6000.0, 1.7
    load = limit_loads.load_at_unit_use(arm / bending, 0.5 / plane)
    assert closed_forms.en_combined_use(load * arm, bending, load / 2, plane) == pytest.approx(1.0)


def test_flare_costs_half_its_depth_in_bearing():
    flared = _ear()
    flared.flare_depth = 0.8
    assert limit_loads.bearing_thickness(flared) == pytest.approx(1.6)
    assert limit_loads.bearing_thickness(_ear()) == 2.0
