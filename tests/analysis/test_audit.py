"""The audit names what an answer breaks: every invariant is broken once by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from support.pulled import quick_answer

from fejoint.analysis import audit
from fejoint.analysis import definitions as by
from fejoint.analysis.result import Answer, LimitLoad, nothing_gave
from fejoint.analysis.verdict import verdict


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
    high = 2.0 * float(a.curve.load.max())
    return with_limits(a, LimitLoad("shank hole", "shank", high, by.OFFSET_LOAD))


def _lost_share(a: Answer) -> Answer:
    return with_history(a, shares=1.01 * a.axial.shares)  # type: ignore[union-attr]


def _moment_at_an_end(a: Answer) -> Answer:
    assert a.axial is not None
    problem = a.axial.problem
    broken = replace(problem, columns=(problem.columns[0] + 1, *problem.columns[1:]))
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
    load = np.array(a.curve.load)
    load[1] = np.nan
    return replace(a, curve=replace(a.curve, load=load))


BREAKS: dict[str, list[Callable[[Answer], Answer]]] = {
    "the pin yields before it gives": [_early_hinge],
    "a highest load has a row": [_passed_top],
    "stretch is used up where a row says so": [_torn_without_a_row],
    "the sentence is in the table": [_other_sentence],
    "limits lie on the curve": [_above_the_curve],
    "shares sum to the pull": [_lost_share],
    "free ends bear no moment": [_moment_at_an_end],
    "events come in order": [_late_yield],
    "limits stand as the pull meets them": [_member_twice],
    "limits are of the joint's members": [_stranger, _undefined],
    "bands hold their loads": [_band_beside],
    "numbers are numbers": [_no_number],
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


def test_a_broken_answer_says_so_in_trust_and_warnings_and_json():
    answer = audit.audited(_late_yield(quick_answer()))
    assert answer.trust.broken
    assert any("contradicts itself" in said for said in answer.warnings)
    assert answer.to_dict()["trust"]["broken"] == list(answer.trust.broken)
