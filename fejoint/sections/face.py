"""The face section: a plate with a hole and a pin in it, in the plane of the plate.

The plate (an ear, or the shank) is clamped at its grip; the pin's mean displacement is driven along
the pull. Everything is measured from first touch: the pin is drawn where it just touches the hole.
Coordinates: the hole's centre is the origin, x runs along the plate's axis away from the grip.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fejoint.kernel.assembly import System
from fejoint.kernel.contact import Circle, Master, PinContact, SlaveEdge, SmoothEdge
from fejoint.kernel.elements import Quadrature, Solid
from fejoint.kernel.linear import LinearSolver, Tally
from fejoint.kernel.plasticity import Metal
from fejoint.kernel.stepping import (
    Path,
    Point,
    Progress,
    StepSettings,
    Target,
    Watcher,
    march,
)
from fejoint.meshing import EarOutline, Mesh, ear_half, ear_whole
from fejoint.sections.ductility import Averaging
from fejoint.sections.watchers import Ductility, FirstYield, LoadMaximum, Pace, Reached

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

SIDES = 48
"""Element sides round the hole at the everyday refinement."""
PENALTY = 30.0
"""Contact stiffness over E/D: penetration about 2e-4 D at the loads that stretch a hole."""
DRAG_PENALTY = 10.0
"""The same for friction."""
OFFSET = 0.02
"""Share of the hole's diameter that defines the offset load (ASTM E238)."""
LONGEST_TRAVEL = 1.2
"""Pin travel over the hole's diameter at which a pull ends at the latest."""
AVERAGED_THICKNESSES = 1.0
"""Diameter of the disc over which damage is averaged, in thicknesses of the sheet."""


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

    @property
    def clearance(self) -> float:
        """Hole minus pin, mm."""
        return self.outline.hole - self.pin_diameter


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
    """

    sides: int = SIDES
    pace: float = 1.0
    solver: str = "fastest"
    stop_travel: float | None = None
    stop_load: float | None = None
    stop_at_maximum: bool = True
    whole: bool = False


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

    @property
    def share(self) -> float:
        """Whole forces over those of the system: 2 for a half model."""
        return 2.0 if self.half else 1.0

    @cached_property
    def direction(self) -> Floats:
        """Unit vector of the pull, (2,)."""
        a = np.deg2rad(self.case.angle)
        return np.array([np.cos(a), np.sin(a)])

    @cached_property
    def _elongation_weights(self) -> Floats:
        """Weights of the displacements in the growth of the hole's length along the pull."""
        weights = np.zeros(self.system.n_dofs)
        d = self.direction
        for sense in (1.0, -1.0):
            for node, share in _on_edge(self.mesh, self.mesh.edges["hole"], sense * d):
                weights[2 * node : 2 * node + 2] += sense * share * d
        return weights

    def elongation(self, point: Point) -> float:
        """Growth of the hole's length along the pull, mm."""
        return float(self._elongation_weights @ point.z)

    @cached_property
    def _section_weights(self) -> Floats:
        """Weights of the displacements in the mean motion of the section one width off."""
        o = self.case.outline
        weights = np.zeros(self.system.n_dofs)
        away = min(o.width, o.grip_length)
        if away >= o.grip_length * (1.0 - 1e-9):
            return weights
        low = 0.0 if self.half else -0.5 * o.width
        count = 12
        heights = low + (np.arange(count) + 0.5) / count * (0.5 * o.width - low)
        for y in heights:
            for node, share in _in_triangle(self.mesh, np.array([-away, y])):
                weights[2 * node : 2 * node + 2] += share / count * self.direction
        return weights

    def local_travel(self, point: Point) -> float:
        """Pin's mean displacement less that of the section one width towards the grip, mm."""
        return point.travel - float(self._section_weights @ point.z)

    def pressures(self, point: Point) -> tuple[Floats, Floats]:
        """Return angles about the hole's centre (degrees) and mean pressures per edge (MPa)."""
        slave = self.contact.slave
        p = self.contact.master.project(slave.positions(point.z), point.z)
        pressure = (self.contact.stiffness * np.maximum(-p.gap, 0.0)).reshape(
            slave.weights.shape
        )
        mean = (pressure * slave.weights).sum(axis=1) / slave.weights.sum(axis=1)
        middle = slave.nodes[:, 2]
        return np.degrees(np.arctan2(middle[:, 1], middle[:, 0])), mean

    def penetration(self, point: Point) -> float:
        """Deepest penetration of the pin into the hole's edge, mm."""
        p = self.contact.master.project(self.contact.slave.positions(point.z), point.z)
        return float(max(0.0, -p.gap.min()))


