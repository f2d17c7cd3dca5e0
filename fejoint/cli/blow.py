"""`fejoint blow`."""

from __future__ import annotations

from dataclasses import asdict

from fejoint.cli import console
from fejoint.cli.options import CASE_DEFAULTS, Case, CaseOptions


def blow(case: Case, /, *, angle: float = 90.0, given: CaseOptions = CASE_DEFAULTS) -> int:
    """Push one ear sideways, across and along the pin.

    Parameters
    ----------
    angle
        The angle between the blow across the pin and the ear's axis, in degrees.
    """
    from fejoint.cli.pull import code_of
    from fejoint.inputs.units import both_units
    from fejoint.studies.side_blow import side_blow

    joint = given.read(case).joint
    with console.progress_share("side blow", quiet=given.as_json) as progress:
        found = side_blow(joint, angle=angle, refine=given.refine, progress=progress)
    if given.as_json:
        console.say_json(asdict(found) | {"sentence": found.sentence})
        return code_of(found.finished, found.ended)
    console.say(joint.title, bold=True)
    console.say(found.sentence, "")
    for name, load in found.lines:
        console.say(f"{name}: {'not reached' if load is None else both_units(load)}")
    return code_of(found.finished, found.ended)
