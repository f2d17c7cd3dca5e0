"""How much memory this process may still take."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path

_LIMIT_FILES = (
    ("memory.max", "memory.current"),
    ("memory/memory.limit_in_bytes", "memory/memory.usage_in_bytes"),
)
"""A container's limit and use, under the folder of control groups: version 2, then 1."""


def free_bytes() -> float | None:
    """Return the memory that this process may still take, bytes; None where nothing tells.

    The least of what the system has, what the process's own limit leaves, and what a container's
    does.
    """
    known = [*_system_free(), *_own_limit(), *_container_free()]
    return min(known) if known else None


def _system_free(proc: Path = Path("/proc")) -> Iterator[float]:
    try:
        lines = (proc / "meminfo").read_text(encoding="ascii").splitlines()
        table = dict(line.split(":", 1) for line in lines)
        yield 1024.0 * float(table["MemAvailable"].split()[0])
    except (OSError, ValueError, KeyError):
        try:
            yield float(os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE"))
        except (AttributeError, OSError, ValueError):
            return


def _own_limit(proc: Path = Path("/proc")) -> Iterator[float]:
    if sys.platform == "win32":
        return  # pragma: no cover - Windows sets no such limit
    import resource

    soft, _ = resource.getrlimit(resource.RLIMIT_AS)
    if soft == resource.RLIM_INFINITY:
        return
    try:
        pages = int((proc / "self/statm").read_text(encoding="ascii").split()[0])
    except (OSError, ValueError, IndexError):
        pages = 0
    yield max(0.0, float(soft) - pages * resource.getpagesize())


def _container_free(groups: Path = Path("/sys/fs/cgroup")) -> Iterator[float]:
    for most, used in _LIMIT_FILES:
        try:
            limit = float((groups / most).read_text(encoding="ascii"))
            now = float((groups / used).read_text(encoding="ascii"))
        except (OSError, ValueError):
            continue
        yield max(0.0, limit - now)
