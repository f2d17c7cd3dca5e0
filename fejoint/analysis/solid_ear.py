"""An ear of a joint in the round beside its plane section: what it loses when its end dishes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np

from fejoint.analysis.section_cases import face_case
from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.joint.model import Joint
from fejoint.kernel.newton import EquilibriumPoint
from fejoint.kernel.stop_reason import StopReason
from fejoint.sections.face import pull as face
from fejoint.sections.face.pull import FaceHistory
from fejoint.sections.solid import pull as solid
from fejoint.sections.solid.grid import refuse_unswept
from fejoint.sections.solid.problem import LAYERS, SIDES, Crookedness, Support
from fejoint.sections.solid.pull import SolidCase, SolidHistory, SolidSettings

Progress = Callable[[str, EquilibriumPoint | None, float], None]
"""Called with what is solved, its last point, and the share of all work that is done."""
CROOKED = 0.01
"""Out-of-straightness at the tip over the thickness where none is stated: a sheet that looks
flat."""
FINEST = 2.5
"""Largest refinement: some 100,000 unknowns, a GB of memory."""
PLANE, AWAY, TOWARDS, FLAT = "plane", "curls away", "curls in", "kept flat"


@dataclass(frozen=True)
class SolidQuestion:
    """What is asked of an ear.

    Attributes
    ----------
    ear : int
        Which one, from 0.
    head : float or None
        Diameter of the head or washer on the ear's outer side, mm; 0 for a bare side, None for
        what the case says (pin.head).
    crooked : float or None
        Out-of-straightness at the tip, mm; None for CROOKED thicknesses.
    form : {"curl", "tilt"}
    refine, pace : float
    solver : str
    """

    ear: int = 0
    head: float | None = None
    crooked: float | None = None
    form: Literal["curl", "tilt"] = "curl"
    refine: float = 1.0
    pace: float = 1.0
    solver: str = "fastest"


@dataclass(frozen=True, eq=False)
class SolidAnswer:
    """An ear pulled in the round with its crookedness to either side, and its plane twin.

    Attributes
    ----------
    case : SolidCase
    plane : FaceHistory
        Plane stress, the same rigid pin and friction.
    solids : dict
        Histories by name, AWAY and TOWARDS the shank; what an interrupt left out is missing.
    flat : SolidHistory or None
        The ear held in its plane, for the picture.
    """

    case: SolidCase
    plane: FaceHistory
    solids: dict[str, SolidHistory]
    flat: SolidHistory | None

    @property
    def finished(self) -> bool:
        """Whether every pull came to its end."""
        pulls = [*self.solids.values(), *([self.flat] if self.flat else [])]
        return (
            len(self.solids) == 2
            and self.plane.path.finished
            and all(h.path.finished for h in pulls)
        )

    @cached_property
    def worst(self) -> SolidHistory:
        """The pull with the lower greatest load."""
        return min(self.solids.values(), key=lambda h: h.greatest)

    @property
    def loss(self) -> float:
        """Share of the plane section's greatest load that the ear does not reach."""
        return 1.0 - self.worst.greatest / float(self.plane.load.max())

    @property
    def loss_at_offset(self) -> float | None:
        """Share of the plane section's offset load, None where one of the two has none."""
        loads = [h.offset.load for h in self.solids.values() if h.offset is not None]
        if self.plane.offset is None or len(loads) < len(self.solids):
            return None
        return 1.0 - min(loads) / self.plane.offset.load

    def to_dict(self) -> dict[str, Any]:
        """Return the answer as plain numbers, units in the names."""

        def curve(h: FaceHistory | SolidHistory) -> dict[str, Any]:
            offset = h.offset.load if h.offset is not None else None
            first = h.first_yield if isinstance(h, SolidHistory) else h.first_yield_plate
            found: dict[str, Any] = {
                "offset_load_N": offset,
                "greatest_load_N": float(h.load.max()),
                "first_yield_N": first,
                "load_N": h.load.tolist(),
                "hole_elongation_mm": h.elongation.tolist(),
                "pin_travel_mm": h.travel.tolist(),
                "ended": str(h.path.stopped_because),
            }
            if isinstance(h, SolidHistory):
                found["greatest_load_N"] = h.greatest
                found["leaves_plane_N"] = h.leaves
                found["tip_out_of_plane_mm"] = h.deflection.tolist()
                found["pile_up"] = pile_up(h)
            return found

        c = self.case
        return {
            "schema": "fejoint.solid/1",
            "thickness_mm": c.thickness,
            "crooked_mm": c.crooked.size,
            "form": c.crooked.form,
            "friction": c.friction,
            "head_diameter_mm": None if c.above is None else 2.0 * c.above.radius,
            "loss_greatest": self.loss if self.solids else None,
            "loss_offset": self.loss_at_offset,
            "plane": curve(self.plane),
            "solid": {name: curve(h) for name, h in self.solids.items()},
        }


