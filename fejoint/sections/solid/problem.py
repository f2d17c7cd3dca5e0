"""The solid ear posed: a swept ear on a rigid round pin, with what holds it sideways.

x runs along the ear away from the grip, y across it, z along the pin; the hole's centre at half
thickness is the origin. The lower face (z < 0) looks at the shank, the upper at a head or washer,
or at nothing. The grip is clamped; the pin's centre is driven along the pull and keeps its height.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel.assembly import System
from fejoint.kernel.bricks import BrickBody
from fejoint.kernel.newton import EquilibriumPoint
from fejoint.kernel.plasticity import Metal
from fejoint.kernel.rigid_contact import RigidContact, RigidShape
from fejoint.meshing.gmsh_mesher import EarOutline
from fejoint.sections.face.problem import DRAG_PENALTY, PENALTY
from fejoint.sections.solid.grid import BrickMesh, ear_quads, swept

SIDES = 28
"""Element sides that the bearing part of the hole's edge would have round the whole hole."""
LAYERS = 2
"""Layers of elements through the thickness."""
RIM = 0.1
"""Rounding of a head's rim, over the ear's thickness."""
BODY, SHAFT = 0, 1
"""Places of the terms in the system; the supports follow."""


@dataclass(frozen=True)
class Support:
    """Something flat beside an ear; lengths in mm.

    Attributes
    ----------
    gap : float
        Between it and the nearest of the ear at rest.
    radius : float
        How far from the pin's axis it reaches; inf for the shank's face.
    """

    gap: float = 0.0
    radius: float = np.inf


@dataclass(frozen=True)
class Crookedness:
    """How an ear is out of straight before it is pulled.

    Attributes
    ----------
    size : float
        Out of its plane at the tip, mm; positive away from the shank.
    form : {"curl", "tilt"}
        Curl: the end beyond the hole's centre is bent as the square of the distance. Tilt: the
        whole ear leans from the grip on.
    """

    size: float = 0.0
    form: Literal["curl", "tilt"] = "curl"


@dataclass(frozen=True)
class SolidCase:
    """What a solid ear needs to know; lengths in mm.

    Attributes
    ----------
    outline : EarOutline
    thickness : float
    metal : Metal
    pin_diameter : float
    below, above : Support or None
        What stands beside the lower face (the shank) and the upper (a head or washer).
    crooked : Crookedness
    angle : float
        Of the pull against the ear's axis, degrees.
    slope : float
        Of the pin's axis towards the tip, along its length.
    friction : float
        Between the ear and all that touches it; shank and heads go along with the pin.
    fracture_strain : float or None
    held : {"ends", "flat", "plane strain"}
        Flat: the middle plane stays plane, half the thickness is solved. Plane strain: neither
        face moves sideways.
    """

    outline: EarOutline
    thickness: float
    metal: Metal
    pin_diameter: float
    below: Support | None = None
    above: Support | None = None
    crooked: Crookedness = Crookedness()
    angle: float = 0.0
    slope: float = 0.0
    friction: float = 0.0
    fracture_strain: float | None = None
    held: Literal["ends", "flat", "plane strain"] = "ends"

    @property
    def clearance(self) -> float:
        """Hole minus pin, mm."""
        return self.outline.hole - self.pin_diameter

    @property
    def direction(self) -> Floats:
        """Unit vector of the pull, (2,)."""
        a = np.deg2rad(self.angle)
        return np.array([np.cos(a), np.sin(a)])


@dataclass(frozen=True)
class SolidSettings:
    """How finely and how far a solid ear is solved.

    Attributes
    ----------
    sides, layers : int
    pace : float
        Factor on the longest steps; 0.5 halves them.
    solver : str
        "fastest", "pardiso" or "superlu".
    stop_travel : float or None
        Pin travel at which to stop, mm; None for LONGEST_TRAVEL hole diameters.
    fall : float
        Share of the greatest load behind which to stop.
    """

    sides: int = SIDES
    layers: int = LAYERS
    pace: float = 1.0
    solver: str = "fastest"
    stop_travel: float | None = None
    fall: float = 0.02


