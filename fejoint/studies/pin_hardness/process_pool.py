"""Who solves: a few processes of one thread each, or this one."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import active_children, get_context
from typing import Any

Submit = Callable[..., Future[Any]]

_BLAS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


@contextmanager
def crew(processes: int) -> Iterator[Submit]:
    """Return how to hand out work: to processes of one thread each, or to this one."""
    if processes < 2:
        yield _here
        return
    before = {name: os.environ.get(name) for name in _BLAS}
    os.environ.update(dict.fromkeys(_BLAS, "1"))
    others = active_children()
    # gmsh and MKL do not survive a fork
    pool = ProcessPoolExecutor(processes, mp_context=get_context("spawn"), initializer=_deaf)
    try:
        yield pool.submit
    except BaseException:
        # whatever ended the study, nobody waits for the solves that are still running
        for process in active_children():
            if process not in others:
                process.terminate()
        raise
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _deaf() -> None:
    """Ignore Ctrl-C, which a terminal sends to every process: the first one sees to it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _here(work: Callable[..., Any], *arguments: Any) -> Future[Any]:
    future: Future[Any] = Future()
    try:
        future.set_result(work(*arguments))
    except Exception as error:
        future.set_exception(error)
    return future
