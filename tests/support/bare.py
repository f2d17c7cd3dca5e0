"""The kernel's scalar functions as bare Python runs them, beside the compiled ones."""

from __future__ import annotations

import sys
from functools import lru_cache
from importlib import import_module
from types import ModuleType
from unittest.mock import patch

import fejoint.kernel
from fejoint.kernel import compiled

MODULES = (
    "bearing_pass", "closest_point", "contact_pass", "finite_strain", "leaning_pass", "metal_pass",
    "plane_strain", "plane_stress", "sparse_pass",
)  # fmt: skip
SOLID = ("brick_pass", "rigid_pass")
"""Those of the solid ear, compared with closed forms and differences alone."""


@lru_cache
def bare(name: str) -> ModuleType:
    """Import a module of the kernel, and all that it calls, as where numba is missing."""
    before = {m: import_module(f"fejoint.kernel.{m}") for m in MODULES}
    for module in MODULES:
        del sys.modules[f"fejoint.kernel.{module}"]
    try:
        with patch.object(compiled, "available", lambda: False):
            return import_module(f"fejoint.kernel.{name}")
    finally:
        for module, loaded in before.items():
            sys.modules[f"fejoint.kernel.{module}"] = loaded
            setattr(fejoint.kernel, module, loaded)


def bare_load(module: str, name: str) -> compiled.Kernel:
    """Stand in for `compiled.load`."""
    function: compiled.Kernel = getattr(bare(module), name)
    return function
