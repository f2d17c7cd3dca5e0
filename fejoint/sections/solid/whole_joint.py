"""The whole joint in the round, posed: ear, pin and shank of hexahedra that touch each other.

x runs along the pull, y across it, z along the pin from the shank's mid-plane (double shear) or the
ear's outer face (single shear). The joint is its own mirror image across y, in double shear also
across z: a half or a quarter is solved. The ears' grips are clamped, the shank's is drawn straight
on. At rest the parts just touch. No friction.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel.assembly import Mirror, System, Term
from fejoint.kernel.bricks import BrickBody
from fejoint.kernel.face_contact import FaceContact, FaceTouchState
from fejoint.kernel.foundation import Bedding
from fejoint.kernel.newton import EquilibriumPoint
from fejoint.kernel.plasticity import Metal
from fejoint.kernel.rigid_contact import RigidContact, RigidShape
from fejoint.sections.axial.case import HOLDING, STEEL, SoftBed
from fejoint.sections.face.problem import PENALTY
from fejoint.sections.solid.grid import BrickMesh, QuadMesh, ear_quads, swept
from fejoint.sections.solid.shaft_grid import layered, section_means, shaft
from fejoint.sections.solid.whole_joint_case import (
    WholeJointCase,
    WholeJointSettings,
)

EAR, SHANK, PIN, IN_EAR, IN_SHANK = range(5)
"""Places of the terms in the system; guides and a soft bed follow."""
GUIDE_GAP = 1e-3
"""Play of the guides beside the outer faces, over the pin's diameter: faces that lie exactly on a
plane touch and leave it by rounding."""
STANDS_OUT = 0.15
"""How far the pin stands out of the outer faces, in pin diameters: what piles up beside it finds
the pin."""


@dataclass(frozen=True, eq=False)
class PlacedPlate:
    """A plate's mesh among the joint's nodes.

    Attributes
    ----------
    mesh : BrickMesh
        Its node numbers are those of the joint.
    heights : (n_layers + 1,) array
        Ends of its layers along the pin, mm.
    centre : float
        Of its hole along x, mm.
    bearing : float
        Side of its hole on which the pin bears: 1 or -1 along x.
    """

    mesh: BrickMesh
    heights: Floats
    centre: float
    bearing: float


@dataclass(eq=False)
class WholeJointProblem:
    """A meshed joint, ready to be pulled.

    Attributes
    ----------
    case : WholeJointCase
    points : (n, 3) array
        All nodes at rest, mm.
    plates : tuple of PlacedPlate
        Ear and shank.
    pin_heights : (n_layers + 1,) array
        Ends of the pin's layers, mm.
    pin_middle : float
        Of the pin along x at rest, mm.
    system : System
    share : float
        Loads of the joint over those of the system.
    """

    case: WholeJointCase
    points: Floats
    plates: tuple[PlacedPlate, PlacedPlate]
    pin_heights: Floats
    pin_middle: float
    system: System
    share: float

    def contact(self, plate: int) -> FaceContact:
        """Contact of the pin in the ear (0) or in the shank (1)."""
        term = self.system.terms[IN_EAR + plate]
        assert isinstance(term, FaceContact)
        return term

    @property
    def bodies(self) -> list[BrickBody]:
        """Ear, shank and pin."""
        return [t for t in self.system.terms[: PIN + 1] if isinstance(t, BrickBody)]

    # --- what a point of the path says ----------------------------------------------------------

    def forces(self, point: EquilibriumPoint, plate: int) -> tuple[Floats, Floats]:
        """Places now (n, 3), mm, and forces on the plate there (n, 3), N, of the solved part."""
        state = point.states[IN_EAR + plate]
        assert isinstance(state, FaceTouchState)
        return self.contact(plate).positions(point.z), -state.forces

    def bearing(self, point: EquilibriumPoint, plate: int) -> tuple[Floats, Floats]:
        """Middles of a plate's layers (mm) and the force per thickness on each (N/mm).

        Of the whole joint, along the pull.
        """
        contact, heights = self.contact(plate), self.plates[plate].heights
        force = self.forces(point, plate)[1][:, 0].reshape(contact.weights.shape).sum(axis=1)
        middle = self.points[contact.faces, 2].mean(axis=1)
        layer = np.searchsorted(heights, middle) - 1
        found = np.bincount(layer, force, len(heights) - 1) / np.diff(heights)
        # a quarter's faces are one of the two halves across y
        return 0.5 * (heights[1:] + heights[:-1]), 2.0 * self.plates[plate].bearing * found

    @cached_property
    def _axis(self) -> tuple[Ints, Floats]:
        """Nodes (n_levels, k) of the pin's sections at its layers' ends, and mean weights (k,)."""
        return section_means(self.points, self.bodies[PIN].nodes, self.pin_heights)

    def axis(self, point: EquilibriumPoint) -> Floats:
        """Middles of the pin's sections now, (n_levels, 3), mm; y is 0 by symmetry."""
        nodes, weights = self._axis
        moved = self.points + point.z[: 3 * len(self.points)].reshape(-1, 3)
        found = np.einsum("k,nki->ni", weights, moved[nodes])
        found[:, 1] = 0.0
        return np.asarray(found)

    def moments(self, point: EquilibriumPoint) -> Floats:
        """Bending moment of the pin at its layers' ends, (n_levels,), N mm, of the whole pin.

        By what bears beyond each section, along the pull and along the pin, about the section's
        middle.
        """
        middles = self.axis(point)
        found = np.zeros(len(middles))
        for plate in range(2):
            where, force = self.forces(point, plate)
            at_rest = self.contact(plate).positions(np.zeros(len(point.z)))[:, 2]
            for k, (x, _, z) in enumerate(middles):
                beyond = at_rest > self.pin_heights[k]
                # the pin feels the opposite of what the plate does
                turning = force[:, 0] * (where[:, 2] - z) - force[:, 2] * (where[:, 0] - x)
                found[k] += 2.0 * turning[beyond].sum()
        return found

    def elongations(self, point: EquilibriumPoint, plate: int) -> tuple[Floats, Floats]:
        """Places along the pin (mm) and the hole's growth along the pull there (mm)."""
        levels, front, back, _ = self._chords[plate]
        grown = point.z[3 * front] - point.z[3 * back]
        return levels, np.asarray(grown)

    def elongation(self, point: EquilibriumPoint, plate: int) -> float:
        """Mean growth of a hole's length along the pull, over the thickness, mm."""
        grown = self.elongations(point, plate)[1]
        return float(self._chords[plate][3] @ grown)

    @cached_property
    def _chords(self) -> list[tuple[Floats, Ints, Ints, Floats]]:
        """Of each plate: levels, nodes in front and behind on the pull's line, mean weights."""
        found = []
        for plate in self.plates:
            nodes = np.unique(plate.mesh.hole)
            y = self.points[nodes, 1]
            line = nodes[np.abs(y) < 1e-7 * self.case.pin_diameter]
            ahead = self.points[line, 0] > plate.centre
            front, back = line[ahead], line[~ahead]
            front, back = (s[np.argsort(self.points[s, 2])] for s in (front, back))
            thick = np.diff(plate.heights)
            weights = np.zeros(2 * len(thick) + 1)
            for k, share in enumerate((1.0, 4.0, 1.0)):
                weights[k : len(weights) - 2 + k : 2] += share / 6.0 * thick
            found.append((self.points[front, 2], front, back, weights / thick.sum()))
        return found

    def bend(self, point: EquilibriumPoint) -> float:
        """Sag of the pin between the ears' mid-planes (single shear: ear's and shank's), mm."""
        u = self.axis(point)[:, 0] - self.pin_middle
        z = self.pin_heights
        ear, shank = (0.5 * (p.heights[0] + p.heights[-1]) for p in self.plates)
        if self.case.double:
            return float(abs(u[0] - np.interp(ear, z, u)))
        at = np.interp([ear, 0.5 * (ear + shank), shank], z, u)
        return float(abs(at[1] - 0.5 * (at[0] + at[2])))

    def stored_and_spent(self, point: EquilibriumPoint) -> tuple[float, float]:
        """Elastic and contact energy, and plastic work, of the solved part, N mm."""
        spent = 0.0
        for body, state in zip(self.bodies, point.states[: PIN + 1], strict=True):
            if body.metal.hardening is not None:
                work = body.metal.hardening.plastic_work(state.equivalent)
                spent += float(work @ body.volumes.reshape(-1))
        return point.stored, spent


