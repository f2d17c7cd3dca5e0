"""`fejoint pull`."""

from __future__ import annotations

import gc
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from fejoint.cli import console
from fejoint.cli.options import CASE_DEFAULTS, Case, CaseOptions, Flag
from fejoint.errors import SolveStopped

if TYPE_CHECKING:
    from fejoint.analysis.progress import Watch
    from fejoint.analysis.result import Answer
    from fejoint.kernel.newton import EquilibriumPoint

_EVERY = 0.1
"""Seconds between two updates of the progress line."""


def pull(
    case: Case,
    /,
    *,
    out: Path | None = None,
    solver: str = "fastest",
    pictures: Annotated[bool, Parameter(negative="--no-pictures")] = True,
    film: Flag = False,
    band: Annotated[bool, Parameter(negative="--no-band")] = True,
    book: Path | None = None,
    given: CaseOptions = CASE_DEFAULTS,
) -> int:
    """Pull a joint and say which part gives first, at what pull.

    Parameters
    ----------
    out
        The folder for the answer's files and pictures; "out/NAME" of the case if left out.
    solver
        The solver of the equations: fastest, pardiso or superlu.
    pictures
        Draw pictures beside the answer's files.
    film
        Write the pull as a film (WebP) too.
    band
        Say how sure each load is, and how often the first part gives first: a third more time.
    book
        A results book: once it holds five joints, its own pulls narrow the band where they are
        surer than the published tests.
    """
    source = given.read(case)
    joint, folder = source.joint, source.folder(out)
    with _no_collection():
        from fejoint import files
        from fejoint.analysis import pull as analysis
        from fejoint.analysis.joint_odds import surer
        from fejoint.analysis.memory import refuse_too_large
        from fejoint.analysis.section_cases import PullSettings
        from fejoint.kernel import compiled

        own = None
        if book is not None:
            from fejoint.measured import own_error

            own = own_error.of_book(book)
            least = own_error.LEAST_JOINTS
            if not own:
                console.warn(f"{book} holds fewer than {least} joints: it narrows no band")
        refuse_too_large(joint, PullSettings(given.refine, solver=solver))
        files.make_ready(folder)
        source.claim(folder)
        compiled.warm()
    with progress_line(quiet=given.as_json) as progress:
        answer = analysis.pull(
            joint, refine=given.refine, solver=solver, watch=progress, band=band and own is None
        )
    if band and own is not None:
        answer = surer(answer, own)
    written: list[Path] = []
    try:
        written.extend(_write(answer, folder, pictures=pictures, moving=film))
    finally:
        # a verdict is not thrown away because its files cannot be kept
        if given.as_json:
            console.say_json_text(answer.to_json())
        else:
            show(answer, written, slower_because(solver))
    return code_of(answer.trust.finished, str(answer.trust.stopped_because))


def code_of(finished: bool, why: str) -> int:
    """Return the exit code of a pull; say why one that broke off did."""
    if finished:
        return 0
    console.warn(f"stopped early: {why}")
    return SolveStopped.exit_code


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
    if compiled.made_anew():
        missing.append("machine code on disk was damaged, and is made anew now")
    if not missing:
        return None
    return f"solved more slowly than it could be: {', '.join(missing)}; see `fejoint doctor`"


def _write(answer: Answer, folder: Path, *, pictures: bool, moving: bool) -> Iterator[Path]:
    from fejoint.output import result_files

    yield from result_files.write_each(answer, folder)
    if pictures and answer.trust.finished:
        from fejoint.output import pictures as drawn

        yield from drawn.write_each(answer, folder)
    if moving and answer.trust.finished:
        from fejoint.output.pictures.film import film

        yield film(answer, folder / "film.webp")