@dataclass(eq=False)
class FaceHistory:
    """A pulled face section. Arrays have one entry a point, the first at rest.

    Attributes
    ----------
    problem : FaceProblem
    path : Path
    load : (n,) array
        On the whole plate, N.
    travel, local_travel, elongation : (n,) arrays
        Pin travel, the same local to the hole, and the hole's elongation, mm.
    damage : (n,) array
        Largest averaged damage.
    torn_at : (2,) array
        Reference position of the largest averaged damage at the end, mm.
    first_yield_plate, first_yield_pin : float or None
        Loads at first yield, N.
    tally : Tally
    """

    problem: FaceProblem
    path: Path
    load: Floats
    travel: Floats
    local_travel: Floats
    elongation: Floats
    damage: Floats
    torn_at: Floats
    first_yield_plate: float | None
    first_yield_pin: float | None
    tally: Tally
    ductility: Ductility | None = field(default=None, repr=False)

    def point_at_load(self, load: float) -> int:
        """Index of the first point at or above a load (the last point if none)."""
        above = np.flatnonzero(self.load >= load)
        return int(above[0]) if len(above) else len(self.load) - 1


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
    half = case.angle % 180.0 == 0.0 and not settings.whole
    meshed_pin = case.pin_diameter if case.pin_metal is not None else None
    mesher = ear_half if half else ear_whole
    mesh = mesher(case.outline, settings.sides, meshed_pin)
    direction = np.array([np.cos(np.deg2rad(case.angle)), np.sin(np.deg2rad(case.angle))])
    touch = 0.5 * case.clearance * direction
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
        drive, carried, guides, fixed = _meshed_drive(mesh, solids[PIN], direction, half, n_dofs)
        master: Master = _pin_edge(mesh, half)
    else:
        centre = np.array([n_dofs - 2, n_dofs - 1])
        drive, carried, guides, fixed = _rigid_drive(centre, direction, n_dofs)
        master = Circle(touch, 0.5 * case.pin_diameter, centre)
    grip = mesh.nodes_of("grip")
    held = [2 * grip, 2 * grip + 1, *fixed]
    if half:
        held.append(2 * mesh.nodes_of("neck", "tip") + 1)
    stiffness = PENALTY * case.metal.modulus / case.outline.hole
    contact = PinContact(
        SlaveEdge.of(mesh.points, mesh.edges["hole"], case.thickness),
        master,
        stiffness,
        friction=case.friction,
        drag_stiffness=stiffness * DRAG_PENALTY / PENALTY,
    )
    system = System(
        n_dofs, [*solids, contact], drive, carried, np.unique(np.concatenate(held)), guides
    )
    return FaceProblem(case, mesh, system, contact, half)


def pull(
    problem: FaceProblem,
    settings: FaceSettings | None = None,
    legs: Sequence[Target] | None = None,
    watchers: Sequence[Watcher] = (),
    progress: Progress | None = None,
) -> FaceHistory:
    """Pull a face section from first touch until something ends it.

    Parameters
    ----------
    problem : FaceProblem
    settings : FaceSettings, optional
    legs : sequence of Target, optional
        Path to walk (loads are those of the whole plate); one pull without it.
    watchers : sequence of Watcher
        Further watchers.
    progress : callable, optional

    Returns
    -------
    FaceHistory
    """
    settings = settings or FaceSettings()
    case, system = problem.case, problem.system
    hole = case.outline.hole
    steps = step_settings(case, settings)
    plate_yield = _first_yield(PLATE, case.metal)
    # the pin's yield under the hole's edge is noted, not searched: bending decides its first yield
    pin_yield = _first_yield(PIN, case.pin_metal, close=0.0)
    ductility = _ductility_watcher(problem) if case.fracture_strain is not None else None
    own: list[Watcher] = [w for w in (plate_yield, pin_yield, ductility) if w is not None]
    # the offset load leans on the curve up to the offset, so that part is walked closely
    own.append(Pace(problem.local_travel, 2.2 * OFFSET * hole, 0.004 * hole * settings.pace))
    if settings.stop_at_maximum:
        own.append(LoadMaximum())
    if settings.stop_load is not None:
        own.append(
            Reached(lambda p: problem.share * p.load, settings.stop_load, "asked stop reached")
        )
    solver = LinearSolver(system.symmetric, settings.solver)
    stop = settings.stop_travel if settings.stop_travel is not None else LONGEST_TRAVEL * hole
    targets = [Target("travel", stop)] if legs is None else _for_system(legs, problem.share)
    try:
        path = march(system, solver, targets, steps, [*own, *watchers], progress=progress)
    finally:
        solver.close()
    return _history(problem, path, solver.tally, plate_yield, pin_yield, ductility)


