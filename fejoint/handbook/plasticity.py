"""Plastic closed forms: rings and open holes in plane stress.

Mises yield with uniaxial yield stress Y, perfectly plastic and small strain unless said.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fejoint.arrays import Floats
from fejoint.kernel.root import root

ROOT3 = float(np.sqrt(3.0))
LIMIT_ANGLE = 5.0 * np.pi / 6.0
"""Nadai's angle at which the radial stress is -2Y/sqrt(3) and cannot grow."""


@dataclass(frozen=True)
class PlasticRing:
    """Stresses round a hole, plastic from radius `inner` to `front` and elastic beyond.

    Attributes
    ----------
    inner, front, outer : float
        Hole radius a, radius c of the plastic front, outer radius b (may be inf).
    yield_stress : float
        Y.
    front_angle : float
        Nadai's angle w at the front.
    """

    inner: float
    front: float
    outer: float
    yield_stress: float
    front_angle: float

    def angle(self, radius: float) -> float:
        """Return Nadai's angle w at a plastic radius; r^2 sin(w) exp(sqrt(3) w) is constant."""

        def level(w: float) -> float:
            return float(np.log(np.sin(w)) + ROOT3 * w)

        target = level(self.front_angle) + 2.0 * np.log(self.front / radius)
        if target > level(LIMIT_ANGLE) + 1e-12:
            msg = f"radius {radius:g}: the ring cannot carry a plastic zone this wide"
            raise ValueError(msg)
        if target >= level(LIMIT_ANGLE) - 1e-12:
            return float(LIMIT_ANGLE)
        return float(root(lambda w: level(w) - target, self.front_angle * (1 - 1e-12), LIMIT_ANGLE))

    def stresses(self, radius: ArrayLike) -> tuple[Floats, Floats]:
        """Return radial and hoop stress at any radii from the hole to the outer rim."""
        r = np.atleast_1d(np.asarray(radius, float))
        scale = 2.0 * self.yield_stress / ROOT3
        w = np.array([self.angle(x) if x < self.front else self.front_angle for x in r])
        sr, st = scale * np.cos(w + np.pi / 6), scale * np.cos(w - np.pi / 6)
        elastic = r >= self.front
        fall = (self.front / r[elastic]) ** 2
        mean, swing = 0.5 * (sr + st)[elastic], 0.5 * (st - sr)[elastic]
        sr[elastic], st[elastic] = mean - swing * fall, mean + swing * fall
        return sr, st

    @property
    def pressure(self) -> float:
        """Pressure on the hole's rim."""
        return float(-self.stresses(self.inner)[0][0])


def pressed_ring(inner: float, front: float, outer: float, yield_stress: float) -> PlasticRing:
    """Return the ring under inner pressure whose plastic front has reached `front`.

    Parameters
    ----------
    inner, front, outer : float
        a <= c <= b; b may be inf.
    yield_stress : float
        Y, MPa.

    Raises
    ------
    ValueError
        When the stresses at the hole are asked for and the zone is wider than 2Y/sqrt(3) allows.

    Notes
    -----
    In the plastic part s_r = (2Y/sqrt 3) cos(w + pi/6), s_t = (2Y/sqrt 3) cos(w - pi/6) and
    r^2 sin(w) exp(sqrt(3) w) is constant. The elastic ring yields at its inner rim under
    p_c = Y (m - 1)/sqrt(1 + 3 m^2), m = (b/c)^2. Source: Nadai, Plasticity, 1931; Hill, The
    Mathematical Theory of Plasticity, 1950, ch. V and XI. Status: from memory, re-derived, and
    equal to an integration of the equilibrium equation to 5 digits. Near p = 2Y/sqrt(3) the
    thickness at the hole falls without bound: compare finite elements up to p = 1.1 Y.
    """
    if np.isinf(outer):
        push = 1.0 / ROOT3
    else:
        m = (outer / front) ** 2
        push = (m - 1.0) / np.sqrt(1.0 + 3.0 * m**2)
    angle = float(np.arccos(-0.5 * ROOT3 * push) - np.pi / 6)
    return PlasticRing(inner, front, outer, yield_stress, angle)


def stretched_hole(hole_radius: float, tension: float, yield_stress: float) -> PlasticRing:
    """Return an open hole in an infinite plate under equal tension in all directions.

    Parameters
    ----------
    hole_radius : float
        a.
    tension, yield_stress : float
        S and Y, MPa, with Y/2 <= S < Y.

    Raises
    ------
    ValueError
        Outside Y/2 (first yield) to Y (collapse).

    Notes
    -----
    The same plastic field as `pressed_ring` from w = pi/3 at the free rim; at the front
    s_r + s_t = 2 S gives cos(w_c) = S/Y, and (c/a)^2 = sin(pi/3) exp(pi/sqrt 3) /
    (sin(w_c) exp(sqrt(3) w_c)). Status: derived here from Nadai's field; checked by integrating
    the equilibrium equation.
    """
    if not 0.5 * yield_stress <= tension < yield_stress:
        msg = f"tension = {tension:g} MPa: must lie between Y/2 and Y = {yield_stress:g} MPa"
        raise ValueError(msg)
    angle = float(np.arccos(tension / yield_stress))
    rim = np.pi / 3.0
    growth = np.sin(rim) * np.exp(ROOT3 * rim) / (np.sin(angle) * np.exp(ROOT3 * angle))
    front = hole_radius * float(np.sqrt(growth))
    return PlasticRing(hole_radius, front, np.inf, yield_stress, angle)
