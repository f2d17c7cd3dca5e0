"""A search along a Newton step for the least energy."""

from __future__ import annotations

from typing import Any

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.assembly import Evaluation, System

_SLACK = 0.5
"""Share of the energy slope at a step's start that may be left at its end: an exact search costs
more evaluations than it saves.

At 0.25 / 0.9: offset load moves by 0.03 / 0.01 %, hinge load by 0 / 0.04 %, factorisations by -3
/ +33 (hard), -3 / +60 (soft).
"""
_TRIES = 4
"""Evaluations of a search: a step that still goes wrong after them is put right by the next
tangent.

Halved / doubled: offset load moves by 0 / 0 %, hinge load by 0 / 0 %, factorisations by +3 / -1
(hard), +59 / +58 (soft).
"""
_FROM_ENDS = 0.1
"""Share of the bracket by which a trial keeps away from its ends, where regula falsi would creep.

Halved / doubled: offset load moves by 0 / 0 %, hinge load by 0 / 0 %, factorisations by +0 / -1
(hard), +67 / +55 (soft).
"""


def line_search(
    system: System,
    z: Floats,
    multipliers: Floats,
    travel: float,
    moved: float,
    dz: Floats,
    slope: float,
    states: tuple[Any, ...],
) -> tuple[float, Evaluation]:
    """Take the whole step where it lowers the energy slope enough, else search along it.

    Notes
    -----
    With the multipliers l fixed at their new values, E(s) = W(z + s dz) - l.C(z + s dz) is the
    energy (N mm) along the step, and its slope E'(s) = (f(z + s dz) - C'l).dz needs one evaluation
    of the forces f and no tangent. At s = 0 it is negative, where the tangent is definite along the
    step; at the least energy it is zero. The whole step is taken where |E'(1)| <= _SLACK |E'(0)|.
    Else the zero lies in a bracket where the slope changes sign, and regula falsi, kept away from
    the bracket's ends by _FROM_ENDS, finds it to the same slack; a slope that is no number halves
    the bracket. The search with a slack of 0.5: Matthies and Strang, "The solution of nonlinear
    finite element equations", Int. J. Numer. Meth. Engng 14 (1979) 1613 (from memory).
    """

    def at(scale: float) -> tuple[float, Evaluation]:
        trial = system.moved(z, scale * dz)
        e = system.evaluate(trial, multipliers, travel + scale * moved, states)
        return float(e.residual[: len(dz)] @ dz), e

    after, whole = at(1.0)
    now = whole
    if slope >= 0.0 or (np.isfinite(after) and abs(after) <= _SLACK * abs(slope)):
        return 1.0, now
    low, high, scale = (0.0, slope), (1.0, after), 1.0
    for _ in range(_TRIES):
        if np.isfinite(high[1]) and high[1] > 0.0:
            scale = low[0] - low[1] * (high[0] - low[0]) / (high[1] - low[1])
            margin = _FROM_ENDS * (high[0] - low[0])
            scale = min(max(scale, low[0] + margin), (1.0 - _FROM_ENDS) * high[0])
        elif np.isfinite(high[1]):
            return 1.0, whole  # still going down at the whole step: take it
        else:
            scale = 0.5 * (low[0] + high[0])
        value, now = at(scale)
        if np.isfinite(value) and abs(value) <= _SLACK * abs(slope):
            break
        if np.isfinite(value) and value < 0.0:
            low = (scale, value)
        else:
            high = (scale, value)
    return scale, now
