"""Solve reference joints whole in the round, and print their numbers beside the everyday sections'.

    .venv/bin/python scripts/whole_joints.py cases/reference/whole-joint-* --write

Minutes a joint: two meshes each. With --write the numbers of the finer one become the expected
ones of the folder, and what the coarser one says stands in each row's reason. With --quick these
are the coarser two of three meshes, the coarsest with steps 2.5 times as long.
"""

from __future__ import annotations

import argparse
import math
import time
import tomllib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from fejoint.files import write_atomically
from fejoint.sections.solid.whole_joint_case import WholeJointSettings
from fejoint.validation.models.whole_joints import (
    FAR,
    FINE,
    TRAVELS,
    by_sections,
    frictionless,
    in_the_round,
    quantities,
)

MESHES = (
    WholeJointSettings(sides=24, layer=0.11, coarse=0.32, pace=2.5),
    WholeJointSettings(),
    FINE,
)
LOADS, OTHERS, MOMENTS = 0.03, 0.15, 0.05
"""Errors wanted of the everyday sections: loads, what bends and stretches, moments."""
CAUSES = {
    "load": "slices share the plate's stretch and resist being tilted, and a soft pin's disc "
    "flattens too easily in plane stress: the axial section leaves both out",
    "moment": "slices share the plate's stretch and resist being tilted, so that the bearing "
    "crowds at the inner faces: the axial section's slices are independent",
    "bend": "follows the moment, which is high; a bend left that is small against the sag under "
    "load answers manifold",
    "elongation": "slices of a plate hang together; in the axial section each stretches alone",
    "bearing": "slices of a plate hang together; in the axial section each stretches alone",
}


def main() -> None:
    """Solve the folders that are named."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--quick", action="store_true", help="on the two coarser of three meshes")
    parser.add_argument("--rough", action="store_true", help="on the coarsest mesh alone")
    parser.add_argument("--far", action="store_true", help="on the coarsest mesh, further")
    asked = parser.parse_args()
    meshes = MESHES[:1] if asked.rough else MESHES[:2] if asked.quick else MESHES[1:]
    if asked.far:
        meshes = (replace(MESHES[0], pace=1.5),)
    reach = FAR[-1] if asked.far else TRAVELS[-1]
    for folder in asked.folders:
        solve(folder, meshes, reach, write=asked.write and not asked.far)


def solve(folder: Path, meshes: Sequence[WholeJointSettings], reach: float, *, write: bool) -> None:
    """Solve one joint on one or two meshes, the coarser first."""
    joint = frictionless(tomllib.loads((folder / "case.toml").read_text(encoding="utf-8")))
    said = quantities(joint, by_sections(joint))
    found: dict[str, dict[str, float]] = {}
    for name, settings in zip(("coarse", "fine")[-len(meshes) :], meshes, strict=True):
        start = time.process_time()
        readings, history = in_the_round(joint, settings, reach=reach)
        found[name] = quantities(joint, readings)
        print(
            f"{folder.name}, {name}: {len(history.problem.points)} nodes, "
            f"{time.process_time() - start:.0f} CPU s, "
            f"{history.statistics.numeric} factorisations, "
            f"energy {history.energy_gap:+.1e}, {history.path.stopped_because}",
            flush=True,
        )
    found.setdefault("coarse", {})
    for name, value in found["fine"].items():
        coarse, tool = found["coarse"].get(name, math.nan), said.get(name, math.nan)
        print(
            f"  {name:52s} {value:12.5g}  coarse {coarse / value - 1.0:+7.1%}  "
            f"sections {tool:12.5g} {tool / value - 1.0:+7.1%}",
            flush=True,
        )
    if write:
        head, *old = (folder / "expected.toml").read_text(encoding="utf-8").split("[[expect]]")
        kept = [f"[[expect]]{r.rstrip()}\n" for r in old if any(f"at {t:g} mm" in r for t in FAR)]
        rows = [
            row(name, value, found["coarse"].get(name, math.nan), said.get(name, math.nan))
            for name, value in found["fine"].items()
        ]
        write_atomically(
            folder / "expected.toml", head.rstrip() + "\n\n" + "\n".join([*rows, *kept])
        )


def row(name: str, value: float, coarse: float, tool: float) -> str:
    """Return one expected value as TOML."""
    quantity, _, unit = name.rpartition(", ")
    kind = next(k for k in ("bearing", "elongation", "bend", "moment", "load") if k in quantity)
    tolerance = {"load": LOADS, "moment": MOMENTS}.get(kind, OTHERS)
    converged = "no coarser mesh was followed so far"
    if math.isfinite(coarse):
        converged = f"on the coarser mesh {coarse / value - 1.0:+.1%}"
    lines = [
        "[[expect]]",
        f'quantity = "{quantity}"',
        f"value = {value:.5g}",
        f'unit = "{unit}"',
        f"tolerance = {tolerance}",
        f'reason = "{converged}"',
    ]
    if not abs(tool / value - 1.0) <= tolerance:
        lines.append(f'known_miss = "{CAUSES[kind]}"')
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()
