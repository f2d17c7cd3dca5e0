"""Contact of a hole's edge with a round pin: penalty pressure and Coulomb friction, finite sliding.

Secondary points are Gauss points of the hole's edge with reference weights. The primary is the
pin's surface (contact_surface.py). The linear
forms, the pressure, the friction and their tangent stand as formulas in contact_pass.py.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from fejoint.arrays import Bools, Floats, Ints
from fejoint.kernel import compiled
from fejoint.kernel.assembly import Response, SparsityChanged
from fejoint.kernel.contact_surface import Circle, PinSurface, Projection, SmoothEdge

__all__ = [
    "Circle",
    "ContactState",
    "PinContact",
    "PinSurface",
    "Projection",
    "SecondaryEdge",
    "SmoothEdge",
]

_GAUSS = {
    2: (np.array([-1.0, 1.0]) / np.sqrt(3.0), np.array([1.0, 1.0])),
    3: (np.array([-np.sqrt(0.6), 0.0, np.sqrt(0.6)]), np.array([5.0, 8.0, 5.0]) / 9.0),
}


_MISSING, _BAD = 1, 2
"""Answers of the pass: a pair of edge and span has no place; no finite answer."""
_MARGIN = 12
"""Edges of the hole over those on either side of a touching one that have a place beforehand."""


@dataclass(frozen=True, eq=False)
class SecondaryEdge:
    """Gauss points of quadratic edges.

    Attributes
    ----------
    dofs : (n_edges, 6) array
        Unknowns of the start, end and middle node, x then y.
    shapes : (n_gauss, 3) array
        Shape functions of the three nodes at the Gauss points.
    weights : (n_edges, n_gauss) array
        Reference length times thickness, mm2.
    points : (n_edges, n_gauss, 2) array
        Reference positions, mm.
    nodes : (n_edges, 3, 2) array
        Reference positions of the nodes, mm.
    """

    dofs: Ints
    shapes: Floats
    weights: Floats
    points: Floats
    nodes: Floats

    @classmethod
    def of(cls, points: Floats, edges: Ints, thickness: float, gauss: int = 3) -> SecondaryEdge:
        """Build from node coordinates (n, 2) and edges (k, 3): start, end, middle node."""
        s, w = _GAUSS[gauss]
        shapes = np.stack([0.5 * s * (s - 1.0), 0.5 * s * (s + 1.0), 1.0 - s * s], axis=1)
        slopes = np.stack([s - 0.5, s + 0.5, -2.0 * s], axis=1)
        nodes = points[edges]
        speed = np.linalg.norm(np.einsum("ga,eai->egi", slopes, nodes), axis=-1)
        dofs = (2 * edges[:, :, None] + np.arange(2)).reshape(len(edges), 6)
        where = np.einsum("ga,eai->egi", shapes, nodes)
        return cls(dofs, shapes, speed * w * thickness, where, nodes)

    def positions(self, z: Floats) -> Floats:
        """Return the current positions of the Gauss points, (n_points, 2)."""
        moved = self.nodes + z[self.dofs].reshape(-1, 3, 2)
        return (self.shapes @ moved).reshape(-1, 2)


@dataclass(frozen=True, eq=False)
class ContactState:
    """Contact history of the secondary points.

    Attributes
    ----------
    tangential_traction : (n,) array
        MPa.
    where : (n,) array
        Position on the primary.
    gap : (n,) array
        mm.
    assume_closed : bool
        At the start of a step: what touched still does, its pressure also below zero.
    """

    tangential_traction: Floats
    where: Floats
    gap: Floats
    assume_closed: bool = False


@dataclass(frozen=True, eq=False)
class _Places:
    """Where the points' tangent blocks go among the term's entries.

    Attributes
    ----------
    rank : (n_edges, n_spans) int array
        Number of a known pair of secondary edge and primary span, else -1.
    table : (n_pairs, k, k) int array
        Entry of each place of a pair's block; pairs that share unknowns share entries.
    rows, columns : (n_entries,) arrays
        Unknowns of the entries.
    """

    rank: Ints
    table: Ints
    rows: Ints
    columns: Ints

    @classmethod
    def of(cls, secondary: SecondaryEdge, primary: PinSurface, known: Bools) -> _Places:
        edge, span = np.nonzero(known)
        rank = np.full(known.shape, -1, np.int64)
        rank[edge, span] = np.arange(len(edge))
        on_hole = secondary.dofs[edge].reshape(-1, 3, 2)
        dofs = np.concatenate([on_hole, primary.span_dofs(span)], axis=1)
        # node by node: a quarter of the keys to sort
        x = dofs[:, :, 0].astype(np.int64)
        size = int(x.max()) + 1
        keys, inverse = np.unique(x[:, :, None] * size + x[:, None, :], return_inverse=True)
        n, i = x.shape[1], np.arange(2)
        inverse = inverse.reshape(-1, n, 1, n, 1)
        table = 4 * inverse + 2 * i[:, None, None] + i
        first, second = keys[:, None, None] // size, keys[:, None, None] % size
        shape = (len(keys), 2, 2)
        rows = np.broadcast_to(first + i[:, None], shape).reshape(-1)
        columns = np.broadcast_to(second + i, shape).reshape(-1)
        return cls(rank, table.reshape(-1, 2 * n, 2 * n), rows, columns)


@dataclass(eq=False)
class _Pattern:
    """The pairs of edge and span known so far, and their places; it only grows."""

    known: Bools
    places: _Places | None = None


@dataclass(frozen=True, eq=False)
class PinContact:
    """Contact of secondary points with a pin.

    Parameters
    ----------
    secondary : SecondaryEdge
    primary : PinSurface
    stiffness : float
        Normal penalty k, MPa/mm.
    soft_depth : float
        Depth d0 at which the penalty has doubled the pressure, mm; inf is a straight law.
    friction : float
        Coulomb coefficient.
    tangential_stiffness : float
        Tangential penalty, MPa/mm; above 0 where there is friction.

    Raises
    ------
    ValueError
        If there is friction and no tangential stiffness: the slip's energy would be no number.
    """

    secondary: SecondaryEdge
    primary: PinSurface
    stiffness: float
    soft_depth: float = np.inf
    friction: float = 0.0
    tangential_stiffness: float = 0.0
    _pattern: _Pattern = field(init=False, repr=False)

    def __post_init__(self) -> None:
        if self.friction > 0.0 and not self.tangential_stiffness > 0.0:
            message = (
                f"friction {self.friction:g} needs a tangential_stiffness above 0 MPa/mm, "
                f"not {self.tangential_stiffness:g}"
            )
            raise ValueError(message)
        known = np.zeros((len(self.secondary.dofs), self.primary.n_spans), bool)
        object.__setattr__(self, "_pattern", _Pattern(known))
        self._grow(self._at_rest.span, np.array([self._at_rest.gap.argmin()]))

    @property
    def _places(self) -> _Places:
        assert self._pattern.places is not None
        return self._pattern.places

    @property
    def symmetric(self) -> bool:
        """Friction makes the tangent unsymmetric."""
        return self.friction == 0.0

    @property
    def n_points(self) -> int:
        """Number of secondary points."""
        return int(self.secondary.weights.size)

    @cached_property
    def _at_rest(self) -> Projection:
        z = np.zeros(int(max(self.secondary.dofs.max(), self.primary.dofs.max())) + 1)
        return self.primary.project(self.secondary.positions(z), z)

    def initial_state(self) -> ContactState:
        """Return the state before any load."""
        return ContactState(np.zeros(self.n_points), self._at_rest.where, self._at_rest.gap)

    def assume_closed(self, state: ContactState) -> ContactState:
        """Return the state for a step's first guess: what touched at its start still does."""
        return replace(state, assume_closed=True)

    def blocks(self) -> list[tuple[Ints, Ints]]:
        """Rows and columns of the entries known so far; they grow with the pairs that touch."""
        return [(self._places.rows, self._places.columns)]

    def evaluate(self, z: Floats, state: ContactState) -> Response:
        """Return contact forces and, for when they are asked, tangent entries."""
        force, _, new, (stored, lost) = self._pass(z, state, tangent=False)
        return Response(
            self._all_dofs,
            force,
            lambda: self._pass(z, state, tangent=True)[1],
            new,
            stored,
            lost,
        )

    def _pass(
        self, z: Floats, state: ContactState, *, tangent: bool
    ) -> tuple[Floats, Floats, ContactState, tuple[float, float]]:
        """Return forces, tangent entries, new state, and energies stored and lost."""
        n, places = self.n_points, self._places
        force, energy = np.zeros(len(self._all_dofs)), np.zeros(2)
        entries = np.zeros(len(places.rows) if tangent else 0)
        new = ContactState(np.empty(n), np.empty(n), np.empty(n))
        span = np.zeros(n, np.int64)
        status = compiled.load("contact_pass", "evaluate")(
            z,
            self._secondary,
            self.primary.data,
            self._law,
            (state.tangential_traction, state.where, state.gap),
            state.assume_closed,
            (tangent, places.rank, places.table, entries),
            (force, new.tangential_traction, new.where, new.gap, span, energy),
        )
        if status == _MISSING:
            active = (new.gap < 0.0) | (state.assume_closed & (state.gap < 0.0))
            self._grow(span, np.flatnonzero(active))
            raise SparsityChanged
        if status == _BAD:
            force[:] = np.nan
        return force, entries, new, (float(energy[0]), float(energy[1]))

    @cached_property
    def _all_dofs(self) -> Ints:
        """Unknowns of the pass's forces: the secondary's edge by edge, then the primary's."""
        return np.concatenate([self.secondary.dofs.reshape(-1), self.primary.dofs.reshape(-1)])

    @cached_property
    def _law(self) -> tuple[float, float, float, float]:
        return (
            float(self.stiffness),
            float(self.soft_depth),
            float(self.friction),
            float(self.tangential_stiffness),
        )

    @cached_property
    def _secondary(self) -> tuple[Ints, Floats, Floats, Floats]:
        """What the pass reads of the hole's edge, in the memory order it wants."""
        edge = self.secondary
        arrays = (np.ascontiguousarray(a) for a in (edge.nodes, edge.shapes, edge.weights))
        nodes, shapes, weights = arrays
        return np.ascontiguousarray(edge.dofs, np.int64), nodes, shapes, weights

    def _grow(self, span: Ints, on: Ints) -> None:
        """Take in the spans that the points `on` face now, and their neighbours.

        With them those of some edges beside: a pair that never touches would cost fill in every
        factorisation, and a growth costs an analysis.
        """
        gauss, n = self.secondary.weights.shape[1], len(self.secondary.dofs)
        margin = max(1, n // _MARGIN)
        beside = np.unique(on // gauss)[:, None] + np.arange(-margin, margin + 1)
        beside = np.clip(beside, 0, n - 1) if self.primary.period is None else beside % n
        facing = span.reshape(n, gauss)
        for e in np.unique(beside).tolist():
            for s in np.unique(facing[e]).tolist():
                self._pattern.known[e, self.primary.spans_near(s)] = True
        self._pattern.places = _Places.of(self.secondary, self.primary, self._pattern.known)
