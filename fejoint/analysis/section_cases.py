"""From a joint to the cases of its sections."""

from __future__ import annotations

import math
import numbers
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear, Shank
from fejoint.kernel.linear import BACKENDS, has_pardiso
from fejoint.kernel.newton import Progress
from fejoint.kernel.plasticity import Metal
from fejoint.materials.material import Material
from fejoint.meshing.gmsh_mesher import EarOutline
from fejoint.sections.axial import pull as axial
from fejoint.sections.axial.case import AxialCase, AxialSettings, Plate
from fejoint.sections.face import pull as face
from fejoint.sections.face.bearing_law import BearingLaw
from fejoint.sections.face.plate_response import GrowingBearingLaw, SolvedPlate
from fejoint.sections.face.pull import FaceCase, FaceHistory, FaceSettings

SHANK_SHARE = 0.5
"""Element sides of the shank's hole over those of the ears': its law moves the answer less."""
UNEVEN = 1.6
"""Bound of an ear's first stretch over its mean load: its slices are not loaded evenly."""
SHANK_UNEVEN = 1.4
"""The same for the shank, whose load is rounded up besides."""
MOST = 1e4
"""Largest refinement or pace that is not a slip of the pen; memory refuses far smaller ones."""
STOP_RATIO = 1.25
"""Ratio of the loads that may bound a shank's first stretch."""
RIGID_MODULUS = 2e7
"""Young's modulus of a rigid pin in the axial section, MPa."""


@dataclass(frozen=True)
class PullSettings:
    """How finely a joint is solved.

    Attributes
    ----------
    refine : float
        1 is the everyday mesh (48 element sides round the hole); 2 halves the elements.
    pace : float
        1 is the everyday step; 0.5 halves the longest steps.
    solver : str
        "fastest", "pardiso" or "superlu".
    disc_plane_strain : bool
        Take the pin's disc in plane strain: a pin long against its diameter, held by the metal
        beside the plate. The truth lies between that and plane stress.

    Raises
    ------
    BadInput
        If a number lies out of its range, or the solver is not to be had.
    """

    refine: float = 1.0
    pace: float = 1.0
    solver: str = "fastest"
    disc_plane_strain: bool = False

    def __post_init__(self) -> None:
        """Refuse what no solve could be asked for."""
        faults = [
            Fault(name, f"{value!r:.40}", f"must be above 0 and at most {MOST:g}", "1 is usual")
            for name, value in (("refine", self.refine), ("pace", self.pace))
            if not _is_factor(value)
        ]
        if self.solver not in BACKENDS:
            allowed = f"must be one of {', '.join(BACKENDS)}"
            faults.append(Fault("solver", f"{self.solver!s:.40}", allowed, "leave it out"))
        elif self.solver == "pardiso" and not has_pardiso():
            mend = "leave it out, or pip install pypardiso"
            faults.append(Fault("solver", self.solver, "is not installed here", mend))
        if faults:
            raise BadInput(*faults)

    @property
    def sides(self) -> int:
        """Element sides round a hole, a multiple of 4."""
        return 4 * max(4, round(face.SIDES * self.refine / 4))

    def ear(self, joint: Joint, most: float = np.inf) -> FaceSettings:
        """Return the settings of an ear's face section, for joint loads up to `most` (N)."""
        asked = joint.pull.stop_load
        load = most if asked is None else min(asked, most)
        return FaceSettings(
            sides=self.sides,
            pace=self.pace,
            solver=self.solver,
            stop_travel=joint.pull.stop_displacement,
            stop_load=UNEVEN * load / len(joint.ears) if np.isfinite(load) else None,
        )

    def shank(self, load: float) -> FaceSettings:
        """Return the settings of the shank's face section, for loads up to `load` (N)."""
        return FaceSettings(
            sides=4 * max(4, round(SHANK_SHARE * self.sides / 4)),
            pace=self.pace,
            solver=self.solver,
            stop_load=_next_stop(SHANK_UNEVEN * load),
        )

    def axial(self, joint: Joint) -> AxialSettings:
        """Return the settings of the axial section."""
        hole = max(ear.hole for ear in joint.ears)
        return AxialSettings(
            rows=2 * max(2, round(axial.ROWS * self.refine / 2)),
            slices=self.refine,
            pace=self.pace,
            solver=self.solver,
            close_until=0.12 * hole,
            close_step=0.006 * hole,
            longest=0.05 * hole,
            stop_travel=joint.pull.stop_displacement,
            longest_travel=2.0 * hole,
            stop_load=joint.pull.stop_load,
        )


def _is_factor(value: object) -> bool:
    number = isinstance(value, numbers.Real) and not isinstance(value, bool)
    return number and 0.0 < value <= MOST  # type: ignore[operator]


def _next_stop(load: float) -> float:
    """Return the next of a coarse row of loads, N, so that joints nearly alike share a shank."""
    return float(STOP_RATIO ** math.ceil(math.log(max(load, 1.0)) / math.log(STOP_RATIO)))


