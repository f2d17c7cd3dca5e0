"""What a used joint has seen is found again from the marks that a pull left."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest
from support import DEMO

import fejoint
from fejoint.cli.main import main
from fejoint.errors import BadInput
from fejoint.joint.parts import Leg
from fejoint.kernel.stop_reason import Stop, StopReason
from fejoint.sections.face import pull as face
from fejoint.sections.face.pull import FaceSettings
from fejoint.sections.face.unloading import release
from fejoint.studies import used_joint
from fejoint.studies.used_joint import used

REFINE = 0.25
SOFT = DEMO.with_name("soft-pin.toml")


@pytest.fixture(scope="module", params=[DEMO, SOFT], ids=["hard", "soft"])
def pulled(request):
    """A joint pulled to 0.4 mm and let go: what stays, by the path's own reading."""
    joint = fejoint.load(request.param)
    legs = (Leg("displacement", 0.4), Leg("release"))
    answer = fejoint.pull(replace(joint, pull=replace(joint.pull, legs=legs)), refine=REFINE)
    return joint, answer.path[0].load, answer.path[1]


@pytest.fixture(scope="module")
def shares():
    """What `near` tells on its way: shares done."""
    return []


@pytest.fixture(scope="module")
def near(shares):
    """The demo's holes longer by 0.1 mm, found within 0.01 mm."""
    joint = fejoint.load(DEMO)
    heard = lambda _, share, __: shares.append(share)  # noqa: E731
    return used(joint, hole=0.1, within=0.01, refine=REFINE, progress=heard)


def test_a_used_joint_is_a_table_and_a_picture_and_tells_how_far_it_is(near, shares):
    assert list(near.frame["name"]) == ["hole"]
    assert near.frame["load_N"][0] == pytest.approx(near.seen, rel=0.01)
    assert near.plot(title="an old one").axes[0].get_xlabel() == "extension of the joint, mm"
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    # every part of it is heard: the pull when new, the pull when used, parts new and used
    assert [any(low < s < high for s in shares) for low, high in ((0, 0.5), (0.5, 0.8))] == [1, 1]
    assert {0.8, 0.9} <= {round(s, 9) for s in shares}


def test_the_pull_that_left_both_marks_is_found_again(pulled):
    joint, load, kept = pulled
    found = used(joint, hole=kept.hole_mean, bend=kept.pin_bend, within=0.004, refine=REFINE)
    assert found.agree
    assert found.seen == pytest.approx(load, rel=0.01)
    assert found.low < found.seen < found.high
    for mark in found.marks:
        assert mark.load == pytest.approx(load, rel=0.02)


def test_marks_of_two_different_pulls_contradict_one_another(pulled):
    joint, _, kept = pulled
    found = used(joint, hole=kept.hole_mean, bend=kept.pin_bend + 0.2, within=0.02, refine=REFINE)
    assert not found.agree
    assert found.seen is found.gives is found.answer is None
    assert "contradict" in found.sentence
    with pytest.raises(BadInput, match="needs marks that one pull can have left"):
        found.plot()


def test_a_used_joint_gives_above_the_pull_that_it_has_seen():
    joint = fejoint.load(DEMO)
    found = used(joint, hole=0.2, refine=REFINE)
    assert found.moves_again == pytest.approx(found.seen, rel=0.05)
    assert found.gives.load > found.seen
    assert found.gives.mode == "hole elongation"
    assert f"{100.0 * found.gives.load / found.new.load:.0f} % of new" in found.sentence
    # the ear needs 2 % of its hole once more from the shape it has: less than a second mark away
    further = used(joint, hole=0.2 + 0.02 * joint.ears[0].hole, refine=REFINE)
    assert found.gives.load == pytest.approx(further.seen, rel=0.02)


def test_a_vaguer_tool_leaves_a_wider_band(near):
    joint = fejoint.load(DEMO)
    far = used(joint, hole=0.1, within=0.04, refine=REFINE)
    assert far.low < near.low < near.seen < near.high < far.high
    assert near.seen == pytest.approx(far.seen)
    # two standard deviations are what the tool may miss: the band is that of its ends
    assert (far.low, far.high) == pytest.approx((far.marks[0].low, far.marks[0].high), rel=0.01)
    unsure = used(joint, hole=0.02, within=0.03, refine=REFINE)
    assert unsure.low == unsure.marks[0].low == 0.0


