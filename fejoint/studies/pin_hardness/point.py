"""One joint with a pin of one hardness.

The face sections of a joint see the pin only as a disc. As long as that disc stays elastic its
strength does not matter, and every hardness of steel has the same modulus: the face sections of
the hardest pin then are those of a softer one, exactly, and are lent to it. Where the disc of the
softer pin would yield before the loads that are asked for, it gets face sections of its own.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fejoint.analysis.limit_loads import JointReading
from fejoint.analysis.pull import pull_axial, solve_members
from fejoint.analysis.result import LimitLoad, nothing_gave
from fejoint.analysis.section_cases import PlateInJoint, PullSettings
from fejoint.arrays import Floats
from fejoint.inputs.units import KGF
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear
from fejoint.kernel import load_curve
from fejoint.sections.face import pull as face

LEAST = 1.0
"""Pull below which no joint is told to stop, N."""


@dataclass(frozen=True)
class Finesse:
    """How finely the sections are solved: element refinement of faces and of the pin."""

    faces: PullSettings
    pin: PullSettings


@dataclass(frozen=True)
class Asked:
    """What is asked of a point: loads in N.

    Attributes
    ----------
    after : float or None
        Pull after which the kept bend is told; that of the first limit without it.
    enough : float
        Pull at which a point that needs face sections of its own may end.
    """

    after: float | None = None
    enough: float = np.inf


@dataclass(frozen=True)
class PinPoint:
    """What became of a joint with a pin of one hardness; loads are pulls on the joint, N.

    Attributes
    ----------
    hardness : float
        HV.
    strength : float
        Tensile strength of the pin taken from it, MPa.
    limits : tuple of LimitLoad
        All limits reached, rising.
    offset_load : float or None
        Lowest offset load of an ear's hole.
    bend_mm, bend_deg : float or None
        Sag and turn that the pin keeps after the study's pull; None where it carries less.
    own_faces : bool
        Whether face sections were solved for it; else those of the hardest pin are exact.
    ended : str
        Why its pull ended.
    cpu_s : float
    """

    hardness: float
    strength: float
    limits: tuple[LimitLoad, ...]
    offset_load: float | None
    bend_mm: float | None
    bend_deg: float | None
    own_faces: bool
    ended: str
    cpu_s: float

    @property
    def first(self) -> LimitLoad:
        """The limit that comes first."""
        return self.limits[0]

    def lowest(self, mode: str, part: str) -> float | None:
        """Return the lowest load at which a part gives in a mode, N."""
        return next((x.load for x in self.limits if (x.mode, x.part) == (mode, part)), None)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "hardness_HV": self.hardness,
            "tensile_strength_MPa": self.strength,
            "first_to_give": self.first.mode,
            "part": self.first.part,
            "load_N": self.first.load,
            "load_kgf": self.first.load / KGF,
            "cause": self.first.cause,
            "offset_load_N": self.offset_load,
            "kept_bend_mm": self.bend_mm,
            "kept_bend_deg": self.bend_deg,
            "limits": [
                {
                    "mode": x.mode,
                    "part": x.part,
                    "member": x.member,
                    "load_N": x.load,
                    "cause": x.cause,
                }
                for x in self.limits
            ],
            "face_sections": "its own" if self.own_faces else "those of the hardest pin",
            "ended": self.ended,
        }


@dataclass(frozen=True, eq=False)
class Faces:
    """Solved face sections of a joint, to be lent to softer pins.

    Attributes
    ----------
    hardness : float
        HV of the pin they were solved with.
    members : tuple of PlateInJoint
        Their paths keep only the first and last point.
    discs : tuple of (n,) arrays
        Largest von Mises stress in the pin's disc along each member's path, MPa.
    cpu_s : float
    """

    hardness: float
    members: tuple[PlateInJoint, ...]
    discs: tuple[Floats, ...]
    cpu_s: float = 0.0

    def serve(self, reading: JointReading, load: float) -> bool:
        """Whether a softer pin's disc stays elastic in every slice up to a load (N)."""
        reached = np.flatnonzero(reading.history.load >= load)
        upto = int(reached[0]) + 1 if len(reached) else len(reading.history.load)
        problem, points = reading.history.problem, reading.history.path.points[:upto]
        return all(
            max(float(problem.slice_travels(p, k).max()) for p in points) <= elastic
            for k, elastic in enumerate(self._elastic(reading.joint))
        )

    def may_serve(self, case: Joint) -> bool:
        """Whether a softer pin's disc could stay elastic up to the ears' offset load."""
        for member, elastic in zip(self.members, self._elastic(case), strict=True):
            h = member.history
            offset = h.offset
            if isinstance(member.part, Ear) and offset is not None:
                index = load_curve.first_reach(h.elongation, offset.elongation)
                if index is None or load_curve.at_index(h.local_travel, index) > elastic:
                    return False
        return True

    def _elastic(self, case: Joint) -> list[float]:
        """Travel in every member up to which the disc of a case's pin stays elastic, mm."""
        stress = case.pin.material.hardening.first_yield
        found = []
        for member, disc in zip(self.members, self.discs, strict=True):
            index = load_curve.first_reach(disc, stress)
            travel = member.history.local_travel
            found.append(np.inf if index is None else load_curve.at_index(travel, index))
        return found


