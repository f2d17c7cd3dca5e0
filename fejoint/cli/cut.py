"""`fejoint cut`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from fejoint.cli import console
from fejoint.cli.options import CASE_DEFAULTS, Case, CaseOptions, Flag


def cut(
    case: Case,
    /,
    *,
    out: Path | None = None,
    step: Flag = False,
    sheets: Literal["a4", "letter"] | None = None,
    prediction: Annotated[bool, Parameter(negative="--no-prediction")] = True,
    given: CaseOptions = CASE_DEFAULTS,
) -> int:
    """Write each plate of a joint as a drawing for a cutter, DXF and SVG.

    Parameters
    ----------
    out
        The folder for the drawings; "out/NAME-cut" of the case if left out.
    step
        Write plates and pin as STEP, too.
    sheets
        Write a dimensioned sheet of each part for the shop, too, PDF and SVG: a4 or letter.
    prediction
        Pull the joint, and write beside each part what gives first.
    """
    from fejoint import files
    from fejoint.analysis.cautions import CAUTIONS
    from fejoint.cli.pull import code_of, progress_line
    from fejoint.output import cut_files

    source = given.read(case)
    joint, folder = source.joint, source.folder(out, "-cut")
    answer = None
    if prediction:
        from fejoint.analysis import pull as analysis

        with progress_line(quiet=given.as_json) as progress:
            answer = analysis.pull(joint, refine=given.refine, watch=progress)
        if not answer.trust.finished:
            return code_of(finished=False, why=str(answer.trust.stopped_because))
    files.make_ready(folder)
    source.claim(folder)
    written = list(cut_files.write_each(joint, folder, answer))
    if step:
        written += cut_files.write_steps(joint, folder)
    if sheets is not None:
        from fejoint.output import sheets as drawn

        written += drawn.write(joint, folder, answer, sheets, source.case.name)
    if given.as_json:
        console.say_json({"files": [str(path) for path in written]})
        return 0
    console.say(joint.title, bold=True)
    if answer is not None:
        console.say(answer.verdict.sentence)
    console.say(
        "Millimetres, one closed line a contour, no kerf; layers outside, holes, gauge and notes. "
        "Measure the gauge of 50 mm before you cut.",
        f"caution: {' '.join(CAUTIONS)}",
        "",
    )
    console.wrote(*written)
    return 0
