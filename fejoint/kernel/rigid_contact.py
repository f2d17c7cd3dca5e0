"""Contact of a body's faces with rigid bodies of revolution: a pin's shaft, a plane, a head.

Secondary points are Gauss points of 8-node faces with reference weights; the penalty pressure acts
along the true normal of the rigid surface, rims included, and Coulomb friction along it. The
formulas stand in rigid_pass.py.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel import compiled
from fejoint.kernel.assembly import Response

_SHARE = np.array([5.0, 8.0, 5.0]) / 9.0
_AT = np.array([-np.sqrt(0.6), 0.0, np.sqrt(0.6)])
GAUSS_AT = np.array([[a, b] for a in _AT for b in _AT])
"""Gauss points of a face, (9, 2), exact to the fifth degree."""
GAUSS_SHARE = np.outer(_SHARE, _SHARE).reshape(-1)
"""Their weights, (9,)."""


@dataclass(frozen=True)
class RigidShape:
    """A rigid body of revolution; lengths in mm.

    Attributes
    ----------
    kind : {"shaft", "wall", "head"}
        A wall is a plane across the axis; a head is a wall that ends at a radius.
    radius : float
        Of the shaft or head.
    height : float
        Place along the axis of the face of a wall or head, from the centre.
    side : float
        1 where the rigid body lies above its face, -1 where below.
    rim : float
        Rounding of a head's rim.
    slope : float
        By which the axis leans along x a unit of length along z.
    """

    kind: Literal["shaft", "wall", "head"]
    radius: float = np.inf
    height: float = 0.0
    side: float = 1.0
    rim: float = 0.0
    slope: float = 0.0

    @property
    def turn(self) -> Floats:
        """Rotation into the body's frame, (3, 3)."""
        length = np.hypot(1.0, self.slope)
        c, s = 1.0 / length, self.slope / length
        return np.array([[c, 0.0, -s], [0.0, 1.0, 0.0], [s, 0.0, c]])


@dataclass(frozen=True, eq=False)
class TouchState:
    """Where the secondary points stand, at a step's end.

    Attributes
    ----------
    gap, pressure : (n,) arrays
        mm and MPa.
    traction : (n, 3) array
        That friction puts on the rigid body, MPa.
    place : (n, 3) array
        From the rigid body's centre, mm.
    held : bool
        What touched at the start of a step still does.
    """

    gap: Floats
    pressure: Floats
    traction: Floats
    place: Floats
    held: bool = False


def face_shapes(at: Floats) -> tuple[Floats, Floats]:
    """Return shape functions (n, 8) and gradients (n, 8, 2) of an 8-node face at points (n, 2).

    Nodes: four corners in turn, then the middles of the sides between them.
    """
    corner = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], float)
    x, y = at[:, :1], at[:, 1:]
    cx, cy = corner[:, 0], corner[:, 1]
    u, v = 1.0 + x * cx, 1.0 + y * cy
    values = [0.25 * u * v * (x * cx + y * cy - 1.0)]
    by_x = [0.25 * cx * v * (2.0 * x * cx + y * cy)]
    by_y = [0.25 * cy * u * (2.0 * y * cy + x * cx)]
    for mx, my in ((0, -1), (1, 0), (0, 1), (-1, 0)):
        if mx == 0:
            values.append(0.5 * (1 - x * x) * (1 + y * my))
            by_x.append(-x * (1 + y * my))
            by_y.append(0.5 * (1 - x * x) * my)
        else:
            values.append(0.5 * (1 - y * y) * (1 + x * mx))
            by_x.append(0.5 * (1 - y * y) * mx)
            by_y.append(-y * (1 + x * mx))
    return np.hstack(values), np.stack([np.hstack(by_x), np.hstack(by_y)], axis=2)