@dataclass(eq=False)
class SolidProblem:
    """A meshed solid ear, ready to be pulled.

    Attributes
    ----------
    case : SolidCase
    mesh : BrickMesh
        At rest, crookedness included.
    system : System
    share : float
        Loads of the whole ear over those of the system.
    """

    case: SolidCase
    mesh: BrickMesh
    system: System
    share: float

    @property
    def body(self) -> BrickBody:
        """The ear."""
        term = self.system.terms[BODY]
        assert isinstance(term, BrickBody)
        return term

    @property
    def supports(self) -> list[RigidContact]:
        """What holds the ear sideways, the shank first."""
        return [t for t in self.system.terms[SHAFT + 1 :] if isinstance(t, RigidContact)]

    def _wall(self, sense: float) -> tuple[Ints, Floats]:
        """Nodes on the hole's wall where the pull (or its opposite) meets it, and mean weights."""
        mesh, case = self.mesh, self.case
        nodes = np.unique(mesh.hole)
        way = sense * case.direction
        across = mesh.points[nodes, 0] * way[1] - mesh.points[nodes, 1] * way[0]
        along = mesh.points[nodes, :2] @ way
        # the ray of nodes nearest to the pull's line
        near = np.abs(across) + np.where(along > 0.0, 0.0, np.inf)
        line = nodes[near < near.min() + 1e-6 * case.outline.hole]
        line = line[np.argsort(mesh.points[line, 2])]
        n = len(line)
        if n % 2 == 0 or n < 3:
            return line, np.full(n, 1.0 / n)
        weights = np.full(n, 2.0)
        weights[1::2] = 4.0
        weights[[0, -1]] = 1.0
        return line, weights / weights.sum()

    @property
    def bearing_line(self) -> Ints:
        """Nodes of the hole's wall under the pin, from the lower face to the upper."""
        return self._wall(1.0)[0]

    @cached_property
    def growth(self) -> Floats:
        """Weights of the displacements in the hole's elongation while it is small, (n_dofs,)."""
        return np.asarray(self.case.direction @ self._chord[1])

    @cached_property
    def _chord(self) -> tuple[Floats, Floats]:
        """The hole's length along the pull at rest, (2,), and the weights of its change."""
        chord, weights = np.zeros(2), np.zeros((2, self.system.n_dofs))
        for sense in (1.0, -1.0):
            nodes, share = self._wall(sense)
            chord += sense * (share @ self.mesh.points[nodes, :2])
            for i in range(2):
                weights[i, 3 * nodes + i] += sense * share
        return chord, weights

    def elongation(self, point: EquilibriumPoint) -> float:
        """Growth of the hole's length along the pull, mean over the thickness, mm."""
        chord, weights = self._chord
        return float(np.linalg.norm(chord + weights @ point.z) - np.linalg.norm(chord))

    @cached_property
    def tip(self) -> int:
        """Node of the end on the axis, at half thickness (flat: the mid plane)."""
        x, y, _ = self.mesh.points.T
        on = np.flatnonzero(
            (np.abs(y) < 1e-9 * x.max()) & (np.abs(x - self.case.outline.edge_distance) < 1e-6)
        )
        z = self.mesh.points[on, 2]
        return int(on[np.argmin(np.abs(z - 0.5 * (z.min() + z.max())))])

    def deflection(self, point: EquilibriumPoint) -> float:
        """How far the tip has left its plane since rest, mm; positive away from the shank."""
        return float(point.z[3 * self.tip + 2])

    def stroke(self, point: EquilibriumPoint) -> float:
        """Greatest way of any node across the plane since rest, mm."""
        return float(np.abs(point.z[2 : 3 * len(self.mesh.points) : 3]).max())


def crooked(case: SolidCase, points: Floats) -> Floats:
    """Return points (n, 3) of the straight ear, moved as it is out of straight."""
    o, size = case.outline, case.crooked.size
    x = points[:, 0]
    if case.crooked.form == "tilt":
        rise = (x + o.grip_length) / (o.grip_length + o.edge_distance)
    else:
        rise = (np.maximum(x, 0.0) / o.edge_distance) ** 2
    return points + np.column_stack([np.zeros_like(x), np.zeros_like(x), size * rise])


def build(case: SolidCase, settings: SolidSettings | None = None) -> SolidProblem:
    """Mesh a solid ear and pose its equations.

    Parameters
    ----------
    case : SolidCase
    settings : SolidSettings, optional

    Returns
    -------
    SolidProblem

    Raises
    ------
    BadInput
        If the hole is a slot or off the axis.
    """
    settings = settings or SolidSettings()
    whole = case.angle % 180.0 != 0.0
    half = 0.5 * case.thickness
    flat = case.held == "flat"
    heights = np.linspace(0.0 if flat else -half, half, settings.layers + 1)
    mesh = swept(ear_quads(case.outline, settings.sides, whole=whole), heights)
    x, y, z = mesh.points.T
    mesh = replace(mesh, points=crooked(case, mesh.points))
    n = len(mesh.points)
    own = 3 * n + np.arange(3)
    n_dofs = 3 * n + 3
    tol = 1e-7 * case.outline.hole
    grip = np.flatnonzero(np.abs(x + case.outline.grip_length) < tol)
    fixed = [3 * grip, 3 * grip + 1, own[2:]]
    if case.held == "ends":
        fixed.append(3 * grip + 2)
    if not whole:
        fixed += [3 * np.flatnonzero(np.abs(y) < tol) + 1, own[1:2]]
    if flat:
        fixed.append(3 * np.flatnonzero(np.abs(z) < tol) + 2)
    if case.held == "plane strain":
        fixed.append(3 * np.flatnonzero(np.abs(np.abs(z) - half) < tol) + 2)
    scale = case.metal.modulus / case.outline.hole
    law = PENALTY * scale, case.friction, DRAG_PENALTY * scale
    way = np.append(case.direction, 0.0)
    touch = 0.5 * case.clearance * way
    shaft = RigidShape("shaft", 0.5 * case.pin_diameter, slope=case.slope)
    terms: list[BrickBody | RigidContact] = [
        BrickBody(case.metal, mesh.bricks, mesh.points),
        RigidContact(mesh.points, mesh.hole, shaft, touch, own, *law),
    ]
    for support, faces, side in ((case.below, mesh.lower, -1.0), (case.above, mesh.upper, 1.0)):
        if support is None:
            continue
        # the gap is that to the nearest of a crooked ear: nothing is pressed at rest
        height = side * (half + support.gap + max(0.0, side * case.crooked.size))
        kind: Literal["wall", "head"] = "head" if np.isfinite(support.radius) else "wall"
        shape = RigidShape(kind, support.radius, height, side, RIM * case.thickness)
        terms.append(RigidContact(mesh.points, faces, shape, touch, own, *law))
    drive = np.zeros(n_dofs)
    drive[own] = way
    guides = []
    if whole:
        across = np.zeros(n_dofs)
        across[own] = [-way[1], way[0], 0.0]
        guides.append(across)
    system = System(n_dofs, terms, drive, drive.copy(), np.unique(np.concatenate(fixed)), guides)
    share = (1.0 if whole else 2.0) * (2.0 if flat else 1.0)
    return SolidProblem(case, mesh, system, share)
