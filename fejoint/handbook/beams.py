"""Round bars and pins as beams: sections, bending beyond yield, beams on elastic bearing.

Units are mm, N and MPa. d is the diameter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fejoint.arrays import Floats

ROUND_SHAPE_FACTOR = 16.0 / (3.0 * np.pi)
"""Full plastic over first-yield moment of a round bar, 1.698."""
ROUND_SHEAR_COEFFICIENT = 0.9
"""Shear stiffness over G A of a round bar from the chord-averaged shear stress VQ/(Ib).

Source: Timoshenko, Strength of Materials (10/9 in the deflection). Status: re-derived: the shear
energy of V Q/(I b) over the section is (10/9) V^2/(2 G A). Cowper 1966 has 0.886 at nu = 0.3.
"""


def round_area(diameter: float) -> float:
    """Return the area of a round bar, pi d^2 / 4, mm2."""
    return float(np.pi * diameter**2 / 4.0)


def round_inertia(diameter: float) -> float:
    """Return the second moment of area of a round bar, pi d^4 / 64, mm4."""
    return float(np.pi * diameter**4 / 64.0)


def round_section_modulus(diameter: float) -> float:
    """Return the elastic section modulus of a round bar, Wel = pi d^3 / 32, mm3."""
    return float(np.pi * diameter**3 / 32.0)


def full_plastic_moment(diameter: float, yield_strength: float) -> float:
    """Return the full plastic moment of a round bar, sigma_y d^3 / 6, N mm.

    Two half circles (area pi d^2 / 8, centroid 2 d / (3 pi) from the axis) at plus and minus
    sigma_y. Textbook result; re-derived.
    """
    return yield_strength * diameter**3 / 6.0


def full_plastic_shear(diameter: float, yield_strength: float) -> float:
    """Return the full plastic shear of one plane of a round bar, A sigma_y / sqrt(3), N.

    Mises yield in pure shear over the whole section. Textbook result; re-derived.
    """
    return float(round_area(diameter) * yield_strength / np.sqrt(3.0))


def plastic_bending(curvature: ArrayLike) -> Floats:
    """Return the moment of a round elastic-perfectly plastic bar over its first-yield moment.

    Parameters
    ----------
    curvature : array
        k, curvature over that of first yield, at least 0.

    Notes
    -----
    With n = 1/k <= 1: M/My = (16/pi) (k (asin n - n sqrt(1 - n^2)(1 - 2 n^2))/8
    + (1 - n^2)^1.5 / 3); M/My = k below 1. Source: textbook result, e.g. Chakrabarty, Theory of
    Plasticity. Status: from memory; equal to quadrature over the section to 12 digits.
    """
    k = np.asarray(curvature, float)
    n = 1.0 / np.maximum(k, 1.0)
    root = np.sqrt(1.0 - n**2)
    core = (np.arcsin(n) - n * root * (1.0 - 2.0 * n**2)) / (8.0 * n)
    return np.asarray(np.where(k <= 1.0, k, 16.0 / np.pi * (core + root**3 / 3.0)))


def shear_stiffness(diameter: float, shear_modulus: float) -> float:
    """Return the shear stiffness of a round bar, 0.9 G A, N per radian of shear.

    Source and status: `ROUND_SHEAR_COEFFICIENT`.
    """
    return ROUND_SHEAR_COEFFICIENT * shear_modulus * round_area(diameter)


@dataclass(frozen=True)
class BeddedBeam:
    """Deflections (mm) and middle moment (N mm) of a beam on elastic bearing."""

    middle: float
    end: float
    moment: float


def bedded_beam(length: float, stiffness: float, bending: float, load: float) -> BeddedBeam:
    """Return a free beam on elastic bearing, loaded by one force at its middle.

    Parameters
    ----------
    length : float
        L, mm.
    stiffness : float
        k, bearing stiffness per length, N/mm2; it pushes both ways.
    bending : float
        E I, N mm2.
    load : float
        P, N.

    Notes
    -----
    With l = (k / 4EI)^(1/4) and x = l L: y_mid = P l/(2k) (cosh x + cos x + 2)/(sinh x + sin x),
    y_end = 2 P l/k cosh(x/2) cos(x/2)/(sinh x + sin x), M_mid = P/(4 l) (cosh x - cos x) /
    (sinh x + sin x). Source: Hetenyi, Beams on Elastic Foundation, 1946, ch. III. Status: from
    memory; confirmed by a beam finite-element solution to 6 digits.
    """
    rate = (stiffness / (4.0 * bending)) ** 0.25
    x = rate * length
    below = np.sinh(x) + np.sin(x)
    return BeddedBeam(
        float(load * rate / (2 * stiffness) * (np.cosh(x) + np.cos(x) + 2) / below),
        float(2 * load * rate / stiffness * np.cosh(x / 2) * np.cos(x / 2) / below),
        float(load / (4 * rate) * (np.cosh(x) - np.cos(x)) / below),
    )


@dataclass(frozen=True)
class CheekedPin:
    """Deflections (mm) and middle moment (N mm) of a pin carried by two elastic cheeks."""

    middle: float
    end: float
    inner_face: float
    moment: float


def cheeked_pin(
    middle: float, gap: float, cheek: float, stiffness: float, bending: float, load: float
) -> CheekedPin:
    """Return a pin under an even load from the middle plate, carried by two elastic cheeks.

    Parameters
    ----------
    middle, gap, cheek : float
        Width c of the even load, side gap, width of each cheek, mm.
    stiffness : float
        k of a cheek per length, N/mm2; it pushes both ways.
    bending : float
        E I of the pin, N mm2.
    load : float
        P, N.

    Notes
    -----
    Euler-Bernoulli beam, half of it by symmetry: y'''' = P/(c EI) under the load, 0 in the gap,
    -k y/EI in the cheek, joined in y and its three derivatives; no moment or shear at the end.
    Status: solved exactly here; textbook beam theory.
    """
    rate = (stiffness / (4.0 * bending)) ** 0.25
    reach = rate * cheek
    even = load / (middle * bending)
    half = middle / 2.0

    def cubic(x: float) -> Floats:
        # rows: y, y', y'', y''' of 1, x, x^2, x^3
        return np.array(
            [[1, x, x**2, x**3], [0, 1, 2 * x, 3 * x**2], [0, 0, 2, 6 * x], [0, 0, 0, 6.0]]
        )

    def waves(x: float) -> Floats:
        # derivatives with respect to x of exp(s x) for the four roots s = rate (+-1 +-i), each
        # scaled by its greatest value in the cheek
        roots = rate * np.array([-1 + 1j, 1 + 1j])
        scale = np.exp(roots * x - np.array([0.0, reach]))
        rows = np.array([scale * roots**order for order in range(4)])
        return np.concatenate([rows.real, rows.imag], axis=1)

    matrix, right = np.zeros((10, 10)), np.zeros(10)
    # unknowns: y = u0 + u1 x^2 (+ even x^4/24) under the load; a cubic in the gap; four waves
    particular = even * np.array([half**4 / 24, half**3 / 6, half**2 / 2, half])
    matrix[:4, :2] = cubic(half)[:, [0, 2]]
    matrix[:4, 2:6] = -cubic(0.0)
    right[:4] = -particular
    matrix[4:8, 2:6] = cubic(gap)
    matrix[4:8, 6:] = -waves(0.0)
    matrix[8:, 6:] = waves(cheek)[2:]
    size = np.abs(matrix).max(axis=1)
    u = np.linalg.solve(matrix / size[:, None], right / size)
    return CheekedPin(
        float(u[0]),
        float(waves(cheek)[0] @ u[6:]),
        float(waves(0.0)[0] @ u[6:]),
        float(abs(2 * u[1]) * bending),
    )
