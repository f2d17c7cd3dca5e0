"""Files read and written: plain ones only and never more than expected; whole or not at all."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import stat
import tempfile
import time
from pathlib import Path

from fejoint.errors import DISK_FULL, BadInput, Fault


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


def write_atomically(path: Path, text: str | bytes) -> None:
    """Write a file whole or not at all: beside it first, then in its place.

    Raises
    ------
    BadInput
        If the file cannot be written; nothing is left behind.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as error:
        raise unwritable(path, error) from error
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode() if isinstance(text, str) else text)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, _ORDINARY)
        os.replace(name, path)
    except BaseException as error:
        Path(name).unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise unwritable(path, error) from error
        raise


def _ordinary() -> int:
    """Return the permissions of a new file: the process tells its mask only by changing it."""
    umask = os.umask(0)
    os.umask(umask)
    return 0o666 & ~umask


_ORDINARY = _ordinary()  # once, while nothing else can be writing


LEFT = 3600.0
"""Seconds after which a file that was never finished is taken for one of a killed process."""

_UNFINISHED = re.compile(r"\.[^.].*\.(json|vtu|png|svg|pdf|gif|html|csv|parquet)\.[a-z0-9_]{8}")
"""Names under which files are written before they take their place."""


def make_ready(folder: Path) -> None:
    """Make a folder for results and see that it takes files, before anything long is begun.

    What a killed process left unfinished there is removed.

    Raises
    ------
    BadInput
        If it cannot be made, or takes no files.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise unwritable(folder, error) from error
    for path in folder.iterdir():
        with contextlib.suppress(OSError):
            if _UNFINISHED.fullmatch(path.name) and time.time() - path.lstat().st_mtime > LEFT:
                shutil.rmtree(path) if path.is_dir() else path.unlink()


def unwritable(path: Path, error: OSError) -> BadInput:
    """Return the error that says which file or folder cannot be written, and why."""
    full = error.errno in DISK_FULL
    mend = "make room, or choose another --out" if full else "choose another --out"
    reason = error.strerror or str(error)
    return BadInput(Fault(str(path), "", f"cannot be written ({reason})", mend))
