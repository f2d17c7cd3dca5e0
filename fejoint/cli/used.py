"""`fejoint used`."""

from __future__ import annotations

from pathlib import Path

from fejoint.cli import console
from fejoint.cli.options import CASE_DEFAULTS, Case, CaseOptions


def used(
    case: Case,
    /,
    *,
    hole: str | None = None,
    bend: str | None = None,
    neck: str | None = None,
    within: str = "0.02 mm",
    picture: Path | None = None,
    given: CaseOptions = CASE_DEFAULTS,
) -> int:
    """Say which pull a used joint has seen, and what it still bears.

    Parameters
    ----------
    case
        The case file of the joint when it was new.
    hole
        How much longer the hole in each ear is than when it was new, for example "0.1 mm".
    bend
        How far the pin stays bent between the ears.
    neck
        How much narrower each ear is beside its hole than when it was new.
    within
        How far each of these may be off.
    picture
        A file for a picture of the used joint on its curve: PNG, SVG or PDF, by its suffix.
    """
    from fejoint import files
    from fejoint.cli.pull import code_of, show
    from fejoint.inputs.fields import quantity
    from fejoint.inputs.units import both_units
    from fejoint.output.pictures import theme as look
    from fejoint.studies import used_joint

    joint = given.read(case).joint
    if picture is not None:
        look.check_suffix(picture)
        files.make_ready(picture.parent)

    def length(name: str, text: str | None) -> float | None:
        return None if text is None else quantity(f"--{name}", text, "length", 0.0, 500.0)

    apart = quantity("--within", within, "length", 0.001, 10.0)
    marks = [length(*mark) for mark in (("hole", hole), ("bend", bend), ("neck", neck))]
    with console.progress_share("used joint", quiet=given.as_json) as progress:
        found = used_joint.used(
            joint, hole=marks[0], bend=marks[1], neck=marks[2], within=apart,
            refine=given.refine, progress=progress,
        )  # fmt: skip
    drawn = []
    if picture is not None and found.answer is not None:
        drawn.append(look.save(found.plot(title=joint.title), picture))
    if given.as_json:
        console.say_json(found.to_dict())
    else:
        console.say(joint.title, bold=True)
        console.say(found.sentence, "")
        for mark in found.marks:
            to = both_units(mark.high) if mark.high < float("inf") else "the highest pull"
            console.say(
                f"{mark.name}, {mark.measured:g} mm: left by {both_units(mark.load)}, "
                f"{both_units(mark.low)} to {to} with {apart:g} mm less or more"
            )
        console.say(*found.refit_lines())
        console.say(f"note: {used_joint.NOT_COUNTED}", "")
        if found.answer is not None:
            console.say("The joint as it was when new, pulled to that, let go, and pulled on:", "")
            show(found.answer, drawn)
    if found.answer is None:
        return 0
    trust = found.answer.trust
    return code_of(trust.finished, str(trust.stopped_because))
