"""Invariants that any joint's answer holds, whatever its shape; an answer names those it breaks."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from fejoint.analysis import definitions as by
from fejoint.analysis.dishing import dishing_limit, supports_of
from fejoint.analysis.result import Answer, LimitLoad
from fejoint.handbook.strip_bending import strip_use
from fejoint.inputs.units import both_units
from fejoint.kernel.stop_reason import StopReason
from fejoint.sections.axial.pull import no_load, rounding

Check = Callable[[Answer], Iterator[str]]

READ = 2e-3
"""Share by which two readings of one load may differ: on a curve's chords and on its spline."""
LOST = 1e-4
"""Share of the load by which ears and shank may be out of balance."""
NO_MOMENT = 1e-5
"""Share of the largest moment at a free end of the pin. It goes as what is out of balance: 1e-7 of
the load leaves at most 7e-7 in 500 joints."""
STOPPED = 2e-3
"""Share by which an end that was asked for may be missed."""
SHORTEST = 1e-6
"""Extension over the pin's diameter below which no step comes nearer to a load asked for."""
STRIP = 0.02
"""The strip's use at its limit, less 1: it goes as a square, and is found between two points."""


def audited(answer: Answer) -> Answer:
    """Return the answer with the invariants that it breaks in its trust data and its warnings."""
    broken = tuple(broken_by(answer))
    if not broken:
        return answer
    told = tuple(f"this answer contradicts itself: {said}" for said in broken)
    return replace(
        answer,
        trust=replace(answer.trust, broken=broken),
        warnings=(*told, *answer.warnings),
    )


def broken_by(answer: Answer) -> Iterator[str]:
    """Name every invariant that an answer breaks, each with what breaks it.

    Parameters
    ----------
    answer : Answer
        With its solved sections, or without: what needs them is then left out.
    """
    for name, check in INVARIANTS.items():
        for said in check(answer):
            yield f"{name}: {said}"


def _rows(answer: Answer) -> list[LimitLoad]:
    rows = [x for each in answer.verdict.order for x in (each.first, *each.later)]
    return [x for x in rows if x.cause != by.NOTHING_GAVE and x.source != "handbook"]


def _name(x: LimitLoad) -> str:
    return f"{x.member}, {x.mode}, {x.cause} at {x.load:.6g} N"


def _pin_yields_first(answer: Answer) -> Iterator[str]:
    yields = answer.event("first yield pin").load
    for x in _rows(answer):
        if x.part != "pin":
            continue
        if answer.joint.pin.rigid:
            yield f"{_name(x)}, of a rigid pin"
        elif yields is None:
            yield f"{_name(x)}, but the pin never yielded"
        elif not x.past_top and x.load < (1.0 - READ) * yields:
            yield f"{_name(x)}, below the pin's first yield at {yields:.6g} N"


def _tops_have_rows(answer: Answer) -> Iterator[str]:
    history = answer.axial
    if history is None:
        return
    tops = (by.OWN_TOP, by.HIGHEST_PULL)
    names = [n for n in ("ear", "ear 1", "shank", "ear 2") if n in _plates(answer)]
    for k, name in enumerate(names):
        face = answer.faces.get(name, answer.faces.get("ear" if name != "shank" else name))
        share = np.abs(history.shares[:, k])
        if face is None or not share[-1] < (1.0 - READ) * share.max() or answer.path:
            continue
        peak = int(face.load.argmax())
        # all of it on the mean, not its most loaded slice alone
        lengths = history.problem.bedding(k).lengths
        mean = history.problem.slice_travels(history.path.points[-1], k) @ lengths / lengths.sum()
        if peak == len(face.load) - 1 or mean < face.local_travel[peak]:
            continue
        own = (name, by.EARS_ALIKE) if name != "shank" else (name,)
        if not any(x.member in own and x.cause in tops for x in _rows(answer)):
            yield f"{name} passed its highest load of {share.max():.6g} N"
    top = answer.event("load maximum").load
    rows = [x for x in _rows(answer) if x.cause == by.HIGHEST_PULL]
    if bool(rows) and top is None:
        yield f"{_name(rows[0])}, but no event"
    if any(top is not None and abs(x.load - top) > READ * top for x in rows):
        yield f"{_name(rows[0])}, but the event at {top:.6g} N"


def _plates(answer: Answer) -> tuple[str, ...]:
    return ("ear", "shank") if len(answer.joint.ears) == 1 else ("ear 1", "shank", "ear 2")


