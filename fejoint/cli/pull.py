"""What `fejoint pull` does and prints: progress, verdict, files, cautions."""

from __future__ import annotations

import gc
import math
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from fejoint.analysis import definitions, refinement
from fejoint.analysis.cautions import CAUTIONS
from fejoint.analysis.result import Answer
from fejoint.cli import console as terminal
from fejoint.errors import SolveStopped
from fejoint.inputs.units import KGF, both_units, figures
from fejoint.joint import reader

if TYPE_CHECKING:
    from rich.table import Table

    from fejoint.analysis.pull import Progress
    from fejoint.kernel.newton import EquilibriumPoint

_EVERY = 0.1
"""Seconds between two updates of the progress line."""


def run(
    case: Path, *, out: Path | None, refine: float, solver: str, pictures: bool, as_json: bool
) -> int:
    """Pull a case from a file, write what comes of it and print the verdict.

    Returns
    -------
    int
        0, or 3 where the solve could not finish (what it has is written all the same).

    Raises
    ------
    BadInput
        If the case or an option is bad, or the mesh too large (nothing is written then); or if
        a file cannot be written.
    """
    refinement.check(refine)
    joint = reader.load(case)
    folder = out if out is not None else Path("out") / case.stem
    with _no_collection():
        from fejoint import files
        from fejoint.analysis.memory import refuse_too_large
        from fejoint.analysis.pull import pull
        from fejoint.analysis.section_cases import PullSettings
        from fejoint.kernel import compiled

        refuse_too_large(joint, PullSettings(refine, solver=solver))
        files.make_ready(folder)
        compiled.warm()
    with progress_line(quiet=as_json) as progress:
        answer = pull(joint, refine=refine, solver=solver, progress=progress)
    written: list[Path] = []
    try:
        written.extend(_write(answer, folder, pictures))
    finally:
        # a verdict is not thrown away because its files cannot be kept
        if as_json:
            print(answer.to_json())
        else:
            show(answer, written, slower_because(solver))
    if not answer.trust.finished:
        print(f"stopped early: {answer.trust.stopped_because}", file=sys.stderr)
        return SolveStopped.exit_code
    return 0


@contextmanager
def _no_collection() -> Iterator[None]:
    """Import what a pull needs out of sight of the collector of garbage, for good.

    What is imported stays: to walk through it again and again takes 0.1 s of a pull's 2 s.
    """
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if gc.get_freeze_count() == 0:  # once: later, a caller's garbage would be kept with it
            gc.freeze()
        if collects:
            gc.enable()


def slower_because(solver: str) -> str | None:
    """Return why this installation solves more slowly than it could, or None where it does not.

    What the user has asked for himself is not told.
    """
    from fejoint.kernel import compiled
    from fejoint.kernel.linear import LinearSolver

    missing = []
    asked = solver != "fastest" or os.environ.get("FEJOINT_SOLVER") == "superlu"
    if not asked and LinearSolver(symmetric=True).backend == "superlu":
        missing.append("no fast solver (pypardiso)")
    if os.environ.get("FEJOINT_COMPILED", "1") != "0" and not compiled.warm():
        missing.append("no compiled kernels (numba, and a folder it may cache them in)")
    if not missing:
        return None
    return f"solved more slowly than it could be: {', '.join(missing)}; see `fejoint doctor`"


def _write(answer: Answer, folder: Path, pictures: bool) -> Iterator[Path]:
    from fejoint.output import result_files

    yield from result_files.write_each(answer, folder)
    if pictures and answer.trust.finished:
        from fejoint.output import pictures as drawn

        yield from drawn.write_each(answer, folder)


