"""A body pulled by tractions on its edges: their nodal forces, and the path through given loads."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.errors import SolveStopped
from fejoint.kernel.assembly import System
from fejoint.kernel.contact import SecondaryEdge
from fejoint.kernel.continuation import (
    EquilibriumPoint,
    Observer,
    Path,
    StepControl,
    StepSettings,
    trace_path,
)
from fejoint.kernel.elements import Quadrature, Solid
from fejoint.kernel.kinematics import MetalState
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.mesh import Mesh

SHARE = 0.05
"""Longest step over the elastic travel to the greatest load, for metal that may yield."""


def metal_state(point: EquilibriumPoint) -> MetalState:
    """Return the metal's state at a point of a path whose first term is the body."""
    state = point.states[0]
    assert isinstance(state, MetalState)
    return state


def body(mesh: Mesh, metal: Metal, thickness: float, large_strain: bool) -> Solid:
    """Return the whole mesh as one metal body."""
    dofs = (2 * mesh.triangles[:, :, None] + np.arange(2)).reshape(len(mesh.triangles), 12)
    return Solid(metal, dofs, Quadrature.of(mesh.points, mesh.triangles), thickness, large_strain)


def traction_vector(points: Floats, edges: Ints, thickness: float, traction: Floats) -> Floats:
    """Return the consistent nodal forces of tractions at the edges' Gauss points, (2 n,), N.

    Parameters
    ----------
    points : (n, 2) array
    edges : (k, 3) array
    thickness : float
    traction : (k, 3, 2) array or one that broadcasts
        MPa.
    """
    s = SecondaryEdge.of(points, edges, thickness)
    pull = s.weights[:, :, None] * np.broadcast_to(traction, s.points.shape)
    force = np.einsum("ga,egi->eai", s.shapes, pull)
    nodal = np.zeros(2 * len(points))
    np.add.at(nodal, s.dofs.reshape(-1), force.reshape(-1))
    return nodal


def trace_loads(
    system: System,
    loads: Sequence[float],
    stop_travel: float | None = None,
    *,
    longest: float | None = None,
    observers: Sequence[Observer] = (),
    solver: str = "fastest",
) -> Path:
    """Go through given loads, and on to a travel if one is given.

    Parameters
    ----------
    system : System
        At rest.
    loads : sequence of float
        In order, N.
    stop_travel : float, optional
        mm.
    longest : float, optional
        Longest step, mm; without it as the elastic stiffness and the largest load suggest.
    observers : sequence of Observer
    solver : {"fastest", "pardiso", "superlu"}

    Returns
    -------
    Path
    """
    linear = LinearSolver(system.symmetric, solver)
    legs = [StepControl("load", f) for f in loads]
    if stop_travel is not None:
        legs.append(StepControl("travel", stop_travel))
    try:
        give = _elastic_give(system, linear)
        far = abs(stop_travel or 0.0)
        unit = give * max((abs(f) for f in loads), default=far / give)
        if longest is None:
            longest = 1.001 * unit if _is_linear(system) else max(SHARE * unit, 0.02 * far)
        steps = StepSettings(
            first=min(longest, 1.001 * unit),
            longest=longest,
            shortest=1e-6 * longest,
            tolerance=1e-9,
            force_scale=1e-6 * unit / give,
            iterations=20,
        )
        return trace_path(system, linear, legs, steps, observers)
    finally:
        linear.close()


def _elastic_give(system: System, solver: LinearSolver) -> float:
    """Travel per load of the virgin system, mm/N."""
    rest = np.zeros(system.n_multipliers)
    now = system.evaluate(np.zeros(system.n_dofs), rest, 0.0, system.initial_states())
    assert now.matrix is not None
    by_travel = np.zeros(system.n_unknowns)
    by_travel[len(system.free)] = -1.0
    return abs(1.0 / float(solver.solve(now.matrix, by_travel)[len(system.free)]))


def _is_linear(system: System) -> bool:
    return all(
        isinstance(t, Solid) and not t.large_strain and t.metal.hardening is None
        for t in system.terms
    )


def trace_travels(system: System, travels: Sequence[float]) -> Floats:
    """Go through given travels and return the load at each, (n,), N."""
    linear = LinearSolver(system.symmetric)
    try:
        give = _elastic_give(system, linear)
        steps = StepSettings(
            first=abs(travels[0]),
            longest=max(abs(travels[0]), 0.05 * max(abs(t) for t in travels)),
            shortest=1e-6 * abs(travels[0]),
            tolerance=1e-8,
            force_scale=1e-6 * abs(travels[0]) / give,
            iterations=20,
        )
        path = trace_path(system, linear, [StepControl("travel", t) for t in travels], steps)
    finally:
        linear.close()
    if not path.finished:
        raise SolveStopped(str(path.stopped_because))
    return np.array([path.points[k].load for k in path.legs])
