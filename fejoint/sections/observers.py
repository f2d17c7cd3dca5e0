"""Observers of a path: they locate events, bound the steps, and say when to stop."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.continuation import EquilibriumPoint, Observer, StepRequest, Stop, StopReason
from fejoint.kernel.stop_reason import REQUESTED
from fejoint.sections.damage import Averaging, growth

_YIELD_TRIES = 8
"""Shorter steps for one first yield, at most: each takes away at least 0.4 of what is left.

Halved / doubled: nothing moves in the demos.
"""
_SHORT_OF_YIELD = 0.98
"""Ratio of stress to yield stress that a shorter step aims at: what yields is to lie ahead of it.

Distance to 1 halved / doubled: offset load moves by 0.02 / 0.03 %, hinge load by 0.05 / 0.06 %,
factorisations by -8 / +5 (hard), -13 / +125 (soft).
"""
_YIELD_STEPS = (0.1, 0.6)
"""Shares of the step within which the shorter one lies: the power law is no better than that far
from yield.

Halved / doubled: offset load moves by 0.02 / 0 %, hinge load by 0.01 / 0.06 %, factorisations by
+7 / +2 (hard), +106 / +97 (soft).
"""
_POWERS = (0.3, 3.0)
"""Powers of the load between which the stress's growth is fitted: 0.5 is a Hertz contact's, 1 a
body's without contact; beyond them lies rounding.

Halved / doubled: offset load moves by 0 / 0 %, hinge load by 0 / 0.01 %, factorisations by +0 /
+0 (hard), +66 / +60 (soft).
"""
_FAR_PAST = 1.5
"""Falls behind a maximum beyond which the step is taken again: the maximum is read off a parabola
through the points beside it.

Halved / doubled: offset load moves by 0 / 0 %, hinge load by 0 / 0 %, factorisations by +0 / +0
(hard), +7 / -3 (soft).
"""
_MAXIMUM_TRIES = 2
"""Such steps at one maximum, at most: a sudden fall has no point half way.

Halved / doubled: nothing moves in the demos.
"""
_FAR_BEYOND = 1.01
"""Mean damage up to which an end counts as located: 1 % of damage is a few 0.01 % of load.

Distance to 1 halved / doubled: nothing moves in the demos.
"""
_AIM_BEYOND = 1.002
"""Mean damage that the shorter step aims at: a little beyond 1, so that it ends the path.

Distance to 1 halved / doubled: offset load moves by 0 / 0 %, hinge load by 0 / 0 %,
factorisations by -3 / -2 (hard), +0 / +0 (soft).
"""
_LEAST_SHARE = 0.1
"""Share of a step that one taken again has at least: shorter ones would not pass what leaps.

Halved / doubled: the highest pull moves by 0.01 / 0.00 %, factorisations by -1 / +1 (hard).
"""
_END_TRIES = 4
"""Shorter steps for one end, at most: a measure that leaps cannot be met.

Halved / doubled: nothing moves in the demos.
"""
_LEAST_SHARE_REACHED = 0.02
"""The same where a requested value is met: it is to be met closely.

Not met in the demos.
"""
_TRIES_REACHED = 12
"""Shorter steps to a requested value, at most: contact that closes bends the curve both ways, so
secants fall short and go past by turns; a measure that leaps cannot be met.

Not met in the demos.
"""
_JOINED = 5.0
"""Short steps past the furthest point before, after which a path has joined the first pull.