def _mirrored(quads: QuadMesh) -> QuadMesh:
    """Mirror a plane mesh across x = 0."""
    return QuadMesh(
        quads.points * [-1.0, 1.0],
        quads.quads[:, [0, 3, 2, 1, 7, 6, 5, 4]],
        quads.rim[:, [1, 0, 2]],
    )


def _numbered(mesh: BrickMesh, first: int, move: Floats) -> BrickMesh:
    """Move a mesh and count its nodes from a first one on."""
    nodes = (mesh.bricks, mesh.lower, mesh.upper, mesh.hole)
    return BrickMesh(mesh.points + move, *(n + first for n in nodes))


def heights_of(case: WholeJointCase, settings: WholeJointSettings) -> tuple[Floats, Floats, Floats]:
    """Return ends of the layers of ear, shank and pin along the pin, mm."""
    d = case.pin_diameter
    fine, coarse, out = settings.layer * d, settings.coarse * d, STANDS_OUT * d
    end = min(2.0 * fine, coarse)
    if case.double:
        shank = 0.5 * case.shank.thickness
        ear = shank + case.gap
        marks = [0.0, shank, ear, ear + case.ear.thickness, ear + case.ear.thickness + out]
        sides = [np.inf, fine, fine, end, np.inf]
    else:
        ear, shank = case.ear.thickness, case.ear.thickness + case.gap
        marks = [-out, 0.0, ear, shank, shank + case.shank.thickness]
        marks.append(marks[-1] + out)
        sides = [np.inf, end, fine, fine, end, np.inf]
    pin = layered(np.array(marks), np.array(sides), coarse)

    def between(a: float, b: float) -> Floats:
        return pin[(pin > a - 1e-9) & (pin < b + 1e-9)]

    if case.double:
        return between(*marks[2:4]), between(*marks[0:2]), pin
    return between(*marks[1:3]), between(*marks[3:5]), pin


