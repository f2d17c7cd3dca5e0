"""`fejoint solid`."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from fejoint.cli import console
from fejoint.cli.options import CASE_DEFAULTS, Case, CaseOptions, Whole
from fejoint.errors import BadInput, Fault, SolveStopped

if TYPE_CHECKING:
    from fejoint.analysis.solid_ear import Progress, SolidAnswer
    from fejoint.kernel.newton import EquilibriumPoint
    from fejoint.sections.face.pull import FaceHistory
    from fejoint.sections.solid.pull import SolidHistory

_EVERY = 0.2
"""Seconds between two updates of the progress line."""


def solid(
    case: Case,
    /,
    *,
    ear: Whole = 1,
    head: str | None = None,
    crooked: str | None = None,
    form: Literal["curl", "tilt"] = "curl",
    out: Path | None = None,
    given: CaseOptions = CASE_DEFAULTS,
) -> int:
    """Pull an ear in the round: what it loses when its end leaves its plane.

    Parameters
    ----------
    ear
        Which ear, 1 or 2.
    head
        The diameter of a head or washer on the ear's outer side, such as "14 mm", or "none"; what
        the case says if left out.
    crooked
        How far the ear is out of straight at its tip, such as "0.05 mm"; 1 % of its thickness if
        left out. Both sides are tried.
    form
        How it is out of straight: curl (the end beyond the hole) or tilt (all of it).
    out
        The folder for fields and pictures; "out/NAME" of the case if left out.
    """
    from fejoint.analysis import solid_ear

    source = given.read(case)
    joint, folder = source.joint, source.folder(out)
    across = 0.0 if head == "none" else _length("--head", head)
    asked = solid_ear.SolidQuestion(
        ear - 1, across, _length("--crooked", crooked), form, given.refine
    )
    solid_ear.solid_case(joint, asked)  # refuses before anything is written
    if not given.as_json:
        from fejoint import files

        files.make_ready(folder)
        source.claim(folder)
    with _progress(quiet=given.as_json) as progress:
        answer = solid_ear.solid_ear(joint, asked, progress)
    if given.as_json:
        console.say_json(answer.to_dict())
    else:
        from fejoint.output import solid_files

        written: list[Path] = []
        try:
            written.extend(solid_files.write_each(answer, folder))
        finally:
            # what was solved is told, also where its files cannot be kept
            _show(joint.title, answer)
            console.wrote(*written)
    if not answer.finished:
        pulls = [answer.plane.path, *(h.path for h in answer.solids.values())]
        ends = [str(path.stopped_because) for path in pulls]
        console.warn(f"stopped early: {'; '.join(dict.fromkeys(ends))}")
        return SolveStopped.exit_code
    return 0


def _length(option: str, text: str | None) -> float | None:
    from fejoint.inputs import units

    if text is None:
        return None
    try:
        return units.read(text, "length")
    except units.Misread as error:
        raise BadInput(Fault(option, text, str(error), 'write it as "14 mm"')) from error


@contextmanager
def _progress(*, quiet: bool) -> Iterator[Progress | None]:
    """Show load and minutes left on one line of a terminal; nothing in a pipe."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from fejoint.inputs.units import both_units

    begin = last = time.monotonic()

    def tell(name: str, point: EquilibriumPoint | None, done: float) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last < _EVERY:
            return
        last = now
        load = 0.0 if point is None else point.load
        left = (now - begin) * (1.0 - done) / done / 60.0 if done > 0.0 else 0.0
        console.progress_line(f"{name}: {both_units(load)}, about {left:.1f} min left")

    try:
        yield tell
    finally:
        console.progress_line("")


def _show(title: str, answer: SolidAnswer) -> None:
    """Print the sentence, the loads side by side, and what the model leaves out."""
    from fejoint.inputs.units import figures

    console.say(title, bold=True)
    if not answer.solids:
        console.say("interrupted before the solid ear was pulled")
        return
    worst, t = answer.worst, answer.case.thickness
    if worst.leaves is None:
        console.say(f"The end stays in its plane: nowhere 10 % of its {t:g} mm out of it.")
    else:
        console.say(
            f"The end leaves its plane at {figures(worst.leaves)} N and is "
            f"{abs(worst.deflection[-1]):.2f} mm out of it at the pull's end; the ear loses "
            f"{max(100 * answer.loss, 0.0):.0f} % of its greatest load."
        )
    console.say("")
    plane = answer.plane
    rows = [_row("in its plane", plane, plane.first_yield_plate, float(plane.load.max()))]
    for name, h in answer.solids.items():
        leaves = "" if h.leaves is None else figures(h.leaves)
        tip = f"{h.deflection[-1]:.2f}"
        rows.append(_row(f"solid, {name}", h, h.first_yield, h.greatest, leaves, tip))
    heads = (
        "ear", "first yield, N", "offset load, N", "leaves plane, N", "greatest, N", "tip out, mm",
    )  # fmt: skip
    console.say_table(heads, rows, left=("ear",))
    from fejoint.analysis.solid_ear import pile_up

    head = (
        "no head" if answer.case.above is None else f"a head of {2 * answer.case.above.radius:g} mm"
    )
    console.say(
        "",
        f"Under the pin the hole's edge is {pile_up(worst):.2f} times as thick as at rest. Held by "
        f"the shank's face and {head}; out of straight by {abs(answer.case.crooked.size):.3g} mm "
        f"({answer.case.crooked.form}) to either side. The pin is rigid and straight; friction is "
        f"{answer.case.friction:g}. First yield is a number of the mesh's scale.",
        "",
    )


def _row(
    name: str,
    pulled: FaceHistory | SolidHistory,
    first: float | None,
    greatest: float,
    leaves: str = "",
    tip: str = "",
) -> tuple[str, ...]:
    """Return a pull's cells; a load that still rose at the end is told as a bound."""
    from fejoint.inputs.units import figures

    rising = "" if pulled.load[-1] < pulled.load.max() else "over "
    return (
        name,
        "" if first is None else figures(first, 2),
        "" if pulled.offset is None else figures(pulled.offset.load),
        leaves,
        rising + figures(greatest),
        tip,
    )