Not met in the demos; used on paths that turn only.
"""


@dataclass(eq=False)
class FirstYield(Observer):
    """Brings the path close below a body's first yield: located, not stepped over.

    Parameters
    ----------
    term : int
        Which term of the system is the body.
    first_yield : float
        Yield stress of the virgin metal, MPa.
    close : float
        The ratio of stress to yield stress at which the event is close enough to extrapolate to.
        Distance to 1 halved in the pin: offset load moves by 0.01 %, factorisations by +3 (hard);
        doubled: nothing moves in the demos.
    """

    term: int
    first_yield: float
    close: float = 0.95
    _past: tuple[float, float] = (0.0, 0.0)
    _tries: int = 0
    passed: bool = False

    def ratio(self, point: EquilibriumPoint) -> float:
        """Largest equivalent stress over the first yield stress."""
        return float(point.states[self.term].mises.max()) / self.first_yield

    def load_in(self, points: Sequence[EquilibriumPoint], share: float = 1.0) -> float | None:
        """Load at which the largest stress meets the yield stress: extrapolated from just below.

        The stress is taken to grow as a power of the load, as it does under a pin.

        Parameters
        ----------
        points : sequence of EquilibriumPoint
            The path.
        share : float
            Factor on the system's load.

        Returns
        -------
        float or None
            None where the body never yielded.
        """
        yielded = (k for k, p in enumerate(points) if p.states[self.term].equivalent.max() > 0.0)
        k = next(yielded, 0)
        if k == 0:
            return None
        past, now = ((p.load, self.ratio(p)) for p in (points[max(k - 2, 0)], points[k - 1]))
        return share * min(_meets_one(past, now), points[k].load)

    def on_trial_step(self, before: EquilibriumPoint, new: EquilibriumPoint) -> StepRequest | None:
        """Ask for a shorter step where the body yields within this one."""
        if self.passed:
            return None
        now = (before.travel, self.ratio(before))
        if new.states[self.term].equivalent.max() == 0.0:
            self._past, self._tries = now, 0
            return None
        if now[1] >= self.close or self._tries >= _YIELD_TRIES:
            self.passed = True
            return None
        self._tries += 1
        # a little short of it: what yields is to lie ahead
        ahead = _meets_one(self._past, now, _SHORT_OF_YIELD) - before.travel
        length = new.travel - before.travel
        return StepRequest(
            before.travel + float(np.clip(ahead, *np.multiply(_YIELD_STEPS, length)))
        )


def _meets_one(past: tuple[float, float], now: tuple[float, float], level: float = 1.0) -> float:
    """Where a ratio meets a level: it grows as a power of its place, fitted to two places."""
    (x0, r0), (x1, r1) = past, now
    if r1 <= 0.0 or x1 <= 0.0:
        return np.inf
    power = 1.0
    if 0.0 < x0 < x1 and 0.0 < r0 < r1:
        power = float(np.clip(np.log(r1 / r0) / np.log(x1 / x0), *_POWERS))
    return float(x1 * (level / r1) ** (1.0 / power))


@dataclass(eq=False)
class LoadMaximum(Observer):
    """Stops once the load has fallen by a share below its largest value, going on.

    A path that turns back (the pull is released) begins anew; one that snaps does not.

    Parameters
    ----------
    fall : float
        Share of the largest load: plane stress has no length scale once it localises, so that what
        lies further behind depends on the mesh. Halved / doubled: offset load moves by 0 / 0 %,
        hinge load by 0 / 0 %, factorisations by +0 / +0 (hard), -1 / +16 (soft).
    above : float
        Loads up to this one are no maximum, N: a pin that still turns freely in its holes.
    """

    fall: float = 0.02
    above: float = 0.0
    _largest: float = 0.0
    _tries: int = 0

    def on_trial_step(
        self, before: EquilibriumPoint, new: EquilibriumPoint
    ) -> StepRequest | Stop | None:
        """Stop behind the maximum; a step that falls far past it is taken again, shorter."""
        if not new.loading:
            self._largest = 0.0
            return None
        if before.load > self._largest:
            self._largest, self._tries = before.load, 0
        if self._largest <= self.above or new.load >= (1.0 - self.fall) * self._largest:
            return None
        if (
            new.load < (1.0 - _FAR_PAST * self.fall) * self._largest
            and self._tries < _MAXIMUM_TRIES
        ):
            self._tries += 1
            return StepRequest(0.5 * (before.travel + new.travel))
        sentence = f"load maximum passed by {100 * self.fall:.0f} %"
        return Stop(StopReason.LOAD_MAXIMUM, sentence)


@dataclass(eq=False)
class Ductility(Observer):
    """Follows the damage of a body and stops once its ductility is exhausted.

    The end is located: a step that would end far beyond it is taken again, shorter.

    Parameters
    ----------
    term : int
        Which term of the system is the body.
    fracture_strain : float
    average : Averaging
    where : str
        Which body, to add to the reason.
    """

    term: int
    fracture_strain: float
    average: Averaging
    where: str = ""
    _tries: int = 0

    def damage(self, point: EquilibriumPoint) -> Floats:
        """Damage at every integration point of a point of the path, (n,)."""
        known = point.damage.get(self.term)
        return np.zeros(len(point.states[self.term].equivalent)) if known is None else known

    def integrate(self, before: EquilibriumPoint, new: EquilibriumPoint) -> EquilibriumPoint:
        """Add the step's damage to that of the point before."""
        old, now = before.states[self.term], new.states[self.term]
        damage = self.damage(before) + growth(old, now, self.fracture_strain)
        return replace(new, damage={**new.damage, self.term: damage})

    def on_trial_step(
        self, before: EquilibriumPoint, new: EquilibriumPoint
    ) -> StepRequest | Stop | None:
        """Stop where the mean damage reaches 1 somewhere."""
        damage = self.damage(new)
        # no mean is above the largest, which costs nothing to know
        worst = float(damage.max())
        if worst >= 1.0:
            worst = float(self.average(damage).max())
        if worst < 1.0:
            self._tries = 0
            return None
        used = float(self.average(self.damage(before)).max())
        if worst > _FAR_BEYOND and self._tries < _END_TRIES:
            self._tries += 1
            share = max((_AIM_BEYOND - used) / (worst - used), _LEAST_SHARE)
            return StepRequest(before.travel + share * (new.travel - before.travel))
        sentence = f"ductility exhausted{self.where}"
        return Stop(StopReason.DUCTILITY_EXHAUSTED, sentence)