@contextmanager
def progress_line(*, quiet: bool) -> Iterator[Watch | None]:
    """Show load, elongation and iteration on one line of a terminal; nothing in a pipe."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from fejoint.inputs.units import both_units

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
        console.progress_line(
            f"{section}: {both_units(load)}, travel {travel:.3f} mm, iteration {iteration}, "
            f"out of balance {error:.0e}"
        )

    try:
        yield progress
    finally:
        console.progress_line("")


def show(answer: Answer, written: list[Path], slow: str | None = None) -> None:
    """Print what decides first: verdict, limits, cautions, what was assumed; the solver last."""
    from fejoint.analysis import definitions
    from fejoint.analysis.apart import sentences
    from fejoint.analysis.cautions import IN_A_LINE
    from fejoint.inputs.units import figures

    console.say(answer.joint.title, bold=True)
    console.say(answer.verdict.sentence, "")
    _show_order(answer)
    if answer.odds is not None and answer.odds.matters:
        console.say("", answer.odds.matters)
    notes = (*answer.warnings, *([slow] if slow else []))
    console.say(*sentences(answer.to_dict()["verdict"]["order"]))
    console.say("", IN_A_LINE, *(f"note: {note}" for note in notes), "")
    console.say(*event_lines(answer))
    if answer.path:
        console.say("")
        _show_path(answer)
    for row in answer.ductility:
        x, y = row["at_mm"]
        console.say(
            f"{row['plate']}: {figures(100 * row['used'])} % of its stretch used by the pull's "
            f"end, most of all {x:.1f}, {y:.1f} mm from the hole's centre"
        )
    console.say("")
    console.wrote(*written)
    trust = answer.trust
    console.say(
        f"The pull ended where {definitions.end_words(trust.stopped_because)}. Calculation "
        f"closed to {100 * abs(trust.energy):.2g} %; the mesh leaves about "
        f"{100 * trust.refinement_change:.2g} % in the offset load."
    )


def _show_order(answer: Answer) -> None:
    """Print each member's limits, the lowest first."""
    from fejoint.output.limit_table import HEADS, LEFT, limit_table

    table = limit_table(answer)
    whole = ("member", "N", "kgf", "by hand, N")
    console.say_table(HEADS, table.rows, left=LEFT, whole=whole)
    console.say(*table.notes)


def event_lines(answer: Answer) -> Iterator[str]:
    """Say each event reached, and in one line a reason those that were not."""
    from fejoint.analysis import definitions
    from fejoint.analysis.odds import figures_as_sure
    from fejoint.inputs.units import figures

    missed: dict[str, list[str]] = {}
    alone = len(answer.joint.ears) == 1
    for event in answer.events:
        name = definitions.EVENT_TITLES[event.name]
        whose = definitions.EVENT_PARTS.get(event.name, "")
        member = event.member or ("ear" if alone and whose == "ears" else whose)
        name = f"{member}: {name}" if member else name
        if event.load is None:
            missed.setdefault(event.reason.rpartition("; ")[2], []).append(name)
            continue
        shown = figures_as_sure(event.load, answer.odds)
        said = definitions.load_words(event.name, event.load, shown)
        if event.band is not None:
            low, high = (figures(load, 2) for load in event.band)
            said += f", on other meshes {low} to {high} N"
        yield f"{name}: {said}, hole longer by {event.hole_elongation:.3f} mm"
    for why, names in missed.items():
        yield f"not reached, as {why}: {', '.join(names)}"


def _show_path(answer: Answer) -> None:
    """Print the legs of the path: what each came to, and what a release left."""
    rows = [
        (
            row.leg if row.reached else f"{row.leg} (not reached)",
            f"{row.load:,.0f}",
            f"{row.hole_mean:.3f}",
            f"{row.hole_inner:.3f}",
            f"{row.pin_bend:.3f}",
            "" if row.moves_again is None else f"{row.moves_again:,.0f}",
            "" if row.friction_heat is None else f"{row.friction_heat:,.2f}",
        )
        for row in answer.path
    ]
    heads = (
        *("leg", "N", "hole longer, mm", "at its worst", "pin bent, mm", "moves again at, N"),
        "friction, mJ",
    )
    console.say_table(heads, rows, left=heads[:1], whole=heads[:1])
    for why in dict.fromkeys(row.unread for row in answer.path if row.unread):
        legs = ", ".join(row.leg for row in answer.path if row.unread == why)
        console.say(f"friction and stretch used not read for {legs}: {why}")