def metal(material: Material) -> Metal:
    """Return the kernel's view of a material."""
    return Metal(material.modulus, material.poisson, material.hardening)


def face_case(joint: Joint, part: Ear | Shank, settings: PullSettings | None = None) -> FaceCase:
    """Return the face section of an ear or of the shank (which is always pulled straight)."""
    disc = None if joint.pin.rigid else metal(joint.pin.material)
    if disc is not None and settings is not None and settings.disc_plane_strain:
        disc = replace(disc, plane_strain=True)
    shank = isinstance(part, Shank)
    length = part.length if isinstance(part, Shank) else part.grip_length
    outline = EarOutline(part.width, part.hole, part.edge_distance, length, part.end, part.clip)
    if part.outline is not None:
        drawn = (part.outline.outside, *part.outline.openings)
        outline = replace(outline, drawn=drawn, symmetric=part.outline.symmetric)
    flare = (0.0, 90.0)
    if isinstance(part, Ear):
        outline = replace(outline, slot=part.hole_slot, offset=part.hole_offset)
        flare = (part.flare_depth, part.flare_angle)
    return FaceCase(
        outline,
        part.thickness,
        metal(part.material),
        joint.pin.diameter,
        disc,
        joint.friction,
        0.0 if shank else joint.pull.angle,
        part.material.fracture_strain if joint.pull.ductility else None,
        joint.pull.large_strain,
        *flare,
    )


@dataclass(eq=False)
class PlateInJoint:
    """A plate of the joint, solved as far as the joint has asked.

    Attributes
    ----------
    part : Ear or Shank
    plate : SolvedPlate
    points : int
        Points of the plate's pull that the joint has used.
    """

    part: Ear | Shank
    plate: SolvedPlate
    points: int = 0

    def __post_init__(self) -> None:
        self.points = max(self.points, len(self.plate.first.load))

    @property
    def history(self) -> FaceHistory:
        """The face section as far as it was used."""
        return self.plate.history(self.points)

    @property
    def law(self) -> BearingLaw:
        """The bearing law as far as it was used."""
        return self.plate.law(self.points)

    @property
    def strength(self) -> float:
        """Largest load of the plate, N; inf where its pull has not come to it."""
        load, ended = self.history.load, self.plate.ended and self.points == self.plate.points
        passed = int(load.argmax()) < len(load) - 1
        return float(load.max()) if passed or ended else np.inf

    @property
    def kept(self) -> Floats:
        """Deepest local travels and the elongation that stays after them, (2, n), mm."""
        return self.plate.permanent_elongation


def axial_case(joint: Joint, members: Sequence[PlateInJoint]) -> AxialCase:
    """Return the axial section; `members` are the plates along the pin, as `along_the_pin`."""
    plates = tuple(
        Plate(
            m.plate.first.problem.case.land,
            gap,
            m.plate.law(len(m.plate.first.load)),
            m.plate.spring,
        )
        for m, gap in zip(members, _gaps_before(joint), strict=True)
    )
    rigid = joint.pin.rigid
    return AxialCase(
        joint.pin.diameter,
        Metal(RIGID_MODULUS, 0.3) if rigid else metal(joint.pin.material),
        plates,
        1,
        joint.pin.ends,
        None if rigid or not joint.pull.ductility else joint.pin.material.fracture_strain,
        joint.pull.large_strain,
    )


def growing_laws(
    members: Sequence[PlateInJoint],
    progress: Callable[[Ear | Shank], Progress | None] = lambda _: None,
) -> list[GrowingBearingLaw]:
    """Return the laws of the plates along the pin, to grow in one path; equal plates share one."""
    laws = {id(m.plate): GrowingBearingLaw(m.plate, progress(m.part)) for m in members}
    return [laws[id(m.plate)] for m in members]


def along_the_pin(joint: Joint) -> tuple[Ear | Shank, ...]:
    """Return the plates in their order along the pin: ear, shank, and the second ear if any."""
    return (joint.ears[0], joint.shank, *joint.ears[1:])


def names_along(joint: Joint) -> tuple[str, ...]:
    """Return the plates' names in the same order."""
    if len(joint.ears) == 1:
        return ("ear", "shank")
    return ("ear 1", "shank", "ear 2")


def _gaps_before(joint: Joint) -> tuple[float, ...]:
    return (0.0, *joint.gaps)


def by_name(names: Sequence[str], members: Sequence[PlateInJoint]) -> Mapping[str, FaceHistory]:
    """Return the face sections by plate, one name for ears that share one."""
    histories = {n: m.history for n, m in zip(names, members, strict=True)}
    if "ear 1" in histories and histories["ear 1"] is histories["ear 2"]:
        return {"ear": histories["ear 1"], "shank": histories["shank"]}
    return histories