@dataclass(eq=False)
class RigidContact:
    """Contact of 8-node faces with a rigid body of revolution, which does not turn.

    Attributes
    ----------
    points : (n_nodes, 3) array
        Positions of all nodes, mm.
    faces : (n_faces, 8) array
        Nodes of the faces; unknowns are 3 node + i.
    shape : RigidShape
    centre : (3,) array
        Of the rigid body at rest, mm.
    own : (3,) array
        Unknowns of the rigid body's centre.
    stiffness : float
        Penalty, MPa/mm.
    friction : float
    tangential_stiffness : float
        Tangential penalty, MPa/mm; above 0 where there is friction.

    Raises
    ------
    ValueError
        If there is friction and no tangential stiffness.
    """

    points: Floats
    faces: Ints
    shape: RigidShape
    centre: Floats
    own: Ints
    stiffness: float
    friction: float = 0.0
    tangential_stiffness: float = 0.0
    weights: Floats = field(init=False, repr=False)
    _shapes: Floats = field(init=False, repr=False)

    def __post_init__(self) -> None:
        if self.friction > 0.0 and not self.tangential_stiffness > 0.0:
            said = f"friction {self.friction:g} needs a tangential_stiffness above 0 MPa/mm"
            raise ValueError(said)
        self._shapes, slopes = face_shapes(GAUSS_AT)
        sides = np.einsum("gar,fai->fgri", slopes, self.points[self.faces])
        area = np.linalg.norm(np.cross(sides[:, :, 0], sides[:, :, 1]), axis=2)
        self.weights = np.ascontiguousarray(area * GAUSS_SHARE)

    @property
    def symmetric(self) -> bool:
        """Whether the tangent is symmetric."""
        return self.friction == 0.0

    @cached_property
    def _dofs(self) -> Ints:
        dofs = (3 * self.faces[:, :, None] + np.arange(3)).reshape(len(self.faces), 24)
        return np.ascontiguousarray(dofs, np.int64)

    @cached_property
    def _all_dofs(self) -> Ints:
        own = np.broadcast_to(self.own, (len(self.faces), 3))
        return np.hstack([self._dofs, own])

    @cached_property
    def _fixed(self) -> tuple[Any, ...]:
        s = self.shape
        kind = {"shaft": 0, "wall": 1, "head": 2}[s.kind]
        nodes = np.ascontiguousarray(self.points[self.faces])
        return (
            (self._dofs, nodes, np.ascontiguousarray(self._shapes), self.weights),
            (
                kind,
                np.array([s.radius, s.height, s.side, s.rim]),
                s.turn,
                np.ascontiguousarray(self.centre, float),
                np.ascontiguousarray(self.own, np.int64),
                (float(self.stiffness), float(self.friction), float(self.tangential_stiffness)),
            ),
        )

    def positions(self, z: Floats) -> Floats:
        """Return the current positions of the Gauss points, (n_points, 3)."""
        moved = self.points[self.faces] + z[self._dofs].reshape(-1, 8, 3)
        return np.asarray((self._shapes @ moved).reshape(-1, 3))

    def initial_state(self) -> TouchState:
        """Return the state before any load."""
        n = self.weights.size
        z = np.zeros(int(self._all_dofs.max()) + 1)
        nought = np.zeros((n, 3))
        start = TouchState(np.zeros(n), np.zeros(n), nought, nought)
        at_rest = self._run(z, start, tangent=False)[2]
        return TouchState(at_rest.gap, np.zeros(n), nought, at_rest.place)

    def assume_closed(self, state: TouchState) -> TouchState:
        """Return the state for a step's first guess: what touched at its start still does."""
        return replace(state, held=True)

    def blocks(self) -> list[tuple[Ints, Ints]]:
        """Rows and columns of the tangent's entries."""
        shape = (len(self.faces), 27, 27)
        rows = np.broadcast_to(self._all_dofs[:, :, None], shape)
        columns = np.broadcast_to(self._all_dofs[:, None, :], shape)
        return [(rows.reshape(-1), columns.reshape(-1))]

    def evaluate(self, z: Floats, state: TouchState) -> Response:
        """Return contact forces and, for when they are asked, tangent entries."""
        force, _, new, (stored, lost) = self._run(z, state, tangent=False)

        def entries() -> Floats:
            return self._run(z, state, tangent=True)[1].reshape(-1)

        return Response(self._all_dofs_flat, force.reshape(-1), entries, new, stored, lost)

    @cached_property
    def _all_dofs_flat(self) -> Ints:
        return np.ascontiguousarray(self._all_dofs.reshape(-1))

    def _run(
        self, z: Floats, state: TouchState, *, tangent: bool
    ) -> tuple[Floats, Floats, TouchState, tuple[float, float]]:
        n = self.weights.size
        force, energy = np.zeros((len(self.faces), 27)), np.zeros(2)
        entries = np.zeros((len(self.faces) if tangent else 0, 27, 27))
        new = TouchState(np.empty(n), np.empty(n), np.empty((n, 3)), np.empty((n, 3)))
        out = (force, entries, new.gap, new.pressure, energy, new.traction, new.place)
        old = (state.gap, state.traction, state.place)
        evaluate = compiled.load("rigid_pass", "evaluate")
        fine = evaluate(z, *self._fixed, old, state.held, tangent, out)
        if not fine:
            force[:] = np.nan
        return force, entries, new, (float(energy[0]), float(energy[1]))