def _damage_has_rows(answer: Answer) -> Iterator[str]:
    torn = {x.member for x in _rows(answer) if x.cause in (by.TORN_INSIDE, by.TORN_THROUGH)}
    for row in answer.ductility:
        if (row["used"] >= by.EXHAUSTED) != (row["plate"] in torn):
            yield f"{row['plate']} used {row['used']:.4g} of its stretch"
    if answer.axial is not None:
        worst = float(answer.axial.damage.max())
        broke = any(x.cause == by.BROKEN for x in _rows(answer))
        if not answer.path and (worst >= by.EXHAUSTED) != broke:
            yield f"the pin used {worst:.4g} of its stretch"


def _said_is_in_the_table(answer: Answer) -> Iterator[str]:
    verdict = answer.verdict
    shown = {both_units(x.load) for each in verdict.order for x in (each.first, *each.later)}
    for said in re.findall(r"[\d,.]+ N \([\d,.]+ kgf\)", verdict.sentence):
        if said not in shown:
            yield f"{said} is in the sentence only"
    first = verdict.first
    words = by.sentence_words(first.mode, first.cause, first.member)
    if first.cause != by.NOTHING_GAVE and words not in verdict.sentence:
        yield f"the sentence does not say {words!r}"


def _rows_lie_on_the_curve(answer: Answer) -> Iterator[str]:
    top = float(answer.trace.load.max())
    least = rounding(answer.axial.problem.case) if answer.axial is not None else 0.0
    for x in _rows(answer):
        if not least < x.load <= (1.0 + READ) * top:
            yield f"{_name(x)}, the curve reaches {top:.6g} N"
    end = float(answer.trace.extension.max())
    for event in answer.events:
        if event.load is not None and not 0.0 <= event.load <= (1.0 + READ) * top:
            yield f"{event.name} at {event.load:.6g} N, the curve reaches {top:.6g} N"
        if event.extension is not None and event.extension > end * (1.0 + 1e-9):
            yield f"{event.name} beyond the end of the pull"


def _shares_sum_to_the_pull(answer: Answer) -> Iterator[str]:
    history = answer.axial
    if history is None:
        return
    if (lost := history.imbalance()) > LOST:
        yield f"ears and shank differ by {lost:.2g} of the load"
    shank = history.problem.case.shank
    ears = history.shares.sum(axis=1) - history.shares[:, shank]
    scale = max(float(np.abs(history.load).max()), no_load(history.problem.case))
    if (off := float(np.abs(ears - history.load)[1:].max(initial=0.0)) / scale) > LOST:
        yield f"the ears' shares miss the pull by {off:.2g} of it"


def _free_ends_bear_no_moment(answer: Answer) -> Iterator[str]:
    history = answer.axial
    if history is None:
        return
    problem = history.problem
    _, _, moment = problem.section_forces(history.path.points[-1])
    scale = max(float(np.abs(moment).max()), no_load(problem.case) * problem.case.diameter)
    ends = moment[-1:] if problem.case.ends == "held" else moment[[0, -1]]
    if (most := float(np.abs(ends).max()) / scale) > NO_MOMENT:
        yield f"{most:.2g} of the largest moment at a free end"


def _events_in_order(answer: Answer) -> Iterator[str]:
    loads = {e.name: e.load for e in answer.events}
    first, offset, top = (loads[n] for n in ("first yield ear", "offset load", "load maximum"))
    if offset is not None and (first is None or first > offset):
        yield f"offset load at {offset:.6g} N, first yield at {first} N"
    if top is not None and offset is not None and offset > (1.0 + READ) * top:
        yield f"offset load at {offset:.6g} N, highest pull {top:.6g} N"
    hinge, yields = loads["pin hinge"], loads["first yield pin"]
    if hinge is not None and (yields is None or yields > hinge * (1.0 + READ)):
        yield f"hinge at {hinge:.6g} N, first yield of the pin at {yields} N"
    for event in answer.events:
        if (event.load is None) != bool(event.reason):
            yield f"{event.name}: load {event.load}, reason {event.reason!r}"


def _meets(x: LimitLoad) -> tuple[bool, float]:
    """Return what comes first on a pull: loads rise to the highest and fall behind it."""
    return x.past_top, -x.load if x.past_top else x.load


