"""Plane-stress J2 plasticity with isotropic hardening: the return map at one point.

With principal Kirchhoff stresses t1, t2 (MPa) and logarithmic elastic strains e1, e2 the law is
written in sums and differences, s = t1 + t2, d = t1 - t2, e = e1 + e2, f = e1 - e2:

    s = S e ,  S = E/(1 - nu)         d = 2G f ,  G = E/(2 (1 + nu))
    sigma^2 = (s^2 + 3 d^2)/4         (Mises, the stress across the plane being 0)
    plastic flow of a step: de_p = dgamma s/(2 q) ,  df_p = 3 dgamma d/(2 q)

with q(eps_p) the yield stress at the step's end and dgamma the equivalent plastic strain of the
step. Backward Euler, from the elastic trial stress s_trial = S e_trial, d_trial = 2G f_trial:

1. sigma_trial <= q(eps_p): the step is elastic.
2. Else, with x = dgamma/q, A = S/2, B = 3G: s = s_trial/(1 + A x), d = d_trial/(1 + B x), and
   dgamma is the root of 1/sigma - 1/q = 0, nearly straight in dgamma; Newton, held in a bracket.
3. Consistent tangent, d(s, d)/d(e_trial, f_trial): differentiate 2. With h = dq/deps_p,
   P = A s/(1 + A x), R = B d/(1 + B x), W = (P s + 3 R d)/2 + 2 q^2 h/(1 - x h):

       ds/de = S/(1 + A x) - P^2/W ,   ds/df = dd/de = -P R/W ,   dd/df = 2G/(1 + B x) - R^2/W

   and the secant 2G/(1 + B x) = d/f_trial turns the principal directions.

Simo and Taylor, "A return mapping algorithm for plane stress elastoplasticity", Int. J. Numer.
Meth. Engng 22 (1986) 649, written here in sums and differences.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from fejoint.kernel.compiled import jit
from fejoint.kernel.hardening import yield_stress

NEWTON_LIMIT = 40
TOLERANCE = 1e-12
"""Relative miss of the yield surface that is none: some hundred times rounding."""
ACCEPTED = 1e-8
"""Relative miss from which one more step of Newton, nearly straight, comes to rounding; and that a
search which runs out of steps may end with."""

yield_stress_at = jit()(yield_stress)

DGAMMA, Q, H, LOW, HIGH, CELL = range(6)
"""Columns of a search: dgamma, q and h there, its bracket, and the curve's cell or, at the end, -1.

