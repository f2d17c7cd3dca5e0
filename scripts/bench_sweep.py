"""Times a sweep of 200 joints and the gain of a second process; wants a quiet machine.

Run by the environment's Python: `.venv/bin/python scripts/bench_sweep.py [JOINTS]`, JOINTS a
multiple of 20 (the grid is 10 holes, 5 edge distances and 4 hardnesses; fewer holes for fewer).
"""

from __future__ import annotations

import statistics
import sys
from pathlib import Path

import fejoint

CASE = Path(__file__).parent.parent / "cases" / "demo" / "hard-pin.toml"
SMALL = 0.5
"""Refinement of the joints by which one and two processes are compared."""


def main() -> None:
    """Print wall and CPU seconds, what was shared, and the ratio of throughputs."""
    joint = fejoint.load(CASE)
    joints = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    vary = {
        "ear.hole": f"4.05:4.5:{max(1, joints // 20)} mm",
        "ear.edge_distance": "5:9:5 mm",
        "pin.hardness": "200,300,400,500 HV",
    }
    table = fejoint.sweep(joint, vary)
    frame = table.frame
    shared = int((frame["reused"].fillna("") != "").sum())
    print(
        f"{len(frame)} joints in {table.seconds:.0f} s: {frame['state'].value_counts().to_dict()}"
    )
    print(f"CPU {frame['solve_cpu_s'].mean():.2f} s a joint; {shared} shared a face section")
    print(frame["mode"].value_counts().to_dict())
    ratios = []
    for number in range(3):
        seconds = []
        for place in range(2):
            low = 4.1 + 0.02 * number + 0.01 * place  # no joint twice: none is in a cache
            few = {"ear.hole": [low, low + 0.2], "ear.edge_distance": "5:8:12 mm"}
            found = fejoint.sweep(joint, few, refine=SMALL, workers=place + 1)
            seconds.append(found.seconds)
        ratios.append(seconds[0] / seconds[1])
    print(f"two processes over one, start-up included: {statistics.median(ratios):.2f}")


if __name__ == "__main__":
    main()
