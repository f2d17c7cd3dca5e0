"""Joints: their limits, and that they survive every way out and in again."""

from __future__ import annotations

import json
import pickle
import tomllib
from dataclasses import FrozenInstanceError, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.malformed_cases import GOOD

from fejoint.errors import BadInput
from fejoint.joint.model import Joint, load, read
from fejoint.joint.parts import Ear, Leg, Pin, Pull, Shank
from fejoint.joint.reader import RIGID
from fejoint.materials import library


def good() -> Joint:
    return read(tomllib.loads(GOOD))


def by_hand(**changes: object) -> Joint:
    strip, steel = library.find("316 strip, annealed"), library.find("S235 steel")
    ear = Ear(2.0, 14.0, 4.1, 7.0, 25.0, strip)
    parts = {
        "title": "by hand",
        "note": "",
        "ears": (ear, ear),
        "pin": Pin(4.0, steel),
        "shank": Shank(6.0, 4.1, 12.0, 6.0, 20.0, steel),
        "gaps": (0.1, 0.1),
        "friction": 0.1,
    }
    return Joint(**(parts | changes))


@st.composite
def cases(draw):
    """Draw a valid case table across the allowed proportions."""
    number = st.floats
    diameter = draw(number(0.5, 60.0))
    names = st.sampled_from(["316 strip, annealed", "6061-T6 aluminium", "S235 steel", "my bar"])

    def plate(length):
        hole = diameter * draw(number(1.0, 1.9))
        width, edge = hole * draw(number(1.25, 8.0)), hole * draw(number(0.65, 5.0))
        end = draw(st.sampled_from(["round", "square", "clipped"]))
        table = {
            "thickness": draw(number(0.05, 3.0)) * diameter + 0.05,
            "hole": hole,
            "width": width,
            "edge_distance": edge,
            length: width * draw(number(1.0, 4.0)) + hole,
            "end": end,
            "material": draw(names),
        }
        if end == "clipped":
            table["clip"] = draw(number(0.01, 0.99)) * min(
                0.45 * width, edge + width / 2 - 0.6 * hole * 2**0.5
            )
        return table

    count = draw(st.integers(1, 2))
    pin = {"diameter": diameter, "ends": draw(st.sampled_from(["free", "headed", "held"]))}
    pin |= draw(
        st.sampled_from(
            [
                {"hardness": "44 HRC"},
                {"hardness": "300 HV"},
                {"rigid": True},
                {"material": "soft stainless wire"},
            ]
        )
    )
    case = tomllib.loads(GOOD)
    return {
        "title": draw(st.text(max_size=20)),
        "note": draw(st.text(max_size=40)),
        "ear": [plate("grip_length") for _ in range(count)],
        "pin": pin,
        "shank": plate("length"),
        "fit": {
            "gap": [draw(number(0.0, 5.0)) for _ in range(count)],
            "friction": draw(number(0.0, 1.0)),
        },
        "pull": {
            "angle": draw(number(-180.0, 180.0)),
            "large_strain": draw(st.booleans()),
            "leg": draw(
                st.lists(
                    st.sampled_from([{"load": 100.0}, {"release": True}, {"displacement": 0.2}]),
                    max_size=3,
                )
            ),
        },
        "material": case["material"],
    }


@given(cases())
def test_joint_survives_dict_json_and_toml(case):
    joint = read(case)
    assert Joint.from_dict(joint.to_dict()) == joint
    assert load(json.loads(json.dumps(joint.to_dict()))) == joint
    assert read(tomllib.loads(joint.to_toml())) == joint
    assert read(tomllib.loads(Joint.from_dict(joint.to_dict()).to_toml())) == joint


@given(cases(), st.sampled_from(["ear.thickness", "pin.diameter", "shank.width", "fit.friction"]))
def test_replacing_a_value_by_itself_changes_nothing(case, path):
    joint = read(case)
    part, key = path.split(".")
    table = joint.case[part][0] if part == "ear" else joint.case[part]
    if part != "ear" or len(joint.ears) == 1:
        assert joint.replace(path, table[key]) == joint


def test_joint_pickles_for_worker_processes():
    joint = good()
    again = pickle.loads(pickle.dumps(joint))
    assert again == joint
    assert again.replace("ear.hole", 4.2) == joint.replace("ear.hole", 4.2)


