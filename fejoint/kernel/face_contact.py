"""Contact between two deformable bodies of hexahedra, along the true normal.

Secondary points are Gauss points of 8-node faces with reference weights; the target is a regular
grid of 8-node faces of the other body. For a secondary point x and the target's surface y(a, b)
with r = x - y, the distance to the surface is the stationary value over (a, b) of

    f(q, a, b) = r.r/2,   r linear in the unknowns q of both faces: r = sum_k h_k q_k,

with h the secondary face's shape functions and the negative ones of the target's. The penalty
energy is k f a unit of reference area where the point lies inside the target. Its derivatives are
those of f with (a, b) eliminated (static condensation), so forces balance in sum and in moment,
and the tangent is symmetric:

    force     k h (x) r                   (r stands along the normal there)
    tangent   k (h h' (x) I - B A^-1 B'),   B_i = h_,i (x) r - h (x) y_,i,
              A_ij = y_,i.y_,j - r.y_,ij

The target face that a point belongs to is chosen at a step's start and goes on smoothly beyond its
edges during the step: no point hops between faces whose normals differ while Newton iterates.
Condensed distance functions: Konyukhov and Schweizerhof, "Computational Contact Mechanics" (2013),
chapter 3 (from memory); the form with B and A is derived here.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from fejoint.arrays import Bools, Floats, Ints
from fejoint.kernel.assembly import Response, SparsityChanged
from fejoint.kernel.rigid_contact import GAUSS_AT, GAUSS_SHARE, face_shapes

_ITERATIONS = 25
_REACH = 4.0
"""Distance in the target face's own coordinates beyond which a point has no foot on it."""


@dataclass(frozen=True, eq=False)
class FaceTouchState:
    """Where the secondary points stand on the target.

    Attributes
    ----------
    face : (n, 2) int array
        Place of the target face of every point in the grid.
    foot : (n, 2) array
        Nearest point of that face in its own coordinates.
    gap, pressure : (n,) arrays
        mm and MPa, at the step's end; the gap is inf where a point has no foot.
    forces : (n, 3) array
        Internal forces of the secondary body at every point, N: the opposite of what presses on it.
    held : bool
        What touched at the step's start still does.
    """

    face: Ints
    foot: Floats
    gap: Floats
    pressure: Floats
    forces: Floats
    held: bool = False


def second_derivatives(at: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the second derivatives (n, 8) of an 8-node face's shape functions: aa, bb, ab."""
    corner = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], float)
    a, b = at[:, :1], at[:, 1:]
    ca, cb = corner[:, 0], corner[:, 1]
    zero = np.zeros_like(a)
    aa = [0.5 * (1.0 + b * cb), -(1 - b), zero, -(1 + b), zero]
    bb = [0.5 * (1.0 + a * ca), zero, -(1 + a), zero, -(1 - a)]
    ab = [0.25 * ca * cb * (1 + 2.0 * a * ca + 2.0 * b * cb), a, -b, -a, b]
    return np.hstack(aa), np.hstack(bb), np.hstack(ab)


