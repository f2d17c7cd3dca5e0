"""Where joints are solved: in this process, in local ones, or on a cluster's; the same rows."""

from __future__ import annotations

import itertools
import signal
import threading
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, wait
from contextlib import contextmanager
from types import FrameType
from typing import TYPE_CHECKING, Any

from fejoint.errors import BadInput, Fault, SolveStopped
from fejoint.studies.sweeps import row as one_joint
from fejoint.studies.sweeps.row import Model
from fejoint.studies.sweeps.store import Pending
from fejoint.system.processes import NoProcess, ProcessLost, Submit, pool

if TYPE_CHECKING:
    from distributed import Client

WINDOW = 4
"""Joints handed out per process; the rest wait here, so that memory does not grow with the plan."""

Job = tuple[str, dict[str, Any]]
"""A row's name and its case."""


@contextmanager
def solving(
    jobs: Iterator[Job], model: Model, settings: Mapping[str, Any], version: str,
    processes: int, scheduler: str | None, waiting: Sequence[Pending],
) -> Iterator[Iterator[tuple[str, dict[str, Any]]]]:  # fmt: skip
    """Yield the finished rows, from wherever they are solved."""
    what = model, dict(settings), version
    if not waiting:
        yield iter(())
    elif scheduler is not None:
        with client(scheduler) as connected:
            _same_version(connected, model, version)
            workers = len(connected.scheduler_info(n_workers=-1)["workers"])
            yield finished(submitting(connected), jobs, *what, WINDOW * max(1, workers))
    elif processes == 0:
        with _noting_interrupts() as came:
            yield _here(jobs, *what, came)
    else:
        processes = min(processes, len(waiting))
        with pool(processes) as submit:
            yield finished(submit, jobs, *what, WINDOW * processes)


def _here(
    jobs: Iterator[Job], model: Model, settings: Mapping[str, Any], version: str, came: list[int]
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Solve in this process."""
    for key, case in jobs:
        row = one_joint.attempt(model, case, settings, version)
        if came:  # a solve keeps what it has when interrupted: such a row is not whole
            raise KeyboardInterrupt
        yield key, row


@contextmanager
def _noting_interrupts() -> Iterator[list[int]]:
    """Note every Ctrl-C besides raising it, since a solve may end on it without passing it on."""
    came: list[int] = []
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or not callable(before):
        yield came
        return

    def note(number: int, frame: FrameType | None) -> None:
        came.append(number)
        before(number, frame)

    signal.signal(signal.SIGINT, note)
    try:
        yield came
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def client(scheduler: str) -> Iterator[Client]:
    """Connect to a scheduler.

    Raises
    ------
    BadInput
        If none answers.
    """
    from distributed import Client

    try:
        connected = Client(scheduler, timeout="5s", set_as_default=False)
    except (OSError, ValueError) as error:
        mend = "start one by `dask scheduler`, workers by `dask worker ADDRESS --nthreads 1`"
        raise BadInput(Fault("--scheduler", scheduler, "does not answer", mend)) from error
    try:
        yield connected
    finally:
        connected.close()


def submitting(connected: Client) -> Submit:
    """Return how to hand out work to a scheduler's workers."""
    # not pure: what a solve of the same case says may change with the code
    submit: Submit = connected.get_executor(pure=False).submit
    return submit


def _same_version(connected: Client, model: Model, version: str) -> None:
    found = connected.run(one_joint.version_of, model)
    other = {where: has for where, has in found.items() if has != version}
    if other:
        where, has = next(iter(other.items()))
        allowed = f"runs fejoint {has}, and this process {version}"
        raise BadInput(Fault("--scheduler", where, allowed, "install the same versions on both"))


def finished(
    submit: Submit, jobs: Iterator[Job], model: Model, settings: Mapping[str, Any], version: str,
    most: int,
) -> Iterator[tuple[str, dict[str, Any]]]:  # fmt: skip
    """Keep some joints in hand at the workers and yield rows as they finish.

    Parameters
    ----------
    submit : callable
    jobs : iterator of (str, dict)
    model, settings, version
        As in `row.attempt`.
    most : int
        Joints in hand.

    Yields
    ------
    str, dict
        A row's name, and the row.
    """
    names: dict[Future[Any], str] = {}
    while True:
        for key, case in itertools.islice(jobs, most - len(names)):
            names[submit(one_joint.attempt, model, case, settings, version)] = key
        if not names:
            return
        for future in wait(names, return_when=FIRST_COMPLETED).done:
            yield names.pop(future), _row(future)


def _row(future: Future[Any]) -> dict[str, Any]:
    if future.cancelled():
        message = "the connection to the scheduler is lost; the same command goes on"
        raise SolveStopped(message)
    error = future.exception()
    if error is None:
        row: dict[str, Any] = future.result()
        return row
    if isinstance(error, NoProcess):
        raise error
    lost = isinstance(error, ProcessLost)
    reason = str(error) if lost else f"lost with its worker, several times over: {error}"
    return {"state": "lost", "reason": reason[:500]}
