"""The face section posed: a plate with a hole and a pin in it, meshed, with its equations.

Coordinates: the hole's centre is the origin, x runs along the plate's axis away from the grip. The
plate (an ear, or the shank) is clamped at its grip; the pin's mean displacement is driven along the
pull. The pin is drawn where it just touches the hole, so that everything counts from first touch.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel.assembly import System
from fejoint.kernel.contact import Circle, PinContact, PinSurface, SecondaryEdge, SmoothEdge
from fejoint.kernel.elements import Quadrature, Solid
from fejoint.kernel.newton import EquilibriumPoint
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.contours import in_spans, spans_at
from fejoint.meshing.gmsh_mesher import EarOutline, Far, ear_free, ear_half, ear_whole
from fejoint.meshing.mesh import Mesh
from fejoint.sections.interpolation import in_triangle, on_edge

SIDES = 48
"""Element sides round the hole at the everyday refinement."""
PENALTY = 30.0
"""Contact stiffness over E/D: penetration about 2e-4 D at the loads that stretch a hole."""
DRAG_PENALTY = 10.0
"""The same for friction."""
NEAT = 4e-3
"""Clearance over the hole's diameter below which a pin counts as touching all round: some times
what the edges of a coarse mesh leave the circle by."""


@dataclass(frozen=True)
class FaceCase:
    """What a face section needs to know; lengths in mm.

    Attributes
    ----------
    outline : EarOutline
    thickness : float
    metal : Metal
        Of the plate.
    pin_diameter : float
    pin_metal : Metal or None
        None for a rigid pin.
    friction : float
    angle : float
        Of the pull against the plate's axis, degrees.
    fracture_strain : float or None
        Of the plate; None for metal that never tears.
    large_strain : bool
    flare_depth, flare_angle : float
        Of a conical mouth of the hole on one face (mm, and whole angle in degrees): the pin bears
        on what is left of the thickness, the land.
    """

    outline: EarOutline
    thickness: float
    metal: Metal
    pin_diameter: float
    pin_metal: Metal | None
    friction: float = 0.0
    angle: float = 0.0
    fracture_strain: float | None = None
    large_strain: bool = True
    flare_depth: float = 0.0
    flare_angle: float = 90.0

    @property
    def clearance(self) -> float:
        """Hole minus pin, mm."""
        return self.outline.hole - self.pin_diameter

    @property
    def land(self) -> float:
        """Thickness that the pin bears on, mm."""
        return self.thickness - self.flare_depth

    @property
    def direction(self) -> Floats:
        """Unit vector of the pull, (2,)."""
        a = np.deg2rad(self.angle)
        return np.array([np.cos(a), np.sin(a)])

    @property
    def seat(self) -> Floats:
        """Centre of the hole's round part that the pin is pulled into, (2,), mm."""
        forward = self.direction[0] > 1e-9
        return np.array([self.outline.slot if forward else 0.0, 0.0])

    def thickness_at(self, points: Floats) -> Floats | float:
        """Thickness at points (..., 2) of the plate, mm: less within the flare."""
        if self.flare_depth == 0.0:
            return self.thickness
        x = points[..., 0] - np.clip(points[..., 0], 0.0, self.outline.slot)
        off = np.hypot(x, points[..., 1]) - 0.5 * self.outline.hole
        cut = self.flare_depth - off / np.tan(np.deg2rad(0.5 * self.flare_angle))
        return np.asarray(self.thickness - np.clip(cut, 0.0, self.flare_depth))


