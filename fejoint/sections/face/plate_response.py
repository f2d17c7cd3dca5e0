"""A plate solved as far as joints need, and its bearing law in use.

A plate is pulled once, far enough to know its offset load, and released from a few loads. A joint
that bears harder on it makes it go on. What was pulled further for another joint changes nothing
for this one: it sees only the points that it needed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.continuation import Observer, Path, StepRequest, Stop, StopReason
from fejoint.kernel.newton import EquilibriumPoint, Progress
from fejoint.sections.axial.pull import AxialProblem
from fejoint.sections.face.bearing_law import BearingLaw, SliceReader
from fejoint.sections.face.pull import OFFSET, FaceHistory, FacePull
from fejoint.sections.face.unloading import Release, release

RELEASED_AT = (0.5, 0.95, 1.3)
"""Loads, over the offset load, from which a plate is released for its unloading law: before, at
and beyond what a joint is read at; past 1.3 the pull to the last of them is what costs.

Halved / doubled: offset load moves by 0 / 0 %, hinge load by 0.19 / 0.36 %, factorisations by +0
/ +232 (hard), +150 / +337 (soft).
"""

_APART = 0.9
"""Share of the first release's travel below which first yield is a knot of its own: two knots that
nearly meet would make a step of the curve.

Distance to 1 halved / doubled: nothing moves in the demos.
"""
_EARLY = 0.5
"""Share of the largest load up to which a plate's own stiffness is read: the median over the
points below is elastic.

Halved / doubled: offset load moves by 0 / 0 %, hinge load by 0 / 0 %, factorisations by +0 / +0
(hard), +88 / +37 (soft).
"""
_WITHOUT_OFFSET = 0.7
"""Share of the largest load that stands for the offset load of a plate that ended before it: its
releases are then spread over what was pulled.

Halved / doubled: nothing moves in the demos, whose plates all reach their offset load.
"""


@dataclass(eq=False)
class SolvedPlate:
    """A face section with what a joint needs of it; joints with equal plates may share it.

    Attributes
    ----------
    pull : FacePull or None
        Goes on where a joint bears harder; None where it is closed.
    first : FaceHistory
        As far as it was pulled to be released; all of it where it is closed.
    releases : sequence of Release
        By rising travel, at least one.
    """

    pull: FacePull | None
    first: FaceHistory
    releases: Sequence[Release]
    _read: dict[tuple[int, bool], tuple[FaceHistory, BearingLaw]] = field(
        default_factory=dict, repr=False
    )

    @classmethod
    def from_pull(
        cls,
        pull: FacePull,
        load: float = np.inf,
        travel: float = np.inf,
        progress: Progress | None = None,
    ) -> SolvedPlate:
        """Pull a plate until it can be released, but not beyond a load (N) or a travel (mm).

        Raises
        ------
        KeyboardInterrupt
            If the user stopped the pull.
        """
        go_on_until_it_gives(pull, load, travel, progress)
        first = pull.history()
        releases = _releases(first, pull)
        pull.pause()
        return cls(pull, first, releases)

    def closed(self, load: float) -> SolvedPlate:
        """Return the plate as it is up to a load (N), for good: light enough for another process.

        Its path keeps the first and the last point only.
        """
        pull = self.pull
        if pull is None:
            return self
        while pull.load < load and pull.step():
            pass
        pull.pause()
        whole = pull.history()
        law = BearingLaw.from_pull(whole, self.releases)
        why = whole.path.stopped_because or Stop(StopReason.REQUESTED, "asked load reached")
        ends = Path([whole.path.points[0], whole.path.points[-1]], why)
        light = replace(whole, path=ends, ductility=None)
        return SolvedPlate(None, light, self.releases, {(len(whole.load), True): (light, law)})

    @property
    def points(self) -> int:
        """How many points are known so far."""
        return len(self.first.load) if self.pull is None else len(self.pull.path.points)

    @property
    def ended(self) -> bool:
        """Whether no more points are to come."""
        return self.pull is None or self.pull.ended

    @property
    def interrupted(self) -> bool:
        """Whether its pull was broken off: it goes on no more, and no other joint may use it."""
        return self.pull is not None and self.pull.path.interrupted

    @cached_property
    def permanent_elongation(self) -> Floats:
        """Deepest local travels and the hole's elongation that stays after them, (2, n), mm."""
        permanent = [(0.0, 0.0), *((float(r.local_travel[0]), r.set) for r in self.releases)]
        yields = SliceReader(self.first).travel_at_load(self.first.first_yield_plate)
        if len(permanent) > 1 and 0.0 < yields < _APART * permanent[1][0]:
            permanent.insert(1, (yields, 0.0))
        return np.array(permanent).T

    @cached_property
    def spring(self) -> float:
        """Stiffness of the plate beyond the section its law is read against, N/mm."""
        h = self.first
        rest = h.travel - h.local_travel
        early = np.flatnonzero((h.load > 0.0) & (h.load <= _EARLY * h.load.max()))
        if len(early) == 0 or rest[early].max() <= 1e-12:
            return np.inf
        return float(np.median(h.load[early] / np.maximum(rest[early], 1e-12)))

    @property
    def seconds(self) -> float:
        """CPU time of the pull so far."""
        return 0.0 if self.pull is None else self.pull.seconds

    def pause(self) -> None:
        """Give the solver's memory back; one may still go on."""
        if self.pull is not None:
            self.pull.pause()

    def history(self, points: int) -> FaceHistory:
        """Return the first points of the pull."""
        return self._of_first(points)[0]

    def law(self, points: int) -> BearingLaw:
        """Return the bearing law of the first points."""
        return self._of_first(points)[1]

    def _of_first(self, points: int) -> tuple[FaceHistory, BearingLaw]:
        key = points, self.ended and points == self.points
        if key not in self._read:
            assert self.pull is not None
            history = self.pull.history(points)
            self._read[key] = history, BearingLaw.from_pull(history, self.releases)
        return self._read[key]

    def step(self, progress: Progress | None = None) -> bool:
        """Pull on by a point; return whether there is one more.

        Nothing of who takes the step stays with the plate: another joint may take the next.

        Raises
        ------
        KeyboardInterrupt
            If the user stopped the pull.
        """
        before = self.points
        if self.pull is None:
            return False
        self.pull.step(progress)
        if self.interrupted:
            raise KeyboardInterrupt
        return self.points > before