def build(case: WholeJointCase, settings: WholeJointSettings | None = None) -> WholeJointProblem:
    """Mesh a joint and pose its equations.

    Parameters
    ----------
    case : WholeJointCase
    settings : WholeJointSettings, optional

    Returns
    -------
    WholeJointProblem

    Raises
    ------
    BadInput
        If a hole is a slot or off its plate's axis.
    """
    settings = settings or WholeJointSettings()
    heights = heights_of(case, settings)
    # first touch: the pin against the ear's hole ahead, the shank's hole against the pin behind
    pin_at = 0.5 * (case.ear.outline.hole - case.pin_diameter)
    shank_at = pin_at + 0.5 * (case.shank.outline.hole - case.pin_diameter)
    ear_quad = ear_quads(case.ear.outline, settings.sides)
    shank_quad = _mirrored(ear_quads(case.shank.outline, settings.sides))
    n_sectors = 4 * max(2, round(settings.sides / 8 - 0.25))
    ear = swept(ear_quad, heights[0])
    shank = _numbered(
        swept(shank_quad, heights[1]), len(ear.points), np.array([shank_at, 0.0, 0.0])
    )
    pin, surface = shaft(0.5 * case.pin_diameter, n_sectors, heights[2])
    first = len(ear.points) + len(shank.points)
    pin = _numbered(pin, first, np.array([pin_at, 0.0, 0.0]))
    surface = surface + first
    points = np.ascontiguousarray(np.vstack([ear.points, shank.points, pin.points]))
    plates = (
        PlacedPlate(ear, heights[0], 0.0, 1.0),
        PlacedPlate(shank, heights[1], shank_at, -1.0),
    )
    n = len(points)
    n_dofs = 3 * n + 1
    terms: list[Term] = [
        BrickBody(case.ear.metal, ear.bricks, points),
        BrickBody(case.shank.metal, shank.bricks, points),
        BrickBody(case.pin_metal, pin.bricks, points),
    ]
    for plate, side in zip(plates, (case.ear, case.shank), strict=True):
        stiffness = PENALTY * side.metal.modulus / side.outline.hole
        terms.append(FaceContact(points, plate.mesh.hole, surface, stiffness))
    if case.guided:
        terms += _guides(case, points, plates)
    if not case.double:
        terms.append(_soft_bed(points, pin, heights[2], n_dofs - 1, case.pin_metal))
    fixed, drawn = _held(case, points, plates)
    image, lead = np.arange(n_dofs), int(3 * drawn[0])
    image[3 * drawn] = lead
    drive, rigid = np.zeros(n_dofs), np.zeros(n_dofs)
    drive[lead] = 1.0
    rigid[0 : 3 * n : 3][np.unique(shank.bricks)] = 1.0
    rigid[0 : 3 * n : 3][np.unique(pin.bricks)] = 0.5
    guides = []
    if not case.double:  # without friction nothing else keeps the pin where it is along its axis
        along = np.zeros(n_dofs)
        along[3 * np.unique(pin.bricks) + 2] = 1.0 / len(pin.points)
        guides.append(along)
    held = np.append(fixed, n_dofs - 1)
    system = System(n_dofs, terms, drive, rigid, held, guides, Mirror(image, np.ones(n_dofs)))
    share = 4.0 if case.double else 2.0
    return WholeJointProblem(case, points, plates, heights[2], pin_at, system, share)


