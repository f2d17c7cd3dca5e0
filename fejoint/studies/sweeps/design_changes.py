"""What to change: the smallest change of one dimension, and of two, that reaches a pull."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from fejoint.analysis.plotted import Plotted
from fejoint.analysis.progress import Progress, Told
from fejoint.errors import BadInput, Fault, SolveStopped
from fejoint.inputs import fields
from fejoint.inputs.units import both_units
from fejoint.joint.model import CaseLike, Joint, load
from fejoint.studies.sweeps import dimensions, search, variation
from fejoint.studies.sweeps import row as one_joint
from fejoint.studies.sweeps.dimensions import Dimension
from fejoint.studies.sweeps.plan import joint_with
from fejoint.studies.sweeps.search import SearchSpace, Steps
from fejoint.studies.sweeps.variation import Variation
from fejoint.studies.sweeps.workers import client, submitting
from fejoint.system.processes import Submit, cores, pool

if TYPE_CHECKING:
    import pandas as pd

COARSE = 0.5
"""Refinement of the search; what it finds is put right and verified on the asked mesh."""
PAIRED = 4
"""Dimensions that are tried in pairs: those that do most alone."""
EFFECT = 0.01
"""Least relative gain of load, over a dimension's whole reach, that is worth a pair."""


@dataclass(frozen=True)
class Change:
    """A change of the joint that reaches the goal.

    Attributes
    ----------
    dimensions : tuple of Dimension
    values : tuple of float
        What they become.
    size : float
        Root of the sum of squares of the relative changes.
    joint : Joint
        The joint so changed.
    row : mapping
        Its columns, from a fresh solve of its own.
    """

    dimensions: tuple[Dimension, ...]
    values: tuple[float, ...]
    size: float
    joint: Joint
    row: Mapping[str, Any]

    @property
    def words(self) -> str:
        """Say what is changed."""
        return " and ".join(
            f"{d.name} {d.show(d.value)} -> {d.show(v)}"
            for d, v in zip(self.dimensions, self.values, strict=True)
        )


@dataclass(frozen=True)
class Advice(Plotted):
    """The answer to "what do I change to carry this pull?"; `plot` draws loads before and after.

    Attributes
    ----------
    target, margin : float
        N, and the share by which it is to be passed.
    present : mapping
        Columns of the joint as it is.
    single, double : tuple of Change
        Changes of one dimension and of two, the smallest first; empty if none reaches the goal.
    short : dict of str to float
        Dimensions that alone do not reach it, and the best pull within their limits, N.
    reached : bool
        Whether the joint as it is reaches it.
    solves : int
        Joints solved.
    """

    target: float
    margin: float
    present: Mapping[str, Any]
    single: tuple[Change, ...]
    double: tuple[Change, ...]
    short: dict[str, float]
    reached: bool
    solves: int
    _drawn_by = ("studies.sweeps.plots", "advice")

    @property
    def frame(self) -> pd.DataFrame:
        """The joint as it is, then a row a change: its words and size, and a sweep's columns."""
        import pandas as pd

        rows = [{"change": "as it is", "size": 0.0} | dict(self.present)]
        for c in (*self.single, *self.double):
            rows.append({"change": c.words, "size": c.size} | dict(c.row))
        return pd.DataFrame(rows)

    @property
    def goal(self) -> float:
        """The pull to be reached, N."""
        return self.target * (1.0 + self.margin)


