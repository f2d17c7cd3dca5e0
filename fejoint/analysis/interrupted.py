"""What is left of a pull that was interrupted before its pin was solved."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fejoint.analysis.definitions import EARS_ALIKE, OFFSET_LOAD
from fejoint.analysis.result import (
    EVENTS,
    Answer,
    Cost,
    Event,
    LimitLoad,
    Trust,
    nothing_gave,
)
from fejoint.analysis.trace import Trace
from fejoint.analysis.verdict import verdict
from fejoint.joint.model import Joint
from fejoint.kernel import load_curve
from fejoint.kernel.stop_reason import Stop, StopReason
from fejoint.sections.face.pull import FaceHistory


class Interrupted(Exception):
    """The user stopped the solve of a face section."""


def partial_answer(
    joint: Joint, ears: Sequence[FaceHistory], cost: Cost, versions: dict[str, str]
) -> Answer:
    """Return an answer from the ears' face sections alone, both ears sharing the load.

    Parameters
    ----------
    joint : Joint
    ears : sequence of FaceHistory
        Solved or begun, at least one.
    cost : Cost
    versions : dict

    Returns
    -------
    Answer
        Unfinished: pin and shank are missing, which its warnings say.
    """
    history, n = ears[0], len(joint.ears)
    reached = n * float(history.load.max())
    found = history.offset
    alike = joint.ears[0] == joint.ears[-1]
    member = "ear" if n == 1 else EARS_ALIKE if alike else "ear 1"
    evenly = ("interrupted: the ears are taken to share the pull evenly",) if n > 1 else ()
    limit = (
        LimitLoad("hole elongation", "ear", n * found.load, OFFSET_LOAD, member=member)
        if found
        else nothing_gave(reached)
    )
    why = f"interrupted at a pull of {reached:.0f} N"
    known = {
        "first yield ear": history.first_yield_plate,
        "first yield pin": history.first_yield_pin,
        "offset load": found.load if found else None,
    }
    events = [_event(name, known.get(name), history, n, why) for name in EVENTS]
    worst = max(p.residual for h in ears for p in h.path.points)
    return Answer(
        joint,
        verdict([limit]),
        tuple(events),
        Trace(n * history.load, history.travel, history.elongation),
        {},
        Trust(np.nan, worst, np.nan, np.nan, Stop(StopReason.INTERRUPTED, why)),
        cost,
        ("interrupted: the pin and the shank were not solved", *evenly, *joint.assumptions),
        versions,
        {"ear": history},
    )


def _event(name: str, load: float | None, history: FaceHistory, n: int, why: str) -> Event:
    if load is None:
        return Event(name, None, reason=why)
    index = load_curve.first_reach(history.load, load) or 0.0
    return Event(
        name,
        n * load,
        load_curve.at_index(history.travel, index),
        load_curve.at_index(history.elongation, index),
    )
