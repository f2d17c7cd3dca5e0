"""What a proof pull leaves behind: the joint let go from a chosen load, solved, not estimated."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from fejoint.analysis.result import Answer
from fejoint.analysis.section_cases import PullSettings
from fejoint.arrays import Floats
from fejoint.inputs.units import KGF
from fejoint.kernel import load_curve
from fejoint.kernel.pchip import Monotone
from fejoint.page.scene import on_face, shown_ear, slice_travels
from fejoint.sections.axial import pull as axial
from fejoint.sections.face import unloading


def after_proof(answer: Answer, load: float, refine: float = 1.0) -> dict[str, Any]:
    """Return what stays of a pull to a load after it is let go.

    Parameters
    ----------
    answer : Answer
        With its solved sections.
    load : float
        Proof pull on the joint, N.
    refine : float
        As the answer was solved.

    Returns
    -------
    dict
        `reached` false where the joint does not carry it; else the hole's kept elongation (mm,
        mean over the ear's thickness) and the pin's kept sag (mm; None for a rigid pin, or where
        the release could not be followed).
    """
    told: dict[str, Any] = {"load_N": load, "load_kgf": load / KGF}
    history = answer.axial
    index = None if history is None else load_curve.first_reach(history.load, load)
    if history is None or index is None:
        return told | {"reached": False, "most_N": float(answer.trace.load.max())}
    settings = PullSettings(refine)
    own = settings.axial(answer.joint)
    _, plate = shown_ear(answer)
    ear = settings.ear(answer.joint)

    def hole(k: int) -> float | None:
        let_go = unloading.release(plate, k, ear) if k > 0 else None
        return 0.0 if k == 0 else None if let_go is None else let_go.set

    def sag(k: int) -> float | None:
        let_go = axial.release(history, k, own) if k > 0 else None
        return 0.0 if k == 0 else None if let_go is None else history.problem.bend(let_go)[0]

    travels, lengths = slice_travels(answer)
    row = [np.interp(index, np.arange(len(travels)), t) for t in travels.T]
    places = on_face(answer, np.maximum(np.array(row), 0.0))
    return told | {
        "reached": True,
        "hole_mm": _mean(hole, places, lengths),
        "hole_diameter_mm": plate.problem.case.outline.hole,
        "sag_mm": None if answer.joint.pin.rigid else _between(sag, index, len(history.load)),
    }


def _mean(value: Callable[[int], float | None], places: Floats, weights: Floats) -> float | None:
    """Return the mean over slices, from as few releases as their spread asks for."""
    low, high = int(places.min()), int(np.ceil(places.max()))
    known = sorted({round(k) for k in np.linspace(low, high, min(high - low, 5) + 1)})
    kept = [value(k) for k in known]
    found = [(k, v) for k, v in zip(known, kept, strict=True) if v is not None]
    if not found:
        return None
    if len(found) == 1:
        return found[0][1]
    at, kept_there = np.array(found).T
    kept_at = Monotone(at, kept_there)(places)
    return float(np.maximum(kept_at, 0.0) @ weights / weights.sum())


def _between(value: Callable[[int], float | None], index: float, n: int) -> float | None:
    """Return a value between two points of a path, never below none."""
    low = min(int(index), n - 1)
    share = index - low
    first = value(low)
    if share < 1e-6 or low + 1 >= n or first is None:
        return first
    after = value(low + 1)
    return None if after is None else max((1.0 - share) * first + share * after, 0.0)
