"""The smallest makeable change of a joint that reaches a pull, searched on the real solve."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from fejoint.errors import BadInput, FejointError
from fejoint.studies.sweeps import row as one_joint
from fejoint.studies.sweeps.dimensions import Dimension
from fejoint.studies.sweeps.plan import joint_with
from fejoint.studies.sweeps.variation import rounded

MOST_FIXES = 6
"""Solves by which a change found on a coarse mesh is put right on the fine one."""

Steps = tuple[int, ...]
"""Whole steps by which each dimension is moved; the first one stands for the first dimension."""


@dataclass(eq=False)
class SearchSpace:
    """The joints within reach of one or two dimensions, solved when asked for and then kept.

    Attributes
    ----------
    table : mapping
        Case of the joint as it is.
    dimensions : sequence of Dimension
    settings : mapping
    model : callable
    rows : dict
        The rows solved so far, by steps; None where there is no such joint.
    """

    table: Mapping[str, Any]
    dimensions: Sequence[Dimension]
    settings: Mapping[str, Any]
    model: one_joint.Model = one_joint.solve
    rows: dict[Steps, dict[str, Any] | None] = field(default_factory=dict)

    def values(self, steps: Steps) -> tuple[float, ...]:
        """Return the dimensions' values so many steps from where they are."""
        return tuple(
            rounded(d.value + k * d.step) for d, k in zip(self.dimensions, steps, strict=True)
        )

    def changes(self, steps: Steps) -> list[tuple[str, Any]]:
        """Return what to change in the case."""
        moved = zip(self.dimensions, self.values(steps), steps, strict=True)
        return [change for d, value, k in moved if k != 0 for change in d.changes(value)]

    def size(self, steps: Steps) -> float:
        """Return how large a change is: the root of the sum of squares of relative changes."""
        moved = zip(self.dimensions, steps, strict=True)
        return math.hypot(*(k * d.step / d.value for d, k in moved))

    def farthest(self, number: int, direction: int) -> int:
        """Return how many steps a dimension may go."""
        d = self.dimensions[number]
        room = d.high - d.value if direction > 0 else d.value - d.low
        return max(0, math.floor(room / d.step + 1e-9))

    def row(self, steps: Steps) -> dict[str, Any] | None:
        """Return the row so many steps from the joint as it is; None if there is no such joint."""
        if steps not in self.rows:
            try:
                case = joint_with(self.table, self.changes(steps)).to_dict()
                self.rows[steps] = dict(self.model(case, self.settings))
            except FejointError:
                self.rows[steps] = None
        return self.rows[steps]

    def load(self, steps: Steps) -> float:
        """Return the pull up to which no part gives, N; 0 if there is no such joint."""
        row = self.row(steps)
        return 0.0 if row is None or row.get("finished") is False else one_joint.borne(row)


def last_possible(ground: SearchSpace, number: int, direction: int) -> int:
    """Return how many steps a dimension can go before there is no such joint any more."""
    most = ground.farthest(number, direction)

    def there(k: int) -> bool:
        steps = _along(number, direction * k, len(ground.dimensions))
        try:
            joint_with(ground.table, ground.changes(steps))
        except BadInput:
            return False
        return True

    if most == 0 or there(most):
        return most
    low, high = 0, most
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if there(middle) else (low, middle)
    return low


def first_that_reaches(load: Callable[[int], float], goal: float, most: int) -> int | None:
    """Return the least number of steps at which the load reaches a goal, None if none does.

    Regula falsi on whole steps, with every third step a halving; the load is taken to rise.

    Parameters
    ----------
    load : callable
        Of the number of steps, from 0.
    goal : float
    most : int
    """
    low, high = 0, most
    below = load(low)
    if below >= goal:
        return 0
    if most <= 0:
        return None
    above = load(high)
    if above < goal:
        return None
    turn = 0
    while high - low > 1:
        share = (goal - below) / (above - below) if turn % 3 < 2 else 0.5
        middle = min(max(low + math.ceil(share * (high - low)), low + 1), high - 1)
        found = load(middle)
        if found >= goal:
            # the step before is looked at next: most often it settles the search
            high, above = middle, found
        else:
            low, below = middle, found
        turn += 1
    return high


