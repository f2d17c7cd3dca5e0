"""A blank pull: the grip pulled with a stiff bar in the joint's place, so that the rig is measured.

What the rig stretches at a load is read from it, whatever its shape (rubber, timber, a strap), and
taken out of every log. What is left of the travel is the joint's own, and slack.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import BSpline

from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.measured.log_record import Log
from fejoint.measured.rig_compliance import zero_of
from fejoint.measured.statistics import shared

_BINS = 160
MARGIN = 1.02
"""How far a log's largest load may pass the blank pull's."""
_PIECES = 10
"""Cubic pieces of the stretch, denser near no load, where rubber turns."""
_GRID = 200


@dataclass(frozen=True, eq=False)
class Blank:
    """The rig's stretch.

    Attributes
    ----------
    load, stretch : (n,) arrays
        N and mm, rising, from (0, 0).
    errors : (k, n) array
        Ways in which the stretch may be off, mm: one standard deviation each, independent;
        a shift of the whole, which is slack, is none of them.
    name : str
    """

    load: Floats
    stretch: Floats
    errors: Floats
    name: str

    @property
    def compliance(self) -> float:
        """Mean compliance, mm/N."""
        return float(self.stretch[-1] / self.load[-1])

    @property
    def compliance_sd(self) -> float:
        """Standard uncertainty of the mean compliance, mm/N."""
        return float(np.linalg.norm(self.errors[:, -1] - self.errors[:, 0]) / self.load[-1])

    def at(self, force: Floats, off: Floats | None = None) -> Floats:
        """Return the stretch at forces (n,), mm; beyond the blank's largest with its last slope.

        Parameters
        ----------
        force : (n,) array
            N.
        off : (k,) array, optional
            By how many standard deviations it is off in each way.
        """
        stretch = self.stretch if off is None else self.stretch + off @ self.errors
        slope = (stretch[-1] - stretch[-2]) / (self.load[-1] - self.load[-2])
        beyond = np.maximum(force - self.load[-1], 0.0) * slope
        return np.asarray(np.interp(force, self.load, stretch) + beyond)


def read(log: Log) -> Blank:
    """Return the rig's stretch from the log of a blank pull, up to its largest load.

    Rows are averaged in steps of the travel, which is the cleaner of the two, and a cubic spline
    is drawn through them by least squares; its covariance is the stretch's uncertainty.

    Raises
    ------
    BadInput
        If it has no travel, or too few rows.
    """
    if log.travel is None:
        raise BadInput(Fault("--blank", log.name, "needs travel beside the force", "log it too"))
    top = int(np.argmax(log.force)) + 1
    force, travel = log.force[:top] - zero_of(log.force, log.travel), log.travel[:top]
    most = float(force.max())
    begun = np.flatnonzero(force > 0.01 * most)
    force, travel = force[begun[0] :], travel[begun[0] :]
    if len(force) < 20 or np.ptp(travel) <= 0.0:
        raise BadInput(
            Fault("--blank", log.name, f"has {len(force)} rows under load", "log at least 20")
        )
    edges = np.linspace(travel.min(), travel.max(), min(_BINS, len(force)) + 1)
    place = np.clip(np.digitize(travel, edges) - 1, 0, len(edges) - 2)
    count = np.bincount(place)
    full = count > 0
    f = np.bincount(place, force)[full] / count[full]
    x = np.bincount(place, travel)[full] / count[full]
    pieces = max(1, min(_PIECES, len(f) // 6))
    inner = most * np.linspace(0.0, 1.0, pieces + 1) ** 1.5
    knots = np.concatenate([[inner[0]] * 3, inner, [inner[-1]] * 3])
    load = most * np.linspace(0.0, 1.0, _GRID + 1) ** 1.5
    design = BSpline.design_matrix(np.clip(f, 0.0, most), knots, 3).toarray()
    drawn = BSpline.design_matrix(load, knots, 3).toarray()
    weight = np.sqrt(count[full])
    # a force's noise shows in the travel by the rig's compliance there
    slope = np.gradient(np.interp(load, np.maximum.accumulate(f), x), load)
    weight /= np.maximum(np.interp(f, load, slope), 0.2 * np.ptp(x) / np.ptp(f))
    solved = np.linalg.pinv(design * weight[:, None])
    coefficients = solved @ (x * weight)
    left = weight * (x - design @ coefficients)
    spread = float(np.sum(left**2)) / max(len(f) - design.shape[1], 1) * shared(left)
    free = drawn - drawn.mean(axis=0)  # a shift of the whole is slack
    ways, sizes, _ = np.linalg.svd(free @ solved, full_matrices=False)
    keep = sizes > 1e-2 * sizes[0]
    errors = (ways * sizes)[:, keep].T * np.sqrt(spread)
    stretch = np.maximum.accumulate((drawn - drawn[0]) @ coefficients)
    return Blank(load, stretch, errors, log.name)


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
    own = log.travel - blank.at(log.force - zero_of(log.force, log.travel))
    line = f"the rig's stretch taken out by the blank pull {blank.name} (--blank)"
    return replace(log, travel=own, assumed=(*log.assumed, line))
