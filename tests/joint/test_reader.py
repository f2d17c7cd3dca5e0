"""Case files: what is read, and that every fault is named with its field."""

from __future__ import annotations

import contextlib
import dataclasses
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support import DEMO_CASES
from support.malformed_cases import GOOD, MALFORMED

from fejoint.errors import BadInput
from fejoint.joint import writer
from fejoint.joint.model import Joint, load, read
from fejoint.joint.parts import Leg

DEMO = DEMO_CASES


def good() -> dict:
    return tomllib.loads(GOOD)


def faults_of(table: dict) -> dict[str, str]:
    with pytest.raises(BadInput) as caught:
        read(table)
    return {fault.field: str(fault) for fault in caught.value.faults}


def test_the_good_case_is_good():
    joint = read(good())
    assert len(joint.ears) == 2
    assert joint.ears[0].hole == 4.1
    assert joint.grip == pytest.approx(2 + 0.1 + 6 + 0.1 + 2)
    assert joint.clearance(joint.ears[0]) == pytest.approx(0.1)


def test_there_are_sixty_malformed_cases():
    assert len(MALFORMED) >= 60


@pytest.mark.parametrize("what", MALFORMED)
def test_malformed_case_is_refused_with_its_field(what, tmp_path):
    content, field = MALFORMED[what]
    path = tmp_path / "case.toml"
    path.write_bytes(content)
    with pytest.raises(BadInput) as caught:
        load(path)
    fields = [fault.field for fault in caught.value.faults]
    assert any(each.startswith(field) or each.endswith(field) for each in fields), fields
    for fault in caught.value.faults:
        assert fault.allowed
        assert fault.mend
        assert "\n" not in str(fault)
        assert len(str(fault)) < 600


@pytest.mark.parametrize("what", [w for w in MALFORMED if w not in {"an empty file", "no pin"}])
def test_one_slip_gives_no_more_than_what_follows_from_it(what, tmp_path):
    path = tmp_path / "case.toml"
    path.write_bytes(MALFORMED[what][0])
    with pytest.raises(BadInput) as caught:
        load(path)
    fields = [fault.field for fault in caught.value.faults]
    assert len(fields) == len(set(fields))
    assert len(fields) <= 3


def test_all_faults_come_in_one_report():
    table = good()
    table["ear"]["thickness"] = "2 kgf"
    table["ear"]["end"] = "pointed"
    table["pin"]["hardness"] = "70 HRC"
    table["shank"]["hole"] = "3 mm"
    table["fit"]["frction"] = 0.2
    table["material"]["my bar"]["exponent"] = -1
    assert set(faults_of(table)) == {
        "ear.thickness",
        "ear.end",
        "pin.hardness",
        "shank.hole",
        "fit.frction",
        "material.my bar.exponent",
    }


def test_relations_are_checked_beside_values_that_could_not_be_read():
    table = good()
    table["pin"]["diameter"] = "4 N"
    table["ear"]["width"] = "4 mm"
    assert set(faults_of(table)) == {"pin.diameter", "ear.width"}


@pytest.mark.parametrize(
    ("table", "key", "value", "suggestion"),
    [
        ("ear", "widht", "14 mm", "did you mean width?"),
        ("ear", "edge_distnace", "14 mm", "did you mean edge_distance?"),
        ("ear", "material", "316 strip anealed", 'did you mean "316 strip, annealed"?'),
        ("shank", "material", "my bra", 'did you mean "my bar"?'),
        ("ear", "end", "rond", "did you mean round?"),
        ("pin", "hardness", "48 Rockwell C", 'for example "48 HRC"'),
        ("pin", "hardness", "48", '"48 HRC" or "48 HV"'),
        ("ear", "thickness", "2,5 mm", '"2.5 mm"'),
        ("pull", "stop_load", "200 kg", "kgf"),
        ("fit", "width", "2 mm", "its keys are gap, friction"),
    ],
)
def test_the_mend_names_what_was_meant(table, key, value, suggestion):
    case = good()
    case[table][key] = value
    assert suggestion in faults_of(case)[f"{table}.{key}"]


