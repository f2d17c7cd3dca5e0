"""What the page takes to solve is bounded, part by part."""

from __future__ import annotations

import pytest
from support import DEMO, ROOT

import fejoint
from fejoint.errors import BadInput
from fejoint.page import bodies

CASE = fejoint.load(DEMO).to_dict()


def refused(case) -> dict[str, str]:
    with pytest.raises(BadInput) as caught:
        bodies.read_joint(case)
    return {f.field: f.allowed for f in caught.value.faults}


def test_a_drawn_plate_is_not_shown():
    drawn = fejoint.load(ROOT / "cases" / "outlines" / "hooked-ear.toml").to_dict()
    assert refused(drawn) == {"ear.outline": "is not shown on the page"}
    named = CASE | {"shank": {"thickness": 6, "material": "A4-70 bolt shank", "outline": "x.dxf"}}
    # no file of this machine is read for whoever asks
    assert "must be a drawing's file, or the contours" in refused(named)["shank.outline"]


def test_the_demo_is_taken():
    assert bodies.read_joint(CASE).title == CASE["title"]


def test_a_second_ear_of_its_own_is_bounded_like_the_first():
    first, second = CASE["ear"]
    long = second | {"grip_length": bodies.MOST_LONG * second["hole"] + 5.0}
    told = refused(CASE | {"ear": [first, long]})
    assert list(told) == ["ear.2.grip_length"]
    assert f"at most {bodies.MOST_LONG:g} hole diameters on the page" in told["ear.2.grip_length"]
    assert list(refused(CASE | {"ear": [long, long]})) == ["ear.grip_length"]


def test_a_long_pin_and_a_long_path_are_refused():
    shank = CASE["shank"] | {"thickness": bodies.MOST_WIDE * CASE["pin"]["diameter"]}
    legs = [{"displacement": 0.01 * k} for k in range(1, bodies.MOST_LEGS + 2)]
    told = refused(CASE | {"shank": shank, "pull": {"leg": legs}})
    assert set(told) == {"shank.thickness", "pull.leg"}
    assert told["pull.leg"] == f"must be at most {bodies.MOST_LEGS} on the page"


@pytest.mark.parametrize(
    ("kind", "body", "told"),
    [
        (bodies.PullBody, '{"detial": "fine"}', ("detial", "fine", "did you mean detail?")),
        (bodies.DropBody, '{"tab": "a", "qqq": 1}', ("qqq", "1", "its keys are tab, place")),
        (bodies.DropBody, '{"tab": "a", "qqq": 1}', ("qqq", "1", "is not a key of this call")),
        (bodies.PullBody, '{"detail": "rough"}', ("detail", "rough", "coarse or fine")),
        (bodies.PullBody, '{"tab": "a\\u001b[2J"}', ("tab", r"a\x1b[2J", "1 to 64 letters")),
        (bodies.PullBody, '{"tab": ""}', ("tab", "''", "1 to 64 letters")),
        (bodies.PullBody, '{"case": "toml"}', ("case", "toml", "must be a table")),
        (bodies.PullBody, '{"text": 4}', ("text", "4", "must be text in quotes")),
        (bodies.ProofBody, "{}", ("load_N", "", "is missing")),
        (bodies.ProofBody, '{"load_N": null}', ("load_N", "", "is missing")),
        (bodies.ProofBody, '{"load_N": -1}', ("load_N", "-1", "without a minus sign")),
        (bodies.ProofBody, '{"load_N": NaN}', ("load_N", "nan", "must be a")),
        (bodies.ProofBody, '{"load_N": true}', ("load_N", "true", "must be a")),
        (bodies.ProofBody, '{"load_N": ""}', ("load_N", "''", "must be a")),
        (bodies.DropBody, "[1]", ("body", "", "must be a JSON object")),
        (bodies.DropBody, "{", ("body", "", "is no JSON")),
        (bodies.DropBody, b"\xff", ("body", "", "is no JSON")),
        (bodies.DropBody, "[" * 100_000, ("body", "", "is no JSON")),
    ],
)
def test_a_misshapen_body_is_told_as_a_case_is(kind, body, told):
    with pytest.raises(BadInput) as caught:
        bodies.read_body(kind, body if isinstance(body, bytes) else body.encode())
    (fault,) = [f for f in caught.value.faults if f.field == told[0]]
    assert fault.value == told[1]
    assert told[2] in f"{fault.allowed}; {fault.mend}"
    assert str(fault).isprintable()


def test_a_body_is_read_with_its_defaults_and_units_as_in_a_case():
    assert bodies.read_body(bodies.PullBody, b'{"text": "a = 1", "tab": null}') == bodies.PullBody(
        text="a = 1", detail="fine", tab=None, place="a"
    )
    assert bodies.read_body(bodies.ProofBody, b'{"load_N": "200 kgf"}').load_N == 200 * 9.80665


def test_all_faults_of_a_body_come_at_once_but_never_a_thousand():
    with pytest.raises(BadInput) as caught:
        bodies.read_body(bodies.PullBody, {f"k{n}": 1 for n in range(1000)} | {"detail": 3})
    assert len(caught.value.faults) == 20


def test_a_picture_that_is_none_is_told_which_there_are():
    with pytest.raises(BadInput) as caught:
        bodies.read_body(bodies.PictureQuery, {"what": "foo", "suffix": "png"})
    (fault,) = caught.value.faults
    assert fault.allowed.startswith("must be ")
    assert "stress" in fault.allowed
