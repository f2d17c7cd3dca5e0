"""An answer read back from the plain data of `answer.json`."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

import numpy as np

from fejoint.analysis.leg_answer import LegAnswer
from fejoint.analysis.odds import Odds
from fejoint.analysis.result import (
    Answer,
    Cost,
    Event,
    LimitLoad,
    PartLimits,
    Trust,
    Verdict,
)
from fejoint.analysis.trace import Trace
from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.joint.model import Joint
from fejoint.kernel.stop_reason import Stop, StopReason

_UNITS = ("", "_N", "_mm", "_deg", "_Nmm")
_RENAMED = {"past_top": "past_highest_pull", "share": "share_of_pull"}
T = TypeVar("T")


def answer_of(plain: Mapping[str, Any]) -> Answer:
    """Return the answer that plain data tell of, without its solved sections.

    Parameters
    ----------
    plain : mapping
        As `Answer.to_dict` gives it.

    Returns
    -------
    Answer
        Equal to the one that told them.

    Raises
    ------
    BadInput
        If they were written before answers could be read back.
    """
    trust = plain["trust"]
    if "stop" not in trust:
        allowed = "was written before answers could be read back"
        raise BadInput(Fault("answer", "", allowed, "pull the case again"))
    order = tuple(
        PartLimits(_of(LimitLoad, row), tuple(_of(LimitLoad, x) for x in row["later"]))
        for row in plain["verdict"]["order"]
    )
    return Answer(
        Joint.from_dict(plain["case"]),
        Verdict(order, plain["verdict"]["sentence"]),
        tuple(_of(Event, row) for row in plain["events"]),
        Trace(*(_array(plain["curve"][k]) for k in plain["curve"])),
        plain["pin"],
        dataclasses.replace(
            _of(Trust, trust), stopped_because=_stop(trust["stop"]), broken=tuple(trust["broken"])
        ),
        _of(Cost, plain["cost"]),
        tuple(plain["warnings"]),
        plain["versions"],
        path=tuple(_of(LegAnswer, row) for row in plain["path"]),
        settings=plain["settings"],
        ductility=tuple(plain["ductility"]),
        by_hand=tuple(plain["by_hand"]),
        weaker_ear=plain["weaker_ear"],
        odds=Odds.of_answer(plain),
    )


def _of(kind: type[T], row: Mapping[str, Any]) -> T:
    """Return a dataclass of a row whose keys are its fields, units after them."""
    found: dict[str, Any] = {}
    for field in dataclasses.fields(kind):  # type: ignore[arg-type]
        name = _RENAMED.get(field.name, field.name)
        key = next((name + unit for unit in _UNITS if name + unit in row), None)
        if key is None:
            continue
        value = row[key]
        if field.name == "band":
            value = tuple(math.inf if x is None else x for x in value)
        elif value is None and str(field.type) == "float":  # JSON knows no nan
            value = math.nan
        found[field.name] = value
    return kind(**found)


def _array(values: Iterable[float | None]) -> Floats:
    return np.array([math.nan if x is None else x for x in values], float)


def _stop(row: Mapping[str, Any]) -> Stop:
    cause = _stop(row["cause"]) if row["cause"] else None
    return Stop(StopReason[row["reason"]], row["sentence"], cause, row["member"])
