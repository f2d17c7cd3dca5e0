"""What the machine, not the input, did to a command: told in one line, with what mends it."""

from __future__ import annotations

from fejoint.errors import DISK_FULL, BadInput, SolveStopped


def told(error: BaseException) -> tuple[str, int] | None:
    """Return the line and the exit code for an error of the machine.

    Returns
    -------
    (str, int) or None
        None for an error that no machine makes: it is a fault of the program.
    """
    if isinstance(error, MemoryError):
        line = "the memory is used up: take a smaller --refine, or fewer --workers"
        return line, SolveStopped.exit_code
    if type(error).__module__ == "sqlite3":
        line = f"the rows of the sweep cannot be kept ({error}); make room, or choose another --out"
        return line, BadInput.exit_code
    if isinstance(error, OSError) and error.errno in DISK_FULL:
        what = error.filename or "the output"
        line = f"{what}: cannot be written ({error.strerror}); make room, or write elsewhere"
        return line, BadInput.exit_code
    if isinstance(error, ImportError) or (isinstance(error, OSError) and error.errno is None):
        return _not_loaded(error), SolveStopped.exit_code
    if isinstance(error, OSError):
        what = f"{error.filename}: " if error.filename else ""
        return f"{what}{error.strerror}", BadInput.exit_code
    return None


def _not_loaded(error: Exception) -> str:
    """Tell which library cannot be loaded; the dynamic loader's errors bear no number."""
    try:
        from fejoint.system.system_libraries import install_line, missing_libraries

        missing = missing_libraries()
    except (ImportError, MemoryError):  # too little memory is left even for this
        missing = ()
    if missing:
        return f"missing system libraries {', '.join(missing)}: {install_line(missing)}"
    reason = " ".join(str(error).split())
    return f"{reason}; `fejoint doctor` tells what mends it"
