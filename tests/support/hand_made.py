"""A solved joint made by hand: known curves of two ears, a shank and a pin, ready to be read.

The pull goes on evenly, point by point; every plate's slices travel as given shares of its mean
travel. A plate's curve is one straight line of load against travel up to a knee and a flatter one
behind it, with an optional fall; its hole grows by the travel.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any

import numpy as np

import fejoint
from fejoint.analysis.limit_loads import JointReading
from fejoint.arrays import Floats
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal
from fejoint.kernel.stop_reason import Stop
from fejoint.sections.axial.pull import FOLLOWED
from support import DEMO

POINTS = 401
TRAVEL = np.linspace(0.0, 2.0, 801)
"""Local travel of every plate's face section, mm."""


@dataclass(frozen=True)
class Plate:
    """What a hand-made plate does.

    Attributes
    ----------
    pace : float
        Mean travel at the end of the pull, mm.
    slices : tuple of float
        Travel of the slices over their mean; they are equally long.
    stiff, knee, flat : float
        N/mm up to the knee's load (N), and N/mm behind it.
    top : float
        Travel from which the load falls, mm.
    torn : float
        Travel at which the damage is 1, mm.
    at_deg : float
        Where it tears, from the pull, degrees.
    torn_at : (float, float) or None
        The same as a place, mm; the grip is at (-25, 0).
    kept : float
        Share of the hole's growth behind the knee that stays.
    yields, flattens : float
        Load of first yield, and that at which the pin's disc yields, N.
    """

    pace: float = 1.0
    slices: tuple[float, ...] = (0.8, 1.0, 1.2)
    stiff: float = 1e4
    knee: float = 1e3
    flat: float = 5e2
    top: float = np.inf
    torn: float = np.inf
    at_deg: float = 0.0
    torn_at: tuple[float, float] | None = None
    kept: float = 0.5
    yields: float = 500.0
    flattens: float = np.inf

    def load(self, travel: Floats) -> Floats:
        """Load at a travel, N."""
        at = self.knee / self.stiff
        up = np.minimum(travel, self.top)
        rising = np.where(up < at, self.stiff * up, self.knee + self.flat * (up - at))
        return np.asarray(rising - 2.0 * self.flat * np.maximum(travel - self.top, 0.0))


def reading(
    *plates: Plate,
    bend: float = 0.0,
    moment: float = 0.0,
    shear: float = 0.0,
    pin_damage: float = 0.0,
    pin_work: float = 1.0,
    pin_yields_at: int | None = None,
    angle: float = 0.0,
    same: bool = False,
    behind: Floats | None = None,
    load: Floats | None = None,
    stopped_because: Stop = FOLLOWED,
) -> JointReading:
    """Return a joint of ear, shank and, of three plates, a second ear.

    Moments, shears and damage rise evenly to the values given; the pull on the joint is the sum of
    the ears' loads.
    """
    joint: Any = fejoint.load(DEMO)
    ears = joint.ears[: len(plates) - 1]
    if not same and len(ears) == 2:
        ears = (ears[0], replace(ears[1], edge_distance=ears[1].edge_distance + 1.0))
    joint = replace(
        joint, ears=ears, gaps=joint.gaps[: len(ears)], pull=replace(joint.pull, angle=angle)
    )
    parts = [ears[0], joint.shank, *ears[1:]]
    share = np.linspace(0.0, 1.0, POINTS)
    travels = [np.outer(share * p.pace, p.slices) for p in plates]
    forces = [p.load(t) / len(p.slices) for p, t in zip(plates, travels, strict=True)]
    shares = np.array([f.sum(axis=1) for f in forces]).T
    total = shares[:, [k for k in range(len(plates)) if k != 1]].sum(axis=1)
    total = total if load is None else load
    members = [_member(part, p, angle, behind) for part, p in zip(parts, plates, strict=True)]
    first = POINTS if pin_yields_at is None else pin_yields_at
    points = [
        SimpleNamespace(
            index=k,
            load=float(total[k]),
            states=[SimpleNamespace(
                equivalent=np.array([max(0.0, pin_work * (k - first) / POINTS)]),
                mises=np.array([1.0, 0.8]),
            ), *(np.zeros((2, len(p.slices))) for p in plates)],
        )
        for k in range(POINTS)
    ]  # fmt: skip
    metal = Metal(2e5, 0.3, Hardening.linear(1000.0))
    problem = SimpleNamespace(
        case=SimpleNamespace(metal=metal, diameter=4.0, span=8.0, ends="free", shank=1),
        pin=SimpleNamespace(volumes=np.array([1.0])),
        slice_travels=lambda p, k: travels[k][p.index],
        slice_forces=lambda p, k: forces[k][p.index],
        bedding=lambda k: SimpleNamespace(lengths=np.ones(len(plates[k].slices))),
        bend=lambda p: (bend * share[p.index], 1.0),
    )
    history: Any = SimpleNamespace(
        problem=problem, path=SimpleNamespace(points=points, stopped_because=stopped_because),
        load=total, extension=share, shares=shares, moment=moment * share, shear=shear * share,
        damage=pin_damage * share,
        first_yield=None if pin_yields_at is None else float(total[pin_yields_at]),
    )  # fmt: skip
    settings: Any = None
    made = HandMade(joint, members, history, settings)
    made.left = bend * share
    return made


class HandMade(JointReading):
    """A reading whose pin keeps all of its bend."""

    left: Floats

    def bend_after(self, index: int) -> tuple[float, float] | None:
        """Return the bend that stays."""
        return float(self.left[index]), 1.0


def _member(part: Any, p: Plate, angle: float, behind: Floats | None) -> Any:
    a = np.radians(angle)
    t = np.radians(p.at_deg)
    pull = np.array([np.cos(a), np.sin(a)])
    at = np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]]) @ pull
    load = p.load(TRAVEL)
    history = SimpleNamespace(
        load=load, local_travel=TRAVEL, elongation=TRAVEL, damage=TRAVEL / p.torn,
        travel=TRAVEL if behind is None else TRAVEL + behind,
        first_yield_plate=p.yields, first_yield_pin=p.flattens, ductility=object(),
        torn_at=2.0 * at if p.torn_at is None else np.array(p.torn_at),
        problem=SimpleNamespace(
            case=SimpleNamespace(outline=SimpleNamespace(grip_length=25.0, drawn=())),
            direction=pull, system=SimpleNamespace(terms=[None] * 3),
        ),
        path=SimpleNamespace(points=[]),
    )  # fmt: skip
    knee = p.knee / p.stiff
    deep = np.concatenate([[0.0], np.linspace(knee, 2.0, 400)])
    kept = np.array([deep, p.kept * np.maximum(deep - knee, 0.0)])
    law = SimpleNamespace(spring_back=lambda deepest: np.full_like(deepest, 1e-3))
    return SimpleNamespace(
        part=part, plate=SimpleNamespace(pull=None), history=history, law=law, kept=kept,
        points=len(load),
    )  # fmt: skip
