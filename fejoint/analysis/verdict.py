"""From limits to a verdict: which part gives first, in what order, said in a sentence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from fejoint.analysis.result import LimitLoad, PartLimits, Verdict
from fejoint.handbook.limit_loads import HandbookLimit, headline
from fejoint.inputs.units import both_units
from fejoint.sections.face.pull import FaceHistory

TEAR_OUT_SECTOR_DEG = 60.0
"""Angle from the pull within which torn metal is the end and not the net section, degrees."""

NOTHING_GAVE = "largest load reached"
"""Cause of the one limit of a joint that gave nowhere."""

_WORDS = {
    ("hole elongation", "ear"): "the holes in the ears stretch",
    ("end tear-out", "ear"): "the ears' ends tear out",
    ("net section", "ear"): "the ears neck beside the hole",
    ("pin bending", "pin"): "the pin bends and stays bent",
    ("pin shear", "pin"): "the pin yields in shear right through",
    ("pin break", "pin"): "the pin breaks",
    ("shank hole", "shank"): "the shank's hole gives",
}


def tear_mode(history: FaceHistory) -> str:
    """Return how an ear tears, from where its damage is largest: at the end or the net section."""
    at, pull = history.torn_at, history.problem.direction
    if not np.all(np.isfinite(at)):
        return "net section"
    angle = np.degrees(np.arccos(np.clip(at @ pull / np.linalg.norm(at), -1.0, 1.0)))
    return "end tear-out" if angle < TEAR_OUT_SECTOR_DEG else "net section"


def used_up(faces: Mapping[str, FaceHistory]) -> tuple[dict[str, Any], ...]:
    """Return where each plate's ductility is used up most, and how much by its pull's end."""
    return tuple(
        {
            "plate": name,
            "used": float(history.damage[-1]),
            "mode": tear_mode(history),
            "at_mm": [float(x) for x in history.torn_at],
        }
        for name, history in faces.items()
        if history.ductility is not None
    )


def verdict(limits: Iterable[LimitLoad]) -> Verdict:
    """Order the limits part by part and say what gives first.

    Parameters
    ----------
    limits : iterable of LimitLoad
        At least one.

    Returns
    -------
    Verdict
    """
    by_part: dict[str, list[LimitLoad]] = {}
    for limit in limits:
        by_part.setdefault(limit.part, []).append(limit)
    parts = [sorted(found, key=lambda x: x.load) for found in by_part.values()]
    order = tuple(
        PartLimits(found[0], tuple(found[1:])) for found in sorted(parts, key=lambda p: p[0].load)
    )
    return Verdict(order, _sentence(order))


def beside_handbook(limit: LimitLoad, found: Sequence[HandbookLimit]) -> LimitLoad:
    """Return the limit with its closed form beside it, where there is one."""
    from dataclasses import replace

    line = headline(tuple(found), limit.mode, limit.part)
    if line is None or limit.handbook_load is not None:
        return limit
    source = f"{line.source}: {line.formula} ({line.status})"
    return replace(limit, handbook_load=line.load, handbook_source=source)


def words(limit: LimitLoad) -> str:
    """Say in plain words what a limit means."""
    return _WORDS.get((limit.mode, limit.part), f"{limit.part}: {limit.mode}")


def _sentence(order: Sequence[PartLimits]) -> str:
    first = order[0].first
    if first.cause == NOTHING_GAVE:
        return f"Nothing gave up to a pull of {both_units(first.load)}, where the solve ended."
    said = f"At a pull of {both_units(first.load)} {words(first)} first"
    if first.source == "handbook":
        said += " (a handbook value, not computed here)"
    said += "."
    if len(order) > 1:
        after = order[1].first
        margin = after.load / first.load - 1.0
        said += f" Next, {100.0 * margin:.0f} % higher, {words(after)} at {both_units(after.load)}"
        said += " (handbook value)." if after.source == "handbook" else "."
    return said