def with_hardness(joint: Joint, hardness: float, enough: float = np.inf) -> Joint:
    """Return the joint with a steel pin of a hardness (HV), pulled once and to `enough` N."""
    case = joint.replace("pin.hardness", f"{hardness:.6g} HV").until_it_gives()
    stop = enough if LEAST < enough < np.inf else None
    return replace(case, pull=replace(case.pull, stop_load=stop))


def solve_faces(joint: Joint, hardness: float, finesse: Finesse, enough: float = np.inf) -> Faces:
    """Solve ears and shank with a pin of a hardness (HV), as far as a pull of `enough` N needs."""
    start = time.process_time()
    case = with_hardness(joint, hardness, enough)
    members = solve_members(case, finesse.faces)
    closed, discs = [], []
    for m in members:
        # to its end: slices of a tilted pin bear far beyond an even share of the pull
        closed.append(m.plate.closed(np.inf))
        assert m.plate.pull is not None
        points = m.plate.pull.path.points
        discs.append(np.array([p.states[face.PIN].mises.max() for p in points]))
    light = tuple(PlateInJoint(m.part, plate) for m, plate in zip(members, closed, strict=True))
    return Faces(hardness, light, tuple(discs), time.process_time() - start)


def solve_point(
    joint: Joint, hardness: float, finesse: Finesse, lent: Faces | None, asked: Asked
) -> PinPoint:
    """Solve a joint with a pin of one hardness.

    Parameters
    ----------
    joint : Joint
    hardness : float
        HV.
    finesse : Finesse
    lent : Faces or None
        Face sections to use where they are exact; None to solve them.
    asked : Asked

    Returns
    -------
    PinPoint
    """
    start = time.process_time()
    case = with_hardness(joint, hardness)
    if lent is not None and (lent.hardness == hardness or lent.may_serve(case)):
        found, reading = _found(case, hardness, lent.members, finesse, asked.after)
        own = lent.hardness == hardness
        needed = max(
            x for x in (found.first.load, found.offset_load, asked.after, 0.0) if x is not None
        )
        if own or lent.serve(reading, needed):
            return replace(found, own_faces=own, cpu_s=time.process_time() - start)
    faces = solve_faces(joint, hardness, finesse, asked.enough)
    case = with_hardness(joint, hardness, asked.enough)
    found, _ = _found(case, hardness, faces.members, finesse, asked.after)
    return replace(found, own_faces=True, cpu_s=time.process_time() - start)


def _found(
    case: Joint,
    hardness: float,
    members: Sequence[PlateInJoint],
    finesse: Finesse,
    after: float | None,
) -> tuple[PinPoint, JointReading]:
    history = pull_axial(case, members, finesse.pin)
    reading = JointReading(case, members, history, finesse.pin.axial(case))
    limits = tuple(sorted(reading.limits(), key=lambda x: x.order))
    if not limits:
        top = float(history.load.max())
        limits = (nothing_gave(top),)
    offsets = [o.load for k in reading.ears if (o := reading.offset(k)) is not None]
    pulled = load_curve.first_reach(history.load, limits[0].load if after is None else after)
    bend = None if pulled is None else reading.kept_bend(pulled)
    point = PinPoint(
        hardness,
        case.pin.material.rm,
        limits,
        min(offsets, default=None),
        None if bend is None else bend[0],
        None if bend is None else bend[1],
        False,
        str(history.path.stopped_because),
        0.0,
    )
    return point, reading
