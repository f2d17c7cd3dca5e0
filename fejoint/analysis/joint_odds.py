"""The odds of an answer: joints drawn about it by what each cause does to each limit.

No drawn joint is solved. What a cause does is known beforehand:

- the model's error by kind of limit, from published tests (`model_error`);
- a member's metal, from lot to lot: loads go as its strength, the pin's or the plate's whose limit
  it is (re-solved demos: exponents of 0.9 to 1.1 for what gives first);
- friction from none to 0.3, and the curve's shape where a tensile test leaves it open: the plate
  alone, solved on a coarse mesh for each, and its loads' ratios taken;
- local fracture strain, the mesh's scale or a rule's scatter: the band that a limit brings along.

A case's own [scatter] of friction and strength takes the place of these. What a joint's dimensions
scatter by is not in it: `fejoint scatter` draws them.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from fejoint.analysis import definitions as d
from fejoint.analysis import model_error
from fejoint.analysis.model_error import Own
from fejoint.analysis.odds import Cause, LimitBand, Odds
from fejoint.analysis.plate_ratios import FRICTION, Ratios, plate_ratios
from fejoint.analysis.result import Answer, LimitLoad
from fejoint.analysis.verdict import with_odds
from fejoint.arrays import Floats
from fejoint.inputs.fields import Reading
from fejoint.joint import scatter, schema
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear, Pin, Shank
from fejoint.joint.scatter import Spread

DRAWS, SEED = 4000, 1
"""Joints drawn: odds are sure to 1 in 100; always the same ones."""
NEAR = 1.4
"""A plate is solved for its own ratios where it may give first: up to this times the first load."""
EVEN = 0.85
"""What a bent pin may leave of the load that a plate bears by itself (a judgement, no source)."""
OWN = 0.003
"""Relative deviation of a member from its equal twin: what mesh and size leave."""
_TWO_SIDED = 1.6448536269514722
"""Deviations between the middle and the end of a band of nine in ten."""
_AT_TOP = (d.TORN_INSIDE, d.TORN_THROUGH, d.OWN_TOP, d.HIGHEST_PULL)


@dataclass
class _Draws:
    """Standard draws, one of each name for all limits that share it, (DRAWS,) each."""

    rng: np.random.Generator
    known: dict[str, Floats] = field(default_factory=dict)

    def normal(self, name: str) -> Floats:
        return self._once(name, self.rng.standard_normal)

    def even(self, name: str) -> Floats:
        return self._once(name, self.rng.random)

    def _once(self, name: str, draw: Callable[[int], Floats]) -> Floats:
        if name not in self.known:
            self.known[name] = draw(DRAWS)
        return self.known[name]


def odds(answer: Answer, own: Own | None = None) -> Odds | None:
    """Return the odds of an answer; None where nothing gave, or it was pulled along a path.

    Parameters
    ----------
    answer : Answer
        With its solved face sections.
    own : mapping, optional
        Errors that a workshop's own pulls tell.
    """
    start = time.process_time()
    first = answer.verdict.first
    if first.cause == d.NOTHING_GAVE or first.past_top or not answer.trust.finished:
        return None
    if answer.joint.pull.legs:
        return None
    limits = [
        limit
        for part in answer.verdict.order
        for limit in (part.first, *part.later)
        if not limit.past_top and limit.load > 0.0
    ]
    ratios = {name: found for name, found in _ratios_of(answer, limits, NEAR * first.load)}
    draws = _Draws(np.random.default_rng(SEED))
    moved = {id(x): _moves(answer.joint, x, ratios, draws, own) for x in limits}
    loads = {id(x): x.load * np.exp(sum(moved[id(x)].values())) for x in limits}
    bands = tuple(_band(x, loads[id(x)], own) for x in limits)
    members = _first_of_each(answer, limits, loads, draws)
    lowest = float(np.percentile(np.min(list(members.values()), axis=0), 5.0))
    causes = _causes(first, moved[id(first)], ratios, own)
    seconds = time.process_time() - start
    return Odds(first.member, _shares(members), bands, causes, lowest, seconds)


def surer(answer: Answer, own: Own | None = None) -> Answer:
    """Return an answer with its odds, and a verdict that tells them; as it is without any."""
    found = odds(answer, own)
    if found is None:
        return answer
    return replace(answer, odds=found, verdict=with_odds(answer.verdict, found))


def _band(limit: LimitLoad, loads: Floats, own: Own | None) -> LimitBand:
    low, median, high = (float(x) for x in np.percentile(loads, [5.0, 50.0, 95.0]))
    error = model_error.of(limit.mode, limit.cause, own)
    return LimitBand(
        limit.member, limit.mode, limit.cause, limit.load, low, median, high, error.says
    )


def _moves(
    joint: Joint,
    limit: LimitLoad,
    ratios: Mapping[str, Ratios],
    draws: _Draws,
    own: Own | None,
) -> dict[str, Floats]:
    """Return what each cause does to a limit in every draw: ln(load/computed), (DRAWS,) each."""
    error = model_error.of(limit.mode, limit.cause, own)
    metal = _part(joint, limit.member).material
    moves = {
        "model": -error.shift + error.deviation * draws.normal(f"model {error.kind}"),
        "metal": _strength_band(joint, limit) * draws.normal(f"metal {limit.part} {metal.name}"),
    }
    if limit.member in ("ear 1", "ear 2"):
        moves["own"] = OWN * draws.normal(f"own {limit.member}")
    known = ratios.get(_plate(limit.member))
    if known is not None and (limit.cause == d.OFFSET_LOAD or limit.cause in _AT_TOP):
        at_top = limit.cause in _AT_TOP
        low, high = friction_range(joint)
        friction = low + (high - low) * draws.even("friction")
        ends = known.top if at_top else known.offset
        moves["friction"] = np.asarray(np.interp(friction, known.friction, ends), float)
        # the other shape is as likely as the one taken
        shape = known.shape_top if at_top else known.shape_offset
        moves["shape"] = np.where(draws.even(f"shape {limit.part}") < 0.5, shape, 0.0)
    if limit.band is not None:
        moves["stretch"] = _stretched(limit, draws.normal(f"stretch {limit.part}"))
    return moves


def _stretched(limit: LimitLoad, z: Floats) -> Floats:
    """Return ln(load/computed) of a limit by its own band, in deviations z of it."""
    assert limit.band is not None
    low, high = limit.band
    down = math.log(limit.load / low) if 0.0 < low < limit.load else 0.0
    # a band that goes on beyond the pull is taken to be as wide upwards as down
    up = math.log(high / limit.load) if limit.load < high < math.inf else down
    return np.asarray(np.where(z < 0.0, down, up) * z / _TWO_SIDED, float)


def _said(joint: Joint, path: str) -> Spread | None:
    """Return what the case's [scatter] table says of a value; None where it says nothing."""
    found = scatter.read(joint.scatter, schema.PARTS, Reading())
    return next((spread for spread in found if spread.path == path), None)


