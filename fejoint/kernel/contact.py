"""Contact of a hole's edge with a round pin: penalty pressure and Coulomb friction, finite sliding.

Slave points are Gauss points of the hole's edge with reference weights. The master is the pin: a
rigid circle, or a closed curve through the pin's edge nodes. That curve is the cubic through four
neighbouring nodes with central-difference tangents (Catmull and Rom 1974): its normal has no jumps,
so a point that slides from one side to the next does not make Newton hop. With x the slave point,
X(s) its closest point on the master, t = dX/ds, m = t.t, n the outward normal, b = n.d2X/ds2 and
gap g = (x - X).n, the variations (y the virtual displacement of x, Y of X at fixed s) are

    dg = (y - Y).n            (m - g b) ds = (y - Y).t + g n.Y'
    ddg = -n.Y' Ds - ds (n.DY' + b Ds) + g/m (b ds + n.Y') (n.DY' + b Ds)

(Wriggers, Computational Contact Mechanics, 2nd ed. 2006, ch. 4, derived again here). Pressure is
-k g where g < 0; the tangential traction is a spring on the slip |t| ds since the last step, capped
at friction times pressure.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from fejoint.kernel.assembly import PatternGrew, Response

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

_NEIGHBOURS = 5
"""Master spans beside the touched ones for which the sparsity pattern is grown in advance."""

_GAUSS = {
    2: (np.array([-1.0, 1.0]) / np.sqrt(3.0), np.array([1.0, 1.0])),
    3: (np.array([-np.sqrt(0.6), 0.0, np.sqrt(0.6)]), np.array([5.0, 8.0, 5.0]) / 9.0),
}


@dataclass(frozen=True, eq=False)
class SlaveEdge:
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
    def of(cls, points: Floats, edges: Ints, thickness: float, gauss: int = 3) -> SlaveEdge:
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
        """Current positions of the Gauss points, (n_points, 2)."""
        moved = self.nodes + z[self.dofs].reshape(-1, 3, 2)
        return (self.shapes @ moved).reshape(-1, 2)


@dataclass(frozen=True, eq=False)
class Projection:
    """Closest points on the master and the linear forms there, for n slave points.

    Attributes
    ----------
    where : (n,) array
        Position along the master, in spans (or radians for a circle).
    gap : (n,) array
        Distance along the outward normal, mm; negative inside the pin.
    normal, along : (n, 2) arrays
        Outward unit normal n and t = dX/ds.
    bend, bend_slope : (n, 2) arrays
        d2X/ds2 and d3X/ds3.
    span : (n,) int array
        Master span touched.
    shapes : (3, n, k) array
        Master shape functions and their first two derivatives by s.
    """

    where: Floats
    gap: Floats
    normal: Floats
    along: Floats
    bend: Floats
    bend_slope: Floats
    span: Ints
    shapes: Floats


class Master(Protocol):
    """A pin's surface."""

    @property
    def dofs(self) -> Ints:
        """Unknowns that move it."""

    def project(self, x: Floats, z: Floats) -> Projection:
        """Find the closest points to x (n, 2) for the unknowns z."""

    def span_dofs(self, span: Ints) -> tuple[Ints, Floats]:
        """Dofs (n, k, 2) of the spans' nodes and the signs of their displacements."""

    def spans_near(self, span: int) -> list[int]:
        """Return spans worth a place in the sparsity pattern beside this one."""


@dataclass(frozen=True, eq=False)
class Circle:
    """A rigid pin: an exact circle that translates with two unknowns.

    Attributes
    ----------
    centre : (2,) array
        Reference centre, mm.
    radius : float
        mm.
    dofs : (2,) array
        Unknowns of the centre.
    """

    centre: Floats
    radius: float
    dofs: Ints

    def project(self, x: Floats, z: Floats) -> Projection:
        """Find the closest points; see Master."""
        arm = x - (self.centre + z[self.dofs])
        far = np.linalg.norm(arm, axis=1)
        n = arm / far[:, None]
        t = np.stack([-n[:, 1], n[:, 0]], axis=1) * self.radius
        count = len(x)
        shapes = np.zeros((3, count, 1))
        shapes[0] = 1.0
        return Projection(
            np.arctan2(n[:, 1], n[:, 0]), far - self.radius, n, t, -n * self.radius, -t,
            np.zeros(count, np.intp), shapes,
        )  # fmt: skip

    def span_dofs(self, span: Ints) -> tuple[Ints, Floats]:
        """Dofs and signs; see Master."""
        n = len(span)
        return np.broadcast_to(self.dofs, (n, 1, 2)), np.ones((n, 1, 2))

    def spans_near(self, span: int) -> list[int]:
        """Return the one span there is."""
        return [0]


