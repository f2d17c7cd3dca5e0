"""Contact of a hole's edge with a round pin: penalty pressure and Coulomb friction, finite sliding.

Secondary points are Gauss points of the hole's edge with reference weights. The primary is the
pin's surface (contact_surface.py). With x the secondary point, X(s) its closest point on the
primary, t = dX/ds, m = t.t, n the outward normal, b = n.d2X/ds2 and gap g = (x - X).n, the
variations (y the virtual displacement of x, Y of X at fixed s) are

    dg = (y - Y).n            (m - g b) ds = (y - Y).t + g n.Y'
    ddg = -n.Y' Ds - ds (n.DY' + b Ds) + g/m (b ds + n.Y') (n.DY' + b Ds)

(Wriggers, Computational Contact Mechanics, 2nd ed. 2006, ch. 4, derived again here). Pressure is
-k g where g < 0; the tangential traction is a spring on the slip |t| ds since the last step, capped
at friction times pressure. Of a step in which a point comes to touch, only the part behind the
touch counts as slip.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from fejoint.arrays import Bools, Floats, Ints
from fejoint.kernel import compiled
from fejoint.kernel.assembly import Response, SparsityChanged
from fejoint.kernel.contact_kinematics import Forms
from fejoint.kernel.contact_surface import CURVE, Circle, Master, Projection, SmoothEdge

__all__ = [
    "Circle",
    "ContactState",
    "Master",
    "PinContact",
    "Projection",
    "SecondaryEdge",
    "SmoothEdge",
]

_GAUSS = {
    2: (np.array([-1.0, 1.0]) / np.sqrt(3.0), np.array([1.0, 1.0])),
    3: (np.array([-np.sqrt(0.6), 0.0, np.sqrt(0.6)]), np.array([5.0, 8.0, 5.0]) / 9.0),
}


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
    drag : (n,) array
        Tangential traction, MPa.
    where : (n,) array
        Position on the primary.
    gap : (n,) array
        mm.
    held : bool
        At the start of a step: what touched still does, its pressure also below zero.
    """

    drag: Floats
    where: Floats
    gap: Floats
    held: bool = False


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
    def of(cls, secondary: SecondaryEdge, primary: Master, known: Bools) -> _Places:
        edge, span = np.nonzero(known)
        rank = np.full(known.shape, -1, np.int64)
        rank[edge, span] = np.arange(len(edge))
        on_master, _ = primary.span_dofs(span)
        dofs = np.concatenate([secondary.dofs[edge].reshape(-1, 3, 2), on_master], axis=1)
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
class PinContact:
    """Contact of secondary points with a pin.

    Parameters
    ----------
    secondary : SecondaryEdge
    primary : Master
    stiffness : float
        Normal penalty k, MPa/mm.
    friction : float
        Coulomb coefficient.
    tangential_stiffness : float
        Tangential penalty, MPa/mm.
    """

    secondary: SecondaryEdge
    primary: Master
    stiffness: float
    soft_depth: float = np.inf
    friction: float = 0.0
    tangential_stiffness: float = 0.0
    _known: Bools = field(init=False, repr=False)
    _places: _Places = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._known = np.zeros((len(self.secondary.dofs), self.primary.n_spans), bool)
        self._grow(self._at_rest.span, np.array([self._at_rest.gap.argmin()]))

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
        return replace(state, held=True)

    def blocks(self) -> list[tuple[Ints, Ints]]:
        """Rows and columns of the entries known so far; they grow with the pairs that touch."""
        return [(self._places.rows, self._places.columns)]

    def evaluate(self, z: Floats, state: ContactState) -> Response:
        """Return contact forces and, for when they are asked, tangent entries.

        The formulas stand at the module's head.
        """
        kernel = compiled.contact()
        if kernel is not None:
            return self._in_one_pass(kernel, z, state)
        p = self.primary.project(self.secondary.positions(z), z)
        bears = (p.gap < 0.0) | (state.held & (state.gap < 0.0))
        depth = np.where(bears, -p.gap, 0.0)
        pressure = self.stiffness * depth * (1.0 + depth / self.soft_depth)
        rate = self.stiffness * (1.0 + 2.0 * depth / self.soft_depth)
        on = np.flatnonzero(bears)
        gauss = self.secondary.weights.shape[1]
        edge = on // gauss
        primary_dofs, sign = self.primary.span_dofs(p.span[on])
        if len(on) == 0:
            new = ContactState(np.zeros(self.n_points), p.where, p.gap)
            none = np.zeros(0, np.intp), np.zeros(0)
            return Response(*none, lambda: np.zeros(len(self._places.rows)), new)
        dofs = np.concatenate(
            [self.secondary.dofs[edge], primary_dofs.reshape(len(on), -1)], axis=1
        )
        forms = Forms.of(p, on, self.secondary.shapes[on % gauss], sign)
        w = self.secondary.weights.reshape(-1)[on]
        into = depth[on]
        stored = self.stiffness * float(w @ (into**2 * (0.5 + into / (3.0 * self.soft_depth))))
        force = (-w * pressure[on])[:, None] * forms.gap
        drag, lost = np.zeros(self.n_points), 0.0
        if self.friction > 0.0:
            drag[on], change, lost = self._friction(p, on, pressure, rate, forms, state)
            force += (w * drag[on])[:, None] * forms.slip
            stored += 0.5 * float(w @ drag[on] ** 2) / self.tangential_stiffness

        def entries() -> Floats:
            blocks = rate[on, None, None] * forms.gap[:, :, None] * forms.gap[:, None, :]
            blocks -= pressure[on, None, None] * forms.second_gap()
            if self.friction > 0.0:
                blocks += forms.slip[:, :, None] * change[:, None, :]
                blocks += drag[on, None, None] * forms.second_slip()
            return self._placed(edge, p.span, on, w[:, None, None] * blocks)

        new = ContactState(drag, p.where, p.gap)
        return Response(dofs.reshape(-1), force.reshape(-1), entries, new, stored, lost)

    def _in_one_pass(self, kernel: compiled.Kernel, z: Floats, state: ContactState) -> Response:
        """Give `evaluate` by the compiled kernel."""
        n = self.n_points

        def run(tangent: bool) -> tuple[Floats, Floats, ContactState, Floats]:
            places = self._places
            force, energy = np.zeros(len(self._all_dofs)), np.zeros(2)
            entries = np.zeros(len(places.rows) if tangent else 0)
            new = ContactState(np.empty(n), np.empty(n), np.empty(n))
            span = np.zeros(n, np.int64)
            status = kernel(
                z, *self._fixed, state.drag, state.where, state.gap, state.held, tangent,
                places.rank, places.table, force, entries, new.drag, new.where, new.gap, span,
                energy,
            )  # fmt: skip
            if status == 1:
                bears = (new.gap < 0.0) | (state.held & (state.gap < 0.0))
                self._grow(span, np.flatnonzero(bears))
                raise SparsityChanged
            if status == 2:
                force[:] = np.nan
            return force, entries, new, energy

        force, _, new, energy = run(False)
        stored, lost = energy.tolist()
        return Response(self._all_dofs, force, lambda: run(True)[1], new, stored, lost)

    @cached_property
    def _all_dofs(self) -> Ints:
        """Unknowns of the kernel's forces: the secondary's edge by edge, then the primary's."""
        return np.concatenate([self.secondary.dofs.reshape(-1), self.primary.dofs.reshape(-1)])

    @cached_property
    def _fixed(self) -> tuple[Any, ...]:
        """What the kernel reads of edge, pin and law, in the memory order it wants."""
        secondary, primary = self.secondary, self.primary
        circle, half, radius = isinstance(primary, Circle), False, 0.0
        if isinstance(primary, Circle):
            nodes, radius = primary.centre, primary.radius
        elif isinstance(primary, SmoothEdge):
            nodes, half = primary.nodes, primary.half
        return (
            np.ascontiguousarray(secondary.dofs, np.int64),
            *(
                np.ascontiguousarray(a)
                for a in (secondary.nodes, secondary.shapes, secondary.weights)
            ),
            circle,
            half,
            np.ascontiguousarray(nodes.reshape(-1, 2)),
            np.ascontiguousarray(primary.dofs.reshape(-1, 2), np.int64),
            radius,
            CURVE,
            self.stiffness,
            self.soft_depth,
            self.friction,
            self.tangential_stiffness,
        )

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
                self._known[e, self.primary.spans_near(s)] = True
        self._places = _Places.of(self.secondary, self.primary, self._known)

    def _placed(self, edge: Ints, span: Ints, on: Ints, blocks: Floats) -> Floats:
        """Sum the points' blocks into the entries; ask for a new pattern where one lacks."""
        places = self._places
        rank = places.rank[edge, span[on]]
        if np.any(rank < 0):
            self._grow(span, on)
            raise SparsityChanged
        slots = places.table[rank].reshape(-1)
        return np.asarray(np.bincount(slots, blocks.reshape(-1), len(places.rows)), float)

    def _friction(
        self, p: Projection, on: Ints, pressure: Floats, rate: Floats, f: Forms, state: ContactState
    ) -> tuple[Floats, Floats, float]:
        """Tractions of the points `on`, their variations (n, k), and the heat."""
        k, speed, g, before = (
            self.tangential_stiffness,
            np.sqrt(f.m[:, 0]),
            p.gap[on],
            state.gap[on],
        )
        moved = p.where[on] - state.where[on]
        if self.primary.period is not None:
            turn = self.primary.period
            moved = (moved + 0.5 * turn) % turn - 0.5 * turn
        came = before > 0.0
        share = np.where(came, g / np.where(came, g - before, 1.0), 1.0)
        d_share = np.where(came, -before / np.where(came, g - before, 1.0) ** 2, 0.0)
        trial = state.drag[on] + k * speed * share * moved
        trial = np.where(g < 0.0, trial, state.drag[on])
        cap = self.friction * pressure[on]
        sliding = np.abs(trial) > cap
        drag = np.where(sliding, np.sign(trial) * cap, trial)
        lost = float(self.secondary.weights.reshape(-1)[on] @ (drag * (trial - drag))) / k
        slide = (-self.friction * rate[on] * np.sign(trial))[:, None] * f.gap
        stick = share[:, None] * (f.slip + moved[:, None] * f.along_stretch)
        stick = k * (stick + (speed * moved * d_share)[:, None] * f.gap)
        return drag, np.where(sliding[:, None], slide, stick), lost
