"""The tolerance band of a joint: median, 5 to 95 %, what gives how often, and what causes it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis.definitions import named
from fejoint.analysis.plotted import Plotted
from fejoint.analysis.progress import Progress
from fejoint.errors import SolveStopped
from fejoint.inputs.units import figures
from fejoint.joint.model import CaseLike, load
from fejoint.joint.scatter import Spread
from fejoint.studies.sweeps import row
from fejoint.studies.sweeps.run import Table, Tell, run, telling
from fejoint.studies.sweeps.sampling import Draws, as_numbers, spreads_of

if TYPE_CHECKING:
    import pandas as pd

USUAL_DRAWS = 60
LOW, HIGH = 5.0, 95.0
"""Percentiles of the band."""
FEWEST = 20
"""Joints below which none of them stands for one in twenty: the band is then from least to most."""


@dataclass(frozen=True)
class Cause:
    """How much of the band an input causes.

    Attributes
    ----------
    path : str
    correlation : float
        Spearman's rank correlation with the load.
    share : float
        Square of its coefficient in a regression of ranks, over the sum of all squares.
    """

    path: str
    correlation: float
    share: float


@dataclass(frozen=True)
class Band:
    """Where a load lies, N: half of all joints below `median`, 5 % below `low` and above `high`.

    Of fewer than FEWEST joints (`count`) `low` and `high` are the least and the most instead.
    """

    median: float
    low: float
    high: float
    count: int

    @property
    def whole(self) -> bool:
        """Whether there are joints enough to tell one in twenty."""
        return self.count >= FEWEST

    @classmethod
    def of(cls, loads: Any) -> Band | None:
        """Return the band of some loads, None without any."""
        good = np.asarray([x for x in loads if x is not None and np.isfinite(x)], float)
        if len(good) == 0:
            return None
        ends = [LOW, HIGH] if len(good) >= FEWEST else [0.0, 100.0]
        middle, low, high = np.percentile(good, [50.0, *ends])
        return cls(float(middle), float(low), float(high), len(good))


@dataclass(frozen=True)
class Tolerance(Plotted):
    """A joint's tolerance band; `plot` draws how often joints give at which load.

    Attributes
    ----------
    load : Band
        Of the pull at which the first part gives.
    offset_load : Band or None
        Of the offset load, over the joints that reach it.
    modes : dict of (str, str) to float
        Share of the joints in which a part gives first in a way, the most frequent first.
    causes : tuple of Cause
        Of the first load's band, the strongest first.
    spreads : tuple of Spread
        What was scattered.
    table : Table
        Every drawn joint.
    """

    load: Band
    offset_load: Band | None
    modes: Mapping[tuple[str, str], float]
    causes: tuple[Cause, ...]
    spreads: tuple[Spread, ...]
    table: Table
    _drawn_by = ("studies.sweeps.plots", "histogram")

    @property
    def frame(self) -> pd.DataFrame:
        """A row a drawn joint: what was scattered, loads in N, what gives first."""
        return self.table.frame

    @property
    def sentence(self) -> str:
        """Say the band and what gives."""
        b = self.load

        def often(share: float) -> str:
            return f"{100 * share:.0f} %" if b.whole else f"{share * b.count:.0f} of {b.count}"

        said = ", ".join(
            f"{named(mode, part)} {often(share)}" for (part, mode), share in self.modes.items()
        )
        frame = self.table.frame
        without = int(frame["nothing_up_to_N"].notna().sum()) if "nothing_up_to_N" in frame else 0
        if without:
            said += f". In {without} more nothing gave by the end of the pull: not in the band"
        refused = len(frame) - b.count - without
        if refused:
            said += f". {refused} of the {len(frame)} drawn are no joint or were not solved"
        if not b.whole:
            return (
                f"The {b.count} joints drawn give between {figures(b.low)} and {figures(b.high)} "
                f"N: too few to tell one in twenty, which takes {FEWEST}. First to give: {said}."
            )
        return (
            f"Half of {b.count} joints give below {figures(b.median)} N, one in twenty below "
            f"{figures(b.low)} N and one in twenty above {figures(b.high)} N. "
            f"First to give: {said}."
        )


def scatter(
    joint: CaseLike,
    *,
    draws: int = USUAL_DRAWS,
    seed: int = 1,
    known_metals: bool = True,
    refine: float = 1.0,
    folder: Path | str | None = None,
    workers: int | None = None,
    scheduler: str | None = None,
    model: row.Model = row.solve,
    progress: Progress | None = None,
    tell: Tell | None = None,
) -> Tolerance:
    """Pull joints drawn from the scatter of one, and say where their loads lie.

    Parameters
    ----------
    joint : Joint, path or mapping
        The joint, its case file, or the tables of one; its case may hold a [scatter] table (see
        `fejoint.joint.scatter`).
    draws : int
        Joints, by Latin hypercube; the ends of the band rest on one in twenty of them.
    seed : int
    known_metals : bool
        Whether the metals scatter by their known bands where the table says nothing.
    refine, folder, workers, scheduler, model, progress
        As for a sweep.
    tell : callable, optional
        Called with joints done, joints in all, and the row that was finished.

    Returns
    -------
    Tolerance

    Raises
    ------
    BadInput
        If the table has a fault, or nothing scatters.
    SolveStopped
        If no drawn joint could be solved.

    Examples
    --------
    >>> band = scatter("cases/demo/hard-pin.toml", draws=4, workers=0, refine=0.25).load
    >>> band.low < band.median < band.high
    True
    """
    joint = load(joint)
    spreads = spreads_of(joint, known_metals)
    plan = Draws(joint, spreads, draws, seed)
    where = Path(folder) if folder is not None else None
    table = run(
        plan, {"refine": refine, "whole": False, "stops": False}, model=model, folder=where,
        workers=workers, scheduler=scheduler, progress=telling(progress, tell),
    )  # fmt: skip
    frame = table.frame
    good = frame[frame["load_N"].notna()] if "load_N" in frame else frame[:0]
    good = good[good["state"] == "solved"]
    band = Band.of(good["load_N"]) if len(good) else None
    if band is None:
        reasons = [str(x) for x in frame["reason"] if x]
        if "nothing_up_to_N" in frame and frame["nothing_up_to_N"].notna().any():
            message = "nothing gave in any drawn joint by the end of its pull"
            raise SolveStopped(message)
        message = f"no drawn joint was solved: {reasons[0] if reasons else 'interrupted'}"
        raise SolveStopped(message)
    counted = good.groupby(["part", "mode"]).size().sort_values(ascending=False) / len(good)
    modes = {(str(k[0]), str(k[1])): float(v) for k, v in counted.items()}
    offset = Band.of(good["offset_load_N"]) if "offset_load_N" in good else None
    return Tolerance(band, offset, modes, _causes(good, plan.columns), spreads, table)


def _causes(good: Any, columns: tuple[str, ...]) -> tuple[Cause, ...]:
    """Rank the inputs by what they do to the load.

    Shares are squares of the coefficients of a linear regression of ranks on ranks: drawn columns
    are never quite independent, and the correlation of each alone would carry that along.
    """
    from scipy.stats import rankdata

    loads = good["load_N"].to_numpy(float)
    if len(loads) < len(columns) + 3:
        return ()
    ranks = np.column_stack([rankdata(as_numbers(good[name])) for name in columns])
    x, y = _standard(ranks), _standard(rankdata(loads)[:, None])[:, 0]
    weights = np.linalg.lstsq(x, y, rcond=None)[0] ** 2
    shares = weights / (weights.sum() or 1.0)
    causes = [
        Cause(name, float(x[:, k] @ y / len(y)), float(shares[k]))
        for k, name in enumerate(columns)
    ]  # fmt: skip
    return tuple(sorted(causes, key=lambda c: -c.share))


def _standard(columns: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Return columns with mean 0 and deviation 1; a constant one stays 0."""
    centred = columns - columns.mean(axis=0)
    deviation = centred.std(axis=0)
    return np.asarray(centred / np.where(deviation > 0.0, deviation, 1.0))