An elastic step has dgamma 0; where there is no root dgamma is NaN.
"""


@jit()
def begin(e: Any, f: Any, past: Any, moduli: Any, cells: Any) -> Any:
    """Return a point's search at its start, where the step's first Newton step from 0 leads."""
    s, d = moduli[0] * e, moduli[1] * f
    s2, d2 = s * s, 3.0 * d * d
    sigma = 0.5 * math.sqrt(s2 + d2)
    q, h, cell = yield_stress_at(past, 0, cells)
    if not sigma > q * (1.0 + TOLERANCE):
        return 0.0, q, h, 0.0, np.inf, -1.0
    a, b = 0.5 * moduli[0], 1.5 * moduli[1]
    per_q, per_sigma = 1.0 / q, 1.0 / sigma
    rate = 0.25 * (s2 * a + d2 * b) * per_sigma * per_sigma * per_sigma * per_q
    dgamma = (per_q - per_sigma) / (rate + h * per_q * per_q)
    if not dgamma > 0.0:
        dgamma = (sigma - q) / b
    return dgamma, q, h, 0.0, np.inf, float(cell)


@jit()
def step(e: Any, f: Any, past: Any, search: Any, moduli: Any, cells: Any, last: Any) -> Any:
    """Return a point's search after one more step, the `last` that it may take.

    Few divisions: they are most of the cost.
    """
    dgamma, low, high, at = search
    s, d = moduli[0] * e, moduli[1] * f
    a, b = 0.5 * moduli[0], 1.5 * moduli[1]
    q, h, cell = yield_stress_at(past + dgamma, int(at), cells)
    per_q = 1.0 / q
    x = dgamma * per_q
    below_s, below_d = 1.0 + a * x, 1.0 + b * x
    both = 1.0 / (below_s * below_d)
    by_s, by_d = both * below_d, both * below_s
    s, d = s * by_s, d * by_d
    s2, d2 = s * s, 3.0 * d * d
    per_sigma = 2.0 / math.sqrt(s2 + d2)
    miss = per_sigma - per_q
    off = abs(miss) * q
    if off <= TOLERANCE:
        return dgamma, q, h, low, high, -1.0
    if last:
        return dgamma if off <= ACCEPTED else np.nan, q, h, low, high, -1.0
    if miss < 0.0:
        low = dgamma
    else:
        high = dgamma
    cube = per_sigma * per_sigma * per_sigma
    rate = 0.25 * (s2 * a * by_s + d2 * b * by_d) * cube * (1.0 - x * h) * per_q
    newer = dgamma - miss / (rate + h * per_q * per_q)
    if low < newer < high:
        dgamma = newer
        if off <= ACCEPTED:
            q, h, _ = yield_stress_at(past + dgamma, cell, cells)
            return dgamma, q, h, low, high, -1.0
    elif math.isfinite(high):
        dgamma = 0.5 * (low + high)
    else:
        dgamma = 2.0 * low + 1e-9
    return dgamma, q, h, low, high, float(cell)


@jit()
def plastic_increments(trial: Any, searches: Any, moduli: Any, cells: Any) -> None:
    """Fill the searches of some points (k, 6) from their trial strains.

    They are searched side by side: each step waits for its divisions, and meanwhile the others go
    on. `trial` is (k, 11), e, f, across, past first; `moduli` is S and 2G.
    """
    n = trial.shape[0]
    for k in range(n):
        store(searches, k, begin(trial[k, 0], trial[k, 1], trial[k, 3], moduli, cells))
    for turn in range(NEWTON_LIMIT):
        searching = 0
        for k in range(n):
            if searches[k, CELL] >= 0.0:
                search = (
                    searches[k, DGAMMA], searches[k, LOW], searches[k, HIGH], searches[k, CELL]
                )  # fmt: skip
                newer = step(
                    trial[k, 0], trial[k, 1], trial[k, 3], search, moduli, cells,
                    turn == NEWTON_LIMIT - 1,
                )  # fmt: skip
                store(searches, k, newer)
                searching += 1
        if searching == 0:
            break


@jit()
def store(searches: Any, k: Any, search: Any) -> None:
    """Keep a point's search."""
    for i in range(6):
        searches[k, i] = search[i]


@jit()
def stress_after(e: Any, f: Any, found: Any, moduli: Any) -> Any:
    """Return the stress after an elastic trial step.

    Parameters
    ----------
    e, f : sum and difference (first minus second, not negative) of the trial principal strains
    found : dgamma, q and h
    moduli : S, 2G

    Returns
    -------
    (s, d), (ds/de, ds/df, dd/df, secant), (stress, elastic strain sum, strain across)
        The last three matter in plane strain: here 0, s/S and 0.
    """
    big_s, two_g = moduli[0], moduli[1]
    dgamma, q, h = found
    s, d = big_s * e, two_g * f
    slopes = (big_s, 0.0, two_g, two_g)
    if dgamma != 0.0:
        a, b = 0.5 * big_s, 1.5 * two_g
        x = dgamma / q
        below_s, below_d = 1.0 + a * x, 1.0 + b * x
        both = 1.0 / (below_s * below_d)
        by_s, by_d = both * below_d, both * below_s
        s, d = s * by_s, d * by_d
        p, r = a * s * by_s, b * d * by_d
        per_w = 1.0 / (0.5 * (p * s + 3.0 * r * d) + 2.0 * q * q * h / (1.0 - x * h))
        secant = two_g * by_d
        slopes = (big_s * by_s - p * p * per_w, -p * r * per_w, secant - r * r * per_w, secant)
    return (s, d), slopes, (0.0, s / big_s, 0.0)
