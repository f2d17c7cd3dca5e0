"""The odds of an answer: what moves each limit, and what is said of it."""

from __future__ import annotations

import functools
import json
import math
from dataclasses import replace

import numpy as np
import pytest
from support import DEMO_CASES

import fejoint
from fejoint.analysis import joint_odds, model_error, plate_ratios
from fejoint.analysis.definitions import BEND_LEFT, HINGE, OFFSET_LOAD, OWN_TOP
from fejoint.analysis.odds import Cause, LimitBand, Odds
from fejoint.analysis.pull import pull
from fejoint.analysis.result import Answer, LimitLoad
from fejoint.analysis.verdict import verdict, with_odds

EARS = "both ears"


@functools.cache
def sure(pin: str = "48 HRC", **more: object) -> Answer:
    joint = fejoint.load(DEMO_CASES / "hard-pin.toml").replace("pin.hardness", pin)
    for path, value in more.items():
        joint = joint.replace(path.replace("_", "."), value)
    return pull(joint, refine=0.35, band=True)


@functools.cache
def plain() -> Answer:
    return pull(sure().joint, refine=0.35)


def odds(answer: Answer) -> Odds:
    assert answer.odds is not None
    return answer.odds


def hole(answer: Answer) -> LimitBand:
    found = odds(answer).band(EARS, "hole elongation", OFFSET_LOAD)
    assert found is not None
    return found


def test_the_numbers_themselves_do_not_move_by_the_band() -> None:
    assert plain().odds is None
    assert [p.first.load for p in plain().verdict.order] == [
        p.first.load for p in sure().verdict.order
    ]
    assert plain().verdict.sentence != sure().verdict.sentence


def test_every_limit_before_the_highest_pull_has_a_band() -> None:
    answer = sure()
    limits = [x for p in answer.verdict.order for x in (p.first, *p.later) if not x.past_top]
    assert [(b.member, b.mode, b.cause, b.load) for b in odds(answer).bands] == [
        (x.member, x.mode, x.cause, x.load) for x in limits
    ]
    assert all(b.low < b.median < b.high for b in odds(answer).bands)


def test_bias_is_taken_off_in_the_band_and_not_in_the_number() -> None:
    hinge = odds(sure()).band("pin", "pin bending", HINGE)
    assert hinge is not None
    shift = model_error.of("pin bending", HINGE).shift
    assert hinge.median / hinge.load == pytest.approx(math.exp(-shift), rel=0.01)
    spread = math.hypot(
        model_error.of("pin bending", HINGE).deviation, sure().joint.pin.material.strength_band
    )
    assert math.log(hinge.high / hinge.low) == pytest.approx(2 * 1.645 * spread, rel=0.05)


def test_ratios_of_a_coarse_plate_are_those_of_joints_solved_anew() -> None:
    answer = sure()
    ears = answer.joint.ears[0]
    found = plate_ratios.plate_ratios(ears, answer.faces["ear"], top=False)
    assert found.friction == (0.0, 0.15, 0.3)
    assert found.offset[1] == 0.0
    for friction, ratio in zip(found.friction, found.offset, strict=True):
        other = pull(answer.joint.replace("fit.friction", friction), refine=0.35)
        moved = math.log(other.event("offset load").load / answer.event("offset load").load)
        assert ratio == pytest.approx(moved, abs=0.01)
    assert found.offset[0] < -0.03 < 0.02 < found.offset[2]
    assert found.shape == "voce"
    assert found.shape_offset == pytest.approx(math.log(0.943), abs=0.012)
    assert found.top == (0.0, 0.0, 0.0)


def test_a_plate_is_pulled_to_its_highest_load_where_that_is_asked() -> None:
    answer = sure()
    found = plate_ratios.plate_ratios(answer.joint.ears[0], answer.faces["ear"], top=True)
    assert found.top[0] < 0.0 < found.top[2]


def test_what_the_case_says_of_scatter_takes_the_place_of_the_usual() -> None:
    joint = sure().joint
    assert joint_odds.friction_range(joint) == (0.0, 0.3)
    assert joint_odds.friction_range(joint.replace("fit.friction", 0.5)) == (0.0, 0.5)
    case = dict(joint.case) | {
        "scatter": {
            "fit.friction": {"from": 0.1, "to": 0.2},
            "ear.strength": {"deviation": "1 %"},
        }
    }
    said = fejoint.load(case)
    assert joint_odds.friction_range(said) == (0.1, 0.2)
    narrow = pull(said, refine=0.35, band=True)
    by_name = {c.name: c for c in odds(narrow).causes}
    usual = {c.name: c for c in odds(sure()).causes}
    assert by_name["metal"].deviation == pytest.approx(0.01, rel=0.05)
    assert usual["metal"].deviation == pytest.approx(0.07, rel=0.05)
    assert by_name["friction"].deviation < 0.6 * usual["friction"].deviation
    assert "at 0.1, " in by_name["friction"].words
    widths = [math.log(hole(a).high / hole(a).low) for a in (narrow, sure())]
    assert widths[0] < 0.75 * widths[1]