def test_lost_width_is_that_of_a_released_face_section():
    joint = replace(fejoint.load(DEMO), pin=replace(fejoint.load(DEMO).pin, rigid=True))
    joint = replace(joint, ears=(joint.ears[0],) * 2)
    answer = fejoint.pull(joint, refine=REFINE)
    history = answer.faces["ear"]
    k = history.point_at_load(0.5 * 11_000.0)
    problem = history.problem
    high, low = problem._sides
    assert len(high) > 1
    assert (len(low) == 0) == problem.half
    lost = float(release(history, k, FaceSettings()).neck[-1])
    assert 0.0 < lost < problem.neck(history.path.points[k])
    found = used(joint, neck=lost, within=0.004, refine=REFINE)
    assert found.marks[0].load == pytest.approx(2.0 * history.load[k], rel=0.02)
    whole = face.build(problem.case, FaceSettings(whole=True)) if problem.half else problem
    assert whole is problem or len(whole._sides[1]) == len(whole._sides[0])


@pytest.mark.parametrize(
    ("marks", "told"),
    [
        ({}, "marks: are missing"),
        ({"hole": 40.0}, "hole = 40 mm: must lie between 0 and"),
        ({"hole": 0.0}, "hole = 0 mm: must lie between 0 and"),
    ],
)
def test_marks_that_no_pull_leaves_are_refused(marks, told):
    with pytest.raises(BadInput, match=told):
        used(fejoint.load(DEMO), refine=0.25, **marks)


def test_marks_that_say_nothing_of_a_joint_are_refused():
    joint = fejoint.load(DEMO)
    with pytest.raises(BadInput, match=r"bend = 0\.1 mm: cannot be kept by a rigid pin"):
        used(replace(joint, pin=replace(joint.pin, rigid=True)), bend=0.1)
    with pytest.raises(BadInput, match=r"neck = 0\.1 mm: is read for straight pulls only"):
        used(replace(joint, pull=replace(joint.pull, angle=20.0)), neck=0.1)


def test_the_command_says_it_and_gives_the_same_as_json(capsys, near, monkeypatch):
    given = {}

    def known(joint, **how):
        given.update(how)
        assert given.pop("progress")
        return near

    monkeypatch.setattr("fejoint.studies.used_joint.used", known)
    words = ["used", str(DEMO), "--hole", "0.1 mm", "--within", "1 thou", "--bend", "0.1 in"]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert "It has most likely seen a pull of" in said
    assert "the model leave open" in said
    assert "hole, 0.1 mm: left by" in said
    assert given == {"hole": 0.1, "bend": 2.54, "neck": None, "within": 0.0254, "refine": 1.0}
    assert main([*words, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["sentence"] in " ".join(said.split())
    assert data["low_N"] < data["seen_N"] < data["high_N"]
    assert math.isclose(data["answer"]["path"][1]["hole_mean_mm"], 0.1, abs_tol=0.002)


def test_a_used_joint_whose_pull_broke_off_is_said_and_no_success(monkeypatch, capsys, near):
    stop = Stop(StopReason.NO_EQUILIBRIUM, "no equilibrium was found")
    trust = replace(near.answer.trust, stopped_because=stop)
    broken = replace(near, answer=replace(near.answer, trust=trust))
    monkeypatch.setattr("fejoint.studies.used_joint.used", lambda *_, **__: broken)
    for more in ([], ["--json"]):
        assert main(["used", str(DEMO), "--hole", "0.1 mm", *more]) == 3
        assert "stopped early: no equilibrium was found" in capsys.readouterr().err


def test_the_command_refuses_what_is_no_length(capsys):
    assert main(["used", str(DEMO), "--hole", "much"]) == 2
    assert "--hole" in capsys.readouterr().err


def test_all_used_parts_together_go_on_as_the_used_joint_does(monkeypatch):
    monkeypatch.setitem(used_joint._REFITS, "all used", {"new_pin": False, "new_ears": False})
    found = used(fejoint.load(DEMO), hole=0.2, refine=REFINE)
    gives = {x.name: x.gives for x in found.refits}
    assert gives["all used"].load == pytest.approx(found.gives.load, rel=0.005)
    # work-hardened holes give later, new ones where they gave, with an almost straight pin
    assert gives["new pin in the used holes"].load > 1.1 * found.new.load
    assert gives["used pin in new ears"].load == pytest.approx(found.new.load, rel=0.03)
    said = list(found.refit_lines())
    assert said[1].startswith("used pin in new ears: the holes in both ears stretch first, at ")


def test_a_pin_bent_by_more_than_its_play_does_not_go_into_new_ears(capsys):
    found = used(fejoint.load(SOFT), hole=0.1, refine=REFINE)
    fresh, jammed = found.refits
    assert jammed.gives is None
    assert "does not go in" in jammed.jams
    # worn inner edges: a new soft pin is borne further out and bends at a lower pull
    assert fresh.gives.mode == "pin bending"
    assert fresh.gives.load < found.new.load
