"""Where along the pin's hardness the first part to give changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from fejoint.analysis.definitions import NOTHING
from fejoint.inputs.units import KGF
from fejoint.studies.pin_hardness.point import PinPoint

CLOSE = 0.01
"""Width, over the hardness, to which an interval with a change in it is narrowed by solves."""
_NEAR = 0.004
"""How far either side of the expected crossing it is solved, over the hardness."""


@dataclass(frozen=True)
class Crossing:
    """A change of the part that gives first.

    Attributes
    ----------
    hardness : float
        HV, where the two limits are equal, between the two solves `between`.
    between : (float, float)
        HV; solved on both sides.
    load : float
        Pull on the joint, N.
    softer, harder : (str, str)
        Mode and part that come first below and above.
    """

    hardness: float
    between: tuple[float, float]
    load: float
    softer: tuple[str, str]
    harder: tuple[str, str]

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "hardness_HV": self.hardness,
            "between_HV": list(self.between),
            "load_N": self.load,
            "load_kgf": self.load / KGF,
            "softer": {"mode": self.softer[0], "part": self.softer[1]},
            "harder": {"mode": self.harder[0], "part": self.harder[1]},
        }


def next_hardnesses(points: Sequence[PinPoint]) -> list[float]:
    """Return where to solve next so that every interval with a change in it gets narrower.

    Parameters
    ----------
    points : sequence of PinPoint
        By rising hardness.
    """
    wanted: list[float] = []
    for a, b in _changes(points):
        if b.hardness - a.hardness <= CLOSE * b.hardness:
            continue
        guess = _meeting(a, b)
        inner = 0.05 * (b.hardness - a.hardness)
        for x in ((1.0 - _NEAR) * guess, (1.0 + _NEAR) * guess):
            if a.hardness + inner < x < b.hardness - inner:
                wanted.append(round(x, 3))
        if not wanted:
            wanted.append(round(0.5 * (a.hardness + b.hardness), 3))
    return wanted


def crossings(points: Sequence[PinPoint]) -> tuple[Crossing, ...]:
    """Return every change of the first part to give along points of rising hardness."""
    found = []
    for a, b in _changes(points):
        x = _meeting(a, b)
        share = (x - a.hardness) / (b.hardness - a.hardness)
        # the softer side's limit, followed through the crossing: the first's own curve has a kink
        ahead = b.lowest(*_first(a)) or b.first.load
        load = a.first.load ** (1.0 - share) * ahead**share
        found.append(Crossing(x, (a.hardness, b.hardness), load, _first(a), _first(b)))
    return tuple(found)


def _first(point: PinPoint) -> tuple[str, str]:
    return point.first.mode, point.first.part


def _changes(points: Sequence[PinPoint]) -> list[tuple[PinPoint, PinPoint]]:
    gave = [p for p in points if p.first.mode != NOTHING]
    return [(a, b) for a, b in pairwise(gave) if _first(a) != _first(b)]


def _meeting(a: PinPoint, b: PinPoint) -> float:
    """Hardness at which the two firsts' loads meet, by their ratio's logarithm; else the middle."""
    lead = [(p.lowest(*_first(a)), p.lowest(*_first(b))) for p in (a, b)]
    if any(x is None or y is None for x, y in lead):
        return 0.5 * (a.hardness + b.hardness)
    low, high = (float(np.log(x / y)) for x, y in lead if x is not None and y is not None)
    if high <= low:
        return 0.5 * (a.hardness + b.hardness)
    share = min(max(-low / (high - low), 0.0), 1.0)
    return a.hardness + share * (b.hardness - a.hardness)