@dataclass(frozen=True, eq=False)
class Release:
    """A plate let go from a load. Arrays have one entry a point, from the peak down to no load.

    Attributes
    ----------
    load : (n,) array
        N; the last is 0, extrapolated along the last secant.
    local_travel, elongation : (n,) arrays
        mm.
    """

    load: Floats
    local_travel: Floats
    elongation: Floats

    @property
    def set(self) -> float:
        """Elongation of the hole that stays, mm."""
        return float(self.elongation[-1])


SMALL_LOAD = 0.02
"""Share of the peak at which a release stops: below it a pin with clearance is a free body."""


def release(
    history: FaceHistory, index: int, settings: FaceSettings | None = None
) -> Release | None:
    """Let the plate go from one of its points.

    Parameters
    ----------
    history : FaceHistory
    index : int
        Of the point.
    settings : FaceSettings, optional

    Returns
    -------
    Release or None
        None where the unloading path could not be followed.
    """
    problem = history.problem
    settings = settings or FaceSettings()
    peak = history.path.points[index]
    slope = np.max(history.load[1:] / np.maximum(history.travel[1:], 1e-300)) / problem.share
    steps = replace(
        step_settings(problem.case, settings), first=0.2 * settings.pace * peak.load / slope
    )
    solver = LinearSolver(problem.system.symmetric, settings.solver, tally=history.tally)
    legs = [Target("load", SMALL_LOAD * peak.load)]
    try:
        path = march(problem.system, solver, legs, steps, start=peak)
    finally:
        solver.close()
    if not path.finished or len(path.points) < 2:
        return None

    def to_zero(values: list[float]) -> Floats:
        loads = [p.load for p in path.points]
        rate = (values[-1] - values[-2]) / (loads[-1] - loads[-2])
        return np.array([*values, values[-1] - rate * loads[-1]])

    return Release(
        np.array([*(problem.share * p.load for p in path.points), 0.0]),
        to_zero([problem.local_travel(p) for p in path.points]),
        to_zero([problem.elongation(p) for p in path.points]),
    )


def step_settings(case: FaceCase, settings: FaceSettings) -> StepSettings:
    """Return the steps of a face section: lengths follow the hole's diameter."""
    hole = case.outline.hole
    force = case.metal.modulus * hole * case.thickness
    return StepSettings(
        first=5e-4 * hole,
        longest=0.1 * hole * settings.pace,
        shortest=1e-7 * hole,
        force_scale=1e-7 * force,
        tolerance=1e-6,
        growth=2.0,
        easy=6,
    )


def _solid(mesh: Mesh, region: str, metal: Metal, case: FaceCase) -> Solid:
    triangles = mesh.triangles[mesh.regions[region]]
    own, number = np.unique(triangles, return_inverse=True)
    quadrature = Quadrature.of(mesh.points[own], number.reshape(triangles.shape))
    dofs = (2 * triangles[:, :, None] + np.arange(2)).reshape(len(triangles), 12)
    return Solid(metal, dofs, quadrature, case.thickness, case.large_strain)


_Drive = tuple[Floats, Floats, list[Floats], list[Ints]]


