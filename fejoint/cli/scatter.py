"""`fejoint scatter`."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from fejoint.cli import console
from fejoint.cli.options import STUDY_DEFAULTS, Case, StudyOptions, Whole
from fejoint.cli.sweep import exit_code, summary

if TYPE_CHECKING:
    from fejoint.studies.sweeps.tolerance_band import Tolerance


def scatter(
    case: Case,
    /,
    *,
    draws: Whole = 60,
    seed: Whole = 1,
    metals: Annotated[bool, Parameter(negative="--no-metals")] = True,
    out: Path | None = None,
    given: StudyOptions = STUDY_DEFAULTS,
) -> int:
    """Pull joints drawn from the case's [scatter] table: median, 5 to 95 %, modes and causes.

    Parameters
    ----------
    draws
        How many joints to draw, by Latin hypercube.
    seed
        The number that the drawing begins from; the same one draws the same joints.
    metals
        Let the metals' strength, ductility and curve shape scatter by their known bands where the
        table does not say how.
    out
        The folder for rows and tables; "out/NAME-scatter" of the case if left out.
    """
    from fejoint.output.pictures import theme as look
    from fejoint.studies.sweeps import plan, tolerance_band

    source = given.read(case)
    joint, folder = source.joint, source.folder(out, "-scatter")
    console.warn(plan.estimate(draws, given.refine, given.processes))
    with console.progress_bar("joints", quiet=given.as_json) as advance:
        found = tolerance_band.scatter(
            joint, draws=draws, seed=seed, known_metals=metals, refine=given.refine,
            folder=folder, workers=given.workers, scheduler=given.scheduler,
            tell=lambda done, total, row: advance(done, total),
        )  # fmt: skip
    source.claim(folder)
    written = [
        folder / "table.parquet", folder / "table.csv",
        look.save(found.plot(title=joint.title), folder / "scatter.png"),
    ]  # fmt: skip
    if given.as_json:
        console.say_json(_to_dict(found) | {"files": [str(p) for p in written]}, indent=None)
    else:
        _show(found)
        console.wrote(*written)
    return exit_code(found.table)


def _show(found: Tolerance) -> None:
    console.say(found.sentence)
    if found.offset_load is not None:
        b = found.offset_load
        band = f"{b.median:,.0f} N ({b.low:,.0f} to {b.high:,.0f} N)"
        console.say(f"offset load: {band}, {b.count} joints")
    heading = "what causes the band (rank correlation with the load, share of the band):"
    console.say("", heading if found.causes else "too few joints to tell what causes the band")
    for cause in found.causes:
        console.say(f"  {cause.path}: {cause.correlation:+.2f}, {100 * cause.share:.0f} %")
    frame = found.table.frame
    for state, n in frame["state"].value_counts().items():
        if state != "solved":
            console.say(f"{n} joints {state}: not in the band")


def _to_dict(found: Tolerance) -> dict[str, Any]:
    return {
        "sentence": found.sentence,
        "load_N": asdict(found.load),
        "offset_load_N": None if found.offset_load is None else asdict(found.offset_load),
        "modes": [
            {"part": part, "mode": mode, "share": share}
            for (part, mode), share in found.modes.items()
        ],
        "causes": [asdict(c) for c in found.causes],
        "scatter": [asdict(s) for s in found.spreads],
    } | summary(found.table)