def _guides(
    case: WholeJointCase, points: Floats, plates: tuple[PlacedPlate, PlacedPlate]
) -> list[RigidContact]:
    """Planes at rest beside the outer faces."""
    ear, shank = plates
    sides = [(ear, 1.0)] if case.double else [(ear, -1.0), (shank, 1.0)]
    found = []
    for plate, side in sides:
        faces = plate.mesh.upper if side > 0.0 else plate.mesh.lower
        height = float(plate.heights[-1] if side > 0.0 else plate.heights[0])
        height += side * GUIDE_GAP * case.pin_diameter
        metal, hole = (
            (case.ear.metal, case.ear.outline.hole)
            if plate is ear
            else (case.shank.metal, case.shank.outline.hole)
        )
        wall = RigidShape("wall", height=height, side=side)
        own = np.full(3, 3 * len(points))  # an unknown that is held
        found.append(
            RigidContact(points, faces, wall, np.zeros(3), own, PENALTY * metal.modulus / hole)
        )
    return found


def _held(
    case: WholeJointCase, points: Floats, plates: tuple[PlacedPlate, PlacedPlate]
) -> tuple[Ints, Ints]:
    """Return unknowns held at zero, and the nodes of the shank's grip: they move as one."""
    ear, shank = plates
    tol = 1e-7 * case.pin_diameter
    x, y, z = points.T
    in_ear, in_shank = (np.unique(p.mesh.bricks) for p in (ear, shank))
    grip = in_ear[np.abs(x[in_ear] + case.ear.outline.grip_length) < tol]
    drawn = in_shank[np.abs(x[in_shank] - shank.centre - case.shank.outline.grip_length) < tol]
    fixed = [3 * grip, 3 * grip + 1, 3 * grip + 2, 3 * drawn + 1]
    fixed.append(3 * np.flatnonzero(np.abs(y) < tol) + 1)
    if case.double:
        fixed.append(3 * np.flatnonzero(np.abs(z) < tol) + 2)
    else:
        fixed.append(3 * drawn + 2)
    return np.unique(np.concatenate(fixed)), drawn


def _soft_bed(
    points: Floats, pin: BrickMesh, heights: Floats, ground: int, metal: Metal
) -> Bedding:
    """Bed far too soft to bear, that holds a pin while it turns freely in its clearance."""
    nodes = np.unique(pin.bricks)
    middle = np.abs(points[nodes, 1]) < 1e-9
    own = [nodes[middle & (np.abs(points[nodes, 2] - h) < 1e-9)] for h in heights]
    dofs = np.array([3 * k for k in own])
    weights = np.full(dofs.shape, 1.0 / dofs.shape[1])
    soft = SoftBed(HOLDING * min(metal.modulus, STEEL))
    return Bedding(dofs, weights, np.gradient(heights), ground, soft)