def _meshed_drive(mesh: Mesh, pin: Solid, direction: Floats, half: bool, n_dofs: int) -> _Drive:
    """Weights of the disc's mean displacement, rigid motion, guides, and fixed dofs."""
    q = pin.quadrature
    share = np.zeros(n_dofs // 2)
    np.add.at(share, pin.dofs[:, ::2] // 2, np.einsum("aq,eq->ea", q.values, q.areas))
    share /= q.areas.sum()
    share[np.abs(share) < 1e-12] = 0.0
    nodes = np.unique(pin.dofs[:, ::2] // 2)
    drive, carried = np.zeros(n_dofs), np.zeros(n_dofs)
    for i in range(2):
        drive[i::2] = share * direction[i]
        carried[2 * nodes + i] = direction[i]
    if half:
        return drive, carried, [], [2 * mesh.nodes_of("pin axis") + 1]
    across = np.zeros(n_dofs)
    across[0::2], across[1::2] = -share * direction[1], share * direction[0]
    turn = np.zeros(n_dofs)
    arm = mesh.points - mesh.points[nodes].mean(axis=0)
    scale = 2.0 / np.ptp(mesh.points[nodes, 0])
    turn[0::2], turn[1::2] = -share * arm[:, 1] * scale, share * arm[:, 0] * scale
    return drive, carried, [across, turn], []


def _rigid_drive(centre: Ints, direction: Floats, n_dofs: int) -> _Drive:
    drive, across = np.zeros(n_dofs), np.zeros(n_dofs)
    drive[centre] = direction
    across[centre] = [-direction[1], direction[0]]
    return drive, drive.copy(), [across], []


def _pin_edge(mesh: Mesh, half: bool) -> SmoothEdge:
    edges = mesh.edges["pin"]
    walk = np.stack([edges[:, 0], edges[:, 2]], axis=1).reshape(-1)
    if half:
        walk = np.append(walk, edges[-1, 1])
    return SmoothEdge(mesh.points[walk], 2 * walk[:, None] + np.arange(2), half)


def _first_yield(term: int, metal: Metal | None, close: float = 0.99) -> FirstYield | None:
    if metal is None or metal.hardening is None:
        return None
    return FirstYield(term, metal.hardening.first_yield, close)


def _ductility_watcher(problem: FaceProblem) -> Ductility:
    case = problem.case
    assert case.fracture_strain is not None
    plate = problem.system.terms[PLATE]
    assert isinstance(plate, Solid)
    average = Averaging.of(
        plate.quadrature.points.reshape(-1, 2),
        plate.volumes.reshape(-1),
        AVERAGED_THICKNESSES * case.thickness,
        problem.half,
        reach=1.5 * case.outline.hole,
    )
    return Ductility(PLATE, case.fracture_strain, average)


def _for_system(legs: Sequence[Target], share: float) -> list[Target]:
    return [
        Target(leg.kind, leg.value / share) if leg.kind == "load" else leg for leg in legs
    ]


def _history(
    problem: FaceProblem,
    path: Path,
    tally: Tally,
    plate_yield: FirstYield | None,
    pin_yield: FirstYield | None,
    ductility: Ductility | None,
) -> FaceHistory:
    points = path.points
    load = np.array([problem.share * p.load for p in points])
    damage, torn_at = np.zeros(len(points)), np.full(2, np.nan)
    if ductility is not None:
        damage = np.array([ductility.average(ductility.damage(p)).max() for p in points])
        plate = problem.system.terms[PLATE]
        assert isinstance(plate, Solid)
        worst = int(ductility.average(ductility.damage(points[-1])).argmax())
        torn_at = plate.quadrature.points.reshape(-1, 2)[worst]
    return FaceHistory(
        problem,
        path,
        load,
        np.array([p.travel for p in points]),
        np.array([problem.local_travel(p) for p in points]),
        np.array([problem.elongation(p) for p in points]),
        damage,
        torn_at,
        plate_yield.load_in(points, problem.share) if plate_yield else None,
        pin_yield.load_in(points, problem.share) if pin_yield else None,
        tally,
        ductility,
    )


def _on_edge(mesh: Mesh, edges: Ints, direction: Floats) -> list[tuple[int, float]]:
    """Nodes and shape functions at the point of a round edge that lies in a direction."""
    angle = np.arctan2(direction[1], direction[0])
    ends = np.arctan2(mesh.points[edges[:, :2], 1], mesh.points[edges[:, :2], 0])
    gap = (angle - ends[:, 0] + 1e-9) % (2.0 * np.pi)
    span = (ends[:, 1] - ends[:, 0]) % (2.0 * np.pi)
    if abs(abs(angle) - np.pi) < 1e-9 or abs(angle) < 1e-9:
        node = edges[:, :2].ravel()[
            np.argmin(np.linalg.norm(mesh.points[edges[:, :2].ravel()] - _far(mesh, edges, direction), axis=1))
        ]
        return [(int(node), 1.0)]
    k = int(np.argmin(np.where(gap <= span, gap, np.inf)))
    s = 2.0 * gap[k] / span[k] - 1.0
    shapes = (0.5 * s * (s - 1.0), 0.5 * s * (s + 1.0), 1.0 - s * s)
    return [(int(n), float(w)) for n, w in zip(edges[k], shapes, strict=True)]


def _far(mesh: Mesh, edges: Ints, direction: Floats) -> Floats:
    return np.asarray(np.linalg.norm(mesh.points[edges[0, 0]]) * direction)


_PLACES = np.array([[0, 0], [1, 0], [0, 1], [0.5, 0], [0.5, 0.5], [0, 0.5]])


def _in_triangle(mesh: Mesh, point: Floats) -> list[tuple[int, float]]:
    """Nodes and shape functions of the plate's triangle (taken straight) that holds a point."""
    triangles = mesh.triangles[mesh.regions["ear"]]
    a, b, c = (mesh.points[triangles[:, k]] for k in range(3))
    u, v, w = b - a, c - a, point - a
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    s = (w[:, 0] * v[:, 1] - w[:, 1] * v[:, 0]) / area
    t = (u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0]) / area
    k = int(np.argmax(np.minimum(np.minimum(s, t), 1.0 - s - t)))
    x, y = s[k], t[k]
    z = 1.0 - x - y
    shapes = (z * (2 * z - 1), x * (2 * x - 1), y * (2 * y - 1), 4 * z * x, 4 * x * y, 4 * y * z)
    return [(int(n), float(h)) for n, h in zip(triangles[k], shapes, strict=True)]
