"""One joint of a sweep: pulled in whatever process it lands, its answer made a row."""

from __future__ import annotations

import functools
import hashlib
import json
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fejoint.analysis.definitions import NOTHING_GAVE
from fejoint.analysis.plate_cache import SharedPlates
from fejoint.analysis.result import EVENTS, Answer
from fejoint.errors import BadInput, FejointError
from fejoint.inputs.units import KGF
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear, Shank
from fejoint.kernel.stop_reason import StopReason
from fejoint.meshing import contours
from fejoint.studies.sweeps.plan import told
from fejoint.system.processes import one_thread

if TYPE_CHECKING:
    from fejoint.analysis.section_cases import PlateInJoint

Model = Callable[[Mapping[str, Any], Mapping[str, Any]], dict[str, Any]]
"""From a case table and settings to the columns of a row."""

COST = ("wall_s", "solve_cpu_s", "factorisations", "reused")
"""Columns that tell what a row cost. A plate that joints share tells the work that all of them
asked of it, so these depend on what was solved before; no other column does."""

KEPT_EARS, KEPT_SHANKS = 6, 16
"""Solved plates that a thread keeps, each some MB; most sweeps leave the shank as it is."""

FIRST_REACH = 0.08
"""Share of the hole, beyond the clearances, to which a joint is pulled to see what gives first."""

_SOLVING = (
    "kernel", "meshing", "sections", "inputs", "materials", "joint", "handbook", "analysis",
)  # fmt: skip
"""The rooms whose code can move a digit of a row."""

_CODE = (".py", ".toml")
_PACKAGE = Path(__file__).parents[2]
_OWN = Path(__file__).relative_to(_PACKAGE)
"""This module: it makes a row of an answer."""


class _Kept(threading.local):
    """What a thread keeps from joint to joint: plates go on as a joint asks, for one at a time."""

    def __init__(self) -> None:
        self.reused: list[str] = []  # by the joint in hand
        # no digit of a row may depend on the order in which joints are solved
        self.plates = SharedPlates(KEPT_EARS, KEPT_SHANKS, exact=True, tell=self._note)

    def _note(self, member: PlateInJoint) -> None:
        self.reused.append("shank" if isinstance(member.part, Shank) else "ear")


_KEPT = _Kept()


def solve(case: Mapping[str, Any], settings: Mapping[str, Any]) -> dict[str, Any]:
    """Pull the joint of a case table and return its row.

    Parameters
    ----------
    case : mapping
    settings : mapping
        Settings of `fejoint.pull`, and "whole": whether to pull to the end. Else the pull stops
        soon after the first part has given, which takes half the time; what gives first, and at
        what load, is the same to about 0.1 %, and events beyond are not reached. "stops": whether
        the stops and the path that the case itself gives hold.

    Returns
    -------
    dict
        Columns of `columns_of`, `pulled` and `reused`.

    Raises
    ------
    BadInput
        If there is no such joint.
    KeyboardInterrupt
        If the user stopped the solve.
    """
    joint = Joint.from_dict(case)
    if not settings.get("stops", True):
        joint = joint.until_it_gives()
    own = {name: value for name, value in settings.items() if name not in ("whole", "stops")}
    whole = bool(settings.get("whole", True)) or _says_where_to_stop(joint)
    _KEPT.reused.clear()
    with one_thread():
        answer = None if whole else _until_first(joint, own)
        whole = answer is None
        answer = answer or _pulled(joint, own)
    pulled = "to the end" if whole else "until the first part gave"
    reused = ", ".join(f"{name}'s face section" for name in _KEPT.reused)
    return columns_of(answer) | {"pulled": pulled, "reused": reused}


def _says_where_to_stop(joint: Joint) -> bool:
    pull = joint.pull
    return bool(pull.legs) or pull.stop_displacement is not None or pull.stop_load is not None


def _until_first(joint: Joint, settings: Mapping[str, Any]) -> Answer | None:
    """Pull a joint a little way; None if nothing gave on it.

    A part that had not given by the largest load of this stretch gives at a higher one, so that
    the first to give here is the first of all.
    """
    hole = max(ear.hole for ear in joint.ears)
    slack = max(joint.clearance(ear) for ear in joint.ears) + joint.clearance(joint.shank)
    pull = replace(joint.pull, stop_displacement=slack + FIRST_REACH * hole)
    answer = _pulled(replace(joint, pull=pull), settings)
    first = answer.verdict.first
    gave = first.cause != NOTHING_GAVE and first.load <= answer.trace.load.max()
    return answer if gave and answer.trust.finished else None


def _pulled(joint: Joint, settings: Mapping[str, Any]) -> Answer:
    from fejoint.analysis.pull import pull

    answer = pull(joint, shared=_KEPT.plates, **settings)
    if answer.trust.stopped_because.reason is StopReason.INTERRUPTED:
        raise KeyboardInterrupt
    return answer


def forget() -> None:
    """Let go of the plates solved in this thread: the next joint is solved from nothing."""
    _KEPT.plates.clear()