def advise(
    joint: CaseLike,
    target: float | str,
    *,
    margin: float | str = 0.0,
    limits: Sequence[Variation | str] = (),
    only: Sequence[str] = (),
    refine: float = 1.0,
    workers: int | None = None,
    scheduler: str | None = None,
    pairs: int = 3,
    model: one_joint.Model = one_joint.solve,
    progress: Progress | None = None,
) -> Advice:
    """Find the smallest changes by which no part gives below a pull.

    Parameters
    ----------
    joint : Joint, path or mapping
        The joint, its case file, or the tables of one.
    target : float or str
        Pull on the whole joint, N, or such as "950 kgf".
    margin : float or str
        Share by which the target is to be passed.
    limits : sequence of str
        Ranges within which dimensions may go, such as "ear.width=14:16 mm"; others may change by
        `dimensions.USUAL_REACH`.
    only : sequence of str
        Keys that may change; all that are known if empty.
    refine : float
        Of the verified answer.
    workers, scheduler
        As for a sweep.
    pairs : int
        Pairs of dimensions to search.
    model : callable
        What solves a joint.
    progress : callable, optional
        Called with the phase in words, the share of the whole that is done (0 to 1, never falling;
        an estimate) and the pull that the joint has reached (N, or None).

    Returns
    -------
    Advice

    Raises
    ------
    BadInput
        If the target is no pull, or a limit or name fits no dimension.
    SolveStopped
        If the joint's pull ends below the target before anything gives.

    Examples
    --------
    >>> advise("cases/demo/hard-pin.toml", "800 kgf", workers=0, refine=0.35).reached
    True
    """
    joint = load(joint)
    target = fields.quantity("target", target, "force", 1e-3, 1e9)
    margin = fields.quantity("margin", margin, "number", 0.0, 10.0)
    within = [variation.parse(each) if isinstance(each, str) else each for each in limits]
    around = _within(dimensions.of(joint), within, only)
    tell = Told(progress)
    goal = target * (1.0 + margin)
    table = joint.case or joint.to_dict()
    fine = {"refine": refine, "whole": True, "stops": False}
    coarse = {"refine": min(refine, COARSE), "whole": False, "stops": False}
    tell("the joint as it is", 0.0)
    present = dict(model(joint.to_dict(), fine))
    solves = 1
    if one_joint.borne(present) >= goal:
        return Advice(target, margin, present, (), (), {}, True, solves)
    if present["load_N"] is None:
        borne = both_units(present["nothing_up_to_N"])
        message = (
            f"the joint's pull ended at {borne}, where {present['stopped_because']}, and nothing "
            "had given by then: there is nothing to mend"
        )
        raise SolveStopped(message)
    rough = dict(model(joint.to_dict(), coarse))
    # the coarse mesh is a few tenths of a per cent off: aim there by as much
    aim = goal * one_joint.borne(rough) / present["load_N"]
    with _submitting(workers, scheduler) as submit:

        def map_out(function: Callable[[Any], Any], jobs: Sequence[Any]) -> list[Any]:
            handed_out = [submit(function, job) for job in jobs]
            return [future.result() for future in handed_out]

        grounds = [SearchSpace(table, (d,), coarse, model, {(0,): rough}) for d in around]
        tell(f"one dimension at a time: {len(around)} of them", 0.1, present["load_N"])
        ones = map_out(_alone, [(g, aim) for g in grounds])
        solves += sum(o.solves for o in ones)
        tell("two dimensions at a time", 0.5, present["load_N"])
        chosen = _worth_pairing(ones, one_joint.borne(rough))
        twos = map_out(
            _together, [(table, a, b, coarse, model, aim, rough) for a, b in chosen[:pairs]]
        )
        solves += sum(t.solves for t in twos)
        tell("verifying on the asked mesh, each by a solve of its own", 0.8)
        single = [o for o in ones if o.steps is not None]
        double = [t for t in twos if t.steps is not None]
        jobs = [
            (table, found, fine, model, goal)
            for found in (*sorted(single, key=_size)[:4], *sorted(double, key=_size)[:2])
        ]
        verified = map_out(_verified, jobs)
    solves += sum(n for _, n in verified)
    changes = sorted((c for c, _ in verified if c is not None), key=lambda c: c.size)
    short = {o.dimensions[0].name: o.best for o in ones if o.steps is None}
    return Advice(
        target, margin, present, tuple(c for c in changes if len(c.dimensions) == 1),
        tuple(c for c in changes if len(c.dimensions) == 2), short, False, solves,
    )  # fmt: skip


