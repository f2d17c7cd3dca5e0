"""Real processes in hostile surroundings: full and read-only disks, other users, lost modules."""

from __future__ import annotations

import json
import os
import resource
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import pytest

from fejoint.analysis.joint_odds import surer
from fejoint.output import result_files
from support import DEMO, ROOT

REFINE = ("--refine", "0.35")
SOON = 'stop_displacement = "0.3 mm"'
PYTHON = (sys.executable, "-m", "fejoint.cli.main")
SECONDS = 120.0


def cheap_text() -> str:
    """Return the demo's case with its pull stopped soon: 1 s of CPU at refine 0.35."""
    return DEMO.read_text(encoding="utf-8").replace('angle = "0 deg"', f'angle = "0 deg"\n{SOON}')


def told_in_one_line(err: str) -> str:
    """Return what a process said on standard error, which must be one line and no traceback."""
    lines = [line for line in err.splitlines() if line.strip()]
    assert len(lines) == 1, err
    assert "Traceback" not in err
    return lines[0]


def surroundings(**changed: str | None) -> dict[str, str]:
    """Return the environment of a process, single-threaded, with variables changed or taken out."""
    environment = os.environ | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    environment["PYTHONPATH"] = os.pathsep.join(
        [str(ROOT), *filter(None, [os.environ.get("PYTHONPATH")])]
    )
    for name, value in changed.items():
        if value is None:
            environment.pop(name, None)
        else:
            environment[name] = value
    return environment


def fejoint(
    *words: object,
    env: Mapping[str, str] | None = None,
    command: Sequence[str] = PYTHON,
    **options: object,
) -> subprocess.CompletedProcess[str]:
    """Run the command line as a process of its own."""
    return subprocess.run(
        [*command, *map(str, words)],
        env=dict(env) if env is not None else surroundings(),
        stdin=subprocess.DEVNULL,
        stdout=options.pop("stdout", subprocess.PIPE),  # type: ignore[call-overload]
        stderr=subprocess.PIPE,
        encoding="utf-8",
        errors="replace",
        timeout=SECONDS,
        check=False,
        **options,
    )


def can_mount() -> bool:
    """Whether a process may have mounts of its own here."""
    if shutil.which("unshare") is None:
        return False
    tried = subprocess.run([*ALONE, "mount -t tmpfs none /mnt"], capture_output=True, check=False)
    return tried.returncode == 0


ALONE = ("unshare", "--map-root-user", "--mount", "sh", "-c")

_ON_OWN_DISK = """
set -e
folder=$1 size=$2 way=$3 after=$4
shift 4
cp -a "$folder" "$after"
mount -t tmpfs -o "size=$size" none "$folder"
cp -a "$after/." "$folder"
rm -r "$after"
[ "$way" = rw ] || mount -o "remount,$way" "$folder"
set +e
"$@"
code=$?
cp -a "$folder" "$after"
exit $code
"""
"""Runs a command while a folder lies on a disk of its own; keeps a copy of it as it was left.

The mounts end with the process, whatever ends it.
"""


def on_own_disk(
    folder: Path,
    *words: object,
    kilobytes: int = 100_000,
    read_only: bool = False,
    **options: object,
) -> tuple[subprocess.CompletedProcess[str], Path]:
    """Run the command line with a folder on a small or read-only disk.

    Returns
    -------
    done, after
        The ended process, and a copy of the folder as it left it.
    """
    after = folder.parent / f"{folder.name}-after"
    shutil.rmtree(after, ignore_errors=True)
    way = "ro" if read_only else "rw"
    wrapped = [*ALONE, _ON_OWN_DISK, "sh", str(folder), f"{kilobytes}k", way, str(after), *PYTHON]
    return fejoint(*words, command=wrapped, **options), after


def file_limit(size: int) -> Callable[[], None]:
    """Let no file of this process grow beyond a size, which fails as on a full disk.

    Returns
    -------
    callable
        Takes the limit away again.
    """
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))

    def back() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, handler)

    return back


def check_quiet(done, folder: Path, answer) -> None:
    """Check that a pull said next to nothing, and answered what it answers elsewhere."""
    assert len(done.stderr.splitlines()) <= 1, done.stderr
    assert "Traceback" not in done.stderr
    found = result_files.read_answer(folder)
    here = json.loads(surer(answer).to_json())
    for key in ("verdict", "events", "curve", "pin"):
        same_to_rounding(found[key], here[key])


def same_to_rounding(one, other) -> None:
    """Check that two JSON values are equal but for the last digits of their numbers."""
    if isinstance(one, dict):
        assert one.keys() == other.keys()
        for key in one:
            same_to_rounding(one[key], other[key])
    elif isinstance(one, list):
        assert len(one) == len(other)
        for a, b in zip(one, other, strict=True):
            same_to_rounding(a, b)
    elif isinstance(one, float):
        assert one == pytest.approx(other, rel=1e-6, abs=1e-9)
    else:
        assert one == other
