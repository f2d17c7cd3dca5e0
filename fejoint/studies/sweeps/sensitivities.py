"""How much a joint's pull changes with each dimension: per cent of load per per cent."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fejoint.analysis.plotted import Plotted, RowsOf
from fejoint.analysis.progress import Progress
from fejoint.errors import BadInput
from fejoint.joint.model import CaseLike, load
from fejoint.studies.sweeps import dimensions, row
from fejoint.studies.sweeps.dimensions import Dimension
from fejoint.studies.sweeps.plan import Listed, Row, joint_with, told
from fejoint.studies.sweeps.run import Tell, run, telling
from fejoint.studies.sweeps.variation import rounded

if TYPE_CHECKING:
    import pandas as pd

STEP = 0.03
"""Change of each dimension, as a share of it. A load is good to about 0.3 % from step to step, so
a sensitivity is good to about 0.05."""


@dataclass(frozen=True)
class Sensitivity:
    """What one dimension does to the joint, the others as they are.

    Attributes
    ----------
    dimension : Dimension
    load : float or None
        Per cent of the pull at which the first part gives, per per cent of the dimension.
    offset_load : float or None
        The same of the offset load.
    modes : tuple of str
        What gives first with the dimension smaller, and larger.
    reason : str
        Why there is none.
    """

    dimension: Dimension
    load: float | None
    offset_load: float | None
    modes: tuple[str, ...]
    reason: str = ""


@dataclass(frozen=True, eq=False)
class Sensitivities(Plotted, RowsOf[Sensitivity]):
    """What a small change of each dimension does to the pull.

    Attributes
    ----------
    rows : tuple of Sensitivity
        The strongest first; the study is the sequence of them.
    """

    rows: tuple[Sensitivity, ...]
    _drawn_by = ("studies.sweeps.plots", "sensitivities")

    @property
    def frame(self) -> pd.DataFrame:
        """A row a dimension, with its unit; per cent of a load per per cent of the dimension."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "dimension": s.dimension.path, "value": s.dimension.value,
                    "unit": s.dimension.unit, "load": s.load, "offset_load": s.offset_load,
                    "first_if_smaller": s.modes[0] if s.modes else None,
                    "first_if_larger": s.modes[-1] if s.modes else None, "reason": s.reason,
                }
                for s in self.rows
            ]
        )  # fmt: skip


def sensitivities(
    joint: CaseLike,
    *,
    step: float = STEP,
    refine: float = 1.0,
    folder: Path | str | None = None,
    workers: int | None = None,
    scheduler: str | None = None,
    model: row.Model = row.solve,
    progress: Progress | None = None,
    tell: Tell | None = None,
) -> Sensitivities:
    """Change every dimension a little both ways, and see what the pull does.

    Parameters
    ----------
    joint : Joint, path or mapping
        The joint, its case file, or the tables of one.
    step : float
        Relative change.
    refine, folder, workers, scheduler, model, progress
        As for a sweep.
    tell : callable, optional
        Called with joints done, joints in all, and the row that was finished.

    Returns
    -------
    Sensitivities
        The strongest first.

    Raises
    ------
    BadInput
        If the joint, or a setting, cannot be used; nothing is solved then.

    Examples
    --------
    >>> first = sensitivities("cases/demo/hard-pin.toml", workers=0, refine=0.25)[0]
    >>> first.dimension.path
    'ear.hole'
    """
    joint = load(joint)
    where = None if folder is None else Path(folder)
    around = dimensions.of(joint)
    table = joint.case or joint.to_dict()
    rows = [Row(0, {"dimension": "as it is", "value": None}, joint.to_dict())]
    for d in around:
        for factor in (1.0 - step, 1.0 + step):
            value = rounded(factor * d.value)
            inputs = {"dimension": d.path, "value": value}
            try:
                case = joint_with(table, d.changes(value)).to_dict()
                rows.append(Row(len(rows), inputs, case))
            except BadInput as bad:
                rows.append(Row(len(rows), inputs, None, told(bad)))
    settings = {"refine": refine, "whole": False, "stops": False}
    plan = Listed(("dimension", "value"), rows)
    found = run(
        plan, settings, model=model, folder=where, workers=workers, scheduler=scheduler,
        progress=telling(progress, tell),
    )  # fmt: skip
    lines = [{str(k): v for k, v in line.items()} for line in found.frame.to_dict("records")]
    base = lines[0] | {"value": None}
    each = [
        _sensitivity(d, base, lines[1 + 2 * k], lines[2 + 2 * k]) for k, d in enumerate(around)
    ]  # fmt: skip
    return Sensitivities(tuple(sorted(each, key=lambda s: -abs(s.load or 0.0))))


def _sensitivity(
    d: Dimension, base: Mapping[str, Any], less: Mapping[str, Any], more: Mapping[str, Any]
) -> Sensitivity:
    points = [
        (value, line)
        for value, line in (
            (float(less["value"]), less), (d.value, base), (float(more["value"]), more),
        )
        if _number(line.get("load_N")) is not None
    ]  # fmt: skip
    if len(points) < 2:
        told_why = (str(x["reason"]) for x in (base, less, more) if x.get("reason"))
        reason = next(told_why, "nothing gave, so no load changes")
        return Sensitivity(d, None, None, (), reason)
    ends = (points[0], points[-1])
    modes = tuple(str(line["mode"]) for _, line in ends)
    return Sensitivity(d, _slope(ends, "load_N"), _slope(ends, "offset_load_N"), modes)


def _slope(ends: tuple[Any, Any], column: str) -> float | None:
    (x0, line0), (x1, line1) = ends
    y0, y1 = _number(line0.get(column)), _number(line1.get(column))
    if y0 is None or y1 is None:
        return None
    return math.log(y1 / y0) / math.log(x1 / x0)


def _number(value: Any) -> float | None:
    if value is None or not math.isfinite(float(value)) or float(value) <= 0.0:
        return None
    return float(value)