def friction_range(joint: Joint) -> tuple[float, float]:
    """Return the friction that may be met: as the case says, or from greased to dry and rough."""
    said, own = _said(joint, "fit.friction"), joint.friction
    if said is None:
        return min(FRICTION[0], own), max(FRICTION[1], own)
    if said.law == "between":
        return min(said.ends[0], own), max(said.ends[1], own)
    # as wide as an even spread of the same deviation
    size = said.size * (own if said.relative else 1.0)
    size *= math.sqrt(3.0) if said.law == "deviation" else 1.0
    return max(own - size, 0.0), own + size


def _strength_band(joint: Joint, limit: LimitLoad) -> float:
    """Return the relative standard deviation of the strength of a limit's metal."""
    said = _said(joint, f"{limit.part}.strength")
    if said is None or said.law == "between":
        return _part(joint, limit.member).material.strength_band
    return said.size / (math.sqrt(3.0) if said.law == "within" else 1.0)


def _first_of_each(
    answer: Answer,
    limits: Sequence[LimitLoad],
    loads: Mapping[int, Floats],
    draws: _Draws,
) -> dict[str, Floats]:
    """Return the load at which each member first gives in every draw, N."""
    members: dict[str, Floats] = {}
    for limit in limits:
        known = members.get(limit.member)
        drawn = loads[id(limit)]
        members[limit.member] = drawn if known is None else np.minimum(known, drawn)
    two = len(answer.joint.ears) == 2
    plates = [d.EARS_ALIKE if two and plate == "ear" else plate for plate in answer.faces]
    for member in [*([] if answer.joint.pin.rigid else ["pin"]), *plates]:
        if member not in members:
            members[member] = _at_least(answer, member, draws)
    return members


def _shares(members: Mapping[str, Floats]) -> dict[str, float]:
    """Return in what share of the draws each member is the first to give, the likeliest first."""
    names = list(members)
    first = np.argmin(np.stack([members[name] for name in names]), axis=0)
    counts = np.bincount(first, minlength=len(names)) / len(first)
    found = dict(zip(names, counts.tolist(), strict=True))
    return {name: found[name] for name in sorted(found, key=lambda n: -found[n])}


