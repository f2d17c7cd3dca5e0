"""Worker processes: how each starts, how many threads it uses, and a pool that outlives lost ones.

Nothing heavy is imported here: a worker sets its number of threads before the numerical libraries
come in.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import connection, get_context, parent_process, resource_tracker
from typing import Any

from fejoint.errors import SolveStopped

Submit = Callable[..., "Future[Any]"]
"""Takes a function of a module and its arguments; the future raises what the function raises."""

THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")
ATTEMPTS = 2
"""Times that a job is tried if its process is lost over it."""


class ProcessLost(SolveStopped):
    """A job took its process with it, time and again."""


class NoProcess(SolveStopped):
    """No worker process could be started."""


def cores() -> int:
    """Return the number of cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def begin(ended: connection.Connection | None = None) -> None:
    """Make this process a worker: of one thread, deaf to Ctrl-C, and gone when its parent is.

    Parameters
    ----------
    ended : Connection, optional
        At the first word from it the process ends at once, whatever it does.
    """
    # a terminal sends Ctrl-C to every process: the first one sees to it
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.environ.update(dict.fromkeys(THREADS, "1"))
    if "numpy" in sys.modules:  # a script that starts workers is imported by them first
        from threadpoolctl import threadpool_limits

        threadpool_limits(1)
    parent = parent_process()
    watched = [link for link in (ended, parent and parent.sentinel) if link is not None]
    threading.Thread(target=_end_with, args=(watched,), daemon=True).start()


def _end_with(watched: list[Any]) -> None:
    connection.wait(watched)
    os._exit(1)


@contextmanager
def holding_ctrl_c() -> Iterator[None]:
    """Hold Ctrl-C back from this thread; processes that it starts meanwhile hear none either.

    One that comes meanwhile is not lost: the main thread has it, now or afterwards.
    """
    if not hasattr(signal, "pthread_sigmask"):  # pragma: no cover - Windows
        yield
        return
    resource_tracker.ensure_running()  # it would lift the mask as it starts
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def pool(processes: int) -> Iterator[Submit]:
    """Return how to hand out work: to so many processes, or with none of them to this one.

    A job that is lost with its process (killed, out of memory) is tried once more in a new one;
    the jobs of the other processes do not notice. Left by an exception, the pool ends what still
    runs; else it waits for it.

    Parameters
    ----------
    processes : int
        With 0 a job is done here as it is handed out.

    Raises
    ------
    ProcessLost, NoProcess
        From a job's future: if it took its process with it twice, or none could be started.
    """
    if processes < 1:
        yield _here
        return
    ended, end = get_context("spawn").Pipe(duplex=False)
    seats = _Seats(ended)
    with ended, end, ThreadPoolExecutor(processes) as threads:
        try:
            yield lambda work, *arguments: threads.submit(seats.run, work, arguments)
        except BaseException:
            seats.closing = True
            threads.shutdown(wait=False, cancel_futures=True)
            end.send(None)
            raise
        finally:
            threads.shutdown()
            for executor in seats.executors:
                executor.shutdown()


class _Seats:
    """A process for each thread that has work for one.

    One process a pool of its own: when it is lost, it is plain which job took it away.
    """

    def __init__(self, ended: connection.Connection) -> None:
        self._ended = ended
        self._own = threading.local()
        self.executors: list[ProcessPoolExecutor] = []
        self.closing = False

    def run(self, work: Callable[..., Any], arguments: tuple[Any, ...]) -> Any:
        for _ in range(ATTEMPTS):
            executor = self._executor()
            try:
                return executor.submit(work, *arguments).result()
            except BrokenProcessPool:
                executor.shutdown()
                self._own.executor = None
                self.executors.remove(executor)
            if self.closing:
                break
        message = f"lost with its process, {ATTEMPTS} times over"
        raise ProcessLost(message)

    def _executor(self) -> ProcessPoolExecutor:
        """Return this thread's process, started where there is none."""
        executor: ProcessPoolExecutor | None = getattr(self._own, "executor", None)
        if executor is not None:
            return executor
        # spawned: gmsh and MKL do not survive a fork
        executor = ProcessPoolExecutor(
            1, mp_context=get_context("spawn"), initializer=begin, initargs=(self._ended,)
        )
        try:
            with holding_ctrl_c():
                first = executor.submit(os.getpid)
            first.result()
        except RuntimeError as error:  # it broke, or this process is being started so itself
            executor.shutdown()
            message = (
                "no worker process can be started; a script that asks for some needs "
                '`if __name__ == "__main__":` around its calls'
            )
            raise NoProcess(message) from error
        self._own.executor = executor
        self.executors.append(executor)
        return executor


def _here(work: Callable[..., Any], *arguments: Any) -> Future[Any]:
    future: Future[Any] = Future()
    try:
        future.set_result(work(*arguments))
    except Exception as error:
        future.set_exception(error)
    return future


_limiting = threading.Lock()
_limited: list[Any] = []
"""Of each solve under way, what gives the libraries their threads back: the first one's does."""


@contextmanager
def one_thread() -> Iterator[None]:
    """Let linear algebra use one thread: sums of several differ in their last digits.

    The setting is the process's: of several threads within, the last to leave gives it back.
    """
    from threadpoolctl import OpenBLASController, threadpool_limits

    with _limiting:
        _limited.append(_limited[0] if _limited else threadpool_limits(1))
    try:
        yield
    finally:
        with _limiting:
            limits = _limited.pop()
            if not _limited:
                # from its version 3.8 on it heeds the thread that has set the limit, and no other
                clear = getattr(OpenBLASController, "clear_controlling_thread", lambda **_: None)
                clear(force=True)
                limits.restore_original_limits()
                clear(force=True)
