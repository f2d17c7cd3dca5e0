"""Fuzz one of the parsers, bounded; an input that breaks it is left in the folder given.

python scripts/fuzz.py case|quantity|log SECONDS RUNS FOLDER
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

with atheris.instrument_imports(include=["fejoint", "tomllib"], enable_loader_override=False):
    from support import parsers


def main() -> None:
    """Fuzz until the time or the runs are over; atheris ends the process."""
    name, seconds, runs, found = sys.argv[1:]
    with tempfile.TemporaryDirectory() as grown:
        atheris.Setup(
            [
                sys.argv[0],
                f"-max_total_time={seconds}",
                f"-runs={runs}",
                "-max_len=6000",
                "-timeout=5",
                f"-artifact_prefix={found}/",
                grown,
                str(parsers.CORPUS / name),
            ],
            parsers.PARSERS[name],
        )
        atheris.Fuzz()


if __name__ == "__main__":
    main()