def test_the_strongest_cause_is_told_first() -> None:
    causes = odds(sure()).causes
    assert [c.name for c in causes] == ["metal", "model", "shape", "friction"]
    assert odds(sure()).matters.startswith("What matters most: the metal from lot to lot, 12 %")
    assert "greased, 5 % less" in odds(sure()).matters


def test_a_near_tie_is_told_with_odds_and_a_known_error_may_turn_it() -> None:
    clear, near, turned = (odds(sure(pin)) for pin in ("48 HRC", "34 HRC", "31 HRC"))
    assert clear.shares[EARS] > 0.99
    assert clear.of_100 == "more than 99 of 100"
    assert 0.80 < near.shares[EARS] < 0.97
    assert sum(near.shares.values()) == pytest.approx(1.0)
    assert turned.first == "pin"  # its hinge is computed lower than the ears' holes
    assert next(iter(turned.shares)) == EARS  # and hinges are known to be told 9 % too low
    said = sure("31 HRC").verdict.sentence
    assert f"In {turned.of_100} such joints the pin gives first; errors and scatter counted" in said
    assert f"{EARS} give first in {100 * turned.shares[EARS]:.0f}." in said


def test_a_pin_that_gave_nowhere_may_still_give_first() -> None:
    weak = fejoint.load(DEMO_CASES / "hard-pin.toml").replace("pin.hardness", "34 HRC")
    answer = pull(weak.replace("pull.stop_load", "8.3 kN"), refine=0.35, band=True)
    assert all(p.first.member != "pin" for p in answer.verdict.order)
    assert 0.02 < odds(answer).shares["pin"] < 0.5


def test_without_a_verdict_there_are_no_odds() -> None:
    joint = sure().joint
    assert pull(joint.replace("pull.stop_load", "500 N"), refine=0.35, band=True).odds is None
    case = joint.to_dict()
    case["pull"]["leg"] = [{"load": "2 kN"}, {"release": True}]
    assert pull(fejoint.load(case), refine=0.35, band=True).odds is None


def test_a_limits_own_band_is_in_its_odds_on_both_sides() -> None:
    limit = LimitLoad("end tear-out", "ear", 1000.0, OWN_TOP, band=(900.0, 1200.0))
    low, middle, high = joint_odds._stretched(limit, np.array([-1.645, 0.0, 1.645]))
    assert math.exp(low) == pytest.approx(0.9, rel=1e-3)
    assert (middle, math.exp(high)) == (0.0, pytest.approx(1.2, rel=1e-3))
    on = LimitLoad("end tear-out", "ear", 1000.0, OWN_TOP, band=(900.0, math.inf))
    assert joint_odds._stretched(on, np.array([1.645]))[0] == pytest.approx(-low)


def _band(load: float, low: float, high: float, cause: str = HINGE) -> LimitBand:
    return LimitBand("pin", "pin bending", cause, load, low, load, high, "nobody")


def test_a_load_is_told_to_the_figures_that_its_band_allows() -> None:
    assert _band(8190.0, 8185.0, 8195.0).figures == 3
    assert _band(8190.0, 8150.0, 8230.0).figures == 3
    assert _band(8190.0, 7400.0, 9100.0).figures == 2
    assert _band(8190.0, 1000.0, 15400.0).figures == 1
    assert _band(12000.0, 11000.0, 13000.0).figures == 3
    assert _band(12000.0, 6000.0, 17000.0).figures == 2
    assert _band(8190.0, 8190.0, 8190.0).figures == 3


def test_the_sentence_tells_the_load_the_band_and_the_odds() -> None:
    limits = [
        LimitLoad("pin bending", "pin", 8190.0, HINGE),
        LimitLoad("pin bending", "pin", 9444.0, BEND_LEFT),
    ]
    told = Odds("pin", {"pin": 1.0}, (_band(8190.0, 7400.0, 9123.0),), (), 7400.0, 0.0)
    said = with_odds(verdict(limits), told).sentence
    assert "At a pull of 8,200 N (840 kgf) the pin" in said
    assert "at 9,440 N" in said  # no band of its own
    assert "between 7,400 and 9,100 N in nine of ten such joints. In more than 99 of" in said
    assert "100 such joints the pin gives" in said
    assert "nothing gives" not in said
    sooner = with_odds(verdict(limits), replace(told, lowest=7049.0)).sentence
    assert "such joints. Below 7,000 N nothing gives in nineteen of twenty. In more" in sooner
    assert told.figures_of(8000.0) == 2
    assert told.matters == ""
    some = Odds("pin", {"pin": 0.934, "shank": 0.066}, (), (Cause("a", 0.02, "x"),), 1.0, 0.0)
    assert some.of_100 == "93 of 100"
    assert some.matters == "What matters most: x."
    assert some.figures_of(8000.0) == 3
    assert Odds("pin", {"shank": 1.0}, (), (), 1.0, 0.0).of_100 == "less than 1 of 100"