@dataclass(frozen=True)
class FaceSettings:
    """How finely and how far a face section is solved.

    Attributes
    ----------
    sides : int
        Element sides round the hole.
    pace : float
        Factor on the longest steps; 0.5 halves them.
    solver : str
        "fastest", "pardiso" or "superlu".
    stop_travel : float or None
        Pin travel at which to stop, mm; None for LONGEST_TRAVEL hole diameters.
    stop_load : float or None
        Load on the plate at which to stop, N.
    stop_at_maximum : bool
        Stop 2 % behind the load maximum.
    whole : bool
        Mesh the whole plate also where the half would do.
    free : bool
        Mesh the whole plate in one piece, not as a half and its mirror image.
    """

    sides: int = SIDES
    pace: float = 1.0
    solver: str = "fastest"
    stop_travel: float | None = None
    stop_load: float | None = None
    stop_at_maximum: bool = True
    whole: bool = False
    free: bool = False


PLATE, PIN, CONTACT = 0, 1, -1
"""Places of the terms in the system (a rigid pin has none)."""


@dataclass(eq=False)
class FaceProblem:
    """A meshed face section, ready to be pulled.

    Attributes
    ----------
    case : FaceCase
    mesh : Mesh
        Plate and pin, the pin at first touch.
    system : System
    contact : PinContact
    half : bool
        Only the upper half is meshed; forces of the system are then half of the plate's.
    """

    case: FaceCase
    mesh: Mesh
    system: System
    contact: PinContact
    half: bool

    def with_stiffer_contact(self, factor: float) -> FaceProblem:
        """Return the same section with the contact's normal penalty times `factor`."""
        contact = replace(self.contact, stiffness=factor * self.contact.stiffness)
        old = self.system
        terms = [contact if term is self.contact else term for term in old.terms]
        system = System(
            old.n_dofs, terms, old.drive, old.rigid_body_mode, old.fixed, old.guides, old.mirror
        )
        return replace(self, system=system, contact=contact)

    @property
    def share(self) -> float:
        """Whole forces over those of the system: 2 for a half model."""
        return 2.0 if self.half else 1.0

    @property
    def direction(self) -> Floats:
        """Unit vector of the pull, (2,)."""
        return self.case.direction

    @cached_property
    def _chord(self) -> tuple[Floats, Floats]:
        """The hole's length along the pull, (2,), mm, and the weights of its change, (2, n)."""
        weights, chord = np.zeros((2, self.system.n_dofs)), np.zeros(2)
        for sense in (1.0, -1.0):
            seen = sense * self.direction
            for node, share in on_edge(self.mesh, self.mesh.edges["hole"], seen, self.case.seat):
                chord += sense * share * self.mesh.points[node]
                weights[[0, 1], [2 * node, 2 * node + 1]] += sense * share
        return chord, weights

    @cached_property
    def growth(self) -> Floats:
        """Weights of the displacements in the elongation while it is small, (n_dofs,)."""
        return np.asarray(self.direction @ self._chord[1])

    def elongation(self, point: EquilibriumPoint) -> float:
        """Growth of the hole's length along the pull, mm.

        It is the distance between the two points of the edge that lie on the pull's line through
        the hole, so that it means the same at every angle: where the ear turns, it adds nothing.
        """
        chord, weights = self._chord
        return float(np.linalg.norm(chord + weights @ point.z) - np.linalg.norm(chord))

    def neck(self, point: EquilibriumPoint) -> float:
        """Width lost beside the hole where the plate is narrowest, in a straight pull, mm."""
        high, low = self._sides
        v = point.z[1::2]
        inwards = float(np.max(-v[high], initial=0.0))
        return 2.0 * inwards if self.half else inwards + float(np.max(v[low], initial=0.0))

    @cached_property
    def _sides(self) -> tuple[Ints, Ints]:
        """Nodes of the upper and the lower side within a hole's diameter of its middle."""
        o, (x, y) = self.case.outline, self.mesh.points.T
        if o.drawn:
            outer = self.mesh.nodes_of("outer")
            outer = outer[np.abs(x[outer]) < o.hole]
            return outer[y[outer] > 0.0], outer[y[outer] < 0.0]
        top = 0.5 * o.width - o.offset
        near = np.abs(x) < o.hole
        on = [near & (np.abs(y - edge) < 1e-6 * o.width) for edge in (top, top - o.width)]
        return np.flatnonzero(on[0]), np.flatnonzero(on[1])

    @cached_property
    def _section_weights(self) -> Floats:
        """Weights of the displacements in the mean motion of the section one width off."""
        o = self.case.outline
        weights = np.zeros(self.system.n_dofs)
        away = min(o.width, o.grip_length)
        if away >= o.grip_length * (1.0 - 1e-9):
            return weights
        top = 0.5 * o.width - o.offset
        low = 0.0 if self.half else top - o.width
        count = 12
        shares = (np.arange(count) + 0.5) / count
        if o.drawn:
            heights = in_spans(spans_at(o.drawn, -away), shares, above=self.half)
        else:
            heights = low + shares * (top - low)
        for y in heights:
            for node, share in in_triangle(self.mesh, "ear", np.array([-away, y])):
                weights[2 * node : 2 * node + 2] += share / count * self.direction
        return weights

    def local_travel(self, point: EquilibriumPoint) -> float:
        """Pin's mean displacement less that of the section one width towards the grip, mm."""
        return point.travel - float(self._section_weights @ point.z)

    def pressures(self, point: EquilibriumPoint) -> tuple[Floats, Floats]:
        """Return angles about the hole's centre (degrees) and mean pressures per edge (MPa)."""
        secondary = self.contact.secondary
        p = self.contact.primary.project(secondary.positions(point.z), point.z)
        pressure = (self.contact.stiffness * np.maximum(-p.gap, 0.0)).reshape(
            secondary.weights.shape
        )
        mean = (pressure * secondary.weights).sum(axis=1) / secondary.weights.sum(axis=1)
        middle = secondary.nodes[:, 2]
        return np.degrees(np.arctan2(middle[:, 1], middle[:, 0])), mean

    def penetration(self, point: EquilibriumPoint) -> float:
        """Deepest penetration of the pin into the hole's edge, mm."""
        p = self.contact.primary.project(self.contact.secondary.positions(point.z), point.z)
        return float(max(0.0, -p.gap.min()))


