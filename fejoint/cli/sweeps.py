"""What `fejoint sweep`, `fejoint advise` and `fejoint scatter` do and print."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fejoint.analysis import refinement
from fejoint.cli import console
from fejoint.errors import BadInput, Fault, SolveStopped
from fejoint.inputs.fields import quantity
from fejoint.inputs.units import both_units
from fejoint.joint import reader
from fejoint.joint.model import Joint
from fejoint.studies.sweeps import plan, run, variation
from fejoint.studies.sweeps.plan import Method, Plan
from fejoint.studies.sweeps.run import Table, Tell
from fejoint.system.processes import cores as workers_here

if TYPE_CHECKING:
    from fejoint.studies.sweeps.design_changes import Advice, Change
    from fejoint.studies.sweeps.sensitivities import Sensitivity
    from fejoint.studies.sweeps.tolerance_band import Tolerance


def sweep(
    case: Path, vary: Sequence[str], *, samples: int | None, spread: Method, seed: int,
    out: Path | None, refine: float, whole: bool, workers: int | None, scheduler: str | None,
    most: int, estimate: bool, as_json: bool,
) -> int:  # fmt: skip
    """Sweep a case and print where the table is; without `vary`, one dimension at a time.

    Returns
    -------
    int
        0, or 3 if it was interrupted (the same command goes on), or if no joint was solved.
    """
    joint = reader.load(case)
    _check(refine, workers)
    folder = out if out is not None else Path("out") / f"{case.stem}-sweep"
    if not vary:
        return _one_at_a_time(joint, folder, refine, workers, scheduler, as_json)
    rows = Plan(joint, tuple(variation.parse(v) for v in vary), samples, spread, seed)
    processes = workers if workers is not None else workers_here()
    cost = plan.estimate(len(rows), refine, processes)
    if estimate:
        print(json.dumps({"joints": len(rows), "estimate": cost}) if as_json else cost)
        return 0
    plan.refuse_too_many(len(rows), refine, processes, most)
    _say(cost)
    settings = {"refine": refine, "pace": 1.0, "solver": "fastest", "whole": whole}
    with progress_bar(quiet=as_json) as tell:
        table = run.run(
            rows, settings, folder=folder, workers=workers, scheduler=scheduler, most=most,
            progress=tell,
        )  # fmt: skip
    drawn = _maps(joint, rows, table, folder)
    written = [folder / "table.parquet", folder / "table.csv", *drawn]
    if as_json:
        print(json.dumps(_summary(table) | {"files": [str(p) for p in written]}))
    else:
        _show_table(table, written)
    return _ended(table)


def advise(
    case: Path, target: str, *, margin: str, limit: Sequence[str], only: Sequence[str],
    refine: float, workers: int | None, scheduler: str | None, as_json: bool,
) -> int:  # fmt: skip
    """Print the smallest changes by which a joint carries a pull.

    Returns
    -------
    int
        0, or 1 if no change within the limits does.
    """
    from fejoint.studies.sweeps.design_changes import advise as find

    joint = reader.load(case)
    _check(refine, workers)
    limits = [variation.parse(each) for each in limit]
    for v in limits:
        if not v.is_range:
            raise BadInput(Fault("--limit", v.path, "must be LOW:HIGH UNIT", 'as "10:18 mm"'))
    found = find(
        joint, quantity("--target", target, "force"), margin=quantity("--margin", margin,
        "number"), limits=limits, only=only, refine=refine, workers=workers, scheduler=scheduler,
        progress=None if as_json else _say,
    )  # fmt: skip
    if as_json:
        print(json.dumps(_advice(found)))
    else:
        _show_advice(found)
    return 0 if found.reached or found.single or found.double else 1


def scatter(
    case: Path, *, draws: int, seed: int, metals: bool, out: Path | None, refine: float,
    workers: int | None, scheduler: str | None, as_json: bool,
) -> int:  # fmt: skip
    """Print the tolerance band of a case.

    Returns
    -------
    int
        0, or 3 if it was interrupted: the same command goes on.
    """
    from fejoint.studies.sweeps.tolerance_band import scatter as find

    joint = reader.load(case)
    _check(refine, workers)
    folder = out if out is not None else Path("out") / f"{case.stem}-scatter"
    _say(plan.estimate(draws, refine, workers if workers is not None else workers_here()))
    with progress_bar(quiet=as_json) as tell:
        found = find(
            joint, draws=draws, seed=seed, known_metals=metals, refine=refine, folder=folder,
            workers=workers, scheduler=scheduler, progress=tell,
        )  # fmt: skip
    written = [folder / "table.parquet", folder / "table.csv"]
    if as_json:
        print(json.dumps(_band(found) | {"files": [str(p) for p in written]}))
    else:
        _show_band(found, written)
    return _ended(found.table)


@contextmanager
def progress_bar(*, quiet: bool) -> Iterator[Tell | None]:
    """Show a bar with the time left on a terminal; nothing in a pipe."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
    from rich.progress import TimeRemainingColumn as Left

    columns = (TextColumn("joints"), BarColumn(), MofNCompleteColumn(), Left(), TextColumn("left"))
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("joints", total=None)

        def tell(done: int, total: int, row: Mapping[str, Any]) -> None:
            bar.update(task, completed=done, total=total)

        yield tell