def test_json_keeps_every_digit_and_names_the_band() -> None:
    told = json.loads(sure().to_json())
    trust = told["trust"]
    assert trust["band_N"][0]["load_N"] == told["verdict"]["load_N"]
    assert trust["odds"]["first"] == EARS
    row = told["verdict"]["order"][0]  # pictures and reports take it from there
    assert row["band_N"] == [trust["band_N"][0]["low_N"], trust["band_N"][0]["high_N"]]
    assert trust["band_N"][0]["low_N"] < told["verdict"]["load_N"] < trust["band_N"][0]["high_N"]
    assert {c["name"] for c in trust["causes"]} == {"metal", "model", "shape", "friction"}
    assert "band_N" not in json.loads(plain().to_json())["trust"]


@pytest.mark.stress
def test_the_band_costs_at_most_half_the_solve() -> None:
    for name in ("hard", "soft"):
        answer = pull(fejoint.load(DEMO_CASES / f"{name}-pin.toml"), band=True)
        assert odds(answer).seconds < 0.5 * answer.cost.solve_cpu_s


@pytest.mark.parametrize("thickness", [0.62, 0.64])
def test_a_plate_that_has_just_not_given_keeps_its_odds(thickness: float) -> None:
    # at 0.62 mm ears and shank give at nearly one pull; at 0.64 the shank ends it just before
    joint = fejoint.Joint.of(
        fejoint.Ear(thickness, 14, 4.1, 9, 25, "316 strip, quarter hard"),
        fejoint.Pin(4, "hardened dowel pin"),
        fejoint.Shank(2, 4.1, 6.2, 9, 20, "301 strip, full hard"),
        fejoint.Fit(0.05, friction=0.15),
    )
    found = joint_odds.odds(pull(joint, refine=0.35))
    assert found is not None
    assert set(found.shares) == {EARS, "shank", "pin"}
    assert 0.15 < found.shares["shank"] < 0.85
    assert sum(found.shares.values()) == pytest.approx(1.0)


def test_equal_ears_are_not_told_apart_by_a_thousandth() -> None:
    joint = fejoint.load(DEMO_CASES / "hard-pin.toml").replace("fit.gap", ["0.1 mm", "0.11 mm"])
    found = joint_odds.odds(pull(joint.replace("pin.ends", "free"), refine=0.35))
    assert found is not None
    ears = sorted(share for name, share in found.shares.items() if name.startswith("ear"))
    assert len(ears) == 2
    assert ears[0] > 0.2


def test_a_coarse_plate_whose_offset_friction_moves_beyond_the_stop_is_pulled_on() -> None:
    answer = plain()
    history = answer.faces["ear"]
    case = history.problem.case
    near, whole = (plate_ratios._loads(case, stop) for stop in (0.9 * history.offset.load, None))
    assert near == whole
    assert near[0] > 0.0


def test_nothing_gives_below_the_earliest_of_all_limits() -> None:
    # far apart, the first limit's own band says it; where ear and pin lie close, either may be low
    apart, close = odds(sure()), odds(sure("29 HRC"))
    assert apart.lowest == pytest.approx(hole(sure()).low, rel=0.005)
    low = {b.member: b.low for b in reversed(close.bands)}
    assert close.lowest < 0.99 * min(low["pin"], low[EARS])
    for found in (apart, close):
        assert found.lowest <= min(b.low for b in found.bands)
        assert found.to_dict()["odds"]["nothing_gives_below_N"] == found.lowest


def test_the_earliest_of_two_unlike_limits_is_that_of_their_draws() -> None:
    rng = np.random.default_rng(3)
    one, other = rng.normal(100.0, 5.0, 40_000), rng.normal(101.0, 12.0, 40_000)
    shares = joint_odds._shares({"pin": one, "ear": other})
    assert shares["ear"] == pytest.approx(float(np.mean(other < one)), abs=1e-9)
    assert sum(shares.values()) == pytest.approx(1.0)
