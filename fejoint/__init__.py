"""A pin in a hole, pulled until something gives.

>>> import fejoint
>>> answer = fejoint.pull(fejoint.load("cases/demo/hard-pin.toml"))
>>> print(answer.verdict.sentence)
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fejoint.answer import Answer
    from fejoint.case_file import load
    from fejoint.errors import BadInput, FejointError, SolveStopped
    from fejoint.joint import Ear, Joint, Leg, Pin, Pull, Shank
    from fejoint.oblique import Direction, directions
    from fejoint.pulling import pull
    from fejoint.sections.plate import open_hole
    from fejoint.sections.plate_answer import PlateAnswer
    from fejoint.struck_ear import SideBlow, side_blow
    from fejoint.sweeps.advise import Advice, advise
    from fejoint.sweeps.run import Table, sweep
    from fejoint.sweeps.scatter import Tolerance, scatter
    from fejoint.sweeps.sensitivities import sensitivities
    from fejoint.used_joint import used

__all__ = [
    "Advice", "Answer", "BadInput", "Direction", "Ear", "FejointError", "Joint", "Leg", "Pin",
    "PlateAnswer", "Pull", "Shank", "SideBlow", "SolveStopped", "Table", "Tolerance", "advise",
    "directions", "load", "open_hole", "pull", "scatter", "sensitivities", "side_blow", "sweep",
    "used",
]  # fmt: skip

_HOMES = {
    "Answer": "answer",
    "BadInput": "errors",
    "FejointError": "errors",
    "SolveStopped": "errors",
    "Ear": "joint",
    "Joint": "joint",
    "Leg": "joint",
    "Pin": "joint",
    "Pull": "joint",
    "Shank": "joint",
    "PlateAnswer": "sections.plate_answer",
    "Direction": "oblique",
    "directions": "oblique",
    "SideBlow": "struck_ear",
    "side_blow": "struck_ear",
    "load": "case_file",
    "open_hole": "sections.plate",
    "pull": "pulling",
    "Advice": "sweeps.advise",
    "Table": "sweeps.run",
    "Tolerance": "sweeps.scatter",
    "advise": "sweeps.advise",
    "scatter": "sweeps.scatter",
    "sensitivities": "sweeps.sensitivities",
    "sweep": "sweeps.run",
    "used": "used_joint",
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for, so that light commands start fast."""
    if name in _HOMES:
        return getattr(importlib.import_module(f"fejoint.{_HOMES[name]}"), name)
    message = f"module 'fejoint' has no attribute {name!r}"
    raise AttributeError(message)