def test_a_syntax_slip_is_told_with_its_line_and_key(tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(GOOD.replace('width = "14 mm"', "width = 14 mm"))
    with pytest.raises(BadInput, match=r"ear\.width = 14 mm.*line 7.*width = \"14 mm\""):
        load(path)


def test_a_misspelt_file_suggests_the_one_beside_it():
    with pytest.raises(BadInput, match=r"did you mean .*hard-pin\.toml"):
        load(DEMO / "hard-pn.toml")


def test_a_folder_is_no_case():
    with pytest.raises(BadInput, match="is a folder"):
        load(DEMO)


def test_impossible_file_names_are_refused():
    with pytest.raises(BadInput):
        load("case\0.toml")
    with pytest.raises(BadInput):
        load("x" * 5000)


@pytest.mark.parametrize("name", ["hard-pin", "soft-pin"])
def test_demo_cases_load_and_say_that_they_are_invented(name):
    joint = load(DEMO / f"{name}.toml")
    assert "invented" in joint.note.lower()
    assert len(joint.ears) == 2
    assert joint.ears[0].material.name == "316 strip, annealed"


def test_demo_pins_differ_in_strength_only():
    hard, soft = load(DEMO / "hard-pin.toml"), load(DEMO / "soft-pin.toml")
    assert hard.ears == soft.ears
    assert hard.shank == soft.shank
    assert hard.pin.material.rp02 > 4 * soft.pin.material.rp02


def test_bare_numbers_are_millimetres_and_text_may_be_inches():
    case = good()
    case["ear"]["width"] = 14
    case["pin"]["diameter"] = "5/32 in"
    joint = read(case)
    assert joint.ears[0].width == 14.0
    assert joint.pin.diameter == pytest.approx(3.96875)


def test_two_ears_may_differ():
    case = good()
    other = {key: value for key, value in case["ear"].items() if key != "count"}
    case["ear"] = [other, other | {"thickness": "3 mm"}]
    joint = read(case)
    assert [ear.thickness for ear in joint.ears] == [2.0, 3.0]


def test_faults_of_the_second_ear_are_called_so():
    case = good()
    other = {key: value for key, value in case["ear"].items() if key != "count"}
    case["ear"] = [other, other | {"width": "4 mm"}]
    assert set(faults_of(case)) == {"ear.2.width"}


def test_count_one_is_single_shear():
    case = good()
    case["ear"]["count"] = 1
    joint = read(case)
    assert len(joint.ears) == len(joint.gaps) == 1


def test_the_shank_follows_its_hole_and_says_so():
    joint = read(good())
    shank = joint.shank
    assert (shank.width, shank.edge_distance, shank.length) == pytest.approx((12.3, 6.15, 20.5))
    assert sum(said.startswith("shank: ") for said in joint.assumptions) == 3


def test_friction_left_out_is_assumed_and_said():
    case = good()
    del case["fit"]["friction"]
    joint = read(case)
    assert joint.friction == 0.15
    assert any("friction" in said for said in joint.assumptions)


def test_a_pin_by_hardness_says_what_was_assumed():
    said = " ".join(read(good()).assumptions)
    for what in ("Rp0.2/Rm", "uniform strain", "fracture strain", "48 HRC", "band"):
        assert what in said


def test_a_wire_pin_takes_its_own_diameter():
    case = good()
    del case["pin"]["hardness"]
    case["pin"]["material"] = "1.4310 spring wire, straightened"
    assert read(case).pin.material.rm == pytest.approx(0.9 * 1500)
    case["pin"]["diameter"] = "2.1 mm"
    assert read(case).pin.material.rm == pytest.approx(0.9 * 1650)


def test_a_steel_by_name_and_hardness_keeps_its_own_modulus():
    case = good()
    case["pin"]["material"] = "silver steel, as supplied"
    metal = read(case).pin.material
    assert metal.modulus == 210000.0
    assert metal.hardness_hv == pytest.approx(484, abs=1)


def test_a_rigid_pin_needs_no_material():
    case = good()
    case["pin"] = {"diameter": "4 mm", "rigid": True}
    assert read(case).pin.rigid


def test_a_case_may_redefine_a_material_of_the_library():
    case = good()
    case["material"]["316 strip, annealed"] = case["material"]["my bar"]
    assert read(case).ears[0].material.rp02 > 400


def in_place_of_the_library_s(joint):
    return [said for said in joint.assumptions if "is the case's own" in said]


@pytest.mark.parametrize("name", ["316 strip, annealed", "316 STRIP,  Annealed"])
def test_a_metal_in_place_of_the_library_s_is_said(name):
    case = good()
    assert not in_place_of_the_library_s(read(case))
    case["material"][name] = case["material"]["my bar"]
    joint = read(case)
    assert joint.ears[0].material.rp02 > 400
    (said,) = in_place_of_the_library_s(joint)
    assert name in said
    assert "the library's metal of that name is not used" in said
    # a joint read back from what was written of it says so once, and no longer than it is true
    again = Joint.from_dict(joint.to_dict())
    assert again == joint
    assert in_place_of_the_library_s(again) == [said]
    other = again.replace("ear.material", "my bar")
    assert not in_place_of_the_library_s(other)


@pytest.mark.parametrize("part", ["ear", "pin", "shank"])
def test_the_library_s_own_values_under_its_name_are_not_said(part):
    case = good()
    case["pin"] = {"diameter": "2.5 mm", "material": "1.4310 spring wire, straightened"}
    written = read(case).to_dict()
    assert not in_place_of_the_library_s(read(written))
    name = (written["ear"][0] if part == "ear" else written[part])["material"]
    written["material"][name]["poisson"] = 0.31
    assert len(in_place_of_the_library_s(read(written))) == (part != "shank")


def test_a_wire_of_the_library_s_name_where_no_wire_can_be_is_said():
    case = good()
    case["pin"]["diameter"] = "4 mm"
    case["shank"]["material"] = "1.4310 spring wire, straightened"
    case["material"]["1.4310 spring wire, straightened"] = case["material"]["my bar"]
    assert len(in_place_of_the_library_s(read(case))) == 1


def test_letter_case_does_not_matter_in_the_name_of_an_own_metal():
    case = good()
    case["shank"]["material"] = "My  BAR"
    assert read(case).shank.material == read(good()).shank.material
    case["pin"]["material"] = "MY BAR"  # by hardness: not of a steel that converts
    with pytest.raises(BadInput, match=r"pin\.hardness"):
        read(case)


def test_a_case_that_would_command_a_terminal_is_refused_with_every_place():
    case = good()
    case |= {"title": "a\x1b[2J", "note": "b\x07", "assumptions": ["c\x9b"]}
    case["ear"]["material"] = "d\x00"
    case["material"]["my bar"] |= {"source": "e\u202e", "family": "f\ng"}
    with pytest.raises(BadInput) as bad:
        read(case)
    assert str(bad.value).replace("\n", "").isprintable()
    assert {f.field for f in bad.value.faults} == {
        "title", "note", "assumptions", "ear.material", "material.my bar.source",
        "material.my bar.family",
    }  # fmt: skip
    assert all(("must" in f.allowed and "not hold" in f.allowed) or "without a" in f.allowed
               for f in bad.value.faults)  # fmt: skip


@pytest.mark.parametrize("name", ["m\x1b", "m\n", "m\u202e"])
def test_a_metal_s_name_is_one_line_of_plain_writing(name):
    case = good()
    case["material"][name] = case["material"]["my bar"]
    with pytest.raises(BadInput, match="no name of a key"):
        read(case)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("width = 14,5", '"14.5 mm"'),
        ("width = 14,5 mm", '"14.5 mm"'),
        ("width = 14,5  # at the hole", '"14.5 mm"'),
        ("width = 1,250", '"1.250 mm" or "1250 mm", whichever is meant'),
        ("width = 1.250,5", '"1250.5 mm"'),
        ("width = 1'250", '"1250 mm"'),
    ],
)
def test_marks_in_a_bare_number_are_told_with_what_may_be_meant(line, said, tmp_path):
    path = tmp_path / "case.toml"
    path.write_text(f"[ear]\n{line}\n")
    with pytest.raises(BadInput) as bad:
        load(path)
    (fault,) = bad.value.faults
    assert fault.field == "ear.width"
    assert said in fault.mend


