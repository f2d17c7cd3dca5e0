"""Collapse of a perfectly plastic pin in double shear: hinges, bearing strength and gaps.

Both ears are alike; the loads are pulls on the whole joint. Units are mm, N and MPa.
"""

from __future__ import annotations

import numpy as np
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from fejoint.handbook.beams import full_plastic_moment, full_plastic_shear
from fejoint.kernel.root import root


def clamped_gap_load(moment: float, gap: float) -> float:
    """Return the pull that forms hinges on both sides of both gaps, 4 M / c, N.

    Parameters
    ----------
    moment : float
        Plastic moment of the pin, N mm.
    gap : float
        c between ear and shank, mm.

    Notes
    -----
    Ears and shank are rigid and hold the pin straight (a neat fit): F/2 c = 2 M. Source: beam
    mechanism, textbook. Status: re-derived.
    """
    return 4.0 * moment / gap


def free_gap_load(moment: float, gap: float) -> float:
    """Return the pull that forms hinges at the shank's faces only, 2 M / c, N.

    The ears press on the pin at their inner edges and let it turn (a loose fit): F/2 c = M.
    Arguments, source and status as in `clamped_gap_load`.
    """
    return 2.0 * moment / gap


def section_interaction(shear_use: float) -> float:
    """Return M / Mp of a round bar at a given V / Vp, plane sections, Mises.

    Parameters
    ----------
    shear_use : float
        V over the full plastic shear A sigma_y / sqrt(3), 0 to 1.

    Notes
    -----
    A section that turns and slides at once (rotation rate r, slip rate g) has at height y
    sigma = sigma_y y / sqrt(y^2 + s^2) and sqrt(3) tau = sigma_y s / sqrt(y^2 + s^2), with
    s = g / (sqrt(3) r): the normal of Mises' ellipse. Integrated over chords 2 sqrt(r^2 - y^2).
    The metal of the hinge must be free to narrow across the bar, which a hinge as short as a line
    is not: see `line_hinge_gap_load`. A hinge has no unique interaction curve (Drucker, J. Appl.
    Mech. 23, 1956, from memory). Status: derived here.
    """
    if shear_use <= 0.0:
        return 1.0
    if shear_use >= 1.0:
        return 0.0

    def shear(s: float) -> float:
        value = quad(lambda y: s / np.hypot(y, s) * np.sqrt(1 - y**2), 0.0, 1.0)[0]
        return float(4.0 / np.pi * value)

    def moment(s: float) -> float:
        value = quad(lambda y: y**2 / np.hypot(y, s) * np.sqrt(1 - y**2), 0.0, 1.0)[0]
        return float(3.0 * value)

    log_s = root(lambda z: shear(float(np.exp(z))) - shear_use, -20.0, 10.0)
    return moment(float(np.exp(log_s)))


def gap_load_with_shear(
    diameter: float, yield_strength: float, gap: float, *, clamped: bool = True
) -> float:
    """Return the collapse pull of a pin across two gaps with bending and shear together, N.

    Parameters
    ----------
    diameter, yield_strength, gap : float
        d (mm), sigma_y (MPa) and c (mm, above 0).
    clamped : bool
        True for `clamped_gap_load`'s hinges, False for `free_gap_load`'s.

    Notes
    -----
    F/2 = V, V c = 2 M (clamped) or M (free), with `section_interaction`. As the gap goes to 0
    the pull goes to twice the full plastic shear. Status: derived here. The strip of the axial
    section carries up to 11 % more, as `line_hinge_gap_load` explains.
    """
    full_moment = full_plastic_moment(diameter, yield_strength)
    full_shear = full_plastic_shear(diameter, yield_strength)
    hinges = 2.0 if clamped else 1.0

    def miss(use: float) -> float:
        return use * full_shear * gap - hinges * full_moment * section_interaction(use)

    return 2.0 * full_shear * root(miss, 0.0, 1.0, within=1e-12)


def line_hinge_gap_load(diameter: float, yield_strength: float, gap: float) -> float:
    """Return an upper bound of the collapse pull across two gaps between rigid plates, N.

    Parameters
    ----------
    diameter, yield_strength, gap : float
        d (mm), sigma_y (MPa) and c (mm).

    Notes
    -----
    At both faces of each gap the strip of chord thickness turns and slides along a line. Beside a
    line nothing can narrow along it, so that with jumps n across and s along the line Mises' metal
    in plane stress dissipates sigma_y/sqrt(3) sqrt(4 n^2 + s^2): a line hinge in pure bending
    takes 2/sqrt(3) of the full plastic moment. With turn 1 and slide s the pull F does the work
    F/2 (c + 2 s), to be made least over s. A true hinge has a length of about d/4 and lies between
    this and plane sections. Status: derived here, by the upper-bound theorem of plasticity.
    """
    r = diameter / 2.0

    def pull(s: float) -> float:
        def rate(y: float) -> float:
            return float(np.sqrt(4.0 * y**2 + s**2) * 2.0 * np.sqrt(r**2 - y**2))

        hinge = yield_strength / np.sqrt(3.0) * 2.0 * quad(rate, 0.0, r)[0]
        return float(4.0 * hinge / (gap + 2.0 * s))

    found = minimize_scalar(pull, bounds=(0.0, 50.0 * diameter), method="bounded")
    return float(found.fun)


def bearing_mechanism_load(
    moment: float, gap: float, ear: float, ear_bearing: float, shank: float, shank_bearing: float
) -> float:
    """Return the lowest collapse pull with ears and shank of limited bearing strength, N.

    Parameters
    ----------
    moment : float
        Plastic moment Mp of the pin, N mm.
    gap, ear, shank : float
        Side gap c and thicknesses a (of one ear) and b, mm.
    ear_bearing, shank_bearing : float
        Bearing strengths of ear and shank per unit thickness, qa and qb, N/mm.

    Notes
    -----
    The lowest of four mechanisms; V = F/2, and the pin bears on either side of its holes:
    an ear crushed, V = qa a; the shank crushed, V = qb b/2; a hinge in the shank while the pin
    turns in the ear, Mp = V c + V^2/(2 qb) + qa (x^2 - a^2/2) with x = (a + V/qa)/2; hinges in
    shank and ear, 2 Mp = V c + V^2 (1/qa + 1/qb)/2. Source: the yield theory of dowels, Johansen,
    "Theory of timber connections", IABSE 9, 1949, from memory; the gap added and all four
    re-derived here. A hinge outside its part is caught by the crushing mechanisms.
    """
    crush_ear = ear_bearing * ear
    crush_shank = shank_bearing * shank / 2.0

    def turning(v: float) -> float:
        x = (ear + v / ear_bearing) / 2.0
        arm = v * gap + v**2 / (2 * shank_bearing)
        return arm + ear_bearing * (x**2 - ear**2 / 2.0) - moment

    def hinged(v: float) -> float:
        return v * gap + v**2 * (1 / ear_bearing + 1 / shank_bearing) / 2.0 - 2 * moment

    high = min(crush_ear, crush_shank)
    found = [high]
    for balance in (turning, hinged):
        if balance(high) > 0.0:
            found.append(root(balance, 0.0, high))
    return 2.0 * min(found)
