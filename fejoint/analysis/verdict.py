"""From limits to a verdict: which member gives first, in what order, said in a sentence."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from fejoint.analysis import apart
from fejoint.analysis.definitions import (
    EARS_ALIKE,
    NOTHING_GAVE,
    RULE,
    TIE,
    definition,
    sentence_words,
)
from fejoint.analysis.odds import Odds
from fejoint.analysis.result import LimitLoad, PartLimits, Verdict
from fejoint.handbook.limit_loads import HandbookLimit, headline
from fejoint.inputs.units import both_units, figures


def verdict(limits: Iterable[LimitLoad], ended: str = "the solve ended") -> Verdict:
    """Order the limits member by member and say what gives first.

    Parameters
    ----------
    limits : iterable of LimitLoad
        At least one.
    ended : str
        Why the pull ended, for a joint that gave nowhere.

    Returns
    -------
    Verdict
    """
    by_member: dict[str, list[LimitLoad]] = {}
    for limit in limits:
        by_member.setdefault(limit.member, []).append(limit)
    members = [sorted(found, key=lambda x: x.order) for found in by_member.values()]
    order = tuple(
        PartLimits(found[0], tuple(found[1:]))
        for found in sorted(members, key=lambda m: m[0].order)
    )
    return Verdict(order, _sentence(order, ended))


def with_odds(found: Verdict, odds: Odds) -> Verdict:
    """Return a verdict with its limits' bands of nine in ten, and a sentence that tells the odds.

    The sentence gives loads to the figures that their bands allow.
    """

    def told(limit: LimitLoad) -> str:
        band = odds.band(limit.member, limit.mode, limit.cause)
        return both_units(limit.load, 3 if band is None else band.figures)

    said = _sentence(found.order, "", told)
    band = odds.band(found.first.member, found.first.mode, found.first.cause)
    if band is not None:
        low, high = (figures(load, band.figures) for load in (band.low, band.high))
        said += f" That first limit lies between {low} and {high} N in nine of ten such joints."
        lowest = low if odds.lowest is None else figures(odds.lowest, band.figures)
        if lowest != low:
            said += f" Below {lowest} N nothing gives in nineteen of twenty."
    said += f" In {odds.of_100} such joints {_gives(found.first.member)} first"
    likeliest = next(iter(odds.shares))
    if likeliest != found.first.member:
        share = 100.0 * odds.shares[likeliest]
        said += f"; errors and scatter counted, {_gives(likeliest)} first in {share:.0f}"
    order = tuple(
        PartLimits(_banded(part.first, odds), tuple(_banded(x, odds) for x in part.later))
        for part in found.order
    )
    return replace(found, order=order, sentence=f"{said}.")


def _banded(limit: LimitLoad, odds: Odds) -> LimitLoad:
    band = odds.band(limit.member, limit.mode, limit.cause)
    return limit if band is None else replace(limit, band=(band.low, band.high))


def _gives(member: str) -> str:
    name = f"the {member}" if member in ("ear", "pin", "shank") else member
    return f"{name} {'give' if member == EARS_ALIKE else 'gives'}"


def beside_handbook(
    limit: LimitLoad, found: Sequence[HandbookLimit], *, ears: int = 2, even: bool = False
) -> LimitLoad:
    """Return the limit with the closed form of the same quantity beside it, if there is one.

    An ear's closed form is its own; the pull on the joint at it goes by the share that the ear
    bears at the limit.
    """
    told = definition(limit.mode, limit.cause)
    if told is None or not told.by_hand or limit.handbook_load is not None:
        return limit
    line = headline(tuple(found), limit.mode, limit.part, told.by_hand, limit.member)
    if line is None:
        return limit
    source, load = f"{line.source}: {line.formula} ({line.status})", line.load
    if limit.share is not None and limit.share > 0.0:
        alike = 1.0 / line.ears
        load *= alike / limit.share
        if abs(limit.share / alike - 1.0) > TIE:
            source += f"; at the {100.0 * limit.share:.0f} % of the pull that it bears there"
    limit = replace(
        limit, handbook_load=load, handbook_source=source, handbook_note=line.outside
    )  # fmt: skip
    why = apart.reason(limit, load, told.by_hand, ears=ears, even=even)
    return replace(limit, handbook_apart=why)


_NOT_COMPUTED = {
    "handbook": "a handbook value, not computed here",
    RULE: "by a rule; `fejoint solid` computes it",
}


def words(limit: LimitLoad) -> str:
    """Say in plain words what a limit means."""
    return sentence_words(limit.mode, limit.cause, limit.member)


def _load(limit: LimitLoad) -> str:
    return both_units(limit.load)


def _sentence(
    order: Sequence[PartLimits], ended: str, told: Callable[[LimitLoad], str] = _load
) -> str:
    first = order[0].first
    if first.cause == NOTHING_GAVE and first.load == 0.0:
        return f"The joint bore no load up to where {ended}."
    if first.cause == NOTHING_GAVE:
        return f"Nothing gave up to a pull of {told(first)}, where {ended}."
    said = f"At a pull of {told(first)} {words(first)} first"
    if first.source in _NOT_COMPUTED:
        said += f" ({_NOT_COMPUTED[first.source]})"
    said += "."
    own = [x for x in order[0].later if not x.past_top][:1]
    other = [x for part in order[1:2] if not (x := part.first).past_top]
    # a further limit of the same member is told where it is the nearer one
    further = [x for x in own if not other or x.order < other[0].order] + other
    for k, after in enumerate(further):
        said += f" {_after(first, after, told(after), nearest=k == 0)}"
    return said


def _after(first: LimitLoad, after: LimitLoad, load: str, *, nearest: bool) -> str:
    hand = " (by rule)" if after.source == RULE else ""
    hand = " (handbook value)" if after.source == "handbook" else hand
    margin = after.load / first.load - 1.0
    if margin <= TIE:
        return f"At about the same pull, {load}, {words(after)}{hand}."
    above = f"{100.0 * margin:.0f} %"
    above = f"Next, {above} higher" if nearest else f"Then, {above} above the first"
    return f"{above}, {words(after)} at {load}{hand}."