@dataclass(eq=False)
class FaceContact:
    """Frictionless contact of 8-node faces with a grid of 8-node faces of another body.

    Attributes
    ----------
    points : (n_nodes, 3) array
        Positions of all nodes at rest, mm.
    faces : (n_faces, 8) array
        Nodes of the secondary faces; unknowns are 3 node + i.
    target : (n_a, n_b, 8) array
        Nodes of the target's faces, neighbours in the grid being neighbours on the body; the
        normal y_,a x y_,b points out of it.
    stiffness : float
        Penalty, MPa/mm.
    """

    points: Floats
    faces: Ints
    target: Ints
    stiffness: float
    symmetric: bool = True
    weights: Floats = field(init=False, repr=False)
    _shapes: Floats = field(init=False, repr=False)
    _patches: Ints | None = field(default=None, repr=False)
    _patch_size: Ints = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._shapes, slopes = face_shapes(GAUSS_AT)
        sides = np.einsum("gar,fai->fgri", slopes, self.points[self.faces])
        area = np.linalg.norm(np.cross(sides[:, :, 0], sides[:, :, 1]), axis=2)
        self.weights = area * GAUSS_SHARE
        self._patch_size = np.minimum(3, np.array(self.target.shape[:2]))

    @property
    def n_points(self) -> int:
        """Number of secondary points."""
        return self.weights.size

    @cached_property
    def _dofs(self) -> Ints:
        """Unknowns of the secondary faces, (n_faces, 8, 3)."""
        return np.asarray(3 * self.faces[:, :, None] + np.arange(3))

    def positions(self, z: Floats) -> Floats:
        """Return the current positions of the secondary points, (n_points, 3)."""
        moved = self.points[self.faces] + z[self._dofs]
        return np.asarray((self._shapes @ moved).reshape(-1, 3))

    def _target_nodes(self, face: Ints) -> Ints:
        return np.asarray(self.target[face[:, 0], face[:, 1]])

    def initial_state(self) -> FaceTouchState:
        """Return the state before any load: every point with the nearest face."""
        z = np.zeros(3 * len(self.points))
        x, n_b = self.positions(z), self.target.shape[1]
        middles = self.points[self.target].mean(axis=2).reshape(-1, 3)
        near = np.array([np.argmin(((middles - p) ** 2).sum(axis=1)) for p in x])
        n = len(x)
        state = FaceTouchState(
            np.stack([near // n_b, near % n_b], axis=1),
            np.zeros((n, 2)),
            np.full(n, np.inf),
            np.zeros(n),
            np.zeros((n, 3)),
        )
        for _ in range(3):  # to the face that the foot lies on
            state = self._evaluated(z, state)[0]
        return state

    def assume_closed(self, state: FaceTouchState) -> FaceTouchState:
        """Return the state for a step's first guess: what touched at its start still does."""
        return replace(state, held=True)

    # --- nearest points -------------------------------------------------------------------------

    def _foot(self, x: Floats, y: Floats, foot: Floats) -> tuple[Floats, Bools]:
        """Return the stationary foot of points x (n, 3) on faces y (n, 8, 3), and where there is.

        Newton on f over (a, b); a step that leaves reach ends it.
        """
        foot = foot.copy()
        move = np.full(len(x), np.inf)
        for _ in range(_ITERATIONS):
            shape, slope = face_shapes(foot)
            aa, bb, ab = (np.einsum("na,nai->ni", s, y) for s in second_derivatives(foot))
            r = x - np.einsum("na,nai->ni", shape, y)
            t = np.einsum("nar,nai->nri", slope, y)
            g = -np.einsum("ni,nri->nr", r, t)
            m = np.einsum("nri,nsi->nrs", t, t)
            # beyond the edge a quadratic face may curl: without its curvature f still falls
            full = m - np.einsum("ni,rsni->nrs", r, np.array([[aa, ab], [ab, bb]]))
            fine = (full[:, 0, 0] > 0.0) & (np.linalg.det(full) > 0.05 * np.linalg.det(m))
            m = np.where(fine[:, None, None], full, m)
            step = -np.linalg.solve(m, g[:, :, None])[:, :, 0]
            move = np.abs(step).max(axis=1)
            step *= np.minimum(1.0, 1.0 / np.maximum(move, 1e-300))[:, None]
            foot = np.clip(foot + step, -_REACH, _REACH)
            if move.max(initial=0.0) < 1e-13:
                break
        return foot, (move < 1e-9) & (np.abs(foot).max(axis=1) < _REACH)

    def _evaluated(self, z: Floats, state: FaceTouchState) -> tuple[FaceTouchState, Floats, Floats]:
        """Return the new state, r (n, 3) and the foot (n, 2) on the state's own faces."""
        nodes = self._target_nodes(state.face)
        y = self.points[nodes] + z[3 * nodes[:, :, None] + np.arange(3)]
        x = self.positions(z)
        foot, found = self._foot(x, y, state.foot)
        shape, slope = face_shapes(foot)
        r = x - np.einsum("na,nai->ni", shape, y)
        t = np.einsum("nar,nai->nri", slope, y)
        normal = np.cross(t[:, 0], t[:, 1])
        normal /= np.linalg.norm(normal, axis=1)[:, None]
        gap = np.where(found, (r * normal).sum(axis=1), np.inf)
        touch = found & ((gap < 0.0) | (state.held & (state.gap < 0.0)))
        w = np.where(touch, self.weights.reshape(-1) * self.stiffness, 0.0)
        hop = np.where(found[:, None], np.where(np.abs(foot) > 1.0, np.sign(foot), 0.0), 0.0)
        face = state.face + hop.astype(np.intp)
        limit = np.array(self.target.shape[:2]) - 1
        kept = np.clip(face, 0, limit)
        # a step over an edge is one of 2 in a face's own coordinates
        new_foot = np.where(found[:, None], foot - 2.0 * (kept - state.face), 0.0)
        new = FaceTouchState(
            kept,
            new_foot,
            gap,
            np.where(touch, -self.stiffness * gap, 0.0),
            w[:, None] * np.where(touch[:, None], r, 0.0),
        )
        return new, r, foot

    # --- forces and tangent ---------------------------------------------------------------------

    def evaluate(self, z: Floats, state: FaceTouchState) -> Response:
        """Return contact forces and, for when they are asked, tangent entries."""
        new, r, foot = self._evaluated(z, state)
        active = np.flatnonzero(np.any(new.forces != 0.0, axis=1))
        n_faces, n_gauss = self.weights.shape
        nodes = self._target_nodes(state.face)
        own = np.einsum("fgi,ga->fai", new.forces.reshape(n_faces, n_gauss, 3), self._shapes)
        other = -face_shapes(foot)[0][:, :, None] * new.forces[:, None, :]
        dofs = np.concatenate(
            [
                self._dofs.reshape(-1),
                (3 * nodes[:, :, None] + np.arange(3)).reshape(-1),
            ]
        )
        energy = 0.5 * float((new.forces * r).sum())

        def entries() -> Floats:
            return self._entries(z, state, active, r, foot)

        return Response(
            dofs, np.concatenate([own.reshape(-1), other.reshape(-1)]), entries, new, energy
        )

    def _entries(
        self, z: Floats, state: FaceTouchState, active: Ints, r: Floats, foot: Floats
    ) -> Floats:
        """Tangent entries: a block of every secondary face with its patch of target faces."""
        n_gauss = self.weights.shape[1]
        owner = active // n_gauss
        if self._patches is None or not self._covered(state.face[active], owner):
            self._patches = self._centred(state.face)
            while not self._covered(state.face[active], owner):
                self._patch_size = np.minimum(self._patch_size + 1, self.target.shape[:2])
                self.__dict__.pop("_patch_table", None)
                self._patches = self._centred(state.face)
            raise SparsityChanged
        place = state.face[active] - self._patches[owner]
        local = self._patch_local[place[:, 0], place[:, 1]]  # (m, 8) places among patch nodes
        nodes = self._target_nodes(state.face[active])
        y = self.points[nodes] + z[3 * nodes[:, :, None] + np.arange(3)]
        shape, slope = face_shapes(foot[active])
        aa, bb, ab = (np.einsum("na,nai->ni", s, y) for s in second_derivatives(foot[active]))
        t = np.einsum("nar,nai->nri", slope, y)
        rr = r[active]
        m = len(active)
        h = np.concatenate([self._shapes[active % n_gauss], -shape], axis=1)  # (m, 16)
        dh = np.zeros((m, 2, 16))
        dh[:, :, 8:] = -np.swapaxes(slope, 1, 2)
        b = dh[:, :, :, None] * rr[:, None, None, :] - h[:, None, :, None] * t[:, :, None, :]
        curve = np.array([[aa, ab], [ab, bb]])
        a = np.einsum("nri,nsi->nrs", t, t) - np.einsum("ni,rsni->nrs", rr, curve)
        b = b.reshape(m, 2, 48)
        k = -np.einsum("nrp,nrs,nsq->npq", b, np.linalg.inv(a), b)
        k = k.reshape(m, 16, 3, 16, 3)
        same = h[:, :, None] * h[:, None, :]
        for i in range(3):
            k[:, :, i, :, i] += same
        k *= (self.weights.reshape(-1)[active] * self.stiffness)[:, None, None, None, None]
        size = 8 + self._patch_nodes
        where = np.concatenate([np.broadcast_to(np.arange(8), (m, 8)), 8 + local], axis=1)
        at = (3 * where[:, :, None] + np.arange(3)).reshape(m, 48)
        found = np.zeros((len(self.faces), 3 * size, 3 * size))
        k = k.reshape(m, 48, 48)
        gauss = active % n_gauss
        for g in range(n_gauss):  # a face has one point of each number, so nothing collides
            one = np.flatnonzero(gauss == g)
            rows, columns = at[one][:, :, None], at[one][:, None, :]
            found[owner[one][:, None, None], rows, columns] += k[one]
        return found.reshape(-1)

    def _covered(self, face: Ints, owner: Ints) -> bool:
        """Whether target faces lie in the patches of their secondary faces."""
        assert self._patches is not None
        place = face - self._patches[owner]
        return bool(np.all((place >= 0) & (place < self._patch_size)))

    def _centred(self, face: Ints) -> Ints:
        """First target face (n_faces, 2) of every secondary face's patch, about its points."""
        middle = face.reshape(len(self.faces), -1, 2)
        low = (middle.min(axis=1) + middle.max(axis=1)) // 2 - self._patch_size // 2
        limit = np.array(self.target.shape[:2]) - self._patch_size
        return np.asarray(np.clip(low, 0, limit))

    @cached_property
    def _patch_table(self) -> tuple[Ints, int]:
        """Places among a patch's nodes of its faces' nodes, (p, q, 8), and how many there are.

        Node numbers on a lattice of halves: a face at (i, j) has corners at even places.
        """
        p, q = self._patch_size
        corner = [(0, 0), (2, 0), (2, 2), (0, 2), (1, 0), (2, 1), (1, 2), (0, 1)]
        keys = np.array(
            [[[(2 * i + a, 2 * j + b) for a, b in corner] for j in range(q)] for i in range(p)]
        )
        flat = keys[..., 0] * (2 * q + 1) + keys[..., 1]
        used, number = np.unique(flat, return_inverse=True)
        return number.reshape(p, q, 8), len(used)

    @property
    def _patch_local(self) -> Ints:
        return self._patch_table[0]

    @property
    def _patch_nodes(self) -> int:
        return self._patch_table[1]

    def blocks(self) -> list[tuple[Ints, Ints]]:
        """Rows and columns of the tangent's entries."""
        if self._patches is None:
            self._patches = self._centred(self.initial_state().face)
        p, q = self._patch_size
        table = np.zeros((len(self.faces), self._patch_nodes), np.intp)
        for i in range(p):
            for j in range(q):
                first = self._patches
                table[:, self._patch_local[i, j]] = self.target[first[:, 0] + i, first[:, 1] + j]
        nodes = np.concatenate([self.faces, table], axis=1)
        dofs = (3 * nodes[:, :, None] + np.arange(3)).reshape(len(self.faces), -1)
        shape = (*dofs.shape, dofs.shape[1])
        rows = np.broadcast_to(dofs[:, :, None], shape)
        columns = np.broadcast_to(dofs[:, None, :], shape)
        return [(rows.reshape(-1), columns.reshape(-1))]