def test_legs_of_a_path():
    case = good()
    case["pull"]["leg"] = [{"load": "200 kgf"}, {"release": True}, {"displacement": "0.3 mm"}]
    assert read(case).pull.legs == (
        Leg("load", "200 kgf"),
        Leg("release"),
        Leg("displacement", 0.3),
    )


def test_the_starter_loads_and_shows_every_key():
    text = writer.starter()
    joint = read(tomllib.loads(text))
    assert joint.pin.diameter == pytest.approx(3.96875)
    for key in ("clip", "rigid", "stop_load", "friction", "edge_distance", "ductility"):
        assert key in text


def test_the_starter_with_its_own_metal_uncommented_loads():
    text = writer.starter()
    head, _, tail = text.partition('# [material."my strip"]')
    metal = "\n".join(line.removeprefix("# ") for line in tail.splitlines())
    joint = read(tomllib.loads(head + '[material."my strip"]' + metal))
    assert isinstance(joint, Joint)
    text = text.replace('"316 strip, annealed"', '"my strip"', 1)
    head, _, tail = text.partition('# [material."my strip"]')
    assert read(tomllib.loads(head + '[material."my strip"]' + metal)).ears[0].material.rm == 620


def test_comments_and_units_are_written():
    text = read(good()).to_toml()
    assert 'hole = "4.1 mm" # diameter' in text
    assert tomllib.loads(text)["pin"]["hardness"] == "48 HRC"


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12) | st.dates(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=5,
)
PLACES = [
    (part, key)
    for part, table in good().items()
    if part != "material"
    for key in (table if isinstance(table, dict) else [None])
]
PLACES += [("material", "my bar"), ("material", None), ("ear", None), ("pin", None), ("fit", None)]
PLACES += [("pull", "leg"), ("pull", None), ("shank", None), ("fit", "gap"), ("pin", "rigid")]


