"""The library of materials, laws by hardness, and laws of one's own."""

from __future__ import annotations

import json
import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fejoint.errors import BadInput
from fejoint.materials import hardening_laws as laws
from fejoint.materials import library
from fejoint.materials.hardness import STEEL

SWIFT = {"modulus": "193 GPa", "law": "swift", "yield": "290 MPa", "strain0": 0.02235}
SWIFT |= {"exponent": 0.394, "fracture_strain": 1.0}

LAWS = {
    "linear": {"law": "linear", "yield": 300.0, "slope": 900.0},
    "perfectly plastic": {"law": "linear", "yield": 300.0},
    "swift": {"law": "swift", "yield": 290.0, "strain0": 0.02235, "exponent": 0.394},
    "voce": {"law": "voce", "yield": 260.0, "rise": 520.0, "rate": 11.0},
    "ramberg-osgood": {"law": "ramberg-osgood", "rp02": 276.0, "exponent": 15.0},
    "table": {"law": "table", "strain": [0.0, 0.1, 0.5], "stress": [300.0, 500.0, 700.0]},
    "tensile": {"law": "tensile", "rp02": 290.0, "rm": 620.0, "uniform_strain": 0.45},
}


@pytest.mark.parametrize("name", library.names())
def test_every_material_is_complete_and_says_where_it_comes_from(name):
    metal = library.find(name, diameter=2.0)
    assert 5e4 < metal.modulus < 2.2e5
    assert 0.25 < metal.poisson < 0.36
    assert 2.5 < metal.density < 9.0
    assert 0.0 < metal.hardening.first_yield <= metal.rp02 < metal.rm
    low, high = metal.fracture_band
    assert 0.0 < low < metal.fracture_strain < high
    assert metal.fracture_strain > np.log1p(metal.uniform_strain)
    assert 0.0 < metal.strength_band <= 0.1
    assert metal.shape in {"swift", "voce"}
    honest = ("from memory", "no source", "MMPDS", "ASTM", "EN 10270", "ISO 18265")
    assert any(word in metal.source for word in honest)


@pytest.mark.parametrize("name", library.names())
def test_the_curve_passes_its_tensile_points(name):
    metal = library.find(name, diameter=2.0)
    points = laws.tensile_points(metal.hardening, metal.modulus)
    assert points.rp02 == pytest.approx(metal.rp02, rel=1e-2)
    assert points.rm == pytest.approx(metal.rm, rel=2e-3)
    assert points.uniform_strain == pytest.approx(metal.uniform_strain, rel=0.03)


def test_the_library_holds_what_a_workshop_uses():
    families = {library.entry(name)["family"] for name in library.names()}
    assert len(library.names()) >= 50
    assert {STEEL, "aluminium alloy", "copper alloy", "titanium alloy"} <= families
    assert sum("austenitic" in family for family in families) >= 3


def test_unknown_name_suggests_the_nearest():
    with pytest.raises(BadInput, match='did you mean "Ti-6Al-4V, annealed"'):
        library.find("Ti6Al4W annealed")


def test_case_and_spaces_of_a_name_do_not_matter():
    assert library.find(" s235  Steel").name == "S235 steel"


# EN 10270-3, 1.4310, class NS: minimum Rm by diameter.
@pytest.mark.parametrize(
    ("diameter", "rm"),
    [(2.0, 1700), (2.01, 1650), (2.5, 1650), (4.0, 1500), (4.25, 1500), (5.0, 1450), (10.0, 1250)],
)
def test_spring_wire_goes_by_diameter_and_loses_a_tenth_on_straightening(diameter, rm):
    drawn = library.find("1.4310 spring wire, as drawn", diameter=diameter)
    straight = library.find("1.4310 spring wire, straightened", diameter=diameter)
    assert drawn.rm == pytest.approx(rm)
    assert straight.rm == pytest.approx(0.9 * rm)
    assert any("10 % for straightening" in said for said in straight.assumptions)


@pytest.mark.parametrize("diameter", [1.75, 0.5, 10.1, None])
def test_wire_outside_its_table_is_refused(diameter):
    with pytest.raises(BadInput):
        library.find("1.4310 spring wire, as drawn", diameter=diameter)


@given(st.floats(80.0, 650.0))
def test_every_hardness_of_the_table_gives_a_law(hv):
    metal = library.from_hardness(f"{hv:.3f} HV")
    assert 0.0 < metal.hardening.first_yield < metal.rp02 < metal.rm
    assert metal.family == STEEL
    said = " ".join(metal.assumptions)
    assert all(word in said for word in ("Rm", "Rp0.2/Rm", "uniform strain", "fracture strain"))
    assert said.count("band") == 3


