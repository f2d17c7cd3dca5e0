"""Solve a planned set of solid ears and their plane twins; write one row an ear.

What the rule for a dishing end (fejoint/handbook/dishing.py) was read from. Anyone can run it
again: .venv/bin/python scripts/dishing_plan.py OUT.csv --count 48 --seed 1 --workers 2
With --scheduler it sends the ears to a dask scheduler instead of local processes.
"""

from __future__ import annotations

import argparse
import csv
from pathlib import Path
from typing import Any

import numpy as np
from scipy.stats import qmc

SUPPORTS = ("bare", "shank", "shank and head")
INSIDE = "shank on both sides"
COLUMNS = {
    "hole": (3.0, 30.0),
    "e_over_D": (1.5, 4.0),
    "D_over_t": (3.0, 10.0),
    "W_over_D": (2.4, 4.5),
    "clearance_over_D": (0.005, 0.06),
    "yield_ratio": (0.4, 0.9),
    "uniform_strain": (0.06, 0.4),
    "modulus_over_Rm": (150.0, 420.0),
    "head_over_D": (0.6, 1.8),
    "gap_over_t": (0.0, 0.1),
}
"""Ranges of the plan; the head's is its radius, to be counted from the pin's axis."""


def rows(count: int, seed: int) -> list[dict[str, Any]]:
    """Draw the plan by Latin hypercube."""
    low, high = np.array(list(COLUMNS.values())).T
    unit = qmc.LatinHypercube(len(low), rng=seed).random(count)
    plan = []
    for k, values in enumerate(low + unit * (high - low)):
        row: dict[str, Any] = dict(zip(COLUMNS, values.tolist(), strict=True))
        row["end"] = ("round", "square")[k % 2]
        row["support"] = SUPPORTS[k % 3]
        plan.append(row)
    return plan


def solved(row: dict[str, Any], sides: int = 28, pace: float = 1.0) -> dict[str, Any]:
    """Solve one ear, solid with both signs of its crookedness, and plane."""
    from fejoint.kernel.hardening import Hardening
    from fejoint.kernel.plasticity import Metal
    from fejoint.meshing.gmsh_mesher import EarOutline
    from fejoint.sections.face import pull as face
    from fejoint.sections.solid import pull as solid
    from fejoint.sections.solid.problem import Crookedness, Support

    row = dict(row)
    rm, hole = 500.0, row["hole"]
    modulus, thickness = rm * row["modulus_over_Rm"], hole / row["D_over_t"]
    width = row["W_over_D"] * hole
    try:
        law = Hardening.from_tensile(
            modulus, row["yield_ratio"] * rm, rm, row["uniform_strain"], "swift"
        )
    except ValueError:
        law = Hardening.from_tensile(
            modulus, row["yield_ratio"] * rm, rm, row["uniform_strain"], "voce"
        )
    metal = Metal(modulus, 0.3, law)
    outline = EarOutline(
        width, hole, row["e_over_D"] * hole, max(2.0 * width, 4.0 * hole), row["end"]
    )
    pin = hole * (1.0 - row["clearance_over_D"])
    gap = row["gap_over_t"] * thickness
    below = None if row["support"] == "bare" else Support(gap)
    above = Support(gap, row["head_over_D"] * hole) if "head" in row["support"] else None
    if row["support"] == INSIDE:
        above = Support(gap)
    flat = face.FaceSettings(stop_travel=0.8 * hole, pace=pace)
    angle, bent = row.setdefault("angle", 0.0), row.setdefault("crooked_over_t", 0.01)
    twin = face.FaceCase(outline, thickness, metal, pin, None, angle=angle)
    plane = face.pull(face.build(twin, flat), flat)
    row["plane_greatest"] = float(plane.load.max())
    row["plane_offset"] = plane.offset.load if plane.offset else None
    settings = solid.SolidSettings(sides=sides, pace=pace, stop_travel=0.8 * hole)
    signs = (1.0,) if row["support"] == "bare" else (1.0, -1.0)
    for sign in signs:
        case = solid.SolidCase(
            outline,
            thickness,
            metal,
            pin,
            below,
            above,
            Crookedness(sign * bent * thickness),
            angle,
        )
        history = solid.pull(solid.build(case, settings), settings)
        name = "up" if sign > 0.0 else "down"
        row[f"greatest_{name}"] = history.greatest
        row[f"offset_{name}"] = history.offset.load if history.offset else None
        row[f"deflection_over_t_{name}"] = float(history.deflection[-1]) / thickness
        row[f"fell_{name}"] = history.fell
        row[f"finished_{name}"] = history.path.finished
    row["thickness"], row["Rm"] = thickness, rm
    lowest = min(row[f"greatest_{n}"] for n in ("up", "down") if f"greatest_{n}" in row)
    row["over_fu_t2"] = lowest / (rm * thickness**2)
    row["over_plane"] = lowest / row["plane_greatest"]
    return row