def columns_of(answer: Answer) -> dict[str, Any]:
    """Return what a table keeps of an answer; loads are pulls on the whole joint, N."""
    order = answer.verdict.order
    first = order[0].first
    gave = first.cause != NOTHING_GAVE
    row: dict[str, Any] = {
        "mode": first.mode,
        "part": first.part,
        "member": first.member,
        "load_N": first.load if gave else None,
        "load_kgf": first.load / KGF if gave else None,
        "nothing_up_to_N": None if gave else first.load,
        "margin_to_next": answer.verdict.margin,
        "next_mode": order[1].first.mode if len(order) > 1 else None,
    }
    for name in EVENTS:
        event = answer.event(name)
        row[f"{name.replace(' %', 'pc').replace(' ', '_')}_N"] = event.load
    bend = answer.pin.get("permanent_bend_mm")
    row["permanent_bend_mm"] = bend if isinstance(bend, float) else None
    row["pin_flattens"] = answer.pin.get("flattens")
    row["weight_g"] = weight(answer.joint)
    trust, cost = answer.trust, answer.cost
    return row | {
        "refinement_change": trust.refinement_change,
        "equilibrium": trust.equilibrium,
        "energy": trust.energy,
        "penetration_over_D": trust.penetration_over_D,
        "stopped_because": str(trust.stopped_because),
        "finished": trust.finished,
        "solve_cpu_s": cost.solve_cpu_s,
        "dofs": cost.dofs,
        "steps": cost.steps,
        "factorisations": cost.factorisations,
    }


def borne(row: Mapping[str, Any]) -> float:
    """Return the pull of a row up to which no part gives, N."""
    gives = row["load_N"]
    return float(row["nothing_up_to_N"] if gives is None else gives)


def weight(joint: Joint) -> float:
    """Return the weight of the joint's metal as far as it is modelled, g.

    Plates from their end to where they are held, as rectangles less the hole (a round or clipped
    end counts as square); the pin over its grip.
    """
    from math import pi

    def plate(part: Ear | Shank) -> float:
        length = part.length if isinstance(part, Shank) else part.grip_length
        whole = part.width * (length + part.edge_distance)
        if part.outline is not None:
            whole = contours.area(part.outline.outside)
            whole -= sum(abs(contours.area(c)) for c in part.outline.openings)
        area = whole - 0.25 * pi * part.hole**2
        return area * part.thickness * part.material.density * 1e-3

    pin = 0.25 * pi * joint.pin.diameter**2 * joint.grip * 1e-3
    density = 7.85 if joint.pin.rigid else joint.pin.material.density
    plates = sum(plate(ear) for ear in joint.ears) + plate(joint.shank)
    return plates + pin * density


def attempt(
    model: Model, case: Mapping[str, Any], settings: Mapping[str, Any], expected: str
) -> dict[str, Any]:
    """Solve one joint and return a row whatever happens to it.

    Parameters
    ----------
    model : callable
    case, settings : mapping
    expected : str
        Version of the code that asks; another one here is refused.

    Returns
    -------
    dict
        The model's columns, "state" ("solved", "stopped early", "refused" or "failed"), "reason"
        and "wall_s".
    """
    start = time.perf_counter()
    row: dict[str, Any] = {"state": "solved", "reason": ""}
    try:
        here = version_of(model)
        if here != expected:
            row |= {"state": "failed", "reason": f"this worker runs version {here}, not {expected}"}
        else:
            row |= model(case, settings)
            if row.get("finished") is False:
                row |= {"state": "stopped early", "reason": str(row.get("stopped_because", ""))}
    except BadInput as bad:
        row |= {"state": "refused", "reason": told(bad)}
    except FejointError as error:
        row |= {"state": "stopped early", "reason": str(error)}
    except Exception as error:
        row |= {"state": "failed", "reason": f"{type(error).__name__}: {error}"[:500]}
    row["wall_s"] = time.perf_counter() - start
    return row


def key(case: Mapping[str, Any], settings: Mapping[str, Any], version: str) -> str:
    """Return the name of a row: a hash of what decides its loads (not of title and note)."""
    said = ("title", "note", "assumptions")
    what = [{k: v for k, v in case.items() if k not in said}, dict(settings), version]
    text = json.dumps(what, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def version_of(model: Model) -> str:
    """Return the version of what a model computes with; a stand-in for the solve names itself."""
    return code_version() if model is solve else f"{model.__module__}.{model.__qualname__}"


@functools.cache
def code_version(root: Path = _PACKAGE) -> str:
    """Return the version of what computes: fejoint's, its code's hash, and its libraries'."""
    from fejoint.analysis.cost import installed

    digest = hashlib.sha256(json.dumps(installed(), sort_keys=True).encode())
    rooms = [path for room in _SOLVING for path in (root / room).rglob("*") if path.suffix in _CODE]
    for path in sorted([*rooms, root / _OWN]):
        digest.update(path.relative_to(root).as_posix().encode() + path.read_bytes())
    return f"{installed()['fejoint']}+{digest.hexdigest()[:12]}"
