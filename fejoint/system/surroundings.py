"""What the doctor finds around the program: threads asked for, a display, room on the disks."""

from __future__ import annotations

import os
import re
import shutil
import sys
import tempfile
from pathlib import Path

from fejoint.system.finding import Finding
from fejoint.system.processes import THREADS, cores

LOW, TOO_LOW = 500e6, 20e6
"""Bytes below which a disk is called low, and below which nothing can be worked on."""
_X_SOCKETS = Path("/tmp/.X11-unix")


def threads_finding() -> Finding:
    """Return whether the numbers of threads that are asked for can be had."""
    most = cores()
    asked = {name: os.environ[name] for name in THREADS if os.environ.get(name)}
    wrong = [
        name for name, text in asked.items() if not (text.isdecimal() and 1 <= int(text) <= most)
    ]
    if not wrong:
        said = ", ".join(f"{name}={text}" for name, text in asked.items()) or "none asked for"
        return Finding("threads", True, f"{said}; {most} cores", needed=False)
    said = ", ".join(f"{name}={asked[name]}" for name in wrong)
    detail = f"{said}: must be a whole number from 1 to {most}, the cores here"
    return Finding("threads", False, detail, f"unset {' '.join(wrong)}", needed=False)


def display_finding() -> Finding:
    """Return whether there is a display: nothing but a browser of the page needs one."""
    there = "pictures are drawn off screen; `fejoint page` prints its address"
    if not sys.platform.startswith("linux"):
        return Finding("display", True, "the system's own", needed=False)
    name = os.environ.get("DISPLAY", "") or os.environ.get("WAYLAND_DISPLAY", "")
    if not name:
        return Finding("display", False, f"no display: {there}", needed=False)
    local = re.fullmatch(r":(\d+)(?:\.\d+)?", name)
    if local and not (_X_SOCKETS / f"X{local[1]}").exists():
        detail = f"DISPLAY is {name}, and there is no such display: {there}"
        return Finding("display", False, detail, "unset DISPLAY", needed=False)
    return Finding("display", True, name, needed=False)


def disk_finding() -> Finding:
    """Return whether the disks that are written to have room."""
    free = {}
    for place in (Path.cwd(), Path(tempfile.gettempdir())):
        try:
            free[str(place)] = float(shutil.disk_usage(place).free)
        except OSError:
            free[str(place)] = 0.0
    fullest, least = min(free.items(), key=lambda each: each[1])
    detail = f"{least / 1e9:.1f} GB free in {fullest}"
    if least >= LOW:
        return Finding("room on the disk", True, detail, needed=False)
    detail = f"{least / 1e6:.0f} MB free in {fullest}: a pull's files take some 5 MB"
    mend = "make room there" + ("" if fullest == str(Path.cwd()) else ", or set TMPDIR")
    return Finding("room on the disk", False, detail, mend, needed=least < TOO_LOW)