@contextmanager
def progress_line(*, quiet: bool) -> Iterator[Progress | None]:
    """Show load, elongation and iteration on one line of a terminal; nothing in a pipe."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    last = 0.0

    def progress(
        section: str, point: EquilibriumPoint | None, iteration: int, error: float
    ) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last < _EVERY:
            return
        last = now
        load = 0.0 if point is None else point.load
        travel = 0.0 if point is None else point.travel
        text = (
            f"{section}: load {both_units(load)}, pin travel {travel:.3f} mm, "
            f"iteration {iteration}, out of balance {error:.0e}"
        )
        print(f"\r\x1b[2K{text}", end="", file=sys.stderr, flush=True)

    try:
        yield progress
    finally:
        print("\r\x1b[2K", end="", file=sys.stderr, flush=True)


def show(answer: Answer, written: list[Path], slow: str | None = None) -> None:
    """Print the verdict, the order in which parts give, the events and the cautions."""
    console = terminal.console()
    console.print(answer.joint.title, style="bold", markup=False)
    console.print(answer.verdict.sentence, markup=False)
    console.print()
    table = terminal.table()
    table.add_column("member", no_wrap=True)
    table.add_column("what gives")
    for title in ("N", "kgf", "by hand, N"):
        table.add_column(title, justify="right", no_wrap=True)
    table.add_column("counted as")
    outside: list[str] = []
    for part in answer.verdict.order:
        for k, limit in enumerate((part.first, *part.later)):
            hand = "" if limit.handbook_load is None else figures(limit.handbook_load)
            if limit.handbook_note:
                hand = f"({hand})"
                outside.append(limit.handbook_note)
            late = ", past the highest pull" if limit.past_top else ""
            if limit.band is not None:
                low, high = limit.band
                late += (
                    f", {figures(low)} to {figures(high)}"
                    if math.isfinite(high)
                    else (f", from {figures(low)} on")
                )
            table.add_row(
                limit.member if k == 0 else "",
                definitions.title(limit.mode),
                figures(limit.load),
                figures(limit.load / KGF),
                hand,
                limit.cause + late,
            )
    console.print(table)
    if outside:
        console.print(f"In brackets: {'; '.join(dict.fromkeys(outside))}.", markup=False)
    console.print()
    for line in event_lines(answer):
        console.print(line, markup=False)
    if answer.path:
        console.print()
        console.print(_path_table(answer))
    for row in answer.ductility:
        x, y = row["at_mm"]
        console.print(
            f"{row['plate']}: {100 * row['used']:.2g} % of its stretch used by the pull's end, "
            f"most of all {x:.1f}, {y:.1f} mm from the hole's centre",
            markup=False,
        )
    trust = answer.trust
    console.print(
        f"\nThe pull ended where {definitions.end_words(str(trust.stopped_because))}. Calculation "
        f"closed to {100 * abs(trust.energy):.2g} %; the mesh leaves about "
        f"{100 * trust.refinement_change:.2g} % in the offset load.",
        markup=False,
    )
    for warning in (*answer.warnings, *([slow] if slow else [])):
        console.print(f"note: {warning}", markup=False)
    for caution in CAUTIONS:
        console.print(f"caution: {caution}", markup=False)
    console.print()
    for path in written:
        console.print(f"wrote {path}", markup=False)


def event_lines(answer: Answer) -> Iterator[str]:
    """Say each event reached, and in one line a reason those that were not."""
    missed: dict[str, list[str]] = {}
    for event in answer.events:
        name = definitions.EVENT_TITLES[event.name]
        of_pin = event.name.endswith("pin") or event.name.startswith("pin")
        member = event.member or ("pin" if of_pin else "")
        name = f"{member}: {name}" if member else name
        if event.load is None:
            missed.setdefault(event.reason.rpartition("; ")[2], []).append(name)
            continue
        about = event.name in definitions.MESH_SCALE
        said = f"about {both_units(event.load, 2)}" if about else both_units(event.load)
        if event.band is not None:
            low, high = (figures(load, 2) for load in event.band)
            said += f", on other meshes {low} to {high} N"
        yield f"{name}: {said}, hole longer by {event.hole_elongation:.3f} mm"
    for why, names in missed.items():
        yield f"not reached, as {why}: {', '.join(names)}"


def _path_table(answer: Answer) -> Table:
    """Return the legs of the path: what each came to, and what a release left."""
    table = terminal.table()
    table.add_column("leg", no_wrap=True)
    for title in (
        "N", "hole longer, mm", "at its worst", "pin bent, mm", "moves again at, N", "friction, mJ",
    ):  # fmt: skip
        table.add_column(title, justify="right")
    for row in answer.path:
        heat, again = row.friction_heat, row.moves_again
        table.add_row(
            row.leg if row.reached else f"{row.leg} (not reached)",
            f"{row.load:,.0f}",
            f"{row.hole_mean:.3f}",
            f"{row.hole_inner:.3f}",
            f"{row.pin_bend:.3f}",
            "" if again is None else f"{again:,.0f}",
            "" if heat is None else f"{heat:,.2f}",
        )
    return table