def _at_least(answer: Answer, member: str, draws: _Draws) -> Floats:
    """Return loads below which a member that gave nowhere does not give, N.

    It bore the whole pull. Where its hinge by hand is higher, a pin gives there; where EVEN of the
    load that it bears by itself, evenly through its thickness, is higher, a plate does.
    """
    part = _part(answer.joint, member)
    if isinstance(part, Pin):
        kind, error = "pin", model_error.of("pin bending", d.HINGE)
        own = [row["load"] for row in answer.by_hand if row["counted"] == "pin hinge"]
    else:
        kind = "ear" if isinstance(part, Ear) else "shank"
        error = model_error.of("hole elongation", d.OFFSET_LOAD)
        history = answer.faces[_plate(member)]
        alone = history.offset.load if history.offset is not None else float(history.load.max())
        own = [EVEN * alone * (len(answer.joint.ears) if kind == "ear" else 1)]
    load = max([float(answer.trace.load.max()), *own])
    moved = error.deviation * draws.normal(f"model {error.kind}")
    metal = part.material
    moved = moved + metal.strength_band * draws.normal(f"metal {kind} {metal.name}")
    return np.asarray(load * np.exp(moved))


def _ratios_of(
    answer: Answer, limits: Sequence[LimitLoad], near: float
) -> Iterator[tuple[str, Ratios]]:
    """Give the ratios of every plate that may give first; equal plates are solved once."""
    solved: dict[int, Ratios] = {}
    for limit in limits:
        plate = _plate(limit.member)
        history = answer.faces.get(plate)
        if history is None or limit.load > near or limit.part == "pin":
            continue
        if id(history) not in solved:
            own = [x for x in limits if _plate(x.member) == plate and x.load <= near]
            top = any(x.cause in _AT_TOP for x in own)
            part = _part(answer.joint, limit.member)
            assert not isinstance(part, Pin)
            solved[id(history)] = plate_ratios(part, history, top, friction_range(answer.joint))
        yield plate, solved[id(history)]


def _part(joint: Joint, member: str) -> Ear | Pin | Shank:
    if member == "pin":
        return joint.pin
    return joint.shank if member == "shank" else joint.ears[member == "ear 2"]


def _plate(member: str) -> str:
    """Return the name under which an answer keeps a member's face section."""
    return "ear" if member == d.EARS_ALIKE else member


def _causes(
    limit: LimitLoad,
    moves: Mapping[str, Floats],
    ratios: Mapping[str, Ratios],
    own: Own | None,
) -> tuple[Cause, ...]:
    """Return what moves a limit, in words, the strongest first."""
    error = model_error.of(limit.mode, limit.cause, own)
    known = ratios.get(_plate(limit.member))
    deviation = {name: float(np.std(moved)) for name, moved in moves.items()}
    words = {
        "model": f"the model's own error, {_either(deviation['model'])} ({error.says})",
        "metal": f"the metal from lot to lot, {_either(deviation['metal'])}",
        "own": "what makes one ear unlike its twin",
        "stretch": (
            "the rule's own scatter"
            if limit.source == d.RULE
            else "how far the metal stretches before it tears"
        ),
    }
    if known is not None:
        ends = known.top if limit.cause in _AT_TOP else known.offset
        words["friction"] = (
            f"friction in the hole ({_slip(known.friction[0])}, {_changed(ends[0])}; "
            f"{_slip(known.friction[-1])}, {_changed(ends[-1])})"
        )
        shape = known.shape_top if limit.cause in _AT_TOP else known.shape_offset
        words["shape"] = (
            f"the curve between Rp0.2 and Rm ({known.shape.capitalize()}'s law: {_changed(shape)})"
        )
    found = [Cause(name, deviation[name], words[name]) for name in moves]
    return tuple(sorted(found, key=lambda cause: -cause.deviation))


def _either(deviation: float) -> str:
    """Write a standard deviation as the half width that holds nine in ten."""
    return f"{100.0 * math.expm1(_TWO_SIDED * deviation):.0f} % either way"


def _slip(friction: float) -> str:
    named = {FRICTION[0]: "greased", FRICTION[1]: "dry and rough"}
    return named.get(friction, f"at {friction:g}")


def _changed(moved: float) -> str:
    percent = 100.0 * math.expm1(moved)
    return f"{abs(percent):.0f} % {'less' if percent < 0.0 else 'more'}"