def _say(text: str) -> None:
    print(text, file=sys.stderr)


def _ended(table: Table) -> int:
    if table.interrupted:
        _say("interrupted: what was solved is kept, and the same command goes on")
        return SolveStopped.exit_code
    states = set(table.frame["state"]) if len(table) else set()
    if states and not states & {"solved", "stopped early"}:
        _say("no joint was solved; `fejoint doctor` tells what this machine lacks")
        return SolveStopped.exit_code
    return 0


def _check(refine: float, workers: int | None) -> None:
    fault = refinement.fault(refine)
    faults = [] if fault is None else [fault]
    if workers is not None and not 0 <= workers <= 1024:
        mend = "leave it out for one process a core"
        faults.append(Fault("--workers", str(workers), "must be 0 to 1024", mend))
    if faults:
        raise BadInput(*faults)


def _maps(joint: Joint, rows: Plan, table: Table, folder: Path) -> list[Path]:
    """Draw the map over the first two varied dimensions, if there are two and it can be drawn."""
    if len(rows.variations) < 2 or table.interrupted:
        return []
    from fejoint.studies.sweeps import dimensions, maps

    now = {d.path: d for d in dimensions.of(joint)}

    def present(v: variation.Variation) -> float:
        d = now.get(v.path)
        return d.value if d is not None and d.unit == v.unit else v.values[len(v.values) // 2]

    x, y, *rest = rows.variations
    known = all(v.path in now and now[v.path].unit == v.unit for v in (x, y))
    try:
        path = maps.draw(
            table.frame, x.column, y.column, folder / "map.png",
            present=(present(x), present(y)) if known else None,
            others={v.column: present(v) for v in rest}, title=joint.title,
        )  # fmt: skip
    except BadInput as bad:
        _say(f"no map: {bad}")
        return []
    return [path]


def _summary(table: Table) -> dict[str, Any]:
    states = {str(k): int(n) for k, n in table.frame["state"].value_counts().items()}
    return {
        "joints": len(table), "states": states, "solved_now": table.solved, "known": table.known,
        "seconds": round(table.seconds, 2), "interrupted": table.interrupted,
    }  # fmt: skip


def _show_table(table: Table, written: Sequence[Path]) -> None:
    told = _summary(table)
    said = ", ".join(f"{n} {state}" for state, n in told["states"].items())
    print(f"{told['joints']} joints: {said}")
    print(f"solved now {table.solved}, known before {table.known}, in {table.seconds:.0f} s")
    frame = table.frame
    if "reused" in frame:
        n = int((frame["reused"].fillna("") != "").sum())
        print(f"{n} of them took a face section from another joint (column reused)")
    if "mode" in frame:
        for mode, part in frame[frame["mode"].notna()].groupby("mode"):
            low, high = part["load_N"].min(), part["load_N"].max()
            print(f"{mode} first in {len(part)}: {low:,.0f} to {high:,.0f} N")
    for reason in list(frame.loc[frame["reason"].fillna("") != "", "reason"].unique())[:5]:
        print(f"note: {reason}")
    for path in written:
        print(f"wrote {path}")


def _one_at_a_time(
    joint: Joint, folder: Path, refine: float, workers: int | None, scheduler: str | None,
    as_json: bool,
) -> int:  # fmt: skip
    from fejoint.studies.sweeps.sensitivities import sensitivities

    with progress_bar(quiet=as_json) as tell:
        found = sensitivities(
            joint, refine=refine, folder=folder, workers=workers, scheduler=scheduler,
            progress=tell,
        )  # fmt: skip
    if as_json:
        print(json.dumps([asdict(s) for s in found]))
    else:
        _show_sensitivities(found)
    return 0


def _show_sensitivities(found: Sequence[Sensitivity]) -> None:
    table = console.table()
    for title in ("dimension", "as it is", "first to give, %/%", "offset load, %/%", "then gives"):
        table.add_column(title, justify="right" if "%" in title else "left")
    for s in found:
        numbers = ["-" if x is None else f"{x:+.2f}" for x in (s.load, s.offset_load)]
        told = s.reason or " / ".join(dict.fromkeys(s.modes))
        table.add_row(s.dimension.name, s.dimension.show(s.dimension.value), *numbers, told)
    console.console().print(table)


def _show_advice(found: Advice) -> None:
    goal = both_units(found.goal)
    print(
        f"as it is: {found.present['mode']} of the {found.present['part']} at "
        f"{found.present['load_N']:,.0f} N; to be reached: {goal}"
    )
    if found.reached:
        print("the joint as it is reaches it: nothing needs to change")
        return
    for title, changes in (("one dimension", found.single), ("two dimensions", found.double)):
        print(f"\n{title}:" if changes else f"\n{title}: none found within the limits")
        for change in changes:
            print(f"  {change.words}")
            print(f"    {_consequences(change, found.present)}")
    for name, best in found.short.items():
        print(f"{name} alone does not reach it: {best:,.0f} N at best within its limits")
    print(f"{found.solves} joints solved; every change above was pulled again on its own")


def _consequences(change: Change, before: Mapping[str, Any]) -> str:
    after = change.row
    said = [f"gives at {both_units(after['load_N'])}"]
    same = after["mode"] == before["mode"] and after["part"] == before["part"]
    mode = f"{after['mode']} of the {after['part']}"
    said.append(f"still {mode}" if same else f"now {mode}")
    said.append(f"weight {after['weight_g'] - before['weight_g']:+.1f} g")
    for column, name in (("permanent_set_2pc_N", "2 % set of the hole"),):
        if after.get(column) and before.get(column):
            said.append(f"{name} at {after[column]:,.0f} N (was {before[column]:,.0f} N)")
    bends = (after.get("permanent_bend_mm"), before.get("permanent_bend_mm"))
    if all(isinstance(b, float) for b in bends):
        said.append(f"pin keeps a bend of {bends[0]:.3f} mm then (was {bends[1]:.3f} mm)")
    return "; ".join(said)


def _advice(found: Advice) -> dict[str, Any]:
    def told(change: Change) -> dict[str, Any]:
        return {
            "change": [
                {"dimension": d.path, "from": d.value, "to": v, "unit": d.unit}
                for d, v in zip(change.dimensions, change.values, strict=True)
            ],
            "size": change.size,
            "case": change.joint.to_dict(),
            "row": dict(change.row),
        }

    return {
        "target_N": found.target, "margin": found.margin, "goal_N": found.goal,
        "present": dict(found.present), "reached": found.reached,
        "one_dimension": [told(c) for c in found.single],
        "two_dimensions": [told(c) for c in found.double],
        "out_of_reach_alone": found.short, "solves": found.solves,
    }  # fmt: skip


def _show_band(found: Tolerance, written: Sequence[Path]) -> None:
    print(found.sentence)
    if found.offset_load is not None:
        b = found.offset_load
        print(f"offset load: {b.median:,.0f} N ({b.low:,.0f} to {b.high:,.0f} N), {b.count} joints")
    print("\nwhat causes the band (rank correlation with the load, share of the band):")
    for cause in found.causes:
        print(f"  {cause.path}: {cause.correlation:+.2f}, {100 * cause.share:.0f} %")
    frame = found.table.frame
    for state, n in frame["state"].value_counts().items():
        if state != "solved":
            print(f"{n} joints {state}: not in the band")
    for path in written:
        print(f"wrote {path}")


def _band(found: Tolerance) -> dict[str, Any]:
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
    } | _summary(found.table)
