"""The bytes of a file that someone named: of a plain file only, and never more than expected."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from fejoint.errors import BadInput, Fault


def read(path: Path, most: int, too_large: Fault, mend: str) -> bytes:
    """Return the bytes of a file.

    A pipe or a device may never end, and opening a pipe may never return: neither is waited for.

    Parameters
    ----------
    path : Path
    most : int
        Bytes that it may have; a larger one is not read.
    too_large : Fault
        What to say of a larger one.
    mend : str
        What to name instead of a folder, a pipe or a device.

    Raises
    ------
    BadInput
        If it is no plain file, or too large.
    OSError, ValueError
        If it cannot be opened, or its name can be that of no file.
    """
    descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | _BINARY)
    try:
        found = os.fstat(descriptor)
        if stat.S_ISDIR(found.st_mode):
            raise BadInput(Fault(str(path), "", "is a folder", mend))
        if not stat.S_ISREG(found.st_mode):
            raise BadInput(Fault(str(path), "", "is no plain file but a pipe or a device", mend))
        if found.st_size > most:
            raise BadInput(too_large)
        with os.fdopen(descriptor, "rb", closefd=False) as file:
            raw = file.read(most + 1)  # a file may grow, and those of /proc tell no size
    finally:
        os.close(descriptor)
    if len(raw) > most:
        raise BadInput(too_large)
    return raw


_BINARY = getattr(os, "O_BINARY", 0)
