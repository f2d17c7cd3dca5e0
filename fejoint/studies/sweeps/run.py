"""Solving a plan: here, on this machine's cores, or on a cluster; the same rows everywhere."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fejoint.analysis.plotted import Plotted
from fejoint.analysis.progress import Progress, Told
from fejoint.errors import BadInput, Fault
from fejoint.joint.model import CaseLike, load
from fejoint.studies.sweeps import row as one_joint
from fejoint.studies.sweeps import variation
from fejoint.studies.sweeps.plan import MOST, Method, Plan, Rows, all_rows, refuse_too_many
from fejoint.studies.sweeps.row import Model
from fejoint.studies.sweeps.store import Pending, Store, plan_name
from fejoint.studies.sweeps.workers import solving
from fejoint.system.processes import cores

if TYPE_CHECKING:
    import pandas as pd

FIRST_TABLES = 10.0
"""Seconds until tables are written the first time; later at every doubling of the time."""

Tell = Callable[[int, int, Mapping[str, Any]], None]
"""Called with joints done, joints in all, and the row that was finished."""


@dataclass(frozen=True, eq=False)
class Table(Plotted):
    """What a sweep found; `plot` draws a map over its first two dimensions, or a line over one.

    Attributes
    ----------
    frame : pandas.DataFrame
        A row a joint: inputs, state and reason, loads, mode, trust and cost.
    columns : tuple of str
        The varied columns.
    folder : Path or None
        Where rows and tables are.
    solved : int
        Joints solved by this call.
    known : int
        Joints that were there before it, or that equal another.
    seconds : float
        Wall time of this call.
    plan : Rows
        What was varied.
    interrupted : bool
        Whether the user stopped it; the same call goes on.
    """

    frame: pd.DataFrame
    columns: tuple[str, ...]
    folder: Path | None
    solved: int
    known: int
    seconds: float
    plan: Rows
    interrupted: bool = False
    _drawn_by = ("studies.sweeps.plots", "of_table")

    def __len__(self) -> int:
        """Return the number of joints."""
        return len(self.frame)


def sweep(
    joint: CaseLike,
    vary: Mapping[str, Any] | Sequence[str] | str,
    *,
    samples: int | None = None,
    method: Method = "latin",
    seed: int = 1,
    folder: Path | str | None = None,
    workers: int | None = None,
    scheduler: str | None = None,
    most: int = MOST,
    whole: bool = False,
    refine: float = 1.0,
    pace: float = 1.0,
    solver: str = "fastest",
    progress: Progress | None = None,
) -> Table:
    """Pull many joints that differ in some dimensions.

    Parameters
    ----------
    joint : Joint, path or mapping
        The joint that the others are made from, its case file, or the tables of one.
    vary : mapping or sequence of str
        `{"ear.hole": "4.0:5.0:11 mm", "pin.hardness": ["300 HV", "400 HV"]}`, or texts
        "ear.hole=4.0:5.0:11 mm": a grid, a list, or with `samples` a range "4.0:5.0 mm".
    samples : int, optional
        Points to spread over the ranges; the full grid without it.
    method : {"latin", "sobol", "halton"}
        How they are spread.
    seed : int
        Of the spreading.
    folder : path, optional
        Where rows and tables go, and from where an interrupted sweep goes on; memory without it.
    workers : int, optional
        Processes; one a core if left out, 0 for this process alone.
    scheduler : str, optional
        Address of a dask scheduler, such as "tcp://10.0.0.1:8786", instead of local processes.
    most : int
        Joints above which the plan is refused.
    whole : bool
        Pull every joint to the end; else until the first part has given, in half the time.
    refine, pace, solver
        As for `fejoint.pull`.
    progress : callable, optional
        Called with the phase in words, the share of the whole that is done (0 to 1, never falling;
        an estimate) and the pull that the joint has reached (N, or None).

    Returns
    -------
    Table

    Raises
    ------
    BadInput
        If a dimension, a value or the plan's size is not to be had; nothing is solved then.
    SolveStopped
        If the connection to the scheduler is lost (the same call goes on), or no process starts.

    Notes
    -----
    Local processes import the script that calls this: it needs `if __name__ == "__main__":`.

    Examples
    --------
    >>> table = sweep("cases/demo/hard-pin.toml", {"ear.hole": [4.1, 4.3]}, workers=0, refine=0.35)
    >>> len(table.frame)
    2
    """
    joint = load(joint)
    dimensions = variation.all_of(vary)
    plan = Plan(joint, dimensions, samples, method, seed)
    settings = {"refine": refine, "pace": pace, "solver": solver, "whole": whole}
    where = Path(folder) if folder is not None else None
    return run(
        plan, settings, folder=where, workers=workers, scheduler=scheduler, most=most,
        progress=telling(progress),
    )  # fmt: skip


def telling(progress: Progress | None, tell: Tell | None = None) -> Tell | None:
    """Return what tells joints done to those who hear shares, and to those who count them."""
    if progress is None:
        return tell
    told = Told(progress)

    def each(done: int, total: int, row: Mapping[str, Any]) -> None:
        load = row.get("load_N")
        told(f"joint {done} of {total}", done / total, None if load is None else float(load))
        if tell is not None:
            tell(done, total, row)

    return each


def run(
    plan: Rows,
    settings: Mapping[str, Any],
    *,
    model: Model = one_joint.solve,
    folder: Path | None = None,
    workers: int | None = None,
    scheduler: str | None = None,
    most: int = MOST,
    progress: Tell | None = None,
) -> Table:
    """Solve the joints of a plan that are not on disk yet, and return the whole table.

    Parameters
    ----------
    plan : Rows
    settings : mapping
        Passed to the model.
    model : callable
        From case and settings to a row; a function of a module, so that other processes find it.
    folder, workers, scheduler, most, progress
        As in `sweep`.

    Returns
    -------
    Table

    Raises
    ------
    BadInput
        If the plan is too large, or none of its joints can exist.
    SolveStopped
        If the connection to the scheduler is lost, or no process can be started.
    """
    start = time.perf_counter()
    processes = workers if workers is not None else cores()
    refuse_too_many(len(plan), float(settings.get("refine", 1.0)), processes, most)
    store = Store(folder)
    interrupted, solved = False, 0
    try:
        version = one_joint.version_of(model)
        store.forget_damaged()
        name = _listed(store, plan, settings, version)
        total = len(plan)
        waiting = store.pending(name)
        done = total - len(waiting)
        known = done
        jobs = ((p.key, _case(plan, p)) for p in waiting)
        tables = _TablesNowAndThen(store, name)
        try:
            with solving(jobs, model, settings, version, processes, scheduler, waiting) as rows:
                for key, row in rows:
                    store.keep(key, row)
                    solved, done = solved + 1, done + 1
                    if progress is not None:
                        progress(done, total, row)
                    tables.now_and_then()
        except KeyboardInterrupt:
            interrupted = True
        store.write_tables(name)
        seconds = time.perf_counter() - start
        frame = store.frame(name)
        return Table(frame, plan.columns, folder, solved, known, seconds, plan, interrupted)
    finally:
        store.close()


def _case(plan: Rows, pending: Pending) -> dict[str, Any]:
    case = plan.row(pending.number).case
    assert case is not None
    return case


def _listed(store: Store, plan: Rows, settings: Mapping[str, Any], version: str) -> str:
    """Check every joint of the plan and list them in the store; return the plan's name."""
    what = dict(settings)
    name = plan_name(plan.describe(), what, version)
    if store.begin(name, str(what), plan.columns, len(plan)):
        return name
    reasons: list[str] = []

    def joints() -> Iterator[tuple[int, str | None, dict[str, Any], str]]:
        for row in all_rows(plan):
            if row.case is None:
                reasons.append(row.reason)
                yield row.number, None, row.inputs, row.reason
            else:
                yield row.number, one_joint.key(row.case, what, version), row.inputs, ""

    store.list_joints(name, joints())
    if len(reasons) == len(plan):
        allowed = f"gives no joint at all: {reasons[0]}"
        raise BadInput(Fault("sweep", f"{len(plan):,} joints", allowed, "change the values"))
    return name


class _TablesNowAndThen:
    """Writes the tables while the sweep runs, ever more rarely: readable meanwhile, and cheap."""

    def __init__(self, store: Store, plan: str) -> None:
        self._store, self._plan = store, plan
        self._begun = time.monotonic()
        self._next = FIRST_TABLES

    def now_and_then(self) -> None:
        """Write them if it is time."""
        passed = time.monotonic() - self._begun
        if passed >= self._next:
            self._next = 2.0 * passed
            self._store.write_tables(self._plan)