@dataclass(eq=False)
class StepLimit(Observer):
    """Bounds the step as long as a measure of the point lies below a limit.

    Parameters
    ----------
    measure : callable
        Of a point.
    until : float
        Value of the measure from which on steps are free.
    step : float
        Longest step below it, mm.
    """

    measure: Callable[[EquilibriumPoint], float]
    until: float
    step: float

    def longest_step(self, last: EquilibriumPoint) -> float:
        """Short steps below the limit."""
        return self.step if self.measure(last) < self.until else np.inf


@dataclass(frozen=True)
class Passes(Observer):
    """Makes a path have points at given travels.

    Parameters
    ----------
    travels : tuple of float
        Rising, mm.
    """

    travels: tuple[float, ...]

    def longest_step(self, last: EquilibriumPoint) -> float:
        """No step leads past the next of the travels."""
        ahead = [t - last.travel for t in self.travels if t > last.travel * (1.0 + 1e-9)]
        return ahead[0] if ahead else np.inf


@dataclass(eq=False)
class ReloadStepLimit(Observer):
    """Keeps steps short on the way back, again, and until the path has joined the first pull.

    Parameters
    ----------
    step : float
        mm.
    """

    step: float
    _furthest: float = field(default=0.0, init=False)
    _returned: bool = field(default=False, init=False)

    def on_trial_step(self, before: EquilibriumPoint, new: EquilibriumPoint) -> None:
        """Remember how far the path had been when it turned."""
        if not self._returned:
            self._furthest = max(self._furthest, before.travel, new.travel)

    def longest_step(self, last: EquilibriumPoint) -> float:
        """Short steps up to a little past the furthest point, once the path has turned."""
        turned = last.travel < self._furthest or self._returned
        self._returned = turned and last.travel < self._furthest + _JOINED * self.step
        return self.step if self._returned else np.inf


_AT = 1e-3
"""Share of a value within which it counts as reached: loads and
travels are shown to three figures.

Not met in the demos; used where an end is requested only.
"""


@dataclass(eq=False)
class Reached(Observer):
    """Stops once a measure of the point reaches a value.

    Parameters
    ----------
    measure : callable
        Of a point.
    value : float
    stop : Stop
        Why the path ends there.
    """

    measure: Callable[[EquilibriumPoint], float]
    value: float
    stop: Stop = REQUESTED
    _tries: int = field(default=0, init=False)

    def on_trial_step(
        self, before: EquilibriumPoint, new: EquilibriumPoint
    ) -> StepRequest | Stop | None:
        """Stop at the value; a step that goes past it is taken again to it."""
        is_at, was_at = self.measure(new), self.measure(before)
        if is_at < (1.0 - _AT) * self.value:
            return None
        if (
            is_at > (1.0 + _AT) * self.value
            and was_at < self.value
            and self._tries < _TRIES_REACHED
        ):
            self._tries += 1
            share = max((self.value - was_at) / (is_at - was_at), _LEAST_SHARE_REACHED)
            nearer = before.travel + share * (new.travel - before.travel)
            return StepRequest(nearer, otherwise=self.stop)
        return self.stop