def test_joint_is_frozen():
    with pytest.raises(FrozenInstanceError):
        good().friction = 0.3  # type: ignore[misc]


def test_dict_is_plain_data_in_millimetres():
    table = good().to_dict()
    assert table["units"] == "mm N MPa deg"
    assert table["ear"][0]["hole"] == 4.1
    assert table["pin"]["material"] == "steel at 48 HRC"
    assert table["material"]["steel at 48 HRC"]["rm"] == pytest.approx(1571, abs=1)


def test_dict_keeps_a_joint_even_if_the_library_changes():
    table = good().to_dict()
    table["material"]["316 strip, annealed"]["rp02"] = 300.0
    assert Joint.from_dict(table).ears[0].material.rp02 == 300.0


def test_replace_reaches_every_ear_or_one():
    joint = good()
    assert [ear.hole for ear in joint.replace("ear.hole", "4.2 mm").ears] == [4.2, 4.2]
    assert [ear.hole for ear in joint.replace("ear.2.hole", 4.2).ears] == [4.1, 4.2]


def test_replace_leaves_the_joint_as_it_was():
    joint = good()
    joint.replace("ear.hole", 4.3)
    assert joint.ears[0].hole == 4.1
    assert joint == good()


def test_replacing_the_hardness_takes_the_place_of_a_material():
    joint = good().replace("pin.material", "soft stainless wire")
    assert joint.pin.material.rm == 580
    harder = joint.replace("pin.hardness", "40 HRC")
    assert harder.pin.material.hardness_hv == pytest.approx(392, abs=1)
    assert harder.replace("pin.rigid", True).pin.rigid


def test_what_follows_a_replaced_value_follows():
    joint = good().replace("shank.hole", "5 mm")
    assert joint.shank.width == 15.0
    assert any("15 mm" in said for said in joint.assumptions)


def test_old_assumptions_go_with_the_value_they_were_made_for():
    again = Joint.from_dict(good().to_dict()).replace("pin.hardness", "40 HRC")
    assert not any("48 HRC" in said for said in again.assumptions)
    assert any("40 HRC" in said for said in again.assumptions)


def test_replace_reaches_materials_of_ones_own():
    joint = good().replace("material.my bar.exponent", 0.2)
    assert joint.shank.material.uniform_strain > good().shank.material.uniform_strain


@pytest.mark.parametrize(
    "path", ["ear.hol", "ear.3.hole", "ear", "pin.", "", "hole", "material.none.yield", "fit.leg"]
)
def test_replacing_what_is_not_there_is_refused(path):
    with pytest.raises(BadInput):
        good().replace(path, 4.2)


def test_replace_checks_again():
    with pytest.raises(BadInput, match=r"ear\.hole = 3\.9 mm: must be at least the pin"):
        good().replace("ear.hole", "3.9 mm")


def test_joint_made_in_python_is_checked():
    assert by_hand().grip == pytest.approx(10.2)
    with pytest.raises(BadInput, match=r"ear\.hole"):
        by_hand(pin=Pin(4.5, RIGID, rigid=True))
    with pytest.raises(BadInput, match=r"fit\.gap"):
        by_hand(gaps=(0.1,))
    with pytest.raises(BadInput, match=r"fit\.friction"):
        by_hand(friction=float("nan"))
    with pytest.raises(BadInput, match="one or two ears"):
        by_hand(ears=())
    with pytest.raises(BadInput, match=r"pull\.leg\.1\.load"):
        by_hand(pull=Pull(legs=(Leg("load", float("inf")),)))
    with pytest.raises(BadInput, match=r"pull\.angle"):
        by_hand(pull=Pull(angle=400.0))


def test_joint_made_in_python_survives_too():
    joint = by_hand()
    assert Joint.from_dict(joint.to_dict()) == joint
    assert read(tomllib.loads(joint.to_toml())) == joint
    assert joint.replace("pin.diameter", 3.9).pin.diameter == 3.9


def test_changing_a_loaded_joint_in_python_does_not_bring_its_old_case_along():
    joint = replace(good(), friction=0.4)
    assert joint.replace("ear.width", 15).friction == 0.4
    assert read(tomllib.loads(joint.to_toml())) == joint


def test_neat_fit_is_allowed():
    assert good().replace("pin.diameter", 4.1).clearance(good().ears[0]) is not None
    tight = good().replace("pin.diameter", 4.1)
    assert tight.clearance(tight.ears[0]) == 0.0
