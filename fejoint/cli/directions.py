"""`fejoint directions`."""

from __future__ import annotations

from pathlib import Path

from fejoint.cli import console
from fejoint.cli.options import CASE_DEFAULTS, Case, CaseOptions
from fejoint.errors import BadInput, Fault


def directions(
    case: Case,
    /,
    *,
    every: float = 15.0,
    out: Path | None = None,
    given: CaseOptions = CASE_DEFAULTS,
) -> int:
    """Pull a joint straight, obliquely, sideways and back, and compare.

    Parameters
    ----------
    every
        Degrees from one direction to the next, from 0 to 180; 1 to 90 is allowed.
    out
        The folder for the picture; "out/NAME" of the case if left out.
    """
    from fejoint.analysis import definitions
    from fejoint.cli.pull import code_of
    from fejoint.inputs.units import KGF, figures
    from fejoint.output.pictures import theme as look
    from fejoint.studies import directions as study

    if not 1.0 <= every <= 90.0:
        raise BadInput(Fault("--every", f"{every:g} deg", "must lie from 1 to 90", "15 is usual"))
    source = given.read(case)
    joint, folder = source.joint, source.folder(out)
    angles = [every * k for k in range(int(180.0 / every + 1e-9) + 1)]
    with console.progress_share("directions", quiet=given.as_json) as progress:
        rows = study.directions(joint, angles, refine=given.refine, progress=progress)
    broken = [f"at {row.angle:g} deg, {row.ended}" for row in rows if not row.finished]
    if given.as_json:
        console.say_json([row.to_dict() for row in rows])
        return code_of(not broken, "; ".join(broken))
    cells = []
    for row in rows:
        kgf = None if row.hole_load is None else row.hole_load / KGF
        loads = (row.hole_load, kgf, row.joint_load, row.interaction_load, row.largest_load)
        shown = ("" if x is None else figures(x) for x in loads)
        cells.append((f"{row.angle:g}", *shown, definitions.named(row.first_mode)))
    heads = ("angle", "hole, N", "kgf", "joint, N", "by hand, N", "largest, N", "gives first")
    console.say(joint.title, bold=True)
    console.say(rows.sentence, "")
    console.say_table(heads, cells, left=heads[-1:])
    console.say(
        "hole: offset load of the hole; joint: where the whole joint leaves its elastic line by "
        f"2 % of the hole; by hand: {study.INTERACTION}. The ear is clamped at its grip."
    )
    source.claim(folder)
    console.wrote(look.save(rows.plot(), folder / "directions.png"))
    return code_of(not broken, "; ".join(broken))
