"""A round pin of hexahedra on the axial section's own bedding: what the strip makes of a round bar.

Everything but the pin's body is the axial section's: the plates' laws and springs, the slices, and
how a slice's mean displacement presses on its law. z runs along the pin, from the shank's middle
where the pin is its own mirror image (a quarter is solved), else from the first plate's outer face
(a half is solved). x is the pull.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel.assembly import System, Term
from fejoint.kernel.bricks import GAUSS as CUBE_POINTS
from fejoint.kernel.bricks import BrickBody, shapes
from fejoint.kernel.continuation import Path, trace_path
from fejoint.kernel.foundation import Bedding, BeddingLaw, Spring
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.newton import EquilibriumPoint, StepControl, StepSettings
from fejoint.sections.axial.case import HOLDING, STEEL, AxialCase, AxialSettings, SoftBed
from fejoint.sections.axial.grid import cuts_of
from fejoint.sections.let_go import let_go
from fejoint.sections.observers import Passes
from fejoint.sections.solid.shaft_grid import section_means, shaft

SECTORS = 12
"""Element sides round half the pin."""


@dataclass(eq=False)
class RoundPinProblem:
    """A round pin in its beddings, ready to be pulled.

    Attributes
    ----------
    case : AxialCase
    points : (n, 3) array
        mm.
    heights : (n_layers + 1,) array
        Ends of the layers; layer by layer the axial section's slices.
    layers : tuple of (k,) int arrays
        Layers that each solved plate carries.
    plates : tuple of int
        Which of the case's plates are solved.
    system : System
    share : float
        Loads of the joint over those of the system.
    """

    case: AxialCase
    points: Floats
    heights: Floats
    layers: tuple[Ints, ...]
    plates: tuple[int, ...]
    system: System
    share: float

    @property
    def quarter(self) -> bool:
        """Whether the pin is solved from the shank's middle on."""
        return self.share == 4.0

    @cached_property
    def _sections(self) -> tuple[Ints, Floats]:
        body = self.system.terms[0]
        assert isinstance(body, BrickBody)
        return section_means(self.points, body.nodes, self.heights)

    def axis(self, point: EquilibriumPoint) -> Floats:
        """Mean displacement of every section along x and z, (n_layers + 1, 2), mm."""
        nodes, weights = self._sections
        return np.stack([point.z[3 * nodes + i] @ weights for i in (0, 2)], axis=1)

    def moments(self, point: EquilibriumPoint) -> Floats:
        """Bending moment at the layers' ends, (n_layers + 1,), N mm, with deformed lever arms."""
        z = self.heights + self.axis(point)[:, 1]
        middles = 0.5 * (z[1:] + z[:-1])
        found = np.zeros(len(z))
        for k, layers in enumerate(self.layers):
            bedding = self.system.terms[1 + k]
            assert isinstance(bedding, Bedding)
            force = -2.0 * bedding.sense * bedding.forces(point.z, point.states[1 + k])
            arm = middles[layers][None, :] - z[:, None]
            beyond = layers[None, :] >= np.arange(len(z))[:, None]
            found += np.where(beyond, arm, 0.0) @ force
        return found

    def bend(self, point: EquilibriumPoint) -> float:
        """Sag of the pin as the axial section defines it, mm."""
        u, z = self.axis(point)[:, 0], self.heights
        middles = self.case.faces.mean(axis=1)
        if self.quarter:
            return float(abs(u[0] - np.interp(middles[-1] - middles[1], z, u)))
        first, last = middles[0], middles[-1]
        at = np.interp([first, 0.5 * (first + last), last], z, u)
        if len(middles) == 3:
            at[1] = np.interp(middles[self.case.shank], z, u)
        return float(abs(at[1] - 0.5 * (at[0] + at[2])))


