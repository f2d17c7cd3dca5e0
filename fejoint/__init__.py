"""A pin in a hole, pulled until something gives.

    import fejoint

    answer = fejoint.pull("mine.toml")              # a case file, its tables as a dict, or a Joint
    print(answer)                                   # what gives first, and every limit
    answer.plot("stress").savefig("stress.png")
    fejoint.advise("mine.toml", "950 kgf").single   # the smallest change that carries it

Lengths, loads and angles are numbers in mm, N and degrees, or text with a unit: "950 kgf",
"1.2 mm". What cannot be used raises `BadInput`, whose `faults` name each field, what is allowed
there and how to mend it.

Kept from one minor version to the next: the names in `__all__`, their parameters, the attributes
that their docstrings name, and the fields of `answer.json` under one schema. Everything else is
inside and may move. What changed is listed in DEVELOPERS.md, "Change notes".
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fejoint.analysis.pull import pull
    from fejoint.analysis.result import Answer, Event, LimitLoad, Verdict
    from fejoint.analysis.trace import Trace
    from fejoint.errors import BadInput, FejointError, SolveStopped
    from fejoint.joint.model import Joint, load
    from fejoint.joint.parts import Ear, Fit, Leg, Pin, Pull, Shank
    from fejoint.materials.library import metal
    from fejoint.materials.material import Material
    from fejoint.measured.book import Book
    from fejoint.measured.calibration_result import LearnedLaw
    from fejoint.measured.caliper import ByCaliper, Sheet, by_caliper
    from fejoint.measured.evaluate import learned, match, plan
    from fejoint.measured.log_record import Hints
    from fejoint.measured.outcome import Outcome
    from fejoint.measured.test_plan import Plan
    from fejoint.output.report import report
    from fejoint.reference_models.open_hole import open_hole
    from fejoint.reference_models.open_hole_result import PlateAnswer
    from fejoint.studies.directions import Direction, Directions, directions
    from fejoint.studies.pin_hardness.study import PinRange, pin_range
    from fejoint.studies.side_blow import SideBlow, side_blow
    from fejoint.studies.sweeps.design_changes import Advice, advise
    from fejoint.studies.sweeps.run import Table, sweep
    from fejoint.studies.sweeps.sensitivities import Sensitivities, sensitivities
    from fejoint.studies.sweeps.tolerance_band import Tolerance, scatter
    from fejoint.studies.used_joint import used
    from fejoint.studies.used_result import UsedJoint

    __version__: str

__all__ = [
    "Advice",
    "Answer",
    "BadInput",
    "Book",
    "ByCaliper",
    "Direction",
    "Directions",
    "Ear",
    "Event",
    "FejointError",
    "Fit",
    "Hints",
    "Joint",
    "LearnedLaw",
    "Leg",
    "LimitLoad",
    "Material",
    "Outcome",
    "Pin",
    "PinRange",
    "Plan",
    "PlateAnswer",
    "Pull",
    "Sensitivities",
    "Shank",
    "Sheet",
    "SideBlow",
    "SolveStopped",
    "Table",
    "Tolerance",
    "Trace",
    "UsedJoint",
    "Verdict",
    "__version__",
    "advise",
    "by_caliper",
    "directions",
    "learned",
    "load",
    "match",
    "metal",
    "open_hole",
    "pin_range",
    "plan",
    "pull",
    "report",
    "scatter",
    "sensitivities",
    "side_blow",
    "sweep",
    "used",
]  # fmt: skip

_NAMES = {
    "analysis.trace": ["Trace"],
    "analysis.pull": ["pull"],
    "analysis.result": ["Answer", "Event", "LimitLoad", "Verdict"],
    "errors": ["BadInput", "FejointError", "SolveStopped"],
    "joint.model": ["Joint", "load"],
    "joint.parts": ["Ear", "Fit", "Leg", "Pin", "Pull", "Shank"],
    "materials.library": ["metal"],
    "materials.material": ["Material"],
    "measured.book": ["Book"],
    "measured.caliper": ["ByCaliper", "Sheet", "by_caliper"],
    "measured.calibration_result": ["LearnedLaw"],
    "measured.evaluate": ["learned", "match", "plan"],
    "measured.outcome": ["Outcome"],
    "measured.log_record": ["Hints"],
    "measured.test_plan": ["Plan"],
    "output.report": ["report"],
    "reference_models.open_hole": ["open_hole"],
    "reference_models.open_hole_result": ["PlateAnswer"],
    "studies.directions": ["Direction", "Directions", "directions"],
    "studies.pin_hardness.study": ["PinRange", "pin_range"],
    "studies.side_blow": ["SideBlow", "side_blow"],
    "studies.sweeps.design_changes": ["Advice", "advise"],
    "studies.sweeps.run": ["Table", "sweep"],
    "studies.sweeps.sensitivities": ["Sensitivities", "sensitivities"],
    "studies.sweeps.tolerance_band": ["Tolerance", "scatter"],
    "studies.used_joint": ["used"],
    "studies.used_result": ["UsedJoint"],
}
"""What each module gives to the package's own names."""
_HOMES = {name: module for module, names in _NAMES.items() for name in names}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for, so that light commands start fast."""
    if name in _HOMES:
        return getattr(importlib.import_module(f"fejoint.{_HOMES[name]}"), name)
    if name == "__version__":
        from importlib import metadata

        try:
            return metadata.version("fejoint")
        except metadata.PackageNotFoundError:
            return "not installed"
    message = f"module 'fejoint' has no attribute {name!r}"
    raise AttributeError(message)


def __dir__() -> list[str]:
    """List the public names, those not yet imported too."""
    return sorted({*__all__, *(name for name in globals() if name.startswith("__"))})
