"""Jobs for worker processes: they note that they ran, wait, or take their process with them."""

from __future__ import annotations

import os
import time
from pathlib import Path


def note(path: str, word: str, seconds: float = 0.0) -> str:
    """Add a line to a file, wait, and return the word."""
    with Path(path).open("a") as log:
        log.write(f"{word}\n")
    time.sleep(seconds)
    return word


def die(path: str, word: str) -> None:
    """Add a line to a file and end the process."""
    note(path, word)
    os._exit(9)


def most_threads() -> int:
    """Return the most threads that a numerical library of this process uses."""
    import numpy as np
    from threadpoolctl import threadpool_info

    assert np.ones(2).sum() == 2.0
    return max(found["num_threads"] for found in threadpool_info())
