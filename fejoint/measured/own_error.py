"""How far predictions were off in a workshop's own pulls: its results book as a model's error.

Once it holds enough joints, the book says how far answers are off there: with that rig, those
metals and that way of making holes. What it tells is the error for the next joint, the scatter of
the metal in it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from fejoint.analysis.model_error import Kind, ModelError, Own
from fejoint.measured import results_book

LEAST_JOINTS = 5
"""Different joints below which a book narrows no band."""
KINDS: Mapping[str, Kind] = {"offset load": "hole stretches", "peak": "greatest load"}
"""Measure of the book: the kind of limit that it speaks of."""
_UNIT = 1.6448536269514722


def of_book(path: Path) -> Own:
    """Return the errors that a book tells, by kind of limit; none of a book with few joints.

    A joint counts once, by the mean of its samples.

    Raises
    ------
    BadInput
        If there is no such book, or it was changed.
    """
    pulls = results_book.entries(path)
    told = {kind: _error(pulls, measure, kind) for measure, kind in KINDS.items()}
    return {kind: error for kind, error in told.items() if error is not None}


def _error(pulls: list[results_book.Entry], measure: str, kind: Kind) -> ModelError | None:
    from scipy import stats

    chosen, _ = results_book.judged_pulls(pulls, measure)
    by_joint: dict[str, list[float]] = {}
    for e in chosen:
        if e.predicted:
            by_joint.setdefault(e.joint_digest, []).append(math.log(e.predicted / e.measured))
    if len(by_joint) < LEAST_JOINTS:
        return None
    errors = np.array([np.mean(some) for some in by_joint.values()])
    count, bias, spread = len(errors), float(errors.mean()), float(errors.std(ddof=1))
    half = float(stats.t.ppf(0.95, count - 1)) * spread * math.sqrt(1.0 + 1.0 / count)
    says = f"{len(chosen)} own pulls of {count} joints in the book"
    return ModelError(
        kind, "own pulls", bias, spread, 0.0, bias, half / _UNIT, len(chosen), count, None, says
    )
