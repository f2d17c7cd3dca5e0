"""Surfaces of a pin that contact projects on: a rigid circle, or a meshed pin's edge.

The edge is a closed curve through the pin's edge nodes, read from four neighbouring nodes a span:
the quintic that has, at both ends of the span, the nodes' position, their central difference as
slope and their second difference as bend. Its normal and its curvature have no jumps, so a point
that slides from one span to the next does not make Newton hop.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from fejoint.arrays import Floats, Ints

_NEIGHBOURS = 64
"""Spans of a whole edge over those on either side of a touched one that the sparsity pattern takes
in beforehand: a slip of that much costs no new analysis."""


def _curve() -> Floats:
    """Coefficients (4 nodes, 6 powers of u) of a span's shape functions, u from 0 to 1."""
    ends = [[1, 0, 0, 0, 0, 0], [0, 1, 0, 0, 0, 0], [0, 0, 2, 0, 0, 0]]  # X, X', X'' at u = 0
    ends += [[1, 1, 1, 1, 1, 1], [0, 1, 2, 3, 4, 5], [0, 0, 2, 6, 12, 20]]  # and at u = 1
    data = [[0, 1, 0, 0], [-0.5, 0, 0.5, 0], [1, -2, 1, 0]]
    data += [[0, 0, 1, 0], [0, -0.5, 0, 0.5], [0, 1, -2, 1]]
    return np.ascontiguousarray(np.linalg.solve(np.array(ends, float), np.array(data, float)).T)


CURVE = _curve()


def _derivatives() -> Floats:
    """CURVE and its first three derivatives, (4, 4, 6)."""
    all_ = [CURVE]
    for _ in range(3):
        lower = np.zeros_like(CURVE)
        lower[:, :-1] = all_[-1][:, 1:] * np.arange(1.0, 6.0)
        all_.append(lower)
    return np.array(all_)


_DERIVATIVES = _derivatives()


@dataclass(frozen=True, eq=False)
class Projection:
    """Closest points on the primary and the linear forms there, for n secondary points.

    Attributes
    ----------
    where : (n,) array
        Position along the primary, in spans (or radians for a circle).
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

    @property
    def n_spans(self) -> int:
        """Number of spans."""

    @property
    def period(self) -> float | None:
        """Length of the way round in the measure of `where`; None for an open edge."""

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

    @property
    def n_spans(self) -> int:
        """One span all round."""
        return 1

    @property
    def period(self) -> float | None:
        """A whole turn."""
        return 2.0 * np.pi


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

    @property
    def period(self) -> float | None:
        """All spans, where the edge is whole."""
        return None if self.half else float(self.n_spans)

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
        reach = max(2, (2 if self.half else 1) * self.n_spans // _NEIGHBOURS)
        near = range(span - reach, span + reach + 1)
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
            s = s + change
            if self.half:
                s = np.clip(s, 0.0, float(self.n_spans))
            if np.all(np.abs(change) < 1e-9):
                break
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
            ours = np.maximum.accumulate(ours)
            return np.asarray(np.interp(np.abs(theirs), ours, np.arange(len(ours))))
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
        shapes = _DERIVATIVES @ u ** np.arange(6)[:, None]  # (4, node, point)
        shapes = shapes.transpose(0, 2, 1)
        around = nodes[index] * sign
        frame = np.einsum("dna,nai->dni", shapes, around)
        span = span if self.half else span % self.n_spans
        return span, shapes[:3], frame
