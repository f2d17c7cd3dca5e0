"""What `fejoint used` and `fejoint blow` print."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

from fejoint.analysis import refinement
from fejoint.errors import SolveStopped
from fejoint.inputs.fields import quantity
from fejoint.inputs.units import both_units
from fejoint.joint import reader


def show_used(case: Path, kept: str, *, refine: float, as_json: bool) -> int:
    """Pull a joint whose holes keep an elongation already, and print its path and verdict.

    Raises
    ------
    BadInput
        If the case or an option is bad.
    """
    from fejoint.cli.pull import show
    from fejoint.studies.used_joint import used

    refinement.check(refine)
    joint = reader.load(case)
    length = quantity("--kept", kept, "length", 0.0, 500.0)
    answer = used(joint, length, refine=refine)
    if as_json:
        print(answer.to_json())
    else:
        show(answer, [])
    return 0 if answer.trust.finished else SolveStopped.exit_code


def show_blow(case: Path, *, angle: float, refine: float, as_json: bool) -> int:
    """Push the first ear sideways and print what gives.

    Raises
    ------
    BadInput
        If the case or an option is bad.
    """
    from fejoint.studies.side_blow import side_blow

    refinement.check(refine)
    joint = reader.load(case)
    blow = side_blow(joint, angle=angle, refine=refine)
    if as_json:
        print(json.dumps(asdict(blow) | {"sentence": blow.sentence}, indent=1))
        return 0
    rows = (
        ("across the pin: the pin yields", blow.pin_yields),
        ("across the pin: the pin hinges", blow.pin_hinges),
        ("across the pin: the pin keeps a bend of 1 % of its span", blow.pin_keeps_bend),
        ("across the pin: the ear's hole stretches by 2 %", blow.hole_gives),
        ("across the pin: the ear bends aside at its grip", blow.ear_bends_across),
        (f"across the pin: largest load ({blow.ended})", blow.largest),
        ("along the pin, by hand: the ear bends at its grip", blow.ear_bends),
        ("along the pin, by hand: the pin yields between its heads", blow.pin_pulls_apart),
    )
    print(f"{joint.title}\n{blow.sentence}\n")
    for name, load in rows:
        said = "not reached" if load is None else both_units(load)
        print(f"{name}: {said}")
    return 0