def go_on_until_it_gives(
    pull: FacePull,
    load: float = np.inf,
    travel: float = np.inf,
    progress: Progress | None = None,
) -> None:
    """Pull a plate past its offset load as far as it is released, but not beyond N or mm given."""
    offset = OFFSET * pull.problem.case.outline.hole
    while pull.load < load and pull.path.points[-1].travel < travel and pull.step(progress):
        if pull.problem.elongation(pull.path.points[-1]) <= offset:
            continue
        gives = pull.history().offset
        if gives is not None and pull.load >= RELEASED_AT[-1] * gives.load:
            break
    if pull.path.interrupted:
        raise KeyboardInterrupt


def _releases(history: FaceHistory, pull: FacePull) -> list[Release]:
    """Release a plate from a few loads, by rising travel."""
    offset = history.offset
    scale = offset.load if offset is not None else _WITHOUT_OFFSET * float(history.load.max())
    places = sorted({history.point_at_load(share * scale) for share in RELEASED_AT} - {0})
    found = [release(history, k, pull.settings, pull.solver) for k in places]
    rising: list[Release] = []
    for r in found:
        if r is not None and (not rising or r.local_travel[0] > rising[-1].local_travel[0]):
            rising.append(r)
    return rising


class GrowingBearingLaw:
    """A plate's bearing law in one axial path: it grows as the slices bear harder.

    It begins as the plate's law of its first stretch, and belongs to one AxialProblem.

    Parameters
    ----------
    plate : SolvedPlate
    progress : callable, optional
        Told of the plate's steps that this path asks for.

    Attributes
    ----------
    points : int
        Of the plate's pull that are in use.
    """

    def __init__(self, plate: SolvedPlate, progress: Progress | None = None) -> None:
        self.plate, self.progress = plate, progress
        self._use(len(plate.first.load))

    def _use(self, points: int) -> None:
        self.points = points
        self.law = self.plate.law(points)

    @property
    def whole(self) -> bool:
        """Whether the plate's pull has ended, and all of it is in use."""
        return self.plate.ended and self.points == self.plate.points

    @property
    def clearance(self) -> float:
        """Of the pin in the hole, mm."""
        return self.law.clearance

    @property
    def end(self) -> float:
        """Local travel at which the curve in use ends, mm."""
        return float(self.law.travel[-1])

    @property
    def final_up_to(self) -> float:
        """Local travel up to which more points would leave the curve as it is, mm."""
        return self.end if self.whole else float(self.law.travel[-2])

    def respond(self, travel: Floats, deepest: Floats) -> tuple[Floats, Floats, Floats]:
        """Return force, slope and history for travels; see kernel.bedding.BeddingLaw."""
        return self.law.respond(travel, deepest)

    def reach(self, travel: float) -> bool:
        """Take more points until the curve is final up to a travel (mm); return whether it grew.

        Raises
        ------
        KeyboardInterrupt
            If the user stopped the plate's pull.
        """
        before = self.points
        while self.final_up_to < travel:
            if self.points >= self.plate.points and not self.plate.step(self.progress):
                break
            self._use(self.points + 1)
        return self.points > before


@dataclass(eq=False)
class BearingLawGrowth(Observer):
    """Lets a plate's law grow with the axial path, and stops that where the plate's pull ended.

    Parameters
    ----------
    problem : AxialProblem
    place : int
        Of the plate.
    name : str
    """

    problem: AxialProblem
    place: int
    name: str

    def __post_init__(self) -> None:
        law = self.problem.laws[self.place]
        assert isinstance(law, GrowingBearingLaw)
        self.law = law

    def on_trial_step(
        self, before: EquilibriumPoint, new: EquilibriumPoint
    ) -> StepRequest | Stop | None:
        """Ask for the step again where the law had to grow for it; stop at the curve's end."""
        travels = self.problem.slice_travels(new, self.place)
        deepest = float(travels.max())
        if self.law.reach(deepest):
            return StepRequest(new.travel)
        lengths = self.problem.bedding(self.place).lengths
        if self.law.whole and float(travels @ lengths / lengths.sum()) >= self.law.end:
            why = self.law.plate.history(self.law.points).path.stopped_because
            sentence = f"the {self.name}'s face section ended: {why}"
            return Stop(StopReason.LAW_ENDED, sentence, why, self.name)
        gained = deepest - float(self.problem.slice_travels(before, self.place).max())
        self.law.reach(deepest + _AHEAD * max(gained, 0.0))
        return None


_AHEAD = 2.0
"""Steps ahead, as long as the last, for which a law is made to reach: fewer make more steps be
taken again, more make plates be pulled further than is of use.

Halved / doubled: offset load moves by 0 / 0 %, hinge load by 0 / 0 %, factorisations by +0 / +14
(hard), -18 / +46 (soft).
"""