@dataclass(frozen=True, eq=False)
class SmoothEdge:
    """A meshed pin's edge: a smooth curve through its nodes, counter-clockwise.

    Attributes
    ----------
    nodes : (n_nodes, 2) array
        Reference positions in walking order; of a half edge from the x axis back to it.
    dofs : (n_nodes, 2) array
    half : bool
        The edge is the upper half of one that is symmetric in the x axis.
    """

    nodes: Floats
    dofs: Ints
    half: bool

    @property
    def n_spans(self) -> int:
        """Number of node-to-node spans."""
        return len(self.nodes) - 1 if self.half else len(self.nodes)

    def _stencil(self, span: Ints) -> tuple[Ints, Floats]:
        """Four nodes round each span and the sign of their y (mirror images have -1)."""
        n = len(self.nodes)
        index = span[:, None] + np.arange(-1, 3)
        sign = np.ones((*index.shape, 2))
        if self.half:
            mirrored = (index < 0) | (index > n - 1)
            index = np.where(index < 0, -index, index)
            index = np.where(index > n - 1, 2 * (n - 1) - index, index)
            sign[..., 1] = np.where(mirrored, -1.0, 1.0)
        else:
            index = index % n
        return index, sign

    def span_dofs(self, span: Ints) -> tuple[Ints, Floats]:
        """Dofs and signs; see Master."""
        index, sign = self._stencil(span)
        return self.dofs[index], sign

    def spans_near(self, span: int) -> list[int]:
        """Return the span and its neighbours."""
        near = range(span - _NEIGHBOURS, span + _NEIGHBOURS + 1)
        if self.half:
            return [s for s in near if 0 <= s < self.n_spans]
        return sorted({s % self.n_spans for s in near})

    def project(self, x: Floats, z: Floats) -> Projection:
        """Find the closest points by Newton along the curve; see Master."""
        nodes = self.nodes + z[self.dofs]
        s = self._first_guess(x, nodes)
        for _ in range(25):
            span, shapes, frame = self._at(s, nodes)
            arm = x - frame[0]
            miss = (arm * frame[1]).sum(axis=1)
            length2 = (frame[1] ** 2).sum(axis=1)
            # Gauss-Newton beyond the centre of curvature, where Newton would run away
            bend = np.maximum(length2 - (arm * frame[2]).sum(axis=1), 0.3 * length2)
            change = np.clip(miss / bend, -2.0, 2.0)
            if np.all(np.abs(change) < 1e-12):
                break
            s = s + change
            if self.half:
                s = np.clip(s, 0.0, float(self.n_spans))
        span, shapes, frame = self._at(s, nodes)
        along = frame[1]
        length = np.linalg.norm(along, axis=1)
        normal = np.stack([along[:, 1], -along[:, 0]], axis=1) / length[:, None]
        gap = ((x - frame[0]) * normal).sum(axis=1)
        return Projection(s, gap, normal, along, frame[2], frame[3], span, shapes)

    def _first_guess(self, x: Floats, nodes: Floats) -> Floats:
        """Nearest node by angle round the middle of the edge."""
        middle = nodes.mean(axis=0)
        if self.half:
            middle = np.array([0.5 * (nodes[0, 0] + nodes[-1, 0]), 0.0])
        ours = np.arctan2(*(nodes - middle).T[::-1])
        theirs = np.arctan2(*(x - middle).T[::-1])
        if self.half:
            ours[-1] = np.pi
            return np.asarray(np.interp(np.abs(theirs), np.maximum.accumulate(ours), np.arange(len(ours))))
        turn = np.unwrap(np.append(ours, ours[0] + 2.0 * np.pi))
        return np.asarray(
            np.interp((theirs - turn[0]) % (2.0 * np.pi), turn - turn[0], np.arange(len(turn)))
        )

    def _at(self, s: Floats, nodes: Floats) -> tuple[Ints, Floats, Floats]:
        """Curve at s: spans, shape functions (3, n, 4), and X with three derivatives (4, n, 2)."""
        span = np.floor(s).astype(np.intp)
        span = np.clip(span, 0, self.n_spans - 1) if self.half else span
        u = s - span
        index, sign = self._stencil(span if self.half else span % self.n_spans)
        u2, u3, one = u * u, u**3, np.ones_like(u)
        shapes = 0.5 * np.array(
            [
                [-u + 2 * u2 - u3, 2 - 5 * u2 + 3 * u3, u + 4 * u2 - 3 * u3, -u2 + u3],
                [-1 + 4 * u - 3 * u2, -10 * u + 9 * u2, 1 + 8 * u - 9 * u2, -2 * u + 3 * u2],
                [4 - 6 * u, -10 + 18 * u, 8 - 18 * u, -2 + 6 * u],
                [-6 * one, 18 * one, -18 * one, 6 * one],
            ]
        ).transpose(0, 2, 1)
        around = nodes[index] * sign
        frame = np.einsum("dna,nai->dni", shapes, around)
        span = span if self.half else span % self.n_spans
        return span, shapes[:3], frame


