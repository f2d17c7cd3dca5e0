"""The audit names what an answer breaks: every invariant is broken once by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from support import wide_joints
from support.pulled import quick_answer

import fejoint
from fejoint.analysis import audit
from fejoint.analysis import definitions as by
from fejoint.analysis.leg_answer import LegAnswer
from fejoint.analysis.result import Answer, LimitLoad, nothing_gave
from fejoint.analysis.verdict import verdict
from fejoint.joint.parts import Leg
from fejoint.kernel.stop_reason import Stop, StopReason


def told(answer: Answer) -> set[str]:
    return {said.partition(":")[0] for said in audit.broken_by(answer)}


def limits(answer: Answer) -> list[LimitLoad]:
    return [x for each in answer.verdict.order for x in (each.first, *each.later)]


def with_limits(answer: Answer, *more: LimitLoad) -> Answer:
    return replace(answer, verdict=verdict([*limits(answer), *more]))


def with_event(answer: Answer, name: str, **how: object) -> Answer:
    events = [replace(e, **how) if e.name == name else e for e in answer.events]  # type: ignore[arg-type]
    return replace(answer, events=tuple(events))


def with_history(answer: Answer, **how: object) -> Answer:
    assert answer.axial is not None
    return replace(answer, axial=replace(answer.axial, **how))  # type: ignore[arg-type]


def _early_hinge(a: Answer) -> Answer:
    hinge = LimitLoad("pin bending", "pin", 10.0, by.HINGE)
    return with_limits(a, hinge)


def _passed_top(a: Answer) -> Answer:
    shares = np.array(a.axial.shares)  # type: ignore[union-attr]
    shares[-1] = 0.5 * shares[-2]
    faces = {}
    for name, face in a.faces.items():
        load = np.array(face.load)
        load[-1], travel = 0.5 * load.max(), np.array(face.local_travel)
        travel[:-1] = np.minimum(travel[:-1], 1e-9)
        faces[name] = replace(face, load=load, local_travel=travel)
    rows = [x for x in limits(a) if x.cause not in (by.OWN_TOP, by.HIGHEST_PULL)]
    kept = verdict(rows or [nothing_gave(1.0)])
    return replace(with_history(a, shares=shares), faces=faces, verdict=kept)


def _torn_without_a_row(a: Answer) -> Answer:
    return replace(a, ductility=({**a.ductility[0], "used": 1.5},))


def _other_sentence(a: Answer) -> Answer:
    return replace(a, verdict=replace(a.verdict, sentence="At 12,345 N (1,259 kgf) all is well."))


def _above_the_curve(a: Answer) -> Answer:
    high = 2.0 * float(a.trace.load.max())
    return with_limits(a, LimitLoad("shank hole", "shank", high, by.OFFSET_LOAD))


def _lost_share(a: Answer) -> Answer:
    return with_history(a, shares=1.01 * a.axial.shares)  # type: ignore[union-attr]


def _moment_at_an_end(a: Answer) -> Answer:
    assert a.axial is not None
    problem = a.axial.problem
    # one ear's bearing a column aside, and all where the slices stand
    aside = (problem.columns[0] + 1, *problem.columns[1:])
    broken = replace(problem, columns=aside, leaning=None)
    return with_history(a, problem=broken)


def _late_yield(a: Answer) -> Answer:
    return with_event(a, "first yield ear", load=1e6)


def _member_twice(a: Answer) -> Answer:
    return replace(a, verdict=replace(a.verdict, order=a.verdict.order * 2))


def _stranger(a: Answer) -> Answer:
    row = LimitLoad(
        "hole elongation", "ear", 0.9 * limits(a)[0].load, by.OFFSET_LOAD, member="ear 7"
    )
    return with_limits(a, row)


def _undefined(a: Answer) -> Answer:
    return with_limits(a, LimitLoad("hole elongation", "ear", limits(a)[0].load, "a whim"))


def _band_beside(a: Answer) -> Answer:
    return with_event(a, "first yield ear", band=(1e7, 2e7))


def _no_number(a: Answer) -> Answer:
    load = np.array(a.trace.load)
    load[1] = np.nan
    return replace(a, trace=replace(a.trace, load=load))


def _nothing_and_something(a: Answer) -> Answer:
    return with_limits(a, nothing_gave(1.0))


def _nothing_of_an_ear(a: Answer) -> Answer:
    row = LimitLoad("hole elongation", "ear", 1.0, by.NOTHING_GAVE)
    return replace(a, verdict=verdict([row]))


def _bore_no_load(a: Answer) -> Answer:
    return replace(a, verdict=verdict([nothing_gave(0.0)], "it was asked to stop"))


def _behind_no_top(a: Answer) -> Answer:
    load = 0.5 * limits(a)[0].load
    return with_limits(a, LimitLoad("shank hole", "shank", load, by.OWN_TOP, past_top=True))


def _rising_behind_the_top(a: Answer) -> Answer:
    row = a.verdict.order[0]
    low, high = (replace(row.first, load=x, past_top=True) for x in (100.0, 200.0))
    return replace(
        a, verdict=replace(a.verdict, order=(replace(row, first=row.first, later=(low, high)),))
    )


def _strip(a: Answer, mode: str, cause: str, load: float) -> Answer:
    return with_limits(a, LimitLoad(mode, "ear", load, cause, member="both ears", share=0.5))


def _aside_though_pulled(a: Answer) -> Answer:
    return _strip(a, "ear bending", by.ASIDE, 5e3)


def _strip_half_used(a: Answer) -> Answer:
    return _strip(a, "strip yield", by.YIELDED, 5e3)


def _asked_for_more(a: Answer) -> Answer:
    pull = replace(a.joint.pull, stop_displacement=1.0)
    return replace(a, joint=replace(a.joint, pull=pull))


def _past_a_top_without_one(a: Answer) -> Answer:
    return replace(a, trust=replace(a.trust, stopped_because=Stop(StopReason.LOAD_MAXIMUM)))


def _leg(**how: Any) -> LegAnswer:
    known = {"friction_heat": 1.0} | how
    return LegAnswer("a leg", True, 5e3, 0.1, 0.05, 0.05, 0.0, 0.0, **known)


def _legs(a: Answer, *rows: LegAnswer) -> Answer:
    legs = tuple(Leg("load", 5e3) for _ in rows)
    joint = replace(a.joint, pull=replace(a.joint.pull, legs=legs))
    return replace(
        a, joint=joint, path=(*rows, replace(_leg(friction_heat=None), leg="to the end"))
    )


def _unread_without_a_word(a: Answer) -> Answer:
    return _legs(a, _leg(friction_heat=None))


def _compared_with_a_push(a: Answer) -> Answer:
    return _legs(a, _leg(), replace(_leg(), load=-4e3), _leg(follows_within=0.5))


def _broken_off_at_its_end(a: Answer) -> Answer:
    stop = Stop(StopReason.NO_EQUILIBRIUM, "no equilibrium found")
    return _legs(replace(a, trust=replace(a.trust, stopped_because=stop)), _leg())


def _top_without_a_band(a: Answer) -> Answer:
    load = 0.9 * limits(a)[0].load
    return with_limits(a, LimitLoad("shank hole", "shank", load, by.OWN_TOP))


def _by_hand_of_the_other(a: Answer) -> Answer:
    first = a.verdict.order[0]
    row = replace(first.first, share=0.3)
    return replace(
        a, verdict=replace(a.verdict, order=(replace(first, first=row), *a.verdict.order[1:]))
    )


def _thin_without_a_row(a: Answer) -> Answer:
    return replace(a, joint=a.joint.replace("ear.thickness", "0.4 mm"))


BREAKS: dict[str, list[Callable[[Answer], Answer]]] = {
    "the pin yields before it gives": [_early_hinge],
    "a highest load has a row": [_passed_top],
    "stretch is used up where a row says so": [_torn_without_a_row],
    "the sentence is in the table": [_other_sentence],
    "limits lie on the curve": [_above_the_curve],
    "shares sum to the pull": [_lost_share],
    "free ends bear no moment": [_moment_at_an_end],
    "events come in order": [_late_yield],
    "limits stand as the pull meets them": [_member_twice, _behind_no_top, _rising_behind_the_top],
    "nothing gives where nothing gave": [_nothing_and_something, _nothing_of_an_ear, _bore_no_load],
    "strips fail by what uses them up": [_aside_though_pulled, _strip_half_used],
    "an end is what was asked": [_asked_for_more, _past_a_top_without_one],
    "legs say what became of them": [
        _unread_without_a_word,
        _compared_with_a_push,
        _broken_off_at_its_end,
    ],
    "a member's highest load has a band": [_top_without_a_band],
    "by hand is the ear's own": [_by_hand_of_the_other],
    "limits are of the joint's members": [_stranger, _undefined],
    "bands hold their loads": [_band_beside],
    "numbers are numbers": [_no_number],
    "thin ends have their rows": [_thin_without_a_row],
}


def test_a_sound_answer_breaks_nothing_and_is_left_as_it_is():
    answer = quick_answer()
    assert list(audit.broken_by(answer)) == []
    assert audit.audited(answer) is answer
    assert answer.trust.broken == ()


def test_every_invariant_is_broken_once():
    assert set(BREAKS) == set(audit.INVARIANTS)


@pytest.mark.parametrize(("name", "broken"), [(n, f) for n, fs in BREAKS.items() for f in fs])
def test_what_breaks_an_invariant_is_named(name, broken):
    assert name in told(broken(quick_answer()))


def test_a_wide_joint_whose_moments_are_small_bears_none_at_its_free_ends():
    # with lever arms from the columns' geometric middles: 1.4e-3 of the largest
    joint = wide_joints.draw(np.random.default_rng([7, 91])).replace("pull.stop_displacement", 0.7)
    assert fejoint.pull(joint, refine=0.35).trust.broken == ()


def test_legs_that_hold_together_break_nothing():
    answer = _legs(quick_answer(), _leg(), _leg(), _leg(follows_within=0.01))
    assert "legs say what became of them" not in told(answer)
    unread = _legs(quick_answer(), _leg(), _leg(friction_heat=None, unread="pushed back"))
    assert "legs say what became of them" not in told(unread)


def test_a_broken_answer_says_so_in_trust_and_warnings_and_json():
    answer = audit.audited(_late_yield(quick_answer()))
    assert answer.trust.broken
    assert any("contradicts itself" in said for said in answer.warnings)
    assert answer.to_dict()["trust"]["broken"] == list(answer.trust.broken)
