"""What an answer cost, and with which versions it was made."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.metadata import PackageNotFoundError, version


def versions() -> dict[str, str]:
    """Return the versions of this package and of what it computes with."""
    from fejoint.kernel import compiled
    from fejoint.kernel.linear import LinearSolver

    found = installed()
    used = {
        "numba": compiled.available(),
        "pypardiso": LinearSolver(symmetric=True).backend == "pardiso",
    }
    for name in used:
        if not used[name] and found[name] != "not installed":
            found[name] += " (not used)"
    return found


def installed() -> dict[str, str]:
    """Return the versions of this package and of what it may compute with, used or not."""
    found = {}
    for name in ("fejoint", "numpy", "scipy", "scikit-fem", "gmsh", "pypardiso", "numba"):
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found


@dataclass
class Clock:
    """CPU seconds by phase."""

    seconds: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def phase(self, name: str) -> Iterator[None]:
        """Count the CPU time of a block under a name."""
        start = time.process_time()
        try:
            yield
        finally:
            spent = time.process_time() - start
            self.seconds[name] = self.seconds.get(name, 0.0) + spent

    def move(self, seconds: float, source: str, to: str) -> None:
        """Count seconds under another name; `source` is closed later."""
        self.seconds[source] = self.seconds.get(source, 0.0) - seconds
        self.seconds[to] = self.seconds.get(to, 0.0) + seconds