def _order_is_the_pulls(answer: Answer) -> Iterator[str]:
    order = answer.verdict.order
    members = [each.first.member for each in order]
    if len(set(members)) < len(members):
        yield f"a member twice: {', '.join(members)}"
    firsts = [_meets(e.first) for e in order]
    if firsts != sorted(firsts):
        yield "members out of order"
    for each in order:
        rows = (each.first, *each.later)
        if [_meets(x) for x in rows] != sorted(_meets(x) for x in rows):
            yield f"{each.first.member}: limits out of order"
        if len({x.member for x in rows}) > 1:
            yield f"{each.first.member}: limits of another member"
    top = answer.event("load maximum").load
    for x in _rows(answer):
        if x.past_top and (top is None or x.load > (1.0 + READ) * top):
            yield f"{_name(x)}, past a highest pull of {top} N"
    margin = answer.verdict.margin
    if margin is not None and margin < 0.0:
        yield f"the next member gives {margin:.2%} later"


def _nothing_is_said_to_give_where_nothing_gave(answer: Answer) -> Iterator[str]:
    every = [x for each in answer.verdict.order for x in (each.first, *each.later)]
    nothing = [x for x in every if by.NOTHING_GAVE == x.cause or by.NOTHING == x.mode]
    for x in nothing:
        if (x.mode, x.cause, x.part) != (by.NOTHING, by.NOTHING_GAVE, "joint"):
            yield _name(x)
    if nothing and len(every) > 1:
        yield f"{len(every) - 1} limits beside it"
    if nothing and answer.axial is not None:
        bore = float(answer.trace.load.max()) > rounding(answer.axial.problem.case)
        if bore == ("bore no load" in answer.verdict.sentence):
            yield f"{answer.verdict.sentence!r} of {answer.trace.load.max():.4g} N"


def _strips_fail_by_what_uses_them_up(answer: Answer) -> Iterator[str]:
    for x in _rows(answer):
        if x.cause not in (by.HINGE, by.ASIDE, by.YIELDED) or x.part != "ear" or x.share is None:
            continue
        ear = answer.joint.ears[1 if x.member == "ear 2" else 0]
        moment, pull = strip_use(ear, x.share * x.load, answer.joint.pull.angle)
        if (moment > pull) != (x.mode == "ear bending"):
            yield f"{_name(x)}: used by {moment:.3g} in bending and {pull:.3g} by the pull"
        if x.cause != by.ASIDE and abs(moment + pull - 1.0) > STRIP:
            yield f"{_name(x)}: used by {moment + pull:.4g} in all"


def _ends_are_what_was_asked(answer: Answer) -> Iterator[str]:
    stop, asked = answer.trust.stopped_because.root, answer.joint.pull
    if answer.axial is None:
        return
    top = answer.event("load maximum").load
    if stop.reason is StopReason.LOAD_MAXIMUM and answer.trust.stopped_because is stop:
        if top is None and float(answer.trace.load.max()) > no_load(answer.axial.problem.case):
            yield "the joint is said to be past its highest load, without an event"
    if stop.reason is not StopReason.REQUESTED:
        return
    load, extension = float(answer.trace.load[-1]), float(answer.trace.extension[-1])
    shortest = SHORTEST * answer.joint.pin.diameter
    ends = [
        abs(is_at - wanted) <= STOPPED * wanted or extension <= shortest
        for is_at, wanted in (
            (load, asked.stop_load), (extension, asked.stop_displacement),
        )
        if wanted is not None
    ]  # fmt: skip
    if not any(ends):
        yield f"asked to stop, at {load:.6g} N and {extension:.6g} mm"


def _legs_say_what_became_of_them(answer: Answer) -> Iterator[str]:
    rows = answer.path
    for k, row in enumerate(rows):
        to_the_end = k == len(answer.joint.pull.legs)
        if to_the_end and row.reached != answer.trust.finished:
            ended = answer.trust.stopped_because
            yield f"{row.leg}: reached {row.reached}, though the path ended so: {ended}"
        if not to_the_end and (row.friction_heat is None) != bool(row.unread):
            yield f"{row.leg}: friction {row.friction_heat}, unread {row.unread!r}"
        compared = row.follows_within is not None or row.moves_again is not None
        if compared and (k == 0 or rows[k - 1].load < -0.02 * rows[max(k - 2, 0)].load):
            yield f"{row.leg}: compared with a leg that ended at {rows[k - 1].load:.4g} N"


def _tops_of_members_have_a_band(answer: Answer) -> Iterator[str]:
    for x in _rows(answer):
        if x.cause == by.OWN_TOP and x.band is None:
            yield _name(x)


