"""A pin in a hole, pulled until something gives.

>>> import fejoint
>>> answer = fejoint.pull(fejoint.load("cases/demo/hard-pin.toml"))
>>> print(answer.verdict.sentence)
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fejoint.analysis.pull import pull
    from fejoint.analysis.result import Answer
    from fejoint.errors import BadInput, FejointError, SolveStopped
    from fejoint.joint.model import Joint, load
    from fejoint.joint.parts import Ear, Leg, Pin, Pull, Shank
    from fejoint.measured.evaluate import learned, match
    from fejoint.reference_models.open_hole import open_hole
    from fejoint.reference_models.open_hole_result import PlateAnswer
    from fejoint.studies.directions import Direction, directions
    from fejoint.studies.side_blow import SideBlow, side_blow
    from fejoint.studies.sweeps.design_changes import Advice, advise
    from fejoint.studies.sweeps.run import Table, sweep
    from fejoint.studies.sweeps.sensitivities import sensitivities
    from fejoint.studies.sweeps.tolerance_band import Tolerance, scatter
    from fejoint.studies.used_joint import used

__all__ = [
    "Advice",
    "Answer",
    "BadInput",
    "Direction",
    "Ear",
    "FejointError",
    "Joint",
    "Leg",
    "Pin",
    "PlateAnswer",
    "Pull",
    "Shank",
    "SideBlow",
    "SolveStopped",
    "Table",
    "Tolerance",
    "advise",
    "directions",
    "learned",
    "load",
    "match",
    "open_hole",
    "pull",
    "scatter",
    "sensitivities",
    "side_blow",
    "sweep",
    "used",
]  # fmt: skip

_HOMES = {
    "Answer": "analysis.result",
    "BadInput": "errors",
    "FejointError": "errors",
    "SolveStopped": "errors",
    "Ear": "joint.parts",
    "Joint": "joint.model",
    "Leg": "joint.parts",
    "Pin": "joint.parts",
    "Pull": "joint.parts",
    "Shank": "joint.parts",
    "PlateAnswer": "reference_models.open_hole_result",
    "Direction": "studies.directions",
    "directions": "studies.directions",
    "SideBlow": "studies.side_blow",
    "side_blow": "studies.side_blow",
    "load": "joint.model",
    "match": "measured.evaluate",
    "learned": "measured.evaluate",
    "open_hole": "reference_models.open_hole",
    "pull": "analysis.pull",
    "Advice": "studies.sweeps.design_changes",
    "Table": "studies.sweeps.run",
    "Tolerance": "studies.sweeps.tolerance_band",
    "advise": "studies.sweeps.design_changes",
    "scatter": "studies.sweeps.tolerance_band",
    "sensitivities": "studies.sweeps.sensitivities",
    "sweep": "studies.sweeps.run",
    "used": "studies.used_joint",
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for, so that light commands start fast."""
    if name in _HOMES:
        return getattr(importlib.import_module(f"fejoint.{_HOMES[name]}"), name)
    message = f"module 'fejoint' has no attribute {name!r}"
    raise AttributeError(message)
