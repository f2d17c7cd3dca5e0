"""Long runs: a sweep on two processes and on a cluster that loses workers; a page never at rest.

Run by the environment's Python:

    .venv/bin/python scripts/long_run.py sweep [JOINTS] [SECONDS] [REFINE]
    .venv/bin/python scripts/long_run.py page [MINUTES]

The first pulls the same joints (2,000) on two processes and on a local scheduler with four workers
of which one is killed (kill -9) every so many seconds (60), compares the rows, and tells how memory
went. The second changes a joint on the page as fast as answers come (60 minutes; a person makes
some eight changes a minute), and tells the same. Memory is that of all processes together.
"""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median

import httpx
import psutil

import fejoint
from fejoint.studies.sweeps import row
from fejoint.studies.sweeps.run import Table

CASE = Path(__file__).parent.parent / "cases" / "demo" / "hard-pin.toml"
LOOK = 2.0
"""Seconds between two looks at memory."""
ENOUGH = 200
"""Looks below which memory is told, but not judged: caches are still being filled."""
GROWTH = 1.05
"""Median of the last quarter's memory over that of the third, beyond which it is not flat: what is
kept for joints to come takes up to half of a long run to fill."""


class Memory:
    """Looks at what a process and all that it started take, now and then."""

    def __init__(self, process: int) -> None:
        self._process, self._over = psutil.Process(process), threading.Event()
        self.taken: list[float] = []
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while not self._over.wait(LOOK):
            total = 0
            for one in (self._process, *self._process.children(recursive=True)):
                try:
                    total += one.memory_info().rss
                except psutil.NoSuchProcess:
                    continue
            self.taken.append(total / 1e6)

    def told(self) -> tuple[str, bool]:
        """Return how it went, and whether it may be called flat."""
        self._over.set()
        self._thread.join()
        n = max(1, len(self.taken) // 4)
        quarters = [median(self.taken[k * n : (k + 1) * n] or [0.0]) for k in range(4)]
        shown = ", ".join(f"{q:,.0f}" for q in quarters)
        flat = quarters[3] <= GROWTH * quarters[2]
        judged = len(self.taken) >= ENOUGH
        word = ("flat" if flat else "NOT FLAT") if judged else "too short a run to judge"
        most = max(self.taken, default=0.0)
        return f"memory by quarters {shown} MB (most {most:,.0f}): {word}", flat or not judged


def swept(joints: int, refine: float, folder: Path, scheduler: str | None) -> tuple[Table, bool]:
    """Pull a grid of joints; return whether memory was flat, too."""
    memory = Memory(psutil.Process().pid)
    columns = max(2, joints // 20)
    vary = {"ear.hole": f"4.05:4.6:{columns} mm", "ear.edge_distance": "5:9:20 mm"}
    table = fejoint.sweep(
        fejoint.load(CASE), vary, folder=folder, workers=2, scheduler=scheduler, refine=refine
    )
    states = table.frame["state"].value_counts().to_dict()
    print(f"  {len(table):,} joints in {table.seconds:.0f} s: {states}")
    said, flat = memory.told()
    print(f"  {said}", flush=True)
    return table, flat


@contextmanager
def losing_workers(every: float) -> Iterator[tuple[str, list[int]]]:
    """Start a scheduler with four workers; kill one of them every so many seconds."""
    folder = Path(tempfile.mkdtemp(prefix="fejoint-long-"))
    where = folder / "scheduler.json"
    own = [sys.executable, "-m"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    started = [
        subprocess.Popen(
            [*own, "distributed.cli.dask_scheduler", "--port", "0", "--no-dashboard",
             "--scheduler-file", str(where)], **quiet,
        )
    ]  # fmt: skip
    killed: list[int] = []
    over = threading.Event()

    def kill() -> None:
        draw = random.Random(1)
        while not over.wait(every):
            workers = [c for nanny in nannies for c in psutil.Process(nanny.pid).children()]
            if workers:
                one = draw.choice(workers)  # its nanny starts another
                one.kill()
                killed.append(one.pid)

    try:
        while not where.exists():
            time.sleep(0.1)
        nannies = [
            subprocess.Popen(
                [*own, "distributed.cli.dask_worker", "--scheduler-file", str(where),
                 "--nthreads", "1", "--no-dashboard", "--local-directory", str(folder)], **quiet,
            )
            for _ in range(4)
        ]  # fmt: skip
        started += nannies
        from distributed import Client

        with Client(scheduler_file=str(where), set_as_default=False) as client:
            client.wait_for_workers(4, timeout=120)
            address = client.scheduler.address
        threading.Thread(target=kill, daemon=True).start()
        yield address, killed
    finally:
        over.set()
        for process in reversed(started):
            process.terminate()
            process.wait(30.0)
        shutil.rmtree(folder, ignore_errors=True)


def sweeps(joints: int, every: float, refine: float) -> bool:
    """Sweep both ways; return whether the rows are equal and memory was flat."""
    with tempfile.TemporaryDirectory() as folder:
        print(f"two processes, refine {refine:g}:", flush=True)
        here, flat = swept(joints, refine, Path(folder) / "here", None)
        print(f"four workers, one killed every {every:g} s:", flush=True)
        with losing_workers(every) as (address, killed):
            there, also_flat = swept(joints, refine, Path(folder) / "there", address)
        one, other = (t.frame.drop(columns=[*row.COST, "key"]) for t in (here, there))
        same = bool(one.equals(other))
        print(f"{len(killed)} workers killed; rows {'equal' if same else 'DIFFER'}")
    return same and flat and also_flat


def changes(minutes: float) -> bool:
    """Change a joint on the page as fast as answers come; return whether all is well."""
    words = [sys.executable, "-m", "fejoint.cli.main", "page", "--no-browser", "--port", "0"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as page:
        assert page.stdout is not None
        address = page.stdout.readline().split()[-1]
        memory, draw, done, wrong = Memory(page.pid), random.Random(1), 0, 0
        with httpx.Client(base_url=address, timeout=120.0) as client:
            case = client.get("/api/start").json()["cases"][0]
            until = time.monotonic() + 60.0 * minutes
            while time.monotonic() < until:
                hole, width = draw.uniform(4.05, 4.6), draw.uniform(11.0, 18.0)
                changed = case | {
                    "ear": case["ear"] | {"hole": f"{hole:.3f} mm", "width": f"{width:.2f} mm"}
                }
                body = {"case": changed, "tab": "long", "place": "a", "detail": "coarse"}
                found = client.post("/api/pulls", json=body)
                wrong += found.status_code != 200
                if found.status_code == 200:
                    wrong += client.get(f"/api/pulls/{found.json()['id']}/scene").status_code != 200
                done += 1
        print(f"{done:,} changes in {minutes:g} minutes, {wrong} without an answer or a picture")
        said, flat = memory.told()
        print(said)
        page.terminate()
    return wrong == 0 and flat


if __name__ == "__main__":
    what, *rest = sys.argv[1:] or ["sweep"]
    given = [float(x) for x in rest]
    if what == "page":
        sys.exit(not changes(*(given or [60.0])))
    joints, every, refine = [*given, *[2000.0, 60.0, 1.0][len(given) :]]
    sys.exit(not sweeps(int(joints), every, refine))
