"""J2 plasticity of a metal that cannot strain out of the plane, by radial return.

With e and f the sum and the difference of the trial elastic strains in the plane and w that across
it, theta = e + w is the volume's strain and a = e - 2 theta/3 the deviator's share of the sum
(across the plane the deviator is -a). Then

    sum of stresses s = 2 K theta + 2 G k a        difference d = 2 G k f
    across the plane K theta - 2 G k a
    equivalent trial stress q = G sqrt(3 (3 a^2 + f^2))

and the return scales the deviator by k = yield stress / q (Wilkins' radial return; from memory,
re-derived here). Plastic flow keeps the volume, so w needs no history of its own: it follows from
the plastic strain in the plane.
"""

from __future__ import annotations

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.plasticity import Metal, Returned

_NEWTON_LIMIT = 40
_TOLERANCE = 1e-12


def return_map(
    metal: Metal, strain_sum: Floats, strain_diff: Floats, across: Floats, past: Floats
) -> Returned:
    """Return the stress after an elastic trial step, plane strain.

    Parameters
    ----------
    metal : Metal
    strain_sum, strain_diff : (n,) arrays
        As for `fejoint.kernel.plasticity.return_map`.
    across : (n,) array
        Trial elastic strain across the plane.
    past : (n,) array
        Equivalent plastic strain at the start of the step.

    Returns
    -------
    Returned
        Its `across_stress` and `elastic` are filled.
    """
    g = metal.shear_modulus
    bulk = metal.modulus / (3.0 * (1.0 - 2.0 * metal.poisson))
    theta = strain_sum + across
    a, f = strain_sum - 2.0 * theta / 3.0, strain_diff
    trial = g * np.sqrt(3.0 * (3.0 * a * a + f * f))
    k, falling, equivalent = np.ones_like(a), np.zeros_like(a), past.copy()
    if metal.hardening is not None:
        out = np.flatnonzero(trial > metal.hardening(past)[0] * (1.0 + _TOLERANCE))
        if len(out):
            gamma = _slip(metal, trial[out], past[out])
            q, h = metal.hardening(past[out] + gamma)
            equivalent[out] += gamma
            k[out] = q / trial[out]
            # the rate of k by the trial stress, over the trial stress and times 3 G^2
            falling[out] = 3.0 * g * g * (h / (h + 3.0 * g) - k[out]) / trial[out] ** 2
    s, d = 2.0 * bulk * theta + 2.0 * g * k * a, 2.0 * g * k * f
    return Returned(
        s,
        d,
        equivalent,
        2.0 * g * k,
        2.0 * bulk + 2.0 * g * (k / 3.0 + a * a * falling),
        2.0 * g * a * f * falling,
        2.0 * g * (k + f * f * falling),
        bulk * theta - 2.0 * g * k * a,
        (2.0 * theta / 3.0 + k * a, theta / 3.0 - k * a),
    )


def _slip(metal: Metal, trial: Floats, past: Floats) -> Floats:
    """Solve trial - 3 G gamma = yield stress(past + gamma), by Newton between bounds."""
    assert metal.hardening is not None
    three_g = 3.0 * metal.shear_modulus
    low, high = np.zeros_like(trial), trial / three_g
    gamma = np.zeros_like(trial)
    for _ in range(_NEWTON_LIMIT):
        q, h = metal.hardening(past + gamma)
        miss = trial - three_g * gamma - q
        if np.all(np.abs(miss) <= _TOLERANCE * trial):
            return gamma
        low, high = np.where(miss > 0.0, gamma, low), np.where(miss < 0.0, gamma, high)
        newer = gamma + miss / (three_g + h)
        gamma = np.where((newer > low) & (newer < high), newer, 0.5 * (low + high))
    return np.where(np.abs(miss) <= 1e-8 * trial, gamma, np.nan)
