"""The one door to numba: scalar functions that it compiles, and that bare Python runs without it.

Every law and every loop over points stands once, as plain functions of numbers and arrays under
`jit`. Where numba is missing, or FEJOINT_COMPILED=0 forbids it, `jit` leaves the functions as they
are: the same answers, some hundred times slower. numba takes a third of a second to import, so the
modules that use `jit` are imported at the first evaluation.

Machine code is cached (beside the package, or in the user's cache folder, or where NUMBA_CACHE_DIR
says); what was damaged there is compiled anew (`code_cache`). Where none of them can be written it
is compiled anew in every process, which takes some twenty seconds.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import lru_cache, partial, wraps
from importlib import import_module
from pathlib import Path
from types import FunctionType
from typing import Any

import numpy as np

from fejoint.kernel import code_cache

Kernel = Callable[..., Any]

_OPTIONS: dict[str, Any] = {"error_model": "numpy", "fastmath": {"contract"}}
_PASSES = {
    "metal_pass": ("evaluate", "tangent", "respond"),
    "contact_pass": ("evaluate", "project"),
    "bearing_pass": ("evaluate",),
    "leaning_pass": ("evaluate",),
    "sparse_pass": ("add_up", "miss"),
}
"""Modules, and their functions that Python calls."""
_SOURCES = (
    "bearing_pass", "brick_pass", "closest_point", "compiled", "contact_pass", "finite_strain",
    "hardening", "leaning_pass", "metal_pass", "plane_strain", "plane_stress", "rigid_pass",
    "sparse_pass",
)  # fmt: skip
"""Modules whose text is in the machine code."""
_not_cached: list[str] = []
_made_anew: list[str] = []


def jit(signature: str | None = None) -> Callable[[Kernel], Kernel]:
    """Compile a function: with a signature now and cached, else as a part of what calls it."""

    def decorate(function: Kernel) -> Kernel:
        if not available():
            return function if signature is None else _quiet(function)
        from numba import njit

        if signature is None:
            return njit(forceinline=True, **_OPTIONS)(function)  # type: ignore[no-any-return]
        try:
            kept = partial(njit, cache=True, **_OPTIONS)
            made, damaged = code_cache.compiled(kept, _stamped(function), signature)
            if damaged:
                _made_anew.append(function.__name__)
            return made
        except (RuntimeError, OSError):  # no folder to cache in, or it is full
            _not_cached.append(function.__name__)
            return njit(signature, **_OPTIONS)(function)  # type: ignore[no-any-return]

    return decorate


@lru_cache
def available() -> bool:
    """Return whether numba is to be used and works here."""
    if os.environ.get("FEJOINT_COMPILED", "1") == "0":
        return False
    try:
        import_module("numba")
    except Exception:  # missing, or at odds with numpy
        return False
    return True


@lru_cache
def load(module: str, name: str) -> Kernel:
    """Return a function of one of the kernel's modules that use `jit`."""
    kernel: Kernel = getattr(import_module(f"fejoint.kernel.{module}"), name)
    return kernel


def adding_up() -> Kernel | None:
    """Return the pass that adds entries up in a matrix's data, or None for numpy."""
    return load("sparse_pass", "add_up") if available() else None


def miss() -> Kernel | None:
    """Return the pass that checks a linear solution, or None for numpy."""
    return load("sparse_pass", "miss") if available() else None


def warm() -> bool:
    """Compile and cache every kernel now; return whether they are there, and will be.

    Worth calling once after an installation: the first compilation takes some seconds, every later
    process finds it done.
    """
    for module, names in _PASSES.items():
        for name in names:
            load(module, name)
    return available() and not _not_cached


def cache_folders() -> list[Path]:
    """Return where machine code may be kept, the first choice first."""
    chosen = os.environ.get("NUMBA_CACHE_DIR")
    return [Path(chosen)] if chosen else [Path(__file__).parent / "__pycache__"]


def made_anew() -> int:
    """Return how many functions' machine code was found damaged on disk, and was replaced."""
    return len(_made_anew)


def _quiet(function: Kernel) -> Kernel:
    """Let a bare function divide by zero as the compiled one does."""

    @wraps(function)
    def call(*arguments: Any) -> Any:
        with np.errstate(all="ignore"):
            return function(*arguments)

    return call


def _stamped(function: Kernel) -> FunctionType:
    """Return the function as if written in the newest of the files that machine code is made of.

    numba's cache looks at that file's time only, but what the function calls stands in others.
    """
    assert isinstance(function, FunctionType)
    files = [Path(__file__).with_name(f"{module}.py") for module in _SOURCES]
    newest = max(files, key=lambda file: (file.stat().st_mtime, file.name))
    code = function.__code__.replace(co_filename=str(newest))
    return FunctionType(code, function.__globals__, function.__name__)