def test_law_by_hardness_does_not_jump():
    strengths = [library.from_hardness(f"{hv} HV").hardening.first_yield for hv in range(80, 651)]
    assert np.all(np.diff(strengths) > 0.0)
    assert np.max(np.diff(strengths)) < 6.0


def test_austenitic_entry_is_never_made_harder_by_the_steel_table():
    with pytest.raises(BadInput, match="converts to strength for"):
        library.from_hardness("300 HV", entry=library.entry("316 strip, annealed"))


@pytest.mark.parametrize("law", LAWS)
def test_law_survives_its_own_dict_and_json(law):
    metal = library.custom({"modulus": "200 GPa", **LAWS[law]}, "mine")
    again = library.custom(json.loads(json.dumps(metal.to_dict())), "mine")
    assert again == metal
    assert np.array_equal(again.hardening.stress, metal.hardening.stress)


@pytest.mark.parametrize("name", library.names())
def test_library_material_survives_its_own_dict(name):
    metal = library.find(name, diameter=4.0)
    assert library.custom(metal.to_dict(), metal.name) == metal


def test_material_pickles_for_worker_processes():
    metal = library.find("S235 steel")
    again = pickle.loads(pickle.dumps(metal))
    assert again == metal
    assert np.array_equal(again.hardening.stress, metal.hardening.stress)


def test_bad_input_pickles_for_worker_processes():
    with pytest.raises(BadInput) as caught:
        library.find("none such")
    assert pickle.loads(pickle.dumps(caught.value)).faults == caught.value.faults


def test_the_prototype_swift_law_has_its_rm_at_its_uniform_strain():
    metal = library.custom(SWIFT, "strip")
    assert metal.rm == pytest.approx(620.0, rel=6e-3)
    assert metal.uniform_strain == pytest.approx(0.45, abs=0.005)


# Considere's construction, rigid-plastic closed form: Swift K (c + eps)^n has Rm K n^n exp(c - n),
# 642.7 MPa for 1200 (0.012 + eps)^0.28; Voce 260 + 520 (1 - exp(-11 eps)) has 591.8 MPa.
def test_considere_point_of_swift_and_voce():
    stiff = {"modulus": 2e6}
    start = 1200.0 * 0.012**0.28
    swift = {"law": "swift", "yield": start, "strain0": 0.012, "exponent": 0.28}
    assert library.custom(stiff | swift).rm == pytest.approx(642.7, rel=1e-3)
    assert library.custom(stiff | swift).uniform_strain == pytest.approx(
        np.expm1(0.28 - 0.012), rel=5e-3
    )
    assert library.custom(stiff | LAWS["voce"]).rm == pytest.approx(591.8, rel=1e-3)


def test_perfectly_plastic_metal_is_as_strong_as_it_yields():
    metal = library.custom({"modulus": 2e5, **LAWS["perfectly plastic"]})
    assert metal.rp02 == pytest.approx(metal.rm, rel=5e-3)
    assert metal.rm == pytest.approx(300.0, rel=2e-3)
    assert metal.uniform_strain == pytest.approx(0.0, abs=1e-5)


def test_fracture_strain_left_out_is_assumed_and_said():
    metal = library.custom({"modulus": 2e5, **LAWS["voce"]})
    assert metal.fracture_strain == 0.5
    assert any("fracture strain not given" in said for said in metal.assumptions)
    assert library.custom(metal.to_dict()) == library.custom(metal.to_dict())


def test_shape_may_be_asked_for_and_is_recorded():
    tensile = {"modulus": 2e5, **LAWS["tensile"]}
    assert library.custom(tensile).shape == "swift"
    assert library.custom(tensile | {"shape": "voce"}).shape == "voce"


def test_shape_that_cannot_pass_is_refused():
    hard = {"modulus": 2e5, "rp02": 1340.0, "rm": 1570.0, "uniform_strain": 0.04}
    assert library.custom(hard).shape == "voce"
    with pytest.raises(BadInput, match="no Swift curve"):
        library.custom(hard | {"shape": "swift"})


def test_material_made_in_python_without_recipe_is_written_as_a_table():
    from dataclasses import replace

    metal = replace(library.find("S235 steel"), law=())
    again = library.custom(metal.to_dict(), metal.name)
    strain = np.linspace(0.0, 1.0, 200)
    assert again.hardening(strain)[0] == pytest.approx(metal.hardening(strain)[0], rel=2e-3)
