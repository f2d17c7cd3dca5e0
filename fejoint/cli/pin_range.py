"""`fejoint pin-range`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from fejoint.cli import console
from fejoint.cli.options import CASE_DEFAULTS, Case, CaseOptions, Whole
from fejoint.errors import BadInput, Fault, SolveStopped
from fejoint.inputs.units import KGF, both_units, figures

if TYPE_CHECKING:
    from fejoint.studies.pin_hardness import PinRange


def pin_range(
    case: Case,
    /,
    *,
    softest: str = "150 HV",
    hardest: str = "600 HV",
    points: Whole = 12,
    after: str | None = None,
    out: Path | None = None,
    given: CaseOptions = CASE_DEFAULTS,
) -> None:
    """Pull a joint with steel pins from soft to hard; find where the first part to give changes.

    Parameters
    ----------
    case
        The file that describes the joint; its own pin material is not used.
    softest
        The hardness of the softest pin, such as "150 HV", of carbon or low-alloy steel.
    hardest
        The hardness of the hardest pin, such as "52 HRC", of carbon or low-alloy steel.
    points
        How many evenly spaced hardnesses are pulled; changes between them are found by further
        solves.
    after
        The pull, such as "400 kgf", after which the bend left in the pin is shown; that at which
        the joint with the hardest pin first gives, if left out.
    out
        The folder for the table and its picture; "out/NAME" of the case if left out.
    """
    from fejoint.materials import hardness
    from fejoint.studies import pin_hardness

    source = given.read(case)
    joint = source.joint
    ends = [
        hardness.to_hv(hardness.parse(text, field), field)
        for text, field in ((softest, "--softest"), (hardest, "--hardest"))
    ]
    pull = None if after is None else _load(after)
    folder = source.folder(out)
    try:
        with console.progress_bar("face sections", quiet=given.as_json) as advance:
            found = pin_hardness.pin_range(
                joint,
                softest=ends[0],
                hardest=ends[1],
                points=points,
                after=pull,
                refine=given.refine,
                tell=lambda what, done, known: advance(done, known, what),
            )
    except KeyboardInterrupt:
        message = "interrupted: nothing written"
        raise SolveStopped(message) from None
    source.claim(folder)
    written = write(found, folder)
    if given.as_json:
        console.say_json_text(to_json(found))
    else:
        show(found, written)


def _load(text: str) -> float:
    from fejoint.inputs.fields import quantity

    load = quantity("--after", text, "force")
    if load <= 0.0:
        raise BadInput(Fault("--after", text, "must be above 0", 'write "400 kgf" or "4 kN"'))
    return load


def to_json(found: PinRange) -> str:
    """Return a study as JSON text."""
    return console.json_text(found.to_dict())


def write(found: PinRange, folder: Path) -> list[Path]:
    """Write `pin-range.json` and `pin-range.png`, and return their paths."""
    from fejoint.files import write_atomically
    from fejoint.output.pictures import theme as look

    data = folder / "pin-range.json"
    write_atomically(data, to_json(found))
    return [data, look.save(found.plot(title=found.joint.title), folder / "pin-range.png")]


def show(found: PinRange, written: Sequence[Path]) -> None:
    """Print crossings, table and notes."""
    console.say(found.joint.title, bold=True)
    console.say(*found.sentences, "")
    from fejoint.analysis import definitions

    rows = [
        (
            f"{p.hardness:.0f}",
            f"{p.strength:.0f}",
            f"{definitions.named(p.first.mode, p.first.member)} ({p.first.cause})",
            figures(p.first.load),
            figures(p.first.load / KGF),
            "" if p.offset_load is None else figures(p.offset_load),
            "" if p.bend_mm is None else f"{p.bend_mm:.3f}",
            "" if p.bend_deg is None else f"{p.bend_deg:.2f}",
        )
        for p in found.points
    ]
    first = "gives first"
    heads = ("HV", "Rm, MPa", first, "N", "kgf", "hole offset, N", "bend left, mm", "turn, °")
    console.say_table(heads, rows, left=(first,), whole=(first,))
    console.say(
        "",
        f"bend left and turn of the pin: after a pull of {both_units(found.after)}; "
        "empty where the joint carries less",
        *(f"note: {note}" for note in found.notes),
        "",
        f"{len(found.points)} hardnesses in {found.seconds:.0f} s",
    )
    console.wrote(*written)
