"""Collapse of a perfectly plastic pin in double shear: hinges and gaps.

Both ears are alike; the loads are pulls on the whole joint. Units are mm, N and MPa.
"""

from __future__ import annotations

import numpy as np
from scipy.integrate import quad
from scipy.optimize import minimize_scalar


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
