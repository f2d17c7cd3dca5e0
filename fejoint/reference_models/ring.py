"""A ring under inner pressure: Lame's ring, and Nadai's beyond yield. A quadrant is meshed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.assembly import System
from fejoint.kernel.contact import SecondaryEdge
from fejoint.kernel.continuation import EquilibriumPoint
from fejoint.kernel.elements import Solid
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.mesh import Mesh, strip
from fejoint.reference_models.stress_recovery import edge_strains
from fejoint.reference_models.tractions import body, metal_state, trace_loads, traction_vector


@dataclass(frozen=True, eq=False)
class RingAnswer:
    """A pressed ring.

    Attributes
    ----------
    inner, outer : float
        Radii, mm.
    mesh : Mesh
        Of the first quadrant.
    solid : Solid
    points : tuple of EquilibriumPoint
        Equilibria, the first at rest.
    stopped_because : str
    """

    inner: float
    outer: float
    mesh: Mesh
    solid: Solid
    points: tuple[EquilibriumPoint, ...]
    stopped_because: str

    @property
    def pressure(self) -> Floats:
        """Inner pressure at every point, (n,), MPa."""
        return np.array([p.load for p in self.points]) / self._bore

    @property
    def _bore(self) -> float:
        return 2.0 * self.inner * float(np.mean(self.solid.thickness))

    @property
    def growth(self) -> Floats:
        """Mean radial displacement of the inner rim at every point, (n,), mm."""
        return np.array([p.travel for p in self.points]) * 4.0 / np.pi

    @cached_property
    def hoop(self) -> tuple[float, float]:
        """Hoop stress at the inner and the outer rim per unit pressure, elastic, (2,)."""
        first, metal = self.points[1], self.solid.metal
        push = float(self.pressure[1])
        inside, outside = (
            float(edge_strains(self.mesh.points, self.mesh.edges[name], first.z)[1].mean())
            for name in ("hole", "outer")
        )
        within = metal.modulus * inside - metal.poisson * push
        return within / push, metal.modulus * outside / push

    @property
    def first_yield(self) -> float:
        """Pressure at which the inner rim begins to yield, MPa.

        Raises
        ------
        ValueError
            For elastic metal.
        """
        law = self.solid.metal.hardening
        if law is None:
            message = "an elastic ring has no first yield"
            raise ValueError(message)
        around = self.hoop[0]
        return law.first_yield / float(np.sqrt(around**2 + around + 1.0))

    def fronts(self) -> Floats:
        """Mean radius of the plastic front at every point, (n,), mm."""
        areas = self.solid.quadrature.areas.reshape(-1)
        plastic = [float(areas[metal_state(p).equivalent > 0.0].sum()) for p in self.points]
        return np.sqrt(self.inner**2 + 4.0 / np.pi * np.array(plastic))

    def pressure_at_front(self, radius: float) -> float:
        """Pressure with the plastic front at a radius, MPa.

        The front moves by a layer of integration points at a time, so a quadratic through the
        points round the radius is read.
        """
        fronts = self.fronts()
        near = np.flatnonzero((fronts > self.inner) & (np.abs(fronts - radius) < 0.12 * radius))
        curve = np.polyfit(fronts[near], self.pressure[near], 2)
        return float(np.polyval(curve, radius))


def pressed_ring(
    inner: float,
    outer: float,
    *,
    thickness: float = 1.0,
    modulus: float = 200e3,
    poisson: float = 0.3,
    hardening: Hardening | None = None,
    pressures: Sequence[float] = (1.0,),
    stop_growth: float | None = None,
    large_strain: bool = False,
    sides: int = 48,
) -> RingAnswer:
    """Press a ring from within.

    Parameters
    ----------
    inner, outer : float
        Radii, mm.
    thickness : float
        mm.
    modulus, poisson : float
        E (MPa) and nu.
    hardening : Hardening, optional
        Elastic without it.
    pressures : sequence of float
        Inner pressures to answer at, in order, MPa.
    stop_growth : float, optional
        Radial growth of the inner rim to go on to, mm: past a collapse pressure.
    large_strain : bool
    sides : int
        Element sides round the hole, a multiple of 4.

    Returns
    -------
    RingAnswer
    """
    mesh = _quadrant(inner, outer, sides)
    metal = Metal(modulus, poisson, hardening)
    solid = body(mesh, metal, thickness, large_strain)
    where = SecondaryEdge.of(mesh.points, mesh.edges["hole"], thickness).points
    outward = where / np.linalg.norm(where, axis=-1, keepdims=True)
    bore = 2.0 * inner * thickness
    drive = traction_vector(mesh.points, mesh.edges["hole"], thickness, outward) / bore
    fixed = np.concatenate([2 * mesh.nodes_of("x axis") + 1, 2 * mesh.nodes_of("y axis")])
    system = System(len(drive), [solid], drive, drive / float(drive @ drive), np.unique(fixed))
    stop = None if stop_growth is None else stop_growth * np.pi / 4.0
    path = trace_loads(system, [p * bore for p in pressures], stop)
    return RingAnswer(inner, outer, mesh, solid, tuple(path.points), str(path.stopped_because))


def _quadrant(inner: float, outer: float, sides: int) -> Mesh:
    """Bend a rectangle of even cells in (ln r, angle) into the quadrant."""
    around = max(2, round(sides / 4))
    layers = max(4, round(np.log(outer / inner) / (2.0 * np.pi / sides)))
    flat = strip(
        np.linspace(0.0, np.log(outer / inner), 2 * layers + 1),
        np.linspace(0.0, 0.5 * np.pi, around + 1),
    )
    radius, angle = inner * np.exp(flat.points[:, 0]), flat.points[:, 1]
    points = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    names = {"left": "hole", "right": "outer", "bottom": "x axis", "top": "y axis"}
    edges = {new: flat.edges[old] for old, new in names.items()}
    return Mesh(points, flat.triangles, edges, {"ring": np.arange(len(flat.triangles))})
