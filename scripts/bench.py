"""Time the everyday joint against the floor of its own linear algebra, all in one run.

The floor is the number of factorisations times one factorise-and-solve of the same matrices, timed
here. Everything is CPU time of one thread; the machine's noise moves seconds, less so the ratios.
"""

# ruff: noqa: E402  thread limits are set before what reads them is imported

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

import bench_library
import numpy as np

import fejoint
from fejoint.analysis.section_cases import face_case
from fejoint.kernel import compiled
from fejoint.kernel.linear import LinearSolver
from fejoint.sections.face import pull as face
from fejoint.studies.sweeps import row

Row = dict[str, float]
ROOT = Path(__file__).resolve().parent.parent
HARD = ROOT / "cases/demo/hard-pin.toml"


def cpu(action: Callable[[], object], repeats: int = 1) -> float:
    """Return the least CPU time of an action over some repeats, s."""
    best = np.inf
    for _ in range(repeats):
        start = time.process_time()
        action()
        best = min(best, time.process_time() - start)
    return best


def factorise_and_solve(problem: face.FaceProblem, history: face.FaceHistory) -> float:
    """Return the CPU time of one factorise-and-solve of a face section's matrix, s."""
    point = history.path.points[len(history.path.points) // 2]
    before = history.path.points[len(history.path.points) // 2 - 1]
    e = problem.system.evaluate(point.z, point.multipliers, point.travel, before.states)
    solver = LinearSolver(problem.system.symmetric)
    b = np.ones(e.matrix.shape[0])
    solver.solve(e.matrix, b)
    return cpu(lambda: solver.solve(e.matrix, b), 15)


def face_row(
    sides: int, friction: float | None = None, travel: float | None = None
) -> dict[str, float]:
    """Pull the demo's ear at a number of element sides round the hole, as far as it goes or less.

    `travel` is over the hole's diameter.
    """
    joint = fejoint.load(HARD)
    if friction is not None:
        joint = joint.replace("fit.friction", friction)
    case = face_case(joint, joint.ears[0])
    stop = None if travel is None else travel * case.outline.hole
    settings = face.FaceSettings(sides=sides, stop_travel=stop)
    start_wall, start = time.perf_counter(), time.process_time()
    problem = face.build(case, settings)
    meshed = time.process_time() - start
    history = face.pull(problem, settings)
    spent, wall = time.process_time() - start, time.perf_counter() - start_wall
    one = factorise_and_solve(problem, history)
    floor = history.statistics.numeric * one
    return {
        "sides": sides,
        "friction": case.friction,
        "dofs": problem.system.n_unknowns,
        "steps": len(history.path.points) - 1,
        "factorisations": history.statistics.numeric,
        "cpu_s": spent,
        "wall_s": wall,
        "mesh_share": meshed / spent,
        "linear_share": history.statistics.seconds / spent,
        "one_ms": 1e3 * one,
        "floor_s": floor,
        "ratio": spent / floor,
    }


def joint_row(refine: float) -> dict[str, object]:
    """Pull the whole hard-pin demo."""
    joint = fejoint.load(HARD)
    start_wall = time.perf_counter()
    answer = fejoint.pull(joint, refine=refine)
    cost = answer.cost
    return {
        "refine": refine,
        "cpu_s": cost.solve_cpu_s,
        "wall_s": time.perf_counter() - start_wall,
        "dofs": cost.dofs,
        "steps": cost.steps,
        "factorisations": cost.factorisations,
        "floor_s": cost.floor_cpu_s,
        "ratio": cost.solve_cpu_s / cost.floor_cpu_s,
        "phases": dict(cost.phases_cpu_s),
        "load_N": answer.verdict.first.load,
    }


def process_wall() -> float:
    """Return the wall time of `fejoint pull --json --no-pictures` as a process, s."""
    words = [sys.executable, "-m", "fejoint.cli.main", "pull", str(HARD), "--json", "--no-pictures"]
    start = time.perf_counter()
    subprocess.run(
        [*words, "--out", str(ROOT / "out/bench")], check=True, stdout=subprocess.DEVNULL, cwd=ROOT
    )
    return time.perf_counter() - start


def joints_a_second(refine: float, whole: bool, count: int = 6) -> float:
    """Return how many joints a second one core solves in a sweep over the edge distance."""
    joint = fejoint.load(HARD)
    cases = [joint.replace("ear.edge_distance", 7.0 + 0.3 * k).to_dict() for k in range(count)]
    settings = {"refine": refine, "whole": whole}
    row.forget()
    return count / cpu(lambda: [row.solve(case, settings) for case in cases])


def library_rows() -> list[dict[str, float]]:
    """Return the ear by this kernel and by a general-purpose library; empty without the library."""
    try:
        return [bench_library.compare(sides) for sides in (48, 96)]
    except ImportError:
        return []


def timed(rows: Iterable[tuple[int, float | None, float | None]], quiet: bool) -> list[Row]:
    """Pull face sections of given sides, friction and travel, and print a line each as they end."""
    if not quiet:
        print(
            "sides  friction   dofs  steps  factor.  CPU s  wall s  linear  one ms  floor s  ratio"
        )
    found = []
    for asked in rows:
        f = face_row(*asked)
        found.append(f)
        if not quiet:
            print(
                f"{f['sides']:5.0f}  {f['friction']:8.2f} {f['dofs']:6.0f} {f['steps']:6.0f} "
                f"{f['factorisations']:8.0f} {f['cpu_s']:6.2f} {f['wall_s']:7.2f} "
                f"{f['linear_share']:7.0%} {f['one_ms']:7.2f} {f['floor_s']:8.2f} "
                f"{f['ratio']:6.2f}",
                flush=True,
            )
    return found


def main() -> int:
    """Print the tables, or JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument(
        "--long", action="store_true", help="also 30,000 and 100,000 unknowns; minutes"
    )
    asked = parser.parse_args()
    compiled.warm()
    quiet = asked.json
    if not quiet:
        print("one ear and its pin (face section), to 1.2 hole diameters of travel")
    faces = timed([(n, mu, None) for mu in (None, 0.0) for n in (48, 200)], quiet)
    if not quiet:
        print("\nthe same to a tenth of the hole, past the offset load")
    sides = (84, 200, *([392, 796] if asked.long else []))
    growing = timed([(n, None, 0.1) for n in sides], quiet)
    joints = [joint_row(r) for r in (1.0, 0.5)]
    process = process_wall()
    rates = {(r, w): joints_a_second(r, w) for r in (1.0, 0.5) for w in (False, True)}
    library = library_rows()
    growth = np.polyfit(
        np.log([f["dofs"] for f in growing]),
        np.log([f["cpu_s"] for f in growing]),
        1,
    )[0]
    if asked.json:
        print(
            json.dumps(
                {
                    "faces": faces,
                    "growing": growing,
                    "joints": joints,
                    "process_wall_s": process,
                    "library": library,
                }
            )
        )
        return 0
    print(f"CPU time grows with unknowns to the power {growth:.2f}")
    print("\nthe whole hard-pin demo: ears, shank, pin, verdict, no pictures")
    for j in joints:
        print(
            f"refine {j['refine']}: CPU {j['cpu_s']:.2f} s, wall {j['wall_s']:.2f} s, "
            f"{j['steps']} steps, {j['factorisations']} factorisations, "
            f"floor {j['floor_s']:.2f} s, ratio {j['ratio']:.2f}, first to give {j['load_N']:.0f} N"
        )
        shares = ", ".join(f"{k} {v:.2f} s" for k, v in j["phases"].items())  # type: ignore[attr-defined]
        print(f"  {shares}")
    print(f"\nfejoint pull --json --no-pictures as a process: {process:.2f} s wall")
    print("joints a second on one core, in a sweep:")
    for (refine, whole), rate in rates.items():
        print(f"  refine {refine}, {'to the end' if whole else 'to the first part'}: {rate:.2f}")
    print()
    print("\n".join(bench_library.lines(library)) if library else bench_library.MISSING)
    return 0


if __name__ == "__main__":
    sys.exit(main())
