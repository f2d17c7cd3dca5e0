"""What `fejoint pin-range` does and prints: progress, crossings, table, picture, JSON."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from fejoint.analysis import refinement
from fejoint.cli import console as terminal
from fejoint.errors import BadInput, Fault, SolveStopped
from fejoint.files import write_atomically
from fejoint.inputs.fields import quantity
from fejoint.inputs.units import KGF, both_units
from fejoint.joint import reader
from fejoint.materials import hardness

if TYPE_CHECKING:
    from fejoint.studies.pin_hardness import PinRange
    from fejoint.studies.pin_hardness.study import Progress


def run(
    case: Path,
    *,
    softest: str,
    hardest: str,
    points: int,
    after: str | None,
    refine: float,
    out: Path | None,
    as_json: bool,
) -> int:
    """Study a case over the pin's hardness, write table and picture, and print what was found.

    Returns
    -------
    int
        0.

    Raises
    ------
    BadInput
        If the case or an option is bad; nothing is written then.
    SolveStopped
        On Ctrl-C.
    """
    joint = reader.load(case)
    ends = [
        hardness.to_hv(hardness.parse(text, field), field)
        for text, field in ((softest, "--softest"), (hardest, "--hardest"))
    ]
    from fejoint.studies.pin_hardness import pin_range

    pull = None if after is None else _load(after)
    refinement.check(refine)
    folder = out if out is not None else Path("out") / case.stem

    try:
        with _bar(quiet=as_json) as progress:
            found = pin_range(
                joint,
                softest=ends[0],
                hardest=ends[1],
                points=points,
                after=pull,
                refine=refine,
                progress=progress,
            )
    except KeyboardInterrupt:
        message = "interrupted: nothing written"
        raise SolveStopped(message) from None
    written = write(found, folder)
    if as_json:
        print(to_json(found))
    else:
        show(found, written)
    return 0


def _load(text: str) -> float:
    load = quantity("--after", text, "force")
    if load <= 0.0:
        raise BadInput(Fault("--after", text, "must be above 0", 'write "400 kgf" or "4 kN"'))
    return load


def to_json(found: PinRange) -> str:
    """Return a study as JSON text."""
    return json.dumps(found.to_dict(), indent=1, ensure_ascii=False)


def write(found: PinRange, folder: Path) -> list[Path]:
    """Write `pin-range.json` and `pin-range.png`, and return their paths."""
    from fejoint.studies.pin_hardness import plot

    data = folder / "pin-range.json"
    write_atomically(data, to_json(found))
    return [data, plot.save(found, folder / "pin-range.png")]


def sentences(found: PinRange) -> list[str]:
    """Say which part gives first over the range, and where that changes."""
    low, high = found.points[0], found.points[-1]
    if not found.crossings:
        return [
            f"From {low.hardness:.0f} to {high.hardness:.0f} HV it is always "
            f"{low.first.part}: {low.first.mode} that comes first."
        ]
    return [
        f"Below {c.hardness:.0f} HV {_what(c.softer)} comes first, above it {_what(c.harder)}: "
        f"there at {both_units(c.load)}."
        for c in found.crossings
    ]


def _what(first: tuple[str, str]) -> str:
    mode, part = first
    return mode if mode.startswith(part) else f"{mode} ({part})"


def show(found: PinRange, written: Sequence[Path]) -> None:
    """Print crossings, table and notes."""
    console = terminal.console()
    console.print(found.joint.title, style="bold", markup=False)
    for said in sentences(found):
        console.print(said, markup=False)
    console.print()
    table = terminal.table()
    titles = (
        "HV",
        "Rm, MPa",
        "gives first",
        "N",
        "kgf",
        "hole offset, N",
        "kept sag, mm",
        "turn, °",
    )
    for title in titles:
        left = title == "gives first"
        table.add_column(title, justify="left" if left else "right", no_wrap=left)
    for p in found.points:
        table.add_row(
            f"{p.hardness:.0f}",
            f"{p.strength:.0f}",
            f"{p.first.mode} ({p.first.cause})",
            f"{p.first.load:,.0f}",
            f"{p.first.load / KGF:,.0f}",
            "" if p.offset_load is None else f"{p.offset_load:,.0f}",
            "" if p.bend_mm is None else f"{p.bend_mm:.3f}",
            "" if p.bend_deg is None else f"{p.bend_deg:.2f}",
        )
    console.print(table)
    console.print(
        f"\nkept sag and turn of the pin: after a pull of {both_units(found.after)}; "
        "empty where the joint carries less",
        markup=False,
    )
    for note in found.notes:
        console.print(f"note: {note}", markup=False)
    console.print(f"\n{len(found.points)} hardnesses in {found.seconds:.0f} s", markup=False)
    for path in written:
        console.print(f"wrote {path}", markup=False)


@contextmanager
def _bar(*, quiet: bool) -> Iterator[Progress | None]:
    """Show a progress bar on a terminal; nothing in a pipe."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.completed} of {task.total}"),
        TimeElapsedColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("face sections", total=None)

        def progress(what: str, done: int, known: int) -> None:
            bar.update(task, description=what, completed=done, total=known)

        yield progress
