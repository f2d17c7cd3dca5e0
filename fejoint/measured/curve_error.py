"""How far the model's own curve may be off, as a whole and in its shape: part of every interval.

Parameters that bend the curve alike take up an error of its shape without a trace in what the fit
leaves, and their intervals would be too narrow by as much.
"""

from __future__ import annotations

import numpy as np

from fejoint.arrays import Floats

SCALE_SD = 0.01
"""Standard uncertainty of the model's load as a whole (mesh, plane stress; a judgement)."""
SHAPE_SD = 5e-4
"""Least standard uncertainty of the load as the extension grows (a judgement: a demo's joint on a
mesh of 0.75 lay within 0.06 % of the corrected curve from 0.2 mm on, 0.6 % below it at 0.05 mm)."""
_KNOTS = 6


def shapes(grid: Floats, refined: Floats) -> Floats:
    """Return the ways in which the logarithm of the load may be off, one standard deviation each.

    Parameters
    ----------
    grid : (n,) array
        Extensions, mm, rising.
    refined : (n,) array
        What a finer mesh changed of the logarithm of the load; as much may still be missing.

    Returns
    -------
    (7, n) array
        A factor on the whole, then hats about knots that lie denser near first touch.
    """
    knots = grid[0] + (grid[-1] - grid[0]) * np.linspace(0.0, 1.0, _KNOTS) ** 1.5
    hats = np.array([np.interp(grid, knots, row) for row in np.eye(_KNOTS)])
    left = refined - refined.mean()
    size = np.sqrt((hats @ left**2) / hats.sum(axis=1))
    return np.vstack([np.full(len(grid), SCALE_SD), hats * np.hypot(SHAPE_SD, size)[:, None]])