@dataclass(frozen=True, eq=False)
class Touch:
    """Contact history: tangential traction (n,), MPa, and position on the master (n,)."""

    drag: Floats
    where: Floats


@dataclass(eq=False)
class PinContact:
    """Contact of slave points with a pin.

    Parameters
    ----------
    slave : SlaveEdge
    master : Master
    stiffness : float
        Normal penalty k, MPa/mm.
    friction : float
        Coulomb coefficient.
    drag_stiffness : float
        Tangential penalty, MPa/mm.
    """

    slave: SlaveEdge
    master: Master
    stiffness: float
    soft_depth: float = np.inf
    friction: float = 0.0
    drag_stiffness: float = 0.0
    _pairs: dict[tuple[int, int], int] = field(default_factory=dict, repr=False)
    _rank: Ints | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        self._grow_to_rest()

    @property
    def symmetric(self) -> bool:
        """Friction makes the tangent unsymmetric."""
        return self.friction == 0.0

    @property
    def n_points(self) -> int:
        """Number of slave points."""
        return int(self.slave.weights.size)

    def initial_state(self) -> Touch:
        """Return the state before any touch."""
        return Touch(np.zeros(self.n_points), np.full(self.n_points, np.nan))

    def blocks(self) -> list[tuple[Ints, Ints]]:
        """Entries of every (edge, span) pair known so far; the pattern grows with the pairs."""
        edge, span = np.array(list(self._pairs)).T
        master, _ = self.master.span_dofs(span)
        dofs = np.concatenate([self.slave.dofs[edge], master.reshape(len(edge), -1)], axis=1)
        shape = (len(edge), dofs.shape[1], dofs.shape[1])
        rows = np.broadcast_to(dofs[:, :, None], shape)
        columns = np.broadcast_to(dofs[:, None, :], shape)
        return [(rows.reshape(-1), columns.reshape(-1))]

    def evaluate(self, z: Floats, state: Touch, tangent: bool) -> Response:
        """Return contact forces and tangent entries; see the module's head for the formulas."""
        p = self.master.project(self.slave.positions(z), z)
        depth = np.maximum(-p.gap, 0.0)
        pressure = self.stiffness * depth * (1.0 + depth / self.soft_depth)
        rate = self.stiffness * (1.0 + 2.0 * depth / self.soft_depth)
        on = np.flatnonzero(pressure > 0.0)
        gauss = self.slave.weights.shape[1]
        edge = on // gauss
        master_dofs, sign = self.master.span_dofs(p.span[on])
        dofs = np.concatenate(
            [self.slave.dofs[edge], master_dofs.reshape(len(on), int(np.prod(master_dofs.shape[1:])))], axis=1
        )
        forms = _Forms.of(p, on, self.slave.shapes[on % gauss], sign)
        w = self.slave.weights.reshape(-1)[on]
        drag, slip_rate, sliding, lost = self._friction(p, on, pressure, state)
        n_part = -w * pressure[on]
        force = n_part[:, None] * forms.gap
        if self.friction > 0.0:
            force += (w * drag[on])[:, None] * forms.slip
        into = depth[on]
        stored = self.stiffness * float(
            w @ (into**2 * (0.5 + into / (3.0 * self.soft_depth)))
        )
        new = Touch(drag, p.where)
        entries = None
        if tangent:
            blocks = w[:, None, None] * (
                rate[on, None, None] * forms.gap[:, :, None] * forms.gap[:, None, :]
                - pressure[on, None, None] * forms.second_gap()
            )
            if self.friction > 0.0:
                blocks += w[:, None, None] * self._friction_tangent(
                    forms, drag[on], slip_rate[on], sliding[on], rate[on]
                )
            entries = self._placed(edge, p.span[on], blocks)
        stored += self._drag_energy(drag)
        return Response(dofs.reshape(-1), force.reshape(-1), entries, new, stored, lost)

    def _grow_to_rest(self) -> None:
        """Take in the pairs that face each other at rest, touching or not."""
        rest = np.zeros(int(max(self.slave.dofs.max(), self.master.dofs.max())) + 1)
        span = self.master.project(self.slave.positions(rest), rest).span
        edge = np.repeat(np.arange(len(self.slave.dofs)), self.slave.weights.shape[1])
        self._grow(zip(edge.tolist(), span.tolist(), strict=True))

    def _grow(self, pairs: Iterable[tuple[int, int]]) -> None:
        for e, s in pairs:
            for near in self.master.spans_near(s):
                self._pairs.setdefault((e, near), len(self._pairs))

    def _placed(self, edge: Ints, span: Ints, blocks: Floats) -> Floats:
        """Sum the points' blocks into the pairs' entries; ask for a new pattern where one lacks."""
        wanted = list(zip(edge.tolist(), span.tolist(), strict=True))
        missing = [pair for pair in wanted if pair not in self._pairs]
        if missing:
            self._grow(missing)
            raise PatternGrew
        k = self.slave.dofs.shape[1] + self.master.span_dofs(np.zeros(1, np.intp))[0].size
        entries = np.zeros((len(self._pairs), k, k))
        if wanted:
            np.add.at(entries, np.array([self._pairs[pair] for pair in wanted]), blocks)
        return entries.reshape(-1)

    def _friction(
        self, p: Projection, on: Ints, pressure: Floats, state: Touch
    ) -> tuple[Floats, Floats, NDArray[np.bool_], float]:
        """Tangential tractions, their sense, which points slide, and the heat of the step."""
        drag = np.zeros(self.n_points)
        sliding = np.zeros(self.n_points, bool)
        if self.friction == 0.0:
            return drag, drag, sliding, 0.0
        speed = np.linalg.norm(p.along, axis=1)
        moved = np.where(np.isnan(state.where), 0.0, p.where - state.where)
        moved = self._shortest_way(moved)
        trial = state.drag + self.drag_stiffness * speed * moved
        cap = self.friction * pressure
        sliding = (np.abs(trial) > cap) & (pressure > 0.0)
        drag = np.where(sliding, np.sign(trial) * cap, np.where(pressure > 0.0, trial, 0.0))
        slid = (trial - drag) / self.drag_stiffness
        w = self.slave.weights.reshape(-1)
        lost = float(w[on] @ (drag[on] * slid[on]))
        return drag, moved, sliding, lost

    def _shortest_way(self, moved: Floats) -> Floats:
        turn = 2.0 * np.pi if isinstance(self.master, Circle) else None
        if isinstance(self.master, SmoothEdge) and not self.master.half:
            turn = float(self.master.n_spans)
        return moved if turn is None else (moved + 0.5 * turn) % turn - 0.5 * turn

    def _drag_energy(self, drag: Floats) -> float:
        if self.friction == 0.0:
            return 0.0
        w = self.slave.weights.reshape(-1)
        return 0.5 * float(w @ drag**2) / self.drag_stiffness

    def _friction_tangent(
        self,
        f: _Forms,
        drag: Floats,
        moved: Floats,
        sliding: NDArray[np.bool_],
        rate: Floats,
    ) -> Floats:
        """Derivative of drag times slip form, drag included."""
        stretch = f.along_stretch  # variation of |t|
        stick = self.drag_stiffness * (f.slip + moved[:, None] * stretch)
        slide = -(self.friction * rate * np.sign(drag))[:, None] * f.gap
        change = np.where(sliding[:, None], slide, stick)
        return f.slip[:, :, None] * change[:, None, :] + drag[:, None, None] * f.second_slip()


