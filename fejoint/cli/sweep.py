"""`fejoint sweep`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from fejoint.cli import console
from fejoint.cli.options import STUDY_DEFAULTS, Case, Flag, StudyOptions, Texts, Whole, WholeOrNone
from fejoint.errors import BadInput, SolveStopped
from fejoint.inputs.units import KGF, figures

if TYPE_CHECKING:
    from fejoint.joint.model import Joint
    from fejoint.studies.sweeps.run import Table
    from fejoint.studies.sweeps.sensitivities import Sensitivity
    from fejoint.studies.sweeps.variation import Variation


_MOST_SHOWN = 60
"""Rows of a table that are printed; the file holds more."""


def sweep(
    case: Case,
    /,
    *,
    vary: Texts = (),
    samples: WholeOrNone = None,
    spread: Literal["latin", "sobol", "halton"] = "latin",
    seed: Whole = 1,
    out: Path | None = None,
    most: Whole = 20_000,
    whole: Flag = False,
    estimate: Flag = False,
    given: StudyOptions = STUDY_DEFAULTS,
) -> int:
    """Pull many joints that differ in some dimensions, into one table; run it again to resume.

    Parameters
    ----------
    vary
        A dimension and its values: "ear.hole=4.0:5.0:11 mm" (first, last, count),
        "pin.hardness=300,400 HV", or with --samples a range "ear.width=10:18 mm"; once for each
        dimension. Without any, every dimension is changed a little and the sensitivities are
        printed.
    samples
        How many joints to spread over the ranges, instead of the grid of all values.
    spread
        How the samples are spread: latin, sobol or halton.
    seed
        The number that the spreading begins from; the same one gives the same samples.
    out
        The folder for rows and tables; "out/NAME-sweep" of the case if left out.
    most
        A sweep of more joints than this is not begun.
    whole
        Pull every joint to the end; else until its first part has given, in half the time.
    estimate
        Only say how many joints, how long and how much disk.
    """
    from fejoint.studies.sweeps import plan, run, variation

    source = given.read(case)
    joint, folder = source.joint, source.folder(out, "-sweep")
    if not vary:
        _one_at_a_time(joint, folder, given)
        source.claim(folder)
        return 0
    rows = plan.Plan(joint, tuple(variation.parse(v) for v in vary), samples, spread, seed)
    cost = plan.estimate(len(rows), given.refine, given.processes)
    if estimate:
        if given.as_json:
            console.say_json({"joints": len(rows), "estimate": cost}, indent=None)
        else:
            console.say(cost)
        return 0
    plan.refuse_too_many(len(rows), given.refine, given.processes, most)
    console.warn(cost)
    settings = {"refine": given.refine, "pace": 1.0, "solver": "fastest", "whole": whole}
    with console.progress_bar("joints", quiet=given.as_json) as advance:
        table = run.run(
            rows, settings, folder=folder, workers=given.workers, scheduler=given.scheduler,
            most=most, progress=lambda done, total, row: advance(done, total),
        )  # fmt: skip
    source.claim(folder)
    drawn = _drawn(joint, table, folder)
    written = [folder / "table.parquet", folder / "table.csv", *drawn]
    if given.as_json:
        console.say_json(summary(table) | {"files": [str(p) for p in written]}, indent=None)
    else:
        if len(rows.variations) == 1:
            _show_along(rows.variations[0], table)
        _show_table(table)
        console.wrote(*written)
    return exit_code(table)


def exit_code(table: Table) -> int:
    """Return how a study of many joints ended, and say so if it was not well."""
    if table.interrupted:
        console.warn("interrupted: what was solved is kept; run it again to resume")
        return SolveStopped.exit_code
    states = set(table.frame["state"]) if len(table) else set()
    if states and not states & {"solved", "stopped early"}:
        console.warn("no joint was solved; `fejoint doctor` tells what this machine lacks")
        return SolveStopped.exit_code
    return 0


def _drawn(joint: Joint, table: Table, folder: Path) -> list[Path]:
    """Draw the map over the first two varied dimensions, or the line over a single one."""
    from fejoint.output.pictures import theme as look

    if table.interrupted:
        return []
    try:
        name = "line.png" if len(table.columns) == 1 else "map.png"
        return [look.save(table.plot(title=joint.title), folder / name)]
    except BadInput as bad:
        console.warn(f"no picture: {bad}")
        return []


def summary(table: Table) -> dict[str, Any]:
    """Return how many joints of a study are in which state, and what they took."""
    states = {str(k): int(n) for k, n in table.frame["state"].value_counts().items()}
    return {
        "joints": len(table), "states": states, "solved_now": table.solved, "known": table.known,
        "seconds": round(table.seconds, 2), "interrupted": table.interrupted,
    }  # fmt: skip


def _show_table(table: Table) -> None:
    from fejoint.analysis import definitions

    known = summary(table)
    states = ", ".join(f"{n} {state}" for state, n in known["states"].items())
    console.say(
        f"{known['joints']} joints: {states}",
        f"solved now {table.solved}, known before {table.known}, in {table.seconds:.0f} s",
    )
    frame = table.frame
    if "mode" in frame:
        for mode, part in frame[frame["mode"].notna()].groupby("mode"):
            gave = str(mode) != definitions.NOTHING
            loads = part["load_N" if gave else "nothing_up_to_N"]
            span = f"{figures(loads.min())} to {figures(loads.max())} N"
            what = definitions.named(str(mode))
            if gave:
                console.say(f"{what} first in {len(part)}: {span}")
            else:
                console.say(f"nothing gave in {len(part)}, up to {span}")
    for reason in list(frame.loc[frame["reason"].fillna("") != "", "reason"].unique())[:5]:
        console.say(f"note: {reason}")


def _show_along(v: Variation, table: Table) -> None:
    """Print the rows of a sweep of one dimension, if a reader can take them in."""
    from fejoint.analysis import definitions

    if not 0 < len(table) <= _MOST_SHOWN:
        return
    cells = []
    for row in table.frame.sort_values(v.column).to_dict("records"):
        first, offset = (_number(row.get(name)) for name in ("load_N", "offset_load_N"))
        borne = _number(row.get("nothing_up_to_N"))
        gives = (
            definitions.named(row["mode"]) if first is not None
            else row["state"] if borne is None else f"nothing up to {figures(borne)} N"
        )  # fmt: skip
        cells.append(
            (
                f"{row[v.column]:.6g}",
                gives,
                "" if first is None else figures(first),
                "" if first is None else figures(first / KGF),
                "" if offset is None else figures(offset),
            )
        )
    dimension = f"{v.path}, {v.unit}" if v.unit else v.path
    heads = (dimension, "gives first", "N", "kgf", "hole offset, N")
    console.say_table(heads, cells, left=("gives first",))
    console.say("")


def _number(value: Any) -> float | None:
    return None if value is None or value != value else float(value)


def _one_at_a_time(joint: Joint, folder: Path, given: StudyOptions) -> None:
    from fejoint.studies.sweeps.sensitivities import sensitivities

    with console.progress_bar("joints", quiet=given.as_json) as advance:
        found = sensitivities(
            joint, refine=given.refine, folder=folder, workers=given.workers,
            scheduler=given.scheduler, tell=lambda done, total, row: advance(done, total),
        )  # fmt: skip
    from fejoint.output.pictures import theme as look

    drawn = []
    if any(s.load is not None for s in found):
        drawn.append(look.save(found.plot(title=joint.title), folder / "sensitivities.png"))
    if given.as_json:
        console.say_json([asdict(s) for s in found], indent=None)
    else:
        _show_sensitivities(found)
        console.wrote(*drawn)


def _show_sensitivities(found: Sequence[Sensitivity]) -> None:
    rows = []
    for s in found:
        numbers = ("-" if x is None else f"{x:+.2f}" for x in (s.load, s.offset_load))
        then = s.reason or " / ".join(dict.fromkeys(s.modes))
        rows.append((s.dimension.name, s.dimension.show(s.dimension.value), *numbers, then))
    heads = ("dimension", "as it is", "first to give, %/%", "offset load, %/%", "then gives")
    console.say_table(heads, rows, left=("dimension", "as it is", "then gives"))
