"""The door to the compiled kernels: numba where it can be had, else None and plain numpy.

numba takes a third of a second to import, so nothing is imported before the first evaluation. The
machine code is kept in numba's cache (beside the package, or in the user's cache folder, or where
NUMBA_CACHE_DIR says); where none of them can be written the numpy path is taken. FEJOINT_COMPILED=0
asks for numpy.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import lru_cache
from importlib import import_module
from typing import Any

Kernel = Callable[..., Any]


def metal() -> Kernel | None:
    """Return the compiled pass over a body's elements, or None."""
    return _load("compiled_metal", "evaluate")


def metal_tangent() -> Kernel | None:
    """Return the pass that makes a body's tangent of what `metal` kept, or None."""
    return _load("compiled_metal", "tangent")


def contact() -> Kernel | None:
    """Return the compiled pass over a contact's points, or None."""
    return _load("compiled_contact", "evaluate")


def bedding() -> Kernel | None:
    """Return the compiled pass over a bedding's slices, or None."""
    return _load("compiled_bedding", "evaluate")


def adding_up() -> Kernel | None:
    """Return the pass that adds entries up in a matrix's data, or None."""
    return _load("compiled_sparse", "add_up")


def miss() -> Kernel | None:
    """Return the pass that checks a linear solution, or None."""
    return _load("compiled_sparse", "miss")


def warm() -> bool:
    """Compile and cache every kernel now; return whether they are there.

    Worth calling once after an installation: the first compilation takes some seconds, every later
    process finds it done.
    """
    return None not in (metal(), contact(), bedding(), adding_up())


@lru_cache
def _load(module: str, name: str) -> Kernel | None:
    if os.environ.get("FEJOINT_COMPILED", "1") == "0":
        return None
    try:
        kernel: Kernel = getattr(import_module(f"fejoint.kernel.{module}"), name)
    except Exception:  # numba missing, at odds with numpy, cache full or locked: numpy does it all
        return None
    return kernel