def solid_case(joint: Joint, asked: SolidQuestion) -> SolidCase:
    """Return the solid case of a joint's ear.

    Raises
    ------
    BadInput
        If there is no such ear, its hole is no plain round one on the axis, or an option is out of
        its range.
    """
    if not 0 <= asked.ear < len(joint.ears):
        allowed = f"must be 1 to {len(joint.ears)}"
        raise BadInput(Fault("--ear", str(asked.ear + 1), allowed, "leave it out for the first"))
    if asked.refine > FINEST:
        allowed = f"must be at most {FINEST:g} for a solid ear"
        raise BadInput(Fault("--refine", f"{asked.refine:g}", allowed, "1 is for every day"))
    ear, gap = joint.ears[asked.ear], joint.gaps[asked.ear]
    flat = face_case(joint, ear)
    if ear.outline is not None:
        mend = "give its width, end and edge distance instead"
        raise BadInput(Fault("ear.outline", "", "is not solved as a solid", mend))
    refuse_unswept(flat.outline)
    if ear.flare_depth > 0.0:
        mend = "set ear.flare_depth to 0 mm"
        raise BadInput(Fault("ear.flare_depth", f"{ear.flare_depth:g} mm", "is not solved", mend))
    head = joint.pin.head or 0.0 if asked.head is None else asked.head
    if head != 0.0 and not head > ear.hole:
        allowed = f"must be above the hole, {ear.hole:g} mm"
        raise BadInput(Fault("--head", f"{head:g} mm", allowed, 'write "none" for no head'))
    above = Support(gap, 0.5 * head) if head else None
    size = CROOKED * ear.thickness if asked.crooked is None else asked.crooked
    if not 0.0 < size <= ear.thickness:
        allowed = f"must be above 0 and at most the thickness, {ear.thickness:g} mm"
        raise BadInput(Fault("--crooked", f"{size:g} mm", allowed, "leave it out for 1 % of it"))
    return SolidCase(
        flat.outline,
        ear.thickness,
        flat.metal,
        joint.pin.diameter,
        Support(gap),
        above,
        Crookedness(size, asked.form),
        joint.pull.angle,
        0.0,
        joint.friction,
        flat.fracture_strain,
    )


def solid_ear(joint: Joint, asked: SolidQuestion, progress: Progress | None = None) -> SolidAnswer:
    """Pull an ear in the round, crooked to either side, and in its plane.

    Parameters
    ----------
    joint : Joint
    asked : SolidQuestion
    progress : callable, optional

    Returns
    -------
    SolidAnswer
        What an interrupt left unsolved is missing from it.
    """
    case = solid_case(joint, asked)
    ear = joint.ears[asked.ear]
    stop = joint.pull.stop_displacement
    end = face.LONGEST_TRAVEL * ear.hole if stop is None else stop
    plane_case = replace(face_case(joint, ear), pin_metal=None)
    plane_settings = face.FaceSettings(
        sides=4 * max(4, round(face.SIDES * asked.refine / 4)), pace=asked.pace,
        solver=asked.solver, stop_travel=end,
    )  # fmt: skip
    shares = {PLANE: (0.0, 0.1), AWAY: (0.1, 0.5), TOWARDS: (0.5, 0.9), FLAT: (0.9, 1.0)}

    def told(name: str) -> Callable[[EquilibriumPoint | None, int, float], None]:
        begin, full = shares[name]

        def tell(point: EquilibriumPoint | None, _iteration: int, _error: float) -> None:
            if progress is not None:
                done = 0.0 if point is None else min(point.travel / end, 1.0)
                progress(name, point, begin + (full - begin) * done)

        return tell

    plane = face.pull(face.build(plane_case, plane_settings), plane_settings, progress=told(PLANE))
    settings = SolidSettings(
        max(12, round(SIDES * asked.refine)), max(1, round(LAYERS * asked.refine)), asked.pace,
        asked.solver, end,
    )  # fmt: skip
    solids: dict[str, SolidHistory] = {}
    flat: SolidHistory | None = None
    for name, sign in ((AWAY, 1.0), (TOWARDS, -1.0)):
        if _interrupted(plane, *solids.values()):
            break
        signed = solid.with_sign(case, sign)
        solids[name] = solid.pull(solid.build(signed, settings), settings, progress=told(name))
    if not _interrupted(plane, *solids.values()):
        level = max((h.travel[-1] for h in solids.values()), default=end)
        held = replace(case, held="flat", below=None, above=None, crooked=Crookedness())
        one = replace(settings, layers=1, stop_travel=float(level))
        flat = solid.pull(solid.build(held, one), one, progress=told(FLAT))
    return SolidAnswer(case, plane, solids, flat)


def _interrupted(*histories: FaceHistory | SolidHistory) -> bool:
    stops = (h.path.stopped_because for h in histories)
    return any(stop is not None and stop.reason is StopReason.INTERRUPTED for stop in stops)


def pile_up(history: SolidHistory) -> float:
    """Thickness of the hole's edge under the pin over that at rest, at the end of the pull."""
    problem = history.problem
    nodes = problem.bearing_line
    z: Floats = np.asarray(history.path.points[-1].z)
    way = z[3 * nodes[[-1, 0]] + 2]
    rest = problem.mesh.points[nodes[[-1, 0]], 2]
    return float(1.0 + (way[0] - way[1]) / (rest[0] - rest[1]))
