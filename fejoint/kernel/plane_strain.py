"""J2 plasticity of a metal that cannot strain out of the plane: the radial return at one point.

With e and f the sum and difference of the trial elastic strains in the plane and w that across it,
theta = e + w is the volume's strain and a = e - 2 theta/3 the deviator's share of the sum (across
the plane the deviator is -a). K is the bulk and G the shear modulus, MPa. With a factor k:

    sum of stresses s = 2 K theta + 2 G k a        difference d = 2 G k f
    across the plane K theta - 2 G k a             Mises k sigma_trial

1. sigma_trial = G sqrt(3 (3 a^2 + f^2)) <= q(eps_p): elastic, k = 1.
2. Else dgamma is the root of sigma_trial - 3 G dgamma = q(eps_p + dgamma), and k = q/sigma_trial.
3. Consistent tangent, with h = dq/deps_p and k' = 3 G^2 (h/(h + 3 G) - k)/sigma_trial^2:

       ds/de = 2 K + 2 G (k/3 + a^2 k') ,  ds/df = dd/de = 2 G a f k' ,  dd/df = 2 G (k + f^2 k')

   and the secant 2 G k turns the principal directions.

Wilkins' radial return (from memory, derived here again). Plastic flow keeps the volume, so w needs
no history of its own: it follows from the plastic strain in the plane.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from fejoint.kernel.compiled import jit
from fejoint.kernel.plane_stress import ACCEPTED, NEWTON_LIMIT, TOLERANCE, yield_stress_at


@jit()
def plastic_increment(trial: Any, past: Any, three_g: Any, table: Any) -> Any:
    """Return dgamma, q and h at the step's end, by Newton in a bracket; NaN: no root."""
    low, high, dgamma = 0.0, trial / three_g, 0.0
    q = h = 0.0
    cell = 0
    for turn in range(NEWTON_LIMIT):
        q, h, cell = yield_stress_at(past + dgamma, cell, table)
        miss = trial - three_g * dgamma - q
        if abs(miss) <= TOLERANCE * trial:
            break
        if turn == NEWTON_LIMIT - 1:
            if not abs(miss) <= ACCEPTED * trial:
                dgamma = np.nan
            break
        if miss > 0.0:
            low = dgamma
        else:
            high = dgamma
        newer = dgamma + miss / (three_g + h)
        dgamma = newer if low < newer < high else 0.5 * (low + high)
    return dgamma, q, h


@jit()
def return_map(e: Any, f: Any, across: Any, past: Any, metal: Any) -> Any:
    """Return the stress after an elastic trial step; as `plane_stress.return_map` does.

    `across` is the trial elastic strain across the plane.
    """
    _, _, two_g, bulk, table = metal
    g = 0.5 * two_g
    theta = e + across
    a = e - 2.0 * theta / 3.0
    k, falling, dgamma = 1.0, 0.0, 0.0
    if table[0].size > 0:
        trial = g * math.sqrt(3.0 * (3.0 * a * a + f * f))
        q, h, _ = yield_stress_at(past, 0, table)
        if trial > q * (1.0 + TOLERANCE):
            dgamma, q, h = plastic_increment(trial, past, 3.0 * g, table)
            k = q / trial
            falling = 3.0 * g * g * (h / (h + 3.0 * g) - k) / (trial * trial)
    s, d = 2.0 * bulk * theta + two_g * k * a, two_g * k * f
    slopes = (
        2.0 * bulk + two_g * (k / 3.0 + a * a * falling),
        two_g * a * f * falling,
        two_g * (k + f * f * falling),
        two_g * k,
    )
    elastic = (bulk * theta - two_g * k * a, 2.0 * theta / 3.0 + k * a, theta / 3.0 - k * a)
    return (s, d), dgamma, slopes, elastic
