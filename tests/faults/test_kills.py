"""Killed at any moment: no result file is torn, and the same command ends the job."""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from support.hostile import REFINE, fejoint, surroundings
from support.whole_files import read_all, unfinished

from fejoint.output import result_files

PULL, SWEEP = 1.7, 3.0
"""Seconds that the cheap pull and the cheap sweep take here; later kills find them ended."""


def begin(*words: object) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "fejoint.cli.main", *map(str, words)],
        env=surroundings(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def marks(folder: Path) -> set[tuple[str, int]]:
    """Return what tells one state of a folder from another."""
    found = set()
    for path in folder.rglob("*"):
        try:
            found.add((path.name, path.stat().st_mtime_ns))
        except FileNotFoundError:
            continue
    return found


def kill_at_random(
    dice: random.Random, folder: Path, lasts: float, writes: float, *words: object
) -> bool:
    """Kill a process at any moment of what it lasts, or every other time while it writes.

    Returns
    -------
    bool
        Whether it was killed; False if it had ended.
    """
    before, process = marks(folder), begin(*words)
    try:
        if dice.random() < 0.5:
            end = time.monotonic() + 60.0
            while process.poll() is None and marks(folder) == before and time.monotonic() < end:
                time.sleep(0.001)
            time.sleep(dice.uniform(0.0, writes))
        else:
            time.sleep(dice.uniform(0.0, lasts))
    finally:
        process.kill()
        code = process.wait()
    return code != 0


def count(draws) -> int:
    """Return 100 kills, or three where only a sample is asked for."""
    return 100 if draws(100) == 100 else 3


@pytest.mark.sampled
def test_a_killed_pull_tears_no_file(case, stored, draws, tally):
    dice, kills, late = random.Random(11), count(draws), 0
    names = sorted(path.name for path in stored.iterdir())
    old = {name: (stored / name).read_bytes() for name in names}
    for _ in range(kills):
        killed = kill_at_random(
            dice, stored, PULL, 0.1, "pull", case, *REFINE, "--out", stored, "--no-pictures"
        )
        late += not killed
        assert read_all(stored) == names
        assert result_files.read_answer(stored)["trust"]["finished"]
        for name in names[1:]:  # the same pull gives the same fields, old or new
            assert (stored / name).read_bytes() == old[name]
    tally(
        f"{kills} of {kills} kills of pull left every file whole ({late} came after its end, "
        f"{len(unfinished(stored))} hidden files were left, to be cleared away later)"
    )


@pytest.mark.sampled
def test_a_killed_sweep_tears_no_file_and_ends_when_called_again(case, tmp_path, draws, tally):
    vary = ("--vary", "ear.edge_distance=6,7 mm")

    def words(folder: Path) -> tuple[object, ...]:
        return ("sweep", case, *REFINE, "--out", folder, *vary, "--workers", 0)

    dice, kills, resumed, known = random.Random(12), count(draws), 0, 0
    left = kills
    while left:
        folder = tmp_path / f"sweep{left}"
        folder.mkdir()
        for _ in range(min(left, 5)):
            left -= 1
            kill_at_random(dice, folder, SWEEP, 1.5, *words(folder))
            read_all(folder)
        done = fejoint(*words(folder))
        assert done.returncode == 0, done.stderr
        assert "2 joints: 2 solved" in done.stdout
        assert set(read_all(folder)) >= {"rows.sqlite", "table.csv", "table.parquet"}
        resumed += 1
        known += int(done.stdout.partition("known before ")[2].partition(",")[0])
        shutil.rmtree(folder)
    tally(
        f"{kills} of {kills} kills of sweep left every file whole, {resumed} of {resumed} sweeps "
        f"ended when called again ({known} of {2 * resumed} joints were there already)"
    )
