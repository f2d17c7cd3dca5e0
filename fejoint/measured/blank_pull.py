"""A blank pull: the grip pulled with a stiff bar in the joint's place, so that the rig is measured.

What the rig stretches at a load is read from it, whatever its shape (rubber, timber, a strap), and
taken out of every log. What is left of the travel is the joint's own, and slack.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.measured.log_record import Log

_BINS = 80
MARGIN = 1.02
"""How far a log's largest load may pass the blank pull's."""


@dataclass(frozen=True, eq=False)
class Blank:
    """The rig's stretch.

    Attributes
    ----------
    load, stretch : (n,) arrays
        N and mm, rising, from (0, 0).
    error : float
        Standard error of the stretch, mm.
    name : str
    """

    load: Floats
    stretch: Floats
    error: float
    name: str

    @property
    def compliance(self) -> float:
        """Mean compliance, mm/N."""
        return float(self.stretch[-1] / self.load[-1])

    @property
    def compliance_sd(self) -> float:
        """Standard uncertainty of the mean compliance, mm/N."""
        return self.error / float(self.load[-1])


def read(log: Log) -> Blank:
    """Return the rig's stretch from the log of a blank pull, up to its largest load.

    Raises
    ------
    BadInput
        If it has no travel, or too few rows.
    """
    if log.travel is None:
        raise BadInput(Fault("--blank", log.name, "needs travel beside the force", "log it too"))
    top = int(np.argmax(log.force)) + 1
    force, travel = log.force[:top], log.travel[:top]
    most = float(force.max())
    begun = np.flatnonzero(force > 0.01 * most)
    force, travel = force[begun[0] :], travel[begun[0] :]
    if len(force) < 20:
        raise BadInput(
            Fault("--blank", log.name, f"has {len(force)} rows under load", "log at least 20")
        )
    edges = np.linspace(0.0, most, _BINS + 1)
    place = np.clip(np.digitize(force, edges) - 1, 0, _BINS - 1)
    count = np.bincount(place, minlength=_BINS)
    full = count > 0
    load = np.bincount(place, force, _BINS)[full] / count[full]
    stretch = np.bincount(place, travel, _BINS)[full] / count[full]
    start = stretch[0] - load[0] * (stretch[1] - stretch[0]) / (load[1] - load[0])
    load = np.concatenate([[0.0], load, [most]])
    last = stretch[-1] + (most - load[-2]) * (stretch[-1] - stretch[-2]) / (load[-2] - load[-3])
    stretch = np.maximum.accumulate(np.concatenate([[0.0], stretch - start, [last - start]]))
    left = travel - start - np.interp(force, load, stretch)
    return Blank(load, stretch, float(np.std(left)) / np.sqrt(len(load)), log.name)


def taken_out(log: Log, blank: Blank) -> Log:
    """Return a log whose travel holds the rig's stretch no more.

    Raises
    ------
    BadInput
        If the blank pull did not reach the log's largest load.
    """
    if log.travel is None:
        return log
    if log.peak > MARGIN * blank.load[-1]:
        allowed = f"reaches {blank.load[-1]:,.0f} N, less than the {log.peak:,.0f} N of {log.name}"
        raise BadInput(Fault("--blank", blank.name, allowed, "pull the stiff bar to a higher load"))
    slope = (blank.stretch[-1] - blank.stretch[-2]) / max(blank.load[-1] - blank.load[-2], 1e-9)
    beyond = np.maximum(log.force - blank.load[-1], 0.0) * slope
    own = log.travel - np.interp(log.force, blank.load, blank.stretch) - beyond
    line = f"the rig's stretch taken out by the blank pull {blank.name} (--blank)"
    return replace(log, travel=own, assumed=(*log.assumed, line))
