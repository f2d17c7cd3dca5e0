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
    found = side_blow(joint, angle=angle, refine=given.refine)
    if given.as_json:
        console.say_json(asdict(found) | {"sentence": found.sentence})
        return code_of(found.finished, found.ended)
    rows = (
        ("across the pin: the pin yields", found.pin_yields),
        ("across the pin: the pin hinges", found.pin_hinges),
        ("across the pin: bend left in the pin 1 % of its span", found.pin_keeps_bend),
        ("across the pin: the ear's hole stretches by 2 %", found.hole_gives),
        ("across the pin: the ear bends aside at its grip", found.ear_bends_across),
        (f"across the pin: highest load, where {found.ended}", found.largest),
        ("along the pin, by hand: the ear bends at its grip", found.ear_bends),
        ("along the pin, by hand: the pin yields between its heads", found.pin_pulls_apart),
    )
    console.say(joint.title, bold=True)
    console.say(found.sentence, "")
    for name, load in rows:
        console.say(f"{name}: {'not reached' if load is None else both_units(load)}")
    return code_of(found.finished, found.ended)
