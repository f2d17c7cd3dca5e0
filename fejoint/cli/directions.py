"""What `fejoint directions` does and prints."""

from __future__ import annotations

import json
from pathlib import Path

from fejoint.analysis import refinement
from fejoint.cli import console as terminal
from fejoint.errors import BadInput, Fault
from fejoint.inputs.units import KGF
from fejoint.joint import reader
from fejoint.studies.directions import INTERACTION, directions


def run(case: Path, *, every: float, out: Path | None, refine: float, as_json: bool) -> int:
    """Pull a case from 0 to 180 degrees, print the table and draw it.

    Returns
    -------
    int
        0.

    Raises
    ------
    BadInput
        If the case or an option is bad.
    """
    refinement.check(refine)
    if not 1.0 <= every <= 90.0:
        raise BadInput(Fault("--every", f"{every:g} deg", "must lie from 1 to 90", "15 is usual"))
    joint = reader.load(case)
    angles = [every * k for k in range(int(180.0 / every + 1e-9) + 1)]
    rows = directions(joint, angles, refine=refine)
    if as_json:
        print(json.dumps([row.to_dict() for row in rows], indent=1))
        return 0
    table = terminal.table()
    titles = ("angle", "hole, N", "kgf", "joint, N", "by hand, N", "largest, N")
    for name in titles:
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("gives first")
    for row in rows:
        loads = (
            row.hole_load,
            None if row.hole_load is None else row.hole_load / KGF,
            row.joint_load,
            row.interaction_load,
            row.largest_load,
        )
        shown = ["" if x is None else f"{x:,.0f}" for x in loads]
        table.add_row(f"{row.angle:g}", *shown, row.first_mode)
    console = terminal.console()
    console.print(joint.title, style="bold", markup=False)
    console.print(table)
    console.print(
        "hole: offset load of the hole; joint: where the whole joint leaves its elastic line by "
        f"2 % of the hole; by hand: {INTERACTION}. The ear is clamped at its grip.",
        markup=False,
    )
    from fejoint.studies.directions_plot import polar

    folder = out if out is not None else Path("out") / case.stem
    console.print(
        f"wrote {polar(rows, folder / 'directions.png', title=joint.title)}", markup=False
    )
    return 0
