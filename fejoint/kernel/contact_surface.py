"""Surfaces of a pin that contact projects on: a rigid circle, or a meshed pin's edge.

The edge is a closed curve through the pin's edge nodes, read from four neighbouring nodes a span:
the quintic that has, at both ends of the span, the nodes' position, their central difference as
slope and their second difference as bend. Its normal and its curvature have no jumps, so a point
that slides from one span to the next does not make Newton hop.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel import compiled

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


SurfaceData = tuple[bool, bool, Floats, Ints, float, Floats, float]
"""A surface as contact_pass.py reads it: circle, half, nodes (n, 2), dofs (n, 2), radius, curve,
period (0 for an open edge)."""


@dataclass(frozen=True, eq=False)
class Projection:
    """Closest points on the pin's surface, for n secondary points.

    Attributes
    ----------
    where : (n,) array
        Position along the surface, in spans (or radians for a circle).
    gap : (n,) array
        Distance along the outward normal, mm; negative inside the pin.
    normal, along : (n, 2) arrays
        Outward unit normal n and t = dX/ds.
    span : (n,) int array
        Span touched.
    """

    where: Floats
    gap: Floats
    normal: Floats
    along: Floats
    span: Ints


class PinSurface(Protocol):
    """A pin's surface."""

    @property
    def dofs(self) -> Ints:
        """Unknowns that move it."""

    @property
    def data(self) -> SurfaceData:
        """What the compiled pass reads."""

    def project(self, x: Floats, z: Floats) -> Projection:
        """Find the closest points to x (n, 2) for the unknowns z."""

    @property
    def n_spans(self) -> int:
        """Number of spans."""

    @property
    def period(self) -> float | None:
        """Length of the way round in the measure of `where`; None for an open edge."""

    def span_dofs(self, span: Ints) -> Ints:
        """Dofs (n, k, 2) of the spans' nodes."""

    def spans_near(self, span: int) -> list[int]:
        """Return spans worth a place in the sparsity pattern beside this one."""


def _project(data: SurfaceData, x: Floats, z: Floats) -> Projection:
    found, span = np.empty((len(x), 6)), np.empty(len(x), np.int64)
    z, x = np.ascontiguousarray(z, float), np.ascontiguousarray(x, float)
    compiled.load("contact_pass", "project")(z, x, data, found, span)
    where, gap = np.ascontiguousarray(found[:, :2].T)
    return Projection(where, gap, found[:, 2:4], found[:, 4:6], span)


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

    @cached_property
    def data(self) -> SurfaceData:
        """What the compiled pass reads; see PinSurface."""
        centre = np.ascontiguousarray(self.centre, float).reshape(1, 2)
        dofs = np.ascontiguousarray(self.dofs, np.int64).reshape(1, 2)
        return True, False, centre, dofs, float(self.radius), CURVE, 2.0 * np.pi

    def project(self, x: Floats, z: Floats) -> Projection:
        """Find the closest points; see PinSurface."""
        return _project(self.data, x, z)

    def span_dofs(self, span: Ints) -> Ints:
        """Dofs; see PinSurface."""
        return np.broadcast_to(self.dofs, (len(span), 1, 2))

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

    @cached_property
    def data(self) -> SurfaceData:
        """What the compiled pass reads; see PinSurface."""
        nodes = np.ascontiguousarray(self.nodes, float)
        dofs = np.ascontiguousarray(self.dofs, np.int64)
        return False, bool(self.half), nodes, dofs, 0.0, CURVE, self.period or 0.0

    def span_dofs(self, span: Ints) -> Ints:
        """Dofs; see PinSurface."""
        n = len(self.nodes)
        index = span[:, None] + np.arange(-1, 3)
        # a half edge's neighbours across the mirror are images of its own nodes
        index = (n - 1) - np.abs((n - 1) - np.abs(index)) if self.half else index % n
        return np.asarray(self.dofs[index])

    def spans_near(self, span: int) -> list[int]:
        """Return the span and its neighbours."""
        reach = max(2, (2 if self.half else 1) * self.n_spans // _NEIGHBOURS)
        near = range(span - reach, span + reach + 1)
        if self.half:
            return [s for s in near if 0 <= s < self.n_spans]
        return sorted({s % self.n_spans for s in near})

    def project(self, x: Floats, z: Floats) -> Projection:
        """Find the closest points by Newton along the curve; see PinSurface."""
        return _project(self.data, x, z)
