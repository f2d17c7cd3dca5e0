"""Simulates a large sweep: its plan, rows, resume, table and map, with stand-ins for the solves.

Run by the environment's Python: `.venv/bin/python scripts/scale.py [JOINTS] [WORKERS]`, by default
100,000 joints. The first tenth goes through a scheduler with 64 threads for the stand-in; then the
sweep is killed (kill -9), and resumed in one process, as fast as the store goes. Prints seconds,
rates and memory.
"""

from __future__ import annotations

import math
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path
from resource import RUSAGE_SELF, getrusage
from typing import Any

import fejoint
from fejoint.output.pictures import theme as look
from fejoint.studies.sweeps import maps, store
from fejoint.studies.sweeps.plan import Plan
from fejoint.studies.sweeps.run import run
from fejoint.studies.sweeps.variation import parse

CASE = Path(__file__).parent.parent / "cases" / "demo" / "hard-pin.toml"
KILLED_AFTER = 0.1
"""Share of the joints after which the sweep is killed."""
SHARED = 4
"""Workers that share the threads: one thread each would cost 18 ms of CPU a joint by itself."""
LIMIT = 1e9
"""Bytes that the sweeping process may take."""


def stand_in(case: Mapping[str, Any], settings: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row as wide as a solved one, from the dimensions alone; made up."""
    ear, pin = case["ear"][0], case["pin"]
    hole = 300.0 * ear["thickness"] * ear["edge_distance"] ** 0.5 * ear["width"] ** 0.3
    hole *= (4.1 / ear["hole"]) ** 0.5
    bend = 130.0 * pin["diameter"] ** 3
    both = (("hole elongation", "ear", hole), ("pin bending", "pin", bend))
    (mode, part, load), (after, _, later) = sorted(both, key=lambda row: row[2])
    row: dict[str, Any] = {f"measure_{k}_N": load * (1.0 + 0.01 * k) for k in range(25)}
    return row | {
        "mode": mode, "part": part, "load_N": load, "next_mode": after,
        "margin_to_next": later / load - 1.0, "offset_load_N": hole, "finished": True,
        "stopped_because": "asked stop reached", "reused": "", "root": math.sqrt(load),
    }  # fmt: skip


def plan(joints: int) -> Plan:
    """Return a grid of about so many joints over three dimensions of the demo."""
    side = max(2, round(math.sqrt(joints / 10)))
    texts = (f"ear.hole=4.05:4.6:{side} mm", f"ear.edge_distance=5:9:{side} mm",
             "ear.width=12:16:10 mm")  # fmt: skip
    return Plan(fejoint.load(CASE), tuple(parse(text) for text in texts))


def peak() -> float:
    """Return the most memory this process has had, bytes."""
    return getrusage(RUSAGE_SELF).ru_maxrss * 1024.0


def cluster(workers: int, where: Path) -> None:
    """Serve a scheduler with workers until ended."""
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=SHARED,
        threads_per_worker=max(1, workers // SHARED),
        processes=False,
        dashboard_address=":0",
        protocol="tcp://",
        host="127.0.0.1",
    ) as made:
        where.with_suffix(".part").write_text(made.scheduler_address)
        where.with_suffix(".part").rename(where)
        signal.pause()


def swept(joints: int, folder: Path, address: str | None) -> None:
    """Sweep or resume, through a scheduler or in this process, and tell how it went."""
    begun, first, spent, cpu = time.monotonic(), 0.0, 0.0, 0.0
    keep = store.Store.keep

    def timed(self: store.Store, key: str, row: dict[str, Any]) -> None:
        nonlocal first, spent, cpu
        before, busy = time.monotonic(), time.thread_time()
        first = first or before - begun
        keep(self, key, row)
        spent += time.monotonic() - before
        cpu += time.thread_time() - busy

    store.Store.keep = timed  # type: ignore[method-assign]
    table = run(
        plan(joints),
        {},
        model=stand_in,
        folder=folder,
        workers=0,
        scheduler=address,
        most=10 * joints,
    )
    states = table.frame["state"].value_counts().to_dict()
    print(f"  {table.known:,} known, {table.solved:,} solved: {states}")
    print(f"  first row after {first:.1f} s, all after {table.seconds:.0f} s")
    print(f"  the store alone takes {table.solved / spent:,.0f} rows a second", end="")
    print(f" ({table.solved / cpu:,.0f} a second of its own CPU)")
    rate = table.solved / (table.seconds - first)
    print(f"  with the stand-in and the building of cases {rate:,.0f} rows a second")
    print(f"  memory of the sweeping process {peak() / 1e6:,.0f} MB at most", flush=True)
    assert set(states) == {"solved"}
    assert peak() < LIMIT


def drawn(folder: Path) -> None:
    """Read the table and draw its map."""
    begun = time.monotonic()
    frame = store.read(folder)
    read = time.monotonic() - begun
    begun = time.monotonic()
    x, y = "ear.hole_mm", "ear.edge_distance_mm"
    path = look.save(maps.draw(frame, x, y, others={"ear.width_mm": 14.0}), folder / "map.png")
    seconds = time.monotonic() - begun
    print(f"  table of {len(frame):,} rows read in {read:.1f} s, map drawn in {seconds:.1f} s")
    sizes = ", ".join(f"{p.name} {p.stat().st_size / 1e6:.1f} MB" for p in sorted(folder.iterdir()))
    print(f"  {sizes}; memory {peak() / 1e6:,.0f} MB at most", flush=True)
    assert path.is_file()
    assert peak() < LIMIT


def kept(folder: Path) -> int:
    """Return how many rows the store of a folder holds."""
    import sqlite3
    from contextlib import closing

    if not (folder / store.FILE).is_file():
        return 0
    with closing(sqlite3.connect(folder / store.FILE, timeout=60.0)) as file:
        try:
            return int(file.execute("select count(*) from found").fetchone()[0])
        except sqlite3.OperationalError:  # not made yet
            return 0


def main(joints: int, workers: int) -> None:
    """Run every part in a process of its own."""
    own = [sys.executable, __file__]
    folder = Path(tempfile.mkdtemp(prefix="fejoint-scale-"))
    where = folder / "address"
    # a scheduler complains at length of a client that was killed
    serving = subprocess.Popen(
        [*own, "cluster", str(workers), str(where)], start_new_session=True,
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        while not where.exists():
            time.sleep(0.2)
        sweep = [*own, "sweep", str(joints), str(folder / "out"), where.read_text()]
        print(f"{joints:,} joints, a scheduler with {workers} threads, killed:", flush=True)
        begun = time.monotonic()
        first = subprocess.Popen(sweep)
        while first.poll() is None and kept(folder / "out") < 1:
            time.sleep(0.2)
        print(f"  planned, and the first row kept, after {time.monotonic() - begun:.0f} s")
        begun, had = time.monotonic(), kept(folder / "out")
        while first.poll() is None and kept(folder / "out") < KILLED_AFTER * joints:
            time.sleep(0.5)
        first.kill()
        first.wait()
        rate = (kept(folder / "out") - had) / (time.monotonic() - begun)
        print(f"  through the scheduler {rate:,.0f} rows a second", flush=True)
        print("resumed in one process:", flush=True)
        subprocess.run(sweep[:-1], check=True)
        print("read again:", flush=True)
        subprocess.run([*own, "draw", str(folder / "out")], check=True)
    finally:
        os.killpg(serving.pid, signal.SIGKILL)
        serving.wait()
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    what, *rest = sys.argv[1:] or ["100000"]
    if what == "cluster":
        cluster(int(rest[0]), Path(rest[1]))
    elif what == "sweep":
        swept(int(rest[0]), Path(rest[1]), *(rest[2:] or [None]))
    elif what == "draw":
        drawn(Path(rest[0]))
    else:
        main(int(what), int(rest[0]) if rest else 64)
