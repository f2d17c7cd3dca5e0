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


@jit()
def plastic_increment(s2: Any, d2: Any, past: Any, at_start: Any, moduli: Any, table: Any) -> Any:
    """Return dgamma, q and h at the step's end; dgamma is NaN where there is no root.

    `s2` is s_trial^2, `d2` 3 d_trial^2, `at_start` q, h and the table's cell at the step's start,
    `moduli` (A, B). Few divisions: they are most of the cost.
    """
    a, b = moduli
    q, h, cell = at_start
    per_q, per_sigma = 1.0 / q, 2.0 / math.sqrt(s2 + d2)
    rate = 0.25 * (s2 * a + d2 * b) * per_sigma * per_sigma * per_sigma * per_q
    dgamma = (per_q - per_sigma) / (rate + h * per_q * per_q)
    if not dgamma > 0.0:
        dgamma = (1.0 / per_sigma - q) / b
    low, high = 0.0, np.inf
    for turn in range(NEWTON_LIMIT):
        q, h, cell = yield_stress_at(past + dgamma, cell, table)
        per_q = 1.0 / q
        x = dgamma * per_q
        below_s, below_d = 1.0 + a * x, 1.0 + b * x
        both = 1.0 / (below_s * below_d)
        by_s, by_d = both * below_d, both * below_s
        ps, pd = s2 * by_s * by_s, d2 * by_d * by_d
        per_sigma = 2.0 / math.sqrt(ps + pd)
        miss = per_sigma - per_q
        off = abs(miss) * q
        if off <= TOLERANCE:
            break
        if turn == NEWTON_LIMIT - 1:
            if not off <= ACCEPTED:
                dgamma = np.nan
            break
        if miss < 0.0:
            low = dgamma
        else:
            high = dgamma
        cube = per_sigma * per_sigma * per_sigma
        rate = 0.25 * (ps * a * by_s + pd * b * by_d) * cube * (1.0 - x * h) * per_q
        newer = dgamma - miss / (rate + h * per_q * per_q)
        if low < newer < high:
            dgamma = newer
            if off <= ACCEPTED:
                q, h, cell = yield_stress_at(past + dgamma, cell, table)
                break
        elif math.isfinite(high):
            dgamma = 0.5 * (low + high)
        else:
            dgamma = 2.0 * low + 1e-9
    return dgamma, q, h


@jit()
def return_map(e: Any, f: Any, past: Any, metal: Any) -> Any:
    """Return the stress after an elastic trial step.

    Parameters
    ----------
    e, f : sum and difference (first minus second, not negative) of the trial principal strains
    past : equivalent plastic strain at the step's start
    metal : as `Metal.data`

    Returns
    -------
    (s, d), dgamma, (ds/de, ds/df, dd/df, secant), (stress, elastic strain sum, strain across)
        The last three matter in plane strain: here 0, s/S and 0.
    """
    _, big_s, two_g, _, table = metal
    s, d = big_s * e, two_g * f
    elastic = (big_s, 0.0, two_g, two_g)
    if table[0].size == 0:
        return (s, d), 0.0, elastic, (0.0, s / big_s, 0.0)
    s2, d2 = s * s, 3.0 * d * d
    q, h, cell = yield_stress_at(past, 0, table)
    if not 0.5 * math.sqrt(s2 + d2) > q * (1.0 + TOLERANCE):
        return (s, d), 0.0, elastic, (0.0, s / big_s, 0.0)
    a, b = 0.5 * big_s, 1.5 * two_g
    dgamma, q, h = plastic_increment(s2, d2, past, (q, h, cell), (a, b), table)
    x = dgamma / q
    below_s, below_d = 1.0 + a * x, 1.0 + b * x
    both = 1.0 / (below_s * below_d)
    by_s, by_d = both * below_d, both * below_s
    s, d = s * by_s, d * by_d
    p, r = a * s * by_s, b * d * by_d
    per_w = 1.0 / (0.5 * (p * s + 3.0 * r * d) + 2.0 * q * q * h / (1.0 - x * h))
    secant = two_g * by_d
    slopes = (big_s * by_s - p * p * per_w, -p * r * per_w, secant - r * r * per_w, secant)
    return (s, d), dgamma, slopes, (0.0, s / big_s, 0.0)