def _by_hand_is_the_ears_own(answer: Answer) -> Iterator[str]:
    for x in _rows(answer):
        if x.handbook_load is None or x.share is None:
            continue
        own = [
            line["load"] / line["ears"]
            for line in answer.by_hand
            if line["mode"] == x.mode and line["member"] in (x.member, by.EARS_ALIKE)
        ]
        if not any(abs(x.handbook_load * x.share - each) <= 1e-6 * each for each in own):
            yield f"{_name(x)}: by hand {x.handbook_load:.6g} N at a share of {x.share:.3g}"


def _members_are_the_joints(answer: Answer) -> Iterator[str]:
    joint = answer.joint
    ears = {"ear"} if len(joint.ears) == 1 else {"ear 1", "ear 2", by.EARS_ALIKE}
    if len(joint.ears) == 2 and joint.ears[0] != joint.ears[1]:
        ears.discard(by.EARS_ALIKE)
    for x in _rows(answer):
        known = ears if x.part == "ear" else {x.part}
        if x.member not in known:
            yield f"{_name(x)}: no such member"
        if by.definition(x.mode, x.cause) is None:
            yield f"{_name(x)}: not defined"
        if by.MODES[x.mode].part != x.part:
            yield f"{_name(x)}: a mode of another part than {x.part}"
    first = next((x.member for x in _in_order(answer) if x.part == "ear"), None)
    if first in answer.faces and answer.weaker_ear != first:
        yield f"{first} gives first of the ears, but {answer.weaker_ear} is shown"


def _in_order(answer: Answer) -> list[LimitLoad]:
    return sorted(_rows(answer), key=lambda x: x.order)


def _thin_ends_have_rows(answer: Answer) -> Iterator[str]:
    joint, history = answer.joint, answer.axial
    rows = [x for x in _rows(answer) if x.cause == by.DISHES]
    for k, ear in enumerate(joint.ears):
        own = (f"ear {k + 1}" if len(joint.ears) == 2 else "ear", by.EARS_ALIKE)
        load = dishing_limit(ear, supports_of(joint, k), joint.pull.angle).load
        found = [x for x in rows if x.member in own]
        for x in found:
            if x.share is None or abs(x.share * x.load - load) > READ * load:
                yield f"{_name(x)}, where the rule says {load:.6g} N on the ear"
        if history is None or answer.path or found:
            continue
        borne = float(np.abs(history.shares[:, 2 * k]).max())
        if borne > (1.0 + READ) * load:
            yield f"{own[0]} bore {borne:.6g} N, above {load:.6g} N"


def _bands_hold_their_loads(answer: Answer) -> Iterator[str]:
    for name, load, band in (
        *((_name(x), x.load, x.band) for x in _rows(answer)),
        *((e.name, e.load, e.band) for e in answer.events if e.load is not None),
    ):
        if band is not None and load is not None and not band[0] <= load <= band[1]:
            yield f"{name}: band {band[0]:.6g} to {band[1]:.6g} N"


def _numbers_are_numbers(answer: Answer) -> Iterator[str]:
    for x in _rows(answer):
        if not math.isfinite(x.load):
            yield _name(x)
    curve = answer.trace
    for name, values in (("load", curve.load), ("extension", curve.extension)):
        if not np.all(np.isfinite(values)):
            yield f"the curve's {name}"


INVARIANTS: Mapping[str, Check] = {
    "the pin yields before it gives": _pin_yields_first,
    "a highest load has a row": _tops_have_rows,
    "stretch is used up where a row says so": _damage_has_rows,
    "the sentence is in the table": _said_is_in_the_table,
    "limits lie on the curve": _rows_lie_on_the_curve,
    "shares sum to the pull": _shares_sum_to_the_pull,
    "free ends bear no moment": _free_ends_bear_no_moment,
    "events come in order": _events_in_order,
    "limits stand as the pull meets them": _order_is_the_pulls,
    "nothing gives where nothing gave": _nothing_is_said_to_give_where_nothing_gave,
    "strips fail by what uses them up": _strips_fail_by_what_uses_them_up,
    "an end is what was asked": _ends_are_what_was_asked,
    "legs say what became of them": _legs_say_what_became_of_them,
    "a member's highest load has a band": _tops_of_members_have_a_band,
    "by hand is the ear's own": _by_hand_is_the_ears_own,
    "limits are of the joint's members": _members_are_the_joints,
    "bands hold their loads": _bands_hold_their_loads,
    "thin ends have their rows": _thin_ends_have_rows,
    "numbers are numbers": _numbers_are_numbers,
}
