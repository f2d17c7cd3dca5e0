"""gmsh opened for one mesh at a time (the one module that imports it)."""

from __future__ import annotations

import ctypes
import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

_TURN = threading.RLock()
"""gmsh has one global model: whoever holds this meshes, other threads wait their turn."""

if hasattr(os, "register_at_fork"):
    # a fork waits for the mesh in hand, so that the child finds the mesher idle and free
    os.register_at_fork(
        before=_TURN.acquire, after_in_parent=_TURN.release, after_in_child=_TURN.release
    )


@contextmanager
def session() -> Iterator[Any]:
    """Open gmsh for one mesh: one thread (with two, equal input gave unequal meshes), silent."""
    import gmsh

    with _TURN:
        opened = not gmsh.isInitialized()
        if opened:
            with _signals_as_they_are():
                gmsh.initialize(readConfigFiles=False, interruptible=False)
        try:
            gmsh.model.add("fejoint")
            for option, value in (
                ("General.Terminal", 0),
                ("General.NumThreads", 1),
                ("Mesh.Algorithm", 6),
                ("Mesh.MeshSizeExtendFromBoundary", 0),
                ("Mesh.MeshSizeFromPoints", 0),
                ("Mesh.MeshSizeFromCurvature", 0),
            ):
                gmsh.option.setNumber(option, value)
            yield gmsh
        finally:
            if opened:
                gmsh.finalize()
            else:
                gmsh.model.remove()


@contextmanager
def _signals_as_they_are() -> Iterator[None]:
    """Put back the handlers that gmsh takes away: of a broken pipe, and of being asked to end.

    Through Python's C interface, since `signal.signal` serves the main thread only.
    """
    get, put = ctypes.pythonapi.PyOS_getsig, ctypes.pythonapi.PyOS_setsig
    get.argtypes, put.argtypes = (ctypes.c_int,), (ctypes.c_int, ctypes.c_void_p)
    get.restype = put.restype = ctypes.c_void_p
    names = (signal.SIGTERM, getattr(signal, "SIGPIPE", None))
    before = [(number, get(number)) for number in names if number is not None]
    yield
    for number, handler in before:
        put(number, handler)
