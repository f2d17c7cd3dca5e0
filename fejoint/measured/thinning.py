"""A log made ready for a fit: thinned to the points that count, or refused."""

from __future__ import annotations

import numpy as np

from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.measured.calibration_result import Pulled

_POINTS = 90


def thinned(pulled: Pulled, reach: float) -> tuple[Floats, Floats, Floats]:
    """Return travel, force and force's standard error in bins of travel, to the largest load.

    Parameters
    ----------
    pulled : Pulled
    reach : float
        Extension at which the model's curve ends, mm.
    """
    top = int(np.argmax(pulled.force)) + 1
    f, x = pulled.force[:top], pulled.travel[:top]
    highest = np.maximum.accumulate(f)
    start = pulled.rig.slack + 0.01 * reach
    extension = pulled.extension(top)
    keep = (f >= 0.97 * highest) & (x > start) & (extension < 0.97 * reach)
    f, x = f[keep], x[keep]
    if len(f) < 8:
        return np.empty(0), np.empty(0), np.empty(0)
    order = np.argsort(x, kind="stable")
    f, x = f[order], x[order]
    noise = float(np.median(np.abs(np.diff(f - _smooth(f))))) / 0.954
    bent = x.min() + (x.max() - x.min()) * np.linspace(0.0, 1.0, _POINTS + 1) ** 1.5
    place = np.clip(np.digitize(x, bent) - 1, 0, _POINTS - 1)
    count = np.bincount(place, minlength=_POINTS)
    full = count > 0
    n = count[full]
    return (
        np.bincount(place, x, _POINTS)[full] / n,
        np.bincount(place, f, _POINTS)[full] / n,
        noise / np.sqrt(n),
    )


def _smooth(f: Floats) -> Floats:
    width = max(1, len(f) // 60)
    padded = np.pad(f, width, mode="edge")
    return np.convolve(padded, np.full(2 * width + 1, 1.0 / (2 * width + 1)), "valid")


def refuse_elastic(pulled: Pulled, until: float) -> None:
    """Refuse a log that never left its elastic line by `until` (mm).

    Raises
    ------
    BadInput
        If it did not, or has too few rows to tell.
    """
    f = pulled.force[: int(np.argmax(pulled.force)) + 1]
    x = pulled.extension(len(f))
    ahead = x > 0.0
    f, x = f[ahead], x[ahead]
    mend = "pull further, or learn from other logs"
    if len(f) < 8 or until <= 0.0:
        if len(f) < 8:
            raise BadInput(Fault(pulled.name, "", "has too few rows beyond first touch", mend))
        return
    top = float(f.max())
    early = (f > 0.15 * top) & (f < 0.5 * top)
    slope = float(np.polyfit(x[early], f[early], 1)[0]) if early.sum() > 3 else np.inf
    late = f > 0.95 * top
    left = float(np.median(x[late] - f[late] / slope)) - float(
        np.median(x[early] - f[early] / slope) if early.sum() > 3 else 0.0
    )
    if left < until:
        allowed = f"left its elastic line by {max(left, 0.0):.3f} mm only; {until:.3f} needed"
        raise BadInput(Fault(pulled.name, "", f"{allowed}: it says nothing of yield or Rm", mend))
