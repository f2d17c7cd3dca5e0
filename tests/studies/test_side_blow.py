from __future__ import annotations

import functools
import math

import pytest
from support import DEMO

import fejoint
from fejoint.errors import BadInput
from fejoint.studies.side_blow import SideBlow

CASES = {"hard": DEMO, "soft": DEMO.with_name("soft-pin.toml")}


@functools.cache
def struck(pin: str, angle: float = 90.0) -> SideBlow:
    joint = fejoint.load(CASES[pin])
    return fejoint.side_blow(joint, angle=angle, refine=0.5)


def test_soft_pin_yields_and_hinges_under_a_lighter_blow():
    hard, soft = struck("hard"), struck("soft")
    assert soft.pin_yields < 0.5 * (hard.pin_yields or hard.largest)
    assert soft.pin_hinges < hard.largest
    # the ear is bent away before the hard pin gives
    assert hard.pin_hinges is None
    assert hard.ended.startswith("ear 1 had been pulled")


def test_a_blow_is_a_table_and_tells_how_far_it_is():
    told = []
    short = fejoint.load(DEMO).replace("pull.stop_displacement", "0.3 mm")
    blow = fejoint.side_blow(short, refine=0.25, progress=lambda *x: told.append(x))
    shares = [share for _, share, _ in told]
    assert shares == sorted(shares)
    assert (shares[-1], told[-1][2]) == (1.0, blow.largest)
    assert len(shares) > 20
    frame = blow.frame.set_index("what")["load_N"]
    assert frame["along the pin, by hand: the ear bends at its grip"] == blow.ear_bends
    assert frame.isna().sum() == sum(load is None for _, load in blow.lines)


def test_pin_hinges_as_a_cantilever_with_its_arm_inside_ear_and_shank():
    joint = fejoint.load(CASES["soft"])
    moment = joint.pin.diameter**3 / 6.0 * joint.pin.material.rp02
    arm = moment / struck("soft").pin_hinges
    ear, gap, shank = joint.ears[0].thickness, joint.gaps[0], joint.shank.thickness
    assert gap < arm < 0.5 * ear + gap + 0.5 * shank


def test_blow_along_the_pin_is_the_strips_and_the_bars_closed_form():
    joint, blow = fejoint.load(DEMO), struck("hard")
    ear = joint.ears[0]
    plastic = 0.25 * ear.width * ear.thickness**2 * ear.material.rp02
    assert blow.ear_bends == pytest.approx(plastic / ear.grip_length)
    area = math.pi * joint.pin.diameter**2 / 4.0
    assert blow.pin_pulls_apart == pytest.approx(area * joint.pin.material.rp02)


def test_one_ear_alone_gives_its_hole_at_half_of_what_two_bear():
    alone = struck("hard", 0.0).hole_gives
    both = fejoint.load(DEMO).replace("pull.stop_displacement", "0.8 mm")
    together = fejoint.pull(both, refine=0.5).event("offset load").load
    assert alone == pytest.approx(0.5 * together, rel=0.08)


def test_a_weak_shank_gives_under_a_side_blow_and_a_case_s_stop_does_not_end_it():
    joint = fejoint.Joint.of(
        fejoint.Ear(3, 14, 4.1, 8, 16, "316 strip, half hard"), fejoint.Pin(4, "55 HRC"),
        fejoint.Shank(1.5, 4.1, 12, 6, 20, "6082-T6 plate"), fejoint.Fit(0.05, friction=0.15),
    )  # fmt: skip
    blow = fejoint.side_blow(joint, refine=0.35)
    assert blow.first.part == "shank"
    assert blow.first.load == blow.shank_gives < blow.largest
    assert "in the shank stretches first" in blow.sentence or "shank" in blow.sentence
    assert "Nothing gave" not in blow.sentence
    stopped = fejoint.side_blow(joint.replace("pull.stop_load", "100 N"), refine=0.35)
    assert stopped == blow


def test_angle_out_of_range_is_refused():
    with pytest.raises(BadInput, match="-180 deg to 180 deg"):
        fejoint.side_blow(fejoint.load(DEMO), angle=400.0)
