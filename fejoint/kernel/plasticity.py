"""Plane-stress J2 plasticity with isotropic hardening, as a return map in two numbers.

With principal stresses s1, s2 the law is written in their sum s = s1 + s2 and their difference
d = s1 - s2, and the same of the logarithmic strain, e and f:

    s = S e,  S = E/(1 - nu)         d = 2 G f,  G = E/(2 (1 + nu))
    equivalent stress^2 = (s^2 + 3 d^2) / 4
    plastic flow over a step: de_p = g s / (2 q), df_p = 3 g d / (2 q), q the yield stress

so that with x = g/q the end of the step is s = S e_trial / (1 + A x), d = 2 G f_trial / (1 + B x),
A = S/2, B = 3 G, and one scalar equation is left for g. Newton runs on 1/equivalent - 1/q, which is
nearly straight in g. After Simo and Taylor, "A return mapping algorithm for plane stress
elastoplasticity", Int. J. Numer. Meth. Engng 22 (1986) 649, written here in sums and differences.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.hardening import Hardening

_NEWTON_LIMIT = 40
_TOLERANCE = 1e-12


@dataclass(frozen=True)
class Metal:
    """An elastic-plastic metal: E (MPa), nu, and its hardening curve (None is elastic).

    In a plane section it is free to strain out of the plane, unless `plane_strain` is set.
    """

    modulus: float
    poisson: float
    hardening: Hardening | None = None
    plane_strain: bool = False

    @property
    def shear_modulus(self) -> float:
        """Shear modulus G, MPa."""
        return self.modulus / (2.0 * (1.0 + self.poisson))

    @property
    def biaxial_modulus(self) -> float:
        """Modulus S = E/(1 - nu) between the sums of stress and of in-plane strain, MPa."""
        return self.modulus / (1.0 - self.poisson)


@dataclass(frozen=True)
class Returned:
    """The end of a step in sums and differences; every array is (n,).

    Attributes
    ----------
    s, d : stress sum and difference, MPa
    equivalent : accumulated plastic strain
    shear_secant : d over the trial difference strain, MPa
    ss, sd, dd : derivatives of (s, d) by the trial strain sum and difference, MPa
    across_stress : stress out of the plane, MPa; None in plane stress
    elastic : sum of the elastic strains in the plane, and that across it; None in plane stress
    """

    s: Floats
    d: Floats
    equivalent: Floats
    shear_secant: Floats
    ss: Floats
    sd: Floats
    dd: Floats
    across_stress: Floats | None = None
    elastic: tuple[Floats, Floats] | None = None


def return_map(metal: Metal, strain_sum: Floats, strain_diff: Floats, past: Floats) -> Returned:
    """Return the stress after an elastic trial step, plane stress.

    Parameters
    ----------
    metal : Metal
    strain_sum, strain_diff : (n,) arrays
        Sum and difference (first minus second, not negative) of the trial elastic principal
        strains in the plane.
    past : (n,) array
        Equivalent plastic strain at the start of the step.

    Returns
    -------
    Returned
        Where the scalar equation finds no root the stresses are NaN, so that the step is cut.
    """
    big_s, two_g = metal.biaxial_modulus, 2.0 * metal.shear_modulus
    s, d = big_s * strain_sum, two_g * strain_diff
    n = len(s)
    ss, sd, dd = np.full(n, big_s), np.zeros(n), np.full(n, two_g)
    secant = np.full(n, two_g)
    if metal.hardening is None:
        return Returned(s, d, past, secant, ss, sd, dd)
    trial = 0.5 * np.sqrt(s * s + 3.0 * d * d)
    yielding = np.flatnonzero(trial > metal.hardening(past)[0] * (1.0 + _TOLERANCE))
    equivalent = past.copy()
    if len(yielding) == 0:
        return Returned(s, d, equivalent, secant, ss, sd, dd)
    a, b = 0.5 * big_s, 1.5 * two_g
    st, dt, start = s[yielding], d[yielding], past[yielding]
    gamma = _slip(metal.hardening, st, dt, start, a, b)
    q, h = metal.hardening(start + gamma)
    x = gamma / q
    by_s, by_d = 1.0 / (1.0 + a * x), 1.0 / (1.0 + b * x)
    se, de = st * by_s, dt * by_d
    p, r = a * se * by_s, b * de * by_d
    weight = 0.5 * (p * se + 3.0 * r * de) + 2.0 * q * q * h / (1.0 - x * h)
    ss[yielding] = big_s * by_s - p * p / weight
    sd[yielding] = -p * r / weight
    dd[yielding] = two_g * by_d - r * r / weight
    secant[yielding] = two_g * by_d
    s[yielding], d[yielding] = se, de
    equivalent[yielding] = start + gamma
    return Returned(s, d, equivalent, secant, ss, sd, dd)


def _slip(law: Hardening, st: Floats, dt: Floats, start: Floats, a: float, b: float) -> Floats:
    """Solve 1/equivalent(gamma) = 1/yield(gamma), a rising function, by guarded Newton."""
    q0, h0 = law(start)
    low = np.zeros_like(st)
    high = np.full_like(st, np.inf)
    s2, d2 = st * st, 3.0 * dt * dt
    # the stress falls no faster than along b, so this first guess lies below the root
    gamma = (0.5 * np.sqrt(s2 + d2) - q0) / (b + np.maximum(h0, 0.0))
    for _ in range(_NEWTON_LIMIT):
        q, h = law(start + gamma)
        x = gamma / q
        by_s, by_d = 1.0 / (1.0 + a * x), 1.0 / (1.0 + b * x)
        ps, pd = s2 * by_s * by_s, d2 * by_d * by_d
        sigma = 0.5 * np.sqrt(ps + pd)
        miss = 1.0 / sigma - 1.0 / q
        if np.all(np.abs(miss) * q <= _TOLERANCE):
            return gamma
        low = np.where(miss < 0.0, gamma, low)
        high = np.where(miss > 0.0, gamma, high)
        rate = (ps * a * by_s + pd * b * by_d) / (4.0 * sigma**3) * (1.0 - x * h) / q + h / q**2
        newer = gamma - miss / rate
        middle = np.where(np.isfinite(high), 0.5 * (low + high), 2.0 * low + 1e-9)
        gamma = np.where((newer > low) & (newer < high), newer, middle)
    return np.where(np.abs(miss) * q <= 1e-8, gamma, np.nan)