def alone(ground: SearchSpace, goal: float) -> tuple[Steps | None, float, int]:
    """Return the least steps of a ground's one dimension that reach the goal.

    Returns
    -------
    steps : (int,) or None
    best : float
        Largest load seen at the ends, N.
    direction : int
        The better way, 1 or -1.
    """
    found: list[Steps] = []
    best, way = ground.load((0,)), 0
    for direction in (1, -1):
        most = last_possible(ground, 0, direction)
        if most == 0:
            continue
        end = ground.load((direction * most,))
        if end > best:
            best, way = end, direction
        steps = first_that_reaches(lambda k, s=direction: ground.load((s * k,)), goal, most)  # type: ignore[misc]
        if steps is not None:
            found.append((direction * steps,))
    return (min(found, key=ground.size) if found else None), best, way


def together(
    ground: SearchSpace, goal: float, ends: Steps, needs: tuple[float, float]
) -> Steps | None:
    """Return steps of two dimensions that reach the goal, neither of which could be smaller.

    Parameters
    ----------
    ground : SearchSpace
        Of two dimensions.
    goal : float
    ends : (int, int)
        How far each may go, signed.
    needs : (float, float)
        Relative change that each would need alone, as far as is known: with loads that add up,
        the shortest way splits the work by the inverse squares.
    """
    a, b = needs
    sizes = [abs(d.step / d.value) for d in ground.dimensions]
    way = (a * b * b / (a * a + b * b) / sizes[0], b * a * a / (a * a + b * b) / sizes[1])
    scale = max(min(abs(e) / w if w > 0.0 else math.inf for e, w in zip(ends, way, strict=True)), 1)
    most = max(1, math.ceil(min(scale, 3.0) * 8))

    def at(k: int) -> Steps:
        wanted = [math.ceil(k / 8 * w) for w in way]
        return tuple(
            int(math.copysign(min(abs(e), w), e)) for e, w in zip(ends, wanted, strict=True)
        )

    k = first_that_reaches(lambda k: ground.load(at(k)), goal, most)
    if k is None:
        if ground.load(ends) < goal:
            return None
        steps: Steps = ends
    else:
        steps = at(k)
    for number in (0, 1):
        sign = 1 if steps[number] >= 0 else -1

        def moved(k: int, number: int = number, sign: int = sign, steps: Steps = steps) -> Steps:
            return tuple(sign * k if j == number else s for j, s in enumerate(steps))

        least = first_that_reaches(
            lambda k, moved=moved: ground.load(moved(k)), goal, abs(steps[number])  # type: ignore[misc]
        )  # fmt: skip
        if least is not None:
            steps = moved(least)
    return steps


def put_right(fine: SearchSpace, steps: Steps, goal: float, ends: Steps) -> Steps | None:
    """Move steps found on a coarse mesh until they just reach the goal on the fine one.

    Returns
    -------
    Steps or None
        None if the goal is not reached within `ends`.
    """
    number = max(range(len(steps)), key=lambda j: abs(steps[j]) * fine.dimensions[j].step)
    sign = 1 if ends[number] >= 0 else -1
    limit = abs(ends[number])

    def moved(k: int) -> Steps:
        return tuple(sign * k if j == number else s for j, s in enumerate(steps))

    k = abs(steps[number])
    for _ in range(MOST_FIXES):
        if fine.load(moved(k)) < goal:
            if k >= limit:
                return None
            if fine.rows.get(moved(k + 1)) is not None:
                return moved(k + 1)
            k += 1
        elif k > 0 and moved(k - 1) not in fine.rows:
            k -= 1
        else:
            return moved(k)
    return moved(k) if fine.load(moved(k)) >= goal else None


def _along(number: int, steps: int, dimensions: int) -> Steps:
    return tuple(steps if j == number else 0 for j in range(dimensions))