@dataclass(frozen=True, eq=False)
class _Forms:
    """Linear forms on the unknowns of a slave point and its master span, each (n, k)."""

    gap: Floats  # dg
    where: Floats  # ds
    normal_slope: Floats  # n.Y'
    along_slope: Floats  # t.Y'
    p: Projection
    on: Ints
    slope: Floats  # Y' as (n, 2, k)
    bend: Floats  # Y'' as (n, 2, k)

    @classmethod
    def of(cls, p: Projection, on: Ints, shapes: Floats, sign: Floats) -> _Forms:
        n, t, g = p.normal[on], p.along[on], p.gap[on]
        slave = np.einsum("na,ij->niaj", shapes, np.eye(2)).reshape(
            len(on), 2, 2 * shapes.shape[1]
        )

        def spread(values: Floats) -> Floats:
            # (n, a) shape functions -> (n, component, a * component) with the mirror's signs
            out = np.einsum("na,ij->niaj", values, np.eye(2)) * sign[:, None, :, :]
            return out.reshape(len(on), 2, 2 * values.shape[1])

        none = np.zeros_like(slave)
        at, slope, bend = (spread(p.shapes[d][on]) for d in range(3))
        relative = np.concatenate([slave, -at], axis=2)
        slope = np.concatenate([none, slope], axis=2)
        bend = np.concatenate([none, bend], axis=2)
        gap = np.einsum("ni,nik->nk", n, relative)
        normal_slope = np.einsum("ni,nik->nk", n, slope)
        along_slope = np.einsum("ni,nik->nk", t, slope)
        m = (t * t).sum(axis=1)
        b = (n * p.bend[on]).sum(axis=1)
        along = np.einsum("ni,nik->nk", t, relative)
        where = (along + g[:, None] * normal_slope) / (m - g * b)[:, None]
        return cls(gap, where, normal_slope, along_slope, p, on, slope, bend)

    def _geometry(self) -> tuple[Floats, Floats, Floats]:
        n, t = self.p.normal[self.on], self.p.along[self.on]
        m = (t * t).sum(axis=1)
        b = (n * self.p.bend[self.on]).sum(axis=1)
        return m[:, None], b[:, None], self.p.gap[self.on][:, None]

    def second_gap(self) -> Floats:
        """Second variation of the gap, (n, k, k)."""
        m, b, g = self._geometry()
        tilt = self.normal_slope + b * self.where
        return (
            -_outer(self.normal_slope, self.where)
            - _outer(self.where, tilt)
            + (g / m)[:, :, None] * _outer(tilt, tilt)
        )

    @property
    def slip(self) -> Floats:
        """Variation |t| ds of the slip."""
        m, _, _ = self._geometry()
        return np.sqrt(m) * self.where

    @property
    def along_stretch(self) -> Floats:
        """Variation of |t|."""
        m, _, _ = self._geometry()
        c = (self.p.along[self.on] * self.p.bend[self.on]).sum(axis=1)[:, None]
        return (self.along_slope + c * self.where) / np.sqrt(m)

    def second_slip(self) -> Floats:
        """Derivative of the form `slip`, (n, k, k): row the form, column the direction.

        From (m - g b) ds = (y - Y).t + g n.Y', differentiated once more.
        """
        m, b, g = self._geometry()
        n, t = self.p.normal[self.on], self.p.along[self.on]
        bend, third = self.p.bend[self.on], self.p.bend_slope[self.on]
        c = (t * bend).sum(axis=1)[:, None]
        tilt = self.normal_slope + b * self.where
        turn = -tilt / np.sqrt(m)  # Dn = turn * t/|t|
        # D(t) = DY' + X'' Ds, D(m) = 2 t.D(t)
        d_m = 2.0 * (self.along_slope + c * self.where)
        unit = t / np.sqrt(m)
        bend_normal = np.einsum("ni,nik->nk", n, self.bend)
        third_normal = (n * third).sum(axis=1)[:, None]
        unit_bend = (unit * bend).sum(axis=1)[:, None]
        d_b = turn * unit_bend + bend_normal + third_normal * self.where
        d_left = d_m - b * self.gap - g * d_b
        along_form = (m - g * b) * self.where - g * self.normal_slope  # (y - Y).t
        # (y - Y).Dt: split Dt along n and t/|t|
        right = _outer(self.gap, tilt) + _outer(along_form / m, 0.5 * d_m)
        right -= _outer(self.along_slope, self.where)
        right += _outer(self.normal_slope, self.gap)
        unit_slope = self.along_slope / np.sqrt(m)
        right += g[:, :, None] * _outer(unit_slope, turn)
        right += g[:, :, None] * _outer(bend_normal, self.where)
        second_where = (right - _outer(self.where, d_left)) / (m - g * b)[:, :, None]
        root = np.sqrt(m)
        return root[:, :, None] * second_where + _outer(self.where, d_m / (2.0 * root))


def _outer(a: Floats, b: Floats) -> Floats:
    return a[:, :, None] * b[:, None, :]
