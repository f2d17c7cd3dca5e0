"""Stand-ins for the solve: closed forms that cost nothing, for what a sweep does around it."""

from __future__ import annotations

import math
import os
import time
from pathlib import Path

from fejoint.joint.model import Joint


def closed_form(case, settings):
    """A made-up joint: hole bearing against pin bending, each a power law."""
    if "seconds" in settings:
        time.sleep(settings["seconds"])
    joint = Joint.from_dict(case)
    ear, pin = joint.ears[0], joint.pin
    hole = 300.0 * ear.thickness * ear.edge_distance**0.5 * ear.width**0.3
    bend = 0.4 * pin.diameter**3 * pin.material.rp02 / 3.0
    both = ("hole elongation", "ear", hole), ("pin bending", "pin", bend)
    (mode, part, load), (after, _, later) = sorted(both, key=lambda row: row[2])
    if "log" in settings:
        with Path(settings["log"]).open("a") as log:
            log.write(f"{ear.edge_distance!r} {ear.hole!r}\n")
    return {
        "mode": mode,
        "part": part,
        "load_N": load,
        "next_mode": after,
        "margin_to_next": later / load - 1.0,
        "offset_load_N": hole,
        "weight_g": ear.thickness * ear.width,
        "permanent_set_2pc_N": 0.96 * hole,
        "permanent_bend_mm": 0.0,
        "finished": True,
        "root": math.sqrt(load),
    }


def fails_on_wide(case, settings):
    """Breaks on ears of 15 mm and more, as a solver might."""
    if Joint.from_dict(case).ears[0].width >= 15.0:
        message = "no equilibrium"
        raise ArithmeticError(message)
    return closed_form(case, settings)


def dies_on_wide(case, settings):
    """Kills its own process on ears of 15 mm and more."""
    if Joint.from_dict(case).ears[0].width >= 15.0:
        os._exit(9)
    return closed_form(case, settings)


def dies_once(case, settings):
    """Kills its own process at one joint, the first time that it is met."""
    mark = Path(settings["mark"])
    if Joint.from_dict(case).ears[0].edge_distance == settings["at"] and not mark.exists():
        mark.write_text(str(os.getpid()))
        os.kill(os.getpid(), 9)
    return closed_form(case, {k: settings[k] for k in settings if k in ("log", "seconds")})


def stopped_by_hand(case, settings):
    """As if the user pressed Ctrl-C at ears of 15 mm."""
    if Joint.from_dict(case).ears[0].width == 15.0:
        raise KeyboardInterrupt
    return closed_form(case, settings)