def build(case: FaceCase, settings: FaceSettings | None = None) -> FaceProblem:
    """Mesh a face section and pose its equations.

    Parameters
    ----------
    case : FaceCase
    settings : FaceSettings, optional

    Returns
    -------
    FaceProblem
    """
    settings = settings or FaceSettings()
    one_sided = case.outline.offset != 0.0 or not case.outline.symmetric
    free = settings.free or one_sided
    half = case.angle % 180.0 == 0.0 and not settings.whole and not free
    meshed_pin = case.pin_diameter if case.pin_metal is not None else None
    if free:
        mesh = ear_free(case.outline, settings.sides, meshed_pin)
    else:
        mesher = ear_half if half else ear_whole
        mesh = mesher(case.outline, settings.sides, meshed_pin, far_side(case))
    direction = case.direction
    touch = case.seat + 0.5 * case.clearance * direction
    if meshed_pin is not None:
        pin_nodes = np.unique(mesh.triangles[mesh.regions["pin"]])
        points = mesh.points.copy()
        points[pin_nodes] += touch
        mesh = replace(mesh, points=points)
    n_nodes = len(mesh.points)
    n_dofs = 2 * n_nodes + (2 if meshed_pin is None else 0)
    solids = [_solid(mesh, "ear", case.metal, case)]
    if case.pin_metal is not None:
        solids.append(_solid(mesh, "pin", case.pin_metal, case))
        drive, rigid, guides, fixed = _meshed_drive(mesh, solids[PIN], direction, half, n_dofs)
        primary: PinSurface = _pin_edge(mesh, half)
    else:
        centre = np.array([n_dofs - 2, n_dofs - 1])
        drive, rigid, guides, fixed = _rigid_drive(centre, direction, n_dofs)
        primary = Circle(touch, 0.5 * case.pin_diameter, centre)
    grip = mesh.nodes_of("grip")
    held = [2 * grip, 2 * grip + 1, *fixed]
    if half:
        held.append(2 * mesh.nodes_of("neck", "tip") + 1)
    stiffness = PENALTY * case.metal.modulus / case.outline.hole
    contact = PinContact(
        SecondaryEdge.from_mesh(mesh.points, mesh.edges["hole"], case.land),
        primary,
        stiffness,
        friction=case.friction,
        tangential_stiffness=stiffness * DRAG_PENALTY / PENALTY,
    )
    system = System(
        n_dofs, [*solids, contact], drive, rigid, np.unique(np.concatenate(held)), guides
    )
    return FaceProblem(case, mesh, system, contact, half)