def build(
    case: AxialCase,
    laws: Sequence[BeddingLaw],
    settings: AxialSettings | None = None,
    sectors: int = SECTORS,
) -> RoundPinProblem:
    """Mesh a round pin and rest it on the axial section's beddings.

    Parameters
    ----------
    case : AxialCase
        With free or headed ends.
    laws : sequence of BeddingLaw
        Of all plates.
    settings : AxialSettings, optional
        Its slices become the layers.
    sectors : int
        Element sides round half the pin, a multiple of 4.
    """
    cuts = cuts_of(case, settings or AxialSettings())
    first, *_, last = case.plates
    gaps = np.diff(case.faces.reshape(-1))[1::2]
    quarter = len(case.plates) == 3 and case.shank == 1 and np.isclose(gaps[0], gaps[-1])
    quarter = quarter and (first.thickness, first.spring) == (last.thickness, last.spring)
    quarter = quarter and laws[0] is laws[-1]
    middle = 0.5 * cuts[-1] if quarter else 0.0
    heights = cuts[cuts > middle - 1e-9] - middle
    mesh, _ = shaft(0.5 * case.diameter, sectors, heights)
    n = len(mesh.points)
    plates = (1, 2) if quarter else tuple(range(len(case.plates)))
    parts = 3 * n + np.arange(len(plates))
    pulled = 3 * n + len(plates)
    body = BrickBody(case.metal, mesh.bricks, mesh.points)
    dofs, weights = _layer_means(body, len(heights) - 1)
    middles = 0.5 * (heights[1:] + heights[:-1]) + middle
    terms: list[Term] = [body]
    on, fixed = [], [3 * np.flatnonzero(np.abs(mesh.points[:, 1]) < 1e-9 * case.diameter) + 1]
    rigid = np.zeros(pulled + 1)
    rigid[0 : 3 * n : 3] = 1.0
    for k, plate in enumerate(plates):
        begin, end = case.faces[plate]
        own = np.flatnonzero((middles > begin) & (middles < end))
        on.append(own)
        sense = -1.0 if plate == case.shank else 1.0
        # half the pin's section bears half of each slice
        lengths = 0.5 * np.diff(heights)[own]
        terms.append(Bedding(dofs[own], weights[own], lengths, int(parts[k]), laws[plate], sense))
    for k, plate in enumerate(plates):
        halved = 0.25 if quarter and plate == case.shank else 0.5
        far = pulled if plate == case.shank else None
        spring = case.plates[plate].spring
        if np.isfinite(spring):
            terms.append(Spring(int(parts[k]), far, halved * spring))
        elif far is None:
            fixed.append(parts[k : k + 1])
        else:
            terms.append(Spring(int(parts[k]), far, 1e3 * case.metal.modulus * case.diameter))
        if plate == case.shank:
            rigid[parts[k]] = 1.0
    guides = []
    if quarter:
        fixed.append(3 * np.flatnonzero(np.abs(mesh.points[:, 2]) < 1e-9 * case.diameter) + 2)
    else:
        along = np.zeros(pulled + 1)
        along[2 : 3 * n : 3] = 1.0 / n
        guides.append(along)
        soft = SoftBed(HOLDING * min(case.metal.modulus, STEEL))
        shank = int(parts[plates.index(case.shank)])
        terms.append(Bedding(dofs, weights, np.diff(heights), shank, soft))
    drive = np.zeros(pulled + 1)
    drive[pulled] = rigid[pulled] = 1.0
    system = System(pulled + 1, terms, drive, rigid, np.unique(np.concatenate(fixed)), guides)
    return RoundPinProblem(
        case, mesh.points, heights, tuple(on), plates, system, 4.0 if quarter else 2.0
    )


def _layer_means(body: BrickBody, n_layers: int) -> tuple[Ints, Floats]:
    """Unknowns along x and weights of every layer's mean displacement, (n_layers, k)."""
    share = np.einsum("eq,qa->ea", body.volumes, shapes(CUBE_POINTS)[0])
    layers, shares = body.nodes.reshape(n_layers, -1), share.reshape(n_layers, -1)
    dofs, weights = [], []
    for nodes, own in zip(layers, shares, strict=True):
        where, number = np.unique(nodes, return_inverse=True)
        w = np.bincount(number.reshape(-1), own)
        dofs.append(3 * where)
        weights.append(w / w.sum())
    return np.array(dofs), np.array(weights)


@dataclass(eq=False)
class RoundPinHistory:
    """A pulled round pin. Arrays have one entry a point, the first at rest.

    Attributes
    ----------
    problem : RoundPinProblem
    path : Path
    load, travel : (n,) arrays
        On the joint (N) and of the shank's far end (mm).
    moment, sag : (n,) arrays
        Largest bending moment (N mm) and bend (mm) of the pin.
    """

    problem: RoundPinProblem
    path: Path
    load: Floats
    travel: Floats
    moment: Floats
    sag: Floats


def pull(
    problem: RoundPinProblem, travels: Sequence[float], solver: str = "fastest"
) -> RoundPinHistory:
    """Pull a round pin; its path passes the given travels (rising, mm)."""
    own = LinearSolver(problem.system.symmetric, solver, weighted_matching=True)
    end = [StepControl("travel", travels[-1])]
    try:
        path = trace_path(problem.system, own, end, _steps(problem), [Passes(tuple(travels))])
    finally:
        own.close()
    points = path.points
    return RoundPinHistory(
        problem,
        path,
        problem.share * np.array([p.load for p in points]),
        np.array([p.travel for p in points]),
        np.array([np.abs(problem.moments(p)).max() for p in points]),
        np.array([problem.bend(p) for p in points]),
    )


def release(history: RoundPinHistory, index: int) -> EquilibriumPoint | None:
    """Let the joint go from one of its points; return the point of (almost) no load, or None."""
    problem, peak = history.problem, history.path.points[index]
    slope = float(np.max(history.load[1:] / history.travel[1:])) / problem.share
    steps = replace(_steps(problem), first=0.5 * peak.load / slope)
    solver = LinearSolver(problem.system.symmetric, weighted_matching=True)
    try:
        return let_go(problem.system, solver, peak, steps)
    finally:
        solver.close()


def _steps(problem: RoundPinProblem) -> StepSettings:
    d = problem.case.diameter
    return StepSettings(
        first=5e-4 * d,
        longest=0.0125 * d,
        shortest=1e-8 * d,
        tolerance=1e-6,
        force_scale=1e-7 * problem.case.metal.modulus * d * d,
        growth=2.0,
        easy=6,
    )