def sheets() -> list[dict[str, Any]]:
    """Plan a sheet of one steel and hole inside, under a washer and bare, its end 2 to 4 holes."""
    return [
        {
            "hole": 10.0, "e_over_D": e, "D_over_t": 5.0, "W_over_D": 4.0,
            "clearance_over_D": 0.02, "yield_ratio": 0.7, "uniform_strain": 0.15,
            "modulus_over_Rm": 500.0, "head_over_D": 1.0, "gap_over_t": 0.0, "end": "square",
            "support": support,
        }
        for e in (2.0, 3.0, 4.0)
        for support in (INSIDE, "shank and head", "shank")
    ]  # fmt: skip


def main() -> None:
    """Run the plan."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--count", type=int, default=48)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, help="solve the first rows of the plan only")
    parser.add_argument("--sides", type=int, default=28)
    parser.add_argument("--pace", type=float, default=1.0)
    parser.add_argument("--support", choices=SUPPORTS)
    parser.add_argument(
        "--slender", type=float, nargs=2, help="range of D/t in place of the plan's"
    )
    parser.add_argument(
        "--angle", type=float, nargs="*", default=[0.0], help="of the pull, in turn"
    )
    parser.add_argument(
        "--crooked",
        type=float,
        nargs="*",
        default=[0.01],
        help="out of straight, over the thickness: every ear with each",
    )
    parser.add_argument("--gap", type=float, nargs=2, help="range of the gap over the thickness")
    parser.add_argument("--head", type=float, nargs=2, help="range of the head's radius over D")
    parser.add_argument("--sheets", action="store_true", help="bolted sheets in place of the plan")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--scheduler")
    asked = parser.parse_args()
    for name, given in (
        ("D_over_t", asked.slender),
        ("gap_over_t", asked.gap),
        ("head_over_D", asked.head),
    ):
        if given:
            COLUMNS[name] = tuple(given)
    plan = sheets() if asked.sheets else rows(asked.count, asked.seed)[: asked.first]
    plan = [row | {"angle": asked.angle[k % len(asked.angle)]} for k, row in enumerate(plan)]
    plan = [row | {"crooked_over_t": bent} for row in plan for bent in asked.crooked]
    if asked.support:
        plan = [row | {"support": asked.support} for row in plan]
    found: list[dict[str, Any]] = []
    if asked.workers <= 1 and asked.scheduler is None:
        every = (solved(row, asked.sides, asked.pace) for row in plan)
        _written(every, found, asked.out)
        return
    from dask.distributed import Client, as_completed

    where = (
        {"address": asked.scheduler}
        if asked.scheduler
        else {"n_workers": asked.workers, "threads_per_worker": 1}
    )
    with Client(**where) as client:
        futures = client.map(lambda row: solved(row, asked.sides, asked.pace), plan)
        _written((f.result() for f in as_completed(futures)), found, asked.out)


def _written(every: Any, found: list[dict[str, Any]], out: Path) -> None:
    """Write the table anew after each ear, so that an interrupt loses none."""
    for row in every:
        found.append(row)
        names = list(dict.fromkeys(n for r in found for n in r))
        with out.open("w", newline="") as file:
            writer = csv.DictWriter(file, names)
            writer.writeheader()
            writer.writerows(found)
        print(
            f"{len(found)}: {row['support']}, D/t {row['D_over_t']:.2f}, e/D "
            f"{row['e_over_D']:.2f}: {row['over_plane']:.3f} of plane, "
            f"{row['over_fu_t2']:.2f} Rm t2",
            flush=True,
        )


if __name__ == "__main__":
    main()