@dataclass(frozen=True)
class _Found:
    dimensions: tuple[Dimension, ...]
    steps: Steps | None
    ends: Steps
    best: float
    size: float
    solves: int


def _size(found: _Found) -> float:
    return found.size


def _alone(job: tuple[SearchSpace, float]) -> _Found:
    ground, aim = job
    steps, best, way = search.alone(ground, aim)
    end = way * search.last_possible(ground, 0, way) if way else 0
    size = ground.size(steps) if steps is not None else float("inf")
    return _Found(tuple(ground.dimensions), steps, (end,), best, size, len(ground.rows) - 1)


def _worth_pairing(ones: Sequence[_Found], base: float) -> list[tuple[_Found, _Found]]:
    """Return pairs of the dimensions that do most alone, the most promising first."""
    able = [o for o in ones if o.best > (1.0 + EFFECT) * base]
    able.sort(key=lambda o: (o.steps is None, o.size, -o.best))
    return list(itertools.combinations(able[:PAIRED], 2))


def _together(job: tuple[Any, ...]) -> _Found:
    table, one, other, settings, model, aim, rough = job
    pair = (one.dimensions[0], other.dimensions[0])
    ground = SearchSpace(table, pair, settings, model, {(0, 0): rough})
    needs = []
    for found, d in zip((one, other), pair, strict=True):
        reach = abs(found.ends[0]) * d.step / d.value
        now = one_joint.borne(rough)
        needed = (aim - now) / max(found.best - now, 1e-9) * reach
        needs.append(found.size if found.steps is not None else min(needed, 5.0))
    ends = (one.ends[0], other.ends[0])
    steps = search.together(ground, aim, ends, (needs[0], needs[1]))
    if steps is not None and 0 in steps:
        steps = None  # one dimension does it alone: no pair
    size = ground.size(steps) if steps is not None else float("inf")
    return _Found(pair, steps, ends, 0.0, size, len(ground.rows) - 1)


def _verified(job: tuple[Any, ...]) -> tuple[Change | None, int]:
    """Put a change right on the asked mesh, then solve the changed joint afresh."""
    table, found, settings, model, goal = job
    ground = SearchSpace(table, found.dimensions, settings, model)
    steps = search.put_right(ground, found.steps, goal, found.ends)
    if steps is None:
        return None, len(ground.rows)
    joint = joint_with(table, ground.changes(steps))
    one_joint.forget()
    row = dict(model(joint.to_dict(), settings))
    if row["load_N"] is None or row["load_N"] < goal:
        return None, len(ground.rows) + 1
    change = Change(found.dimensions, ground.values(steps), ground.size(steps), joint, row)
    return change, len(ground.rows) + 1


@contextmanager
def _submitting(workers: int | None, scheduler: str | None) -> Iterator[Submit]:
    """Return how to hand out work: to local processes, a scheduler's workers, or to this one."""
    if scheduler is None:
        with pool(workers if workers is not None else cores()) as submit:
            yield submit
    else:
        with client(scheduler) as (connected, _):
            yield submitting(connected)


def _within(
    found: Sequence[Dimension], limits: Sequence[Variation], only: Sequence[str]
) -> tuple[Dimension, ...]:
    """Apply the maker's limits to the dimensions."""
    named = {d.path: d for d in found}
    faults = [
        Fault("advise", path, f"must be one of {', '.join(named)}", "name one of these")
        for path in (*only, *(v.path for v in limits))
        if path not in named
    ]
    if faults:
        raise BadInput(*faults)
    for v in limits:
        low, high = min(v.values), max(v.values)
        d = named[v.path]
        if not low <= d.value <= high or v.unit != d.unit:
            allowed = f"must hold the present {d.show(d.value)}"
            raise BadInput(Fault(v.path, f"{low:g}:{high:g} {v.unit}", allowed, "widen it"))
        named[v.path] = replace(d, low=low, high=high)
    return tuple(d for path, d in named.items() if not only or path in only)