def far_side(case: FaceCase) -> Far | None:
    """Return the side of the hole that the pin is pulled straight away from, if it leaves it.

    A neat pin touches there too, where a coarse edge would lie inside it.
    """
    if case.clearance < NEAT * case.outline.hole:
        return None
    along = float(case.direction[0])
    return "neck" if along > 1.0 - 1e-12 else "tip" if along < -1.0 + 1e-12 else None


def _solid(mesh: Mesh, region: str, metal: Metal, case: FaceCase) -> Solid:
    triangles = mesh.triangles[mesh.regions[region]]
    own, number = np.unique(triangles, return_inverse=True)
    quadrature = Quadrature.from_mesh(mesh.points[own], number.reshape(triangles.shape))
    dofs = (2 * triangles[:, :, None] + np.arange(2)).reshape(len(triangles), 12)
    # the pin is given the plate's whole thickness: its own bending is the axial section's business
    thickness = case.thickness_at(quadrature.points) if region == "ear" else case.thickness
    return Solid(metal, dofs, quadrature, thickness, case.large_strain)


_Drive = tuple[Floats, Floats, list[Floats], list[Ints]]


def _meshed_drive(mesh: Mesh, pin: Solid, direction: Floats, half: bool, n_dofs: int) -> _Drive:
    """Weights of the disc's mean displacement, rigid motion, guides, and fixed dofs."""
    q = pin.quadrature
    share = np.zeros(n_dofs // 2)
    np.add.at(share, pin.dofs[:, ::2] // 2, np.einsum("aq,eq->ea", q.values, q.areas))
    share /= q.areas.sum()
    share[np.abs(share) < 1e-12] = 0.0
    nodes = np.unique(pin.dofs[:, ::2] // 2)
    drive, rigid = np.zeros(n_dofs), np.zeros(n_dofs)
    for i in range(2):
        drive[i::2] = share * direction[i]
        rigid[2 * nodes + i] = direction[i]
    if half:
        return drive, rigid, [], [2 * mesh.nodes_of("pin axis") + 1]
    across = np.zeros(n_dofs)
    across[0::2], across[1::2] = -share * direction[1], share * direction[0]
    turn = np.zeros(n_dofs)
    arm = mesh.points - share @ mesh.points  # from the centroid: the guide then bears no net force
    scale = 2.0 / np.ptp(mesh.points[nodes, 0])
    turn[0::2], turn[1::2] = -share * arm[:, 1] * scale, share * arm[:, 0] * scale
    return drive, rigid, [across, turn], []


def _rigid_drive(centre: Ints, direction: Floats, n_dofs: int) -> _Drive:
    drive, across = np.zeros(n_dofs), np.zeros(n_dofs)
    drive[centre] = direction
    across[centre] = [-direction[1], direction[0]]
    return drive, drive.copy(), [across], []


def _pin_edge(mesh: Mesh, half: bool) -> SmoothEdge:
    edges = mesh.edges["pin"]
    along = np.stack([edges[:, 0], edges[:, 2]], axis=1).reshape(-1)
    if half:
        along = np.append(along, edges[-1, 1])
    return SmoothEdge(mesh.points[along], 2 * along[:, None] + np.arange(2), half)
