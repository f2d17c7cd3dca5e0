"""Ctrl-C ends the program without a word at any moment, from the first import on.

While modules are loaded nothing is half done: the signal then ends the process at once. Else it
is a KeyboardInterrupt, by which solvers keep what they have and files are not left unfinished.
"""

from __future__ import annotations

import signal
import sys
from types import FrameType
from typing import Any


def end_quietly() -> None:
    """Let the signal end the process, if this process is the command line and may be ended so.

    A program that imports the command line keeps its own handler, and one that was started with
    the signal ignored goes on ignoring it.
    """
    name = sys.argv[0].replace("\\", "/").rpartition("/")[2] if sys.argv else ""
    ours = name.partition(".")[0] == "fejoint" or "fejoint.cli.main" in sys.orig_argv
    if ours and signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_DFL)


def handle() -> None:
    """Turn the signal into KeyboardInterrupt, except while a module is being imported."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_DFL:
        signal.signal(signal.SIGINT, _interrupted)
        sys.unraisablehook = _unraisable


def die() -> None:
    """End the process by the signal, as a shell expects."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    signal.raise_signal(signal.SIGINT)


def _interrupted(number: int, frame: FrameType | None) -> None:
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            die()
        frame = frame.f_back
    raise KeyboardInterrupt


def _unraisable(found: Any) -> None:
    if isinstance(found.exc_value, KeyboardInterrupt):  # in a destructor, where none can catch it
        die()
    sys.__unraisablehook__(found)
