"""Where joints are solved: in this process, in local ones, or on a cluster's; the same rows."""

from __future__ import annotations

import logging
import os
import signal
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from types import FrameType
from typing import TYPE_CHECKING, Any

from fejoint.errors import BadInput, Fault, SolveStopped
from fejoint.studies.sweeps import row as one_joint
from fejoint.studies.sweeps.row import Model
from fejoint.studies.sweeps.store import Pending

if TYPE_CHECKING:
    from distributed import Client

WINDOW = 4
"""Joints handed out per process; the rest wait here, so that memory does not grow with the plan."""

Job = tuple[str, dict[str, Any]]
"""A row's name and its case."""


def cores() -> int:
    """Return the number of cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def solving(
    jobs: Iterator[Job], model: Model, settings: Mapping[str, Any], version: str,
    processes: int, scheduler: str | None, waiting: Sequence[Pending],
) -> Iterator[Iterator[tuple[str, dict[str, Any]]]]:  # fmt: skip
    """Yield the finished rows, from wherever they are solved."""
    if not waiting:
        yield iter(())
    elif scheduler is None and processes == 0:
        with _noting_interrupts() as came:
            yield _here(jobs, model, settings, version, came)
    else:
        with client(scheduler, min(processes, len(waiting))) as connected:
            _same_version(connected, model, version)
            yield _on_workers(connected, jobs, model, settings, version)


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
def _deaf_children() -> Iterator[None]:
    """Let processes started meanwhile ignore Ctrl-C: a terminal sends it to them too."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def client(scheduler: str | None, processes: int) -> Iterator[Client]:
    """Connect to a scheduler, or start local processes and end them afterwards.

    Raises
    ------
    BadInput
        If no scheduler answers.
    """
    import dask
    from distributed import Client, LocalCluster

    if scheduler is not None:
        try:
            connected = Client(scheduler, timeout="5s", set_as_default=False)
        except (OSError, ValueError) as error:
            mend = "start one by `dask scheduler`, workers by `dask worker ADDRESS --nthreads 1`"
            raise BadInput(Fault("--scheduler", scheduler, "does not answer", mend)) from error
        try:
            yield connected
        finally:
            connected.close()
        return
    threads = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
    with dask.config.set({"distributed.comm.timeouts.connect": "30s"}), _deaf_children():
        cluster = LocalCluster(
            n_workers=processes,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            dashboard_address="127.0.0.1:0",
            memory_limit=None,
            silence_logs=logging.CRITICAL,
            env=dict.fromkeys(threads, "1"),
        )
    with cluster, Client(cluster, set_as_default=False) as connected:
        yield connected


def _same_version(connected: Client, model: Model, version: str) -> None:
    found = connected.run(one_joint.version_of, model)
    other = {where: has for where, has in found.items() if has != version}
    if other:
        where, has = next(iter(other.items()))
        allowed = f"runs fejoint {has}, and this process {version}"
        raise BadInput(Fault("--scheduler", where, allowed, "install the same versions on both"))


def _on_workers(
    connected: Client, jobs: Iterator[Job], model: Model, settings: Mapping[str, Any], version: str
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Keep a few joints in hand at every process and yield rows as they finish."""
    from distributed import as_completed

    names: dict[str, str] = {}

    def hand_out() -> Any:
        key, case = next(jobs)
        future = connected.submit(
            one_joint.attempt, model, case, dict(settings), version, key=f"joint-{key}-{id(names)}"
        )
        names[future.key] = key
        return future

    wanted = WINDOW * max(1, len(connected.scheduler_info(n_workers=-1)["workers"]))
    first = []
    for _ in range(wanted):
        try:
            first.append(hand_out())
        except StopIteration:
            break
    finished = as_completed(first, loop=connected.loop)
    for future in finished:
        key = names.pop(future.key)
        if future.cancelled():  # such a one has no exception, and its result raises one
            message = "the connection to the scheduler is lost; the same command goes on"
            raise SolveStopped(message)
        error = future.exception()
        if error is None:
            row = future.result()
        else:
            reason = f"lost with its worker, several times over: {error}"[:500]
            row = {"state": "lost", "reason": reason}
        del future
        yield key, row
        try:
            finished.add(hand_out())
        except StopIteration:
            continue