@given(st.sampled_from(PLACES), ANYTHING)
def test_anything_anywhere_is_read_or_refused(place, value):
    case = good()
    part, key = place
    if key is None:
        case[part] = value
    else:
        case[part][key] = value
    with contextlib.suppress(BadInput):
        read(case)


@given(st.sampled_from(list(good()["material"]["my bar"])), ANYTHING)
def test_anything_in_a_material_is_read_or_refused(key, value):
    case = good()
    case["material"]["my bar"][key] = value
    with contextlib.suppress(BadInput):
        read(case)


@given(st.integers(0, len(GOOD) - 1), st.binary(max_size=3), st.integers(0, 30))
def test_damaged_file_is_read_or_refused(tmp_path_factory, place, content, length):
    path = tmp_path_factory.mktemp("damaged") / "case.toml"
    whole = GOOD.encode()
    path.write_bytes(whole[:place] + content + whole[place + length :])
    with contextlib.suppress(BadInput):
        load(path)


def test_a_wire_of_no_diameter_still_has_its_name_checked():
    table = good()
    table["pin"] = {"diameter": "much", "material": "1.4310 spring wire, as drawm"}
    found = faults_of(table)
    assert set(found) == {"pin.diameter", "pin.material"}
    table["pin"]["material"] = "1.4310 spring wire, as drawn"
    assert set(faults_of(table)) == {"pin.diameter"}


@pytest.mark.parametrize("table", [[], "a case", None, 3])
def test_what_is_no_table_is_no_case(table):
    with pytest.raises(BadInput, match="must be the tables of a case"):
        read(table)


def test_a_case_is_written_without_the_tables_it_leaves_out():
    table = {k: v for k, v in good().items() if k != "fit"}
    text = writer.write(table)
    assert "[fit]" not in text
    assert read(tomllib.loads(text)) == read(table)


def test_words_that_are_none_are_refused_in_a_joint_made_by_hand():
    joint = read(good())
    pin = dataclasses.replace(joint.pin, ends="glued")
    pull = dataclasses.replace(joint.pull, legs=(Leg("twist", 3.0),))
    with pytest.raises(BadInput) as caught:
        dataclasses.replace(joint, pin=pin, pull=pull)
    found = {f.field: f for f in caught.value.faults}
    assert set(found) == {"pin.ends", "pull.leg.1"}
    assert all("must be one of" in f.allowed for f in found.values())
