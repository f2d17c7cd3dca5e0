"""Where joints are solved: in this process, in local ones, or on a cluster's; the same rows."""

from __future__ import annotations

import itertools
import json
import logging
import signal
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
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

LOOK = 3.0
"""Seconds between two looks at whether a scheduler has workers."""

Job = tuple[str, dict[str, Any]]
"""A row's name and its case."""

_LOG = logging.getLogger("fejoint")
_NOISY = ("distributed", "distributed.client", "distributed.comm", "tornado", "asyncio")
"""Loggers that print tracebacks where a scheduler is lost; one line of ours says it."""
_LOST = "the connection to the scheduler is lost; run it again to resume"
_START = "workers by `dask worker ADDRESS --nthreads 1`"


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
        with client(scheduler) as (connected, watch):
            _same_version(connected, model, version)
            most = lambda: WINDOW * max(1, watch.threads)  # noqa: E731 - they come and go
            yield finished(submitting(connected), jobs, *what, most)
    elif processes == 0:
        with _noting_interrupts() as came:
            yield _here(jobs, *what, came)
    else:
        processes = min(processes, len(waiting))
        with pool(processes) as submit:
            yield finished(submit, jobs, *what, lambda: WINDOW * processes)


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
def client(scheduler: str) -> Iterator[tuple[Client, Watch]]:
    """Connect to a scheduler, and watch whether it has workers.

    Raises
    ------
    BadInput
        If none answers.
    SolveStopped
        If the connection is lost.
    """
    from concurrent.futures import CancelledError

    from distributed import Client
    from distributed.comm import CommClosedError

    with _quiet():
        try:
            connected = Client(scheduler, timeout="5s", set_as_default=False)
        except (OSError, ValueError) as error:
            mend = f"start one by `dask scheduler`, {_START}"
            raise BadInput(Fault("--scheduler", scheduler, "does not answer", mend)) from error
        watch = Watch(connected, LOOK)
        try:
            yield connected, watch
        except (CancelledError, CommClosedError) as error:
            raise SolveStopped(_LOST) from error
        finally:
            watch.end()
            connected.close()


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep a lost scheduler's tracebacks from the terminal."""
    loggers = [logging.getLogger(name) for name in _NOISY]
    before = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for logger, level in zip(loggers, before, strict=True):
            logger.setLevel(level)


class Watch:
    """Looks at a scheduler's workers now and then; says when there are none, and when some came.

    Attributes
    ----------
    threads : int
        Joints that all of them can solve at once, at the last look.
    """

    def __init__(self, connected: Client, every: float) -> None:
        self.threads = 0
        self._client, self._every = connected, every
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def end(self) -> None:
        """Look no more."""
        self._over.set()
        self._thread.join()

    def _run(self) -> None:
        told = False
        while True:
            try:
                # not the list of workers: the client itself asks for an empty one now and then
                found = self._client.scheduler_info(n_workers=0)
                workers, self.threads = found["n_workers"], found["total_threads"]
            except Exception:  # whatever a lost scheduler raises: the work ends on it by itself
                return
            if told is (workers > 0):
                none = f"no workers: waiting for some; start {_START}"
                some = f"{workers} worker{'s'[: workers > 1]} now: going on"
                _LOG.warning("the scheduler has %s", some if told else none)
                told = not told
            if self._over.wait(self._every):
                return


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
    most: Callable[[], int],
) -> Iterator[tuple[str, dict[str, Any]]]:  # fmt: skip
    """Keep some joints in hand at the workers and yield rows as they finish.

    Parameters
    ----------
    submit : callable
    jobs : iterator of (str, dict)
    model, settings, version
        As in `row.attempt`.
    most : callable
        Says how many joints may be in hand now.

    Yields
    ------
    str, dict
        A row's name, and the row.
    """
    in_hand: dict[Future[Any], tuple[str, str]] = {}
    again: set[str] = set()

    def hand_out(key: str, case: str) -> None:
        in_hand[submit(_attempt, model, case, settings, version)] = key, case

    while True:
        for key, case in itertools.islice(jobs, max(0, most() - len(in_hand))):
            # as text: a scheduler looks into every number of a nested table, time and again
            hand_out(key, json.dumps(case))
        if not in_hand:
            return
        for future in wait(in_hand, return_when=FIRST_COMPLETED).done:
            name, text = in_hand.pop(future)
            if name not in again and _lost_on_the_way(future):
                again.add(name)
                hand_out(name, text)
            else:
                yield name, _row(future)


def _lost_on_the_way(future: Future[Any]) -> bool:
    """Whether a row was lost, with the worker that had found it, just as it was fetched.

    The joint is not to blame then: the scheduler's client raises whatever it stumbles over.
    """
    error = None if future.cancelled() else future.exception()
    if error is None or isinstance(error, (NoProcess, ProcessLost)):
        return False
    from distributed.scheduler import KilledWorker

    return not isinstance(error, KilledWorker)


def _attempt(model: Model, case: str, settings: Mapping[str, Any], version: str) -> dict[str, Any]:
    return one_joint.attempt(model, json.loads(case), settings, version)


def _row(future: Future[Any]) -> dict[str, Any]:
    if future.cancelled():
        raise SolveStopped(_LOST)
    error = future.exception()
    if error is None:
        row: dict[str, Any] = future.result()
        return row
    if isinstance(error, NoProcess):
        raise error
    lost = isinstance(error, ProcessLost)
    reason = str(error) if lost else f"lost with its worker, several times over: {error}"
    return {"state": "lost", "reason": reason[:500]}
