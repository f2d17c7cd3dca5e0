"""An open-hole plate as data: the case, and the answer with its stresses and stretch."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.continuation import EquilibriumPoint
from fejoint.kernel.elements import Solid
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.mesh import Mesh
from fejoint.reference_models.stress_recovery import Rim, edge_strains, fitted
from fejoint.reference_models.tractions import metal_state

Edge = Literal["even", "infinite plate"]
Symmetry = Literal["even", "odd", "none"]


@dataclass(frozen=True)
class PlateCase:
    """An open-hole plate; lengths in mm, stresses in MPa.

    Attributes
    ----------
    semi_axes : (float, float)
        Of the hole, along x and y.
    width, length : float
        Of the whole plate, along y and x.
    thickness : float
    metal : Metal
    remote : (float, float, float)
        Remote stress sxx, syy, sxy at load factor 1.
    edge : {"even", "infinite plate"}
        Even tractions, or those that Kirsch's infinite plate has there (circular hole).
    large_strain : bool
    """

    semi_axes: tuple[float, float]
    width: float
    length: float
    thickness: float
    metal: Metal
    remote: tuple[float, float, float] = (1.0, 0.0, 0.0)
    edge: Edge = "even"
    large_strain: bool = False

    @property
    def symmetry(self) -> Symmetry:
        """How the answer mirrors on the axes: even in tension, odd in shear at small strain."""
        sx, sy, sxy = self.remote
        if sxy == 0.0:
            return "even"
        return "odd" if sx == sy == 0.0 and not self.large_strain else "none"

    @property
    def principal(self) -> float:
        """Remote principal stress of the greatest size at load factor 1, its size, MPa."""
        sx, sy, sxy = self.remote
        return float(abs(0.5 * (sx + sy)) + np.hypot(0.5 * (sx - sy), sxy))

    @property
    def unit_load(self) -> float:
        """That stress on the gross section, N."""
        return self.principal * self.width * self.thickness


@dataclass(frozen=True, eq=False)
class PlateAnswer:
    """A pulled plate.

    Attributes
    ----------
    case : PlateCase
    mesh : Mesh
        Of a quarter, or of the whole plate.
    solid : Solid
    points : tuple of EquilibriumPoint
        Equilibria, the first at rest.
    stopped_because : str
    """

    case: PlateCase
    mesh: Mesh
    solid: Solid
    points: tuple[EquilibriumPoint, ...]
    stopped_because: str

    @property
    def factors(self) -> Floats:
        """Load factor on the remote stress at every point, (n,)."""
        return self.load / self.case.unit_load

    @property
    def load(self) -> Floats:
        """Greatest remote principal stress times the gross section at every point, (n,), N."""
        return np.array([p.load for p in self.points])

    @property
    def stretch(self) -> Floats:
        """Displacement that works with the load: of end against end in a simple pull, (n,), mm."""
        share = 1.0 if self.case.symmetry == "none" else 4.0
        return share * np.array([p.travel for p in self.points])

    @cached_property
    def rim(self) -> Rim:
        """Hoop stress round the hole per unit load factor, elastic small-strain plate, MPa.

        The hole's edge is free, so the hoop stress is E times the strain along the edge.
        """
        first = self.points[1]
        where, strain = edge_strains(self.mesh.points, self.mesh.edges["hole"], first.z)
        a, b = self.case.semi_axes
        angles = np.arctan2(where[:, 1] / b, where[:, 0] / a)
        stress = self.case.metal.modulus * strain / self.factors[1]
        sign = {"even": 1, "odd": -1, "none": None}[self.case.symmetry]
        return Rim.of(angles, stress, sign)

    @property
    def peak(self) -> float:
        """Greatest hoop stress at the hole per unit load factor, MPa."""
        return self.rim.extremes()[1]

    @property
    def kt(self) -> float:
        """Greatest hoop stress over the greatest remote principal stress."""
        return self.peak / self.case.principal

    @property
    def first_yield(self) -> float | None:
        """Load factor at which the hole's edge begins to yield, or None for elastic metal."""
        law = self.case.metal.hardening
        if law is None:
            return None
        low, high = self.rim.extremes()
        return law.first_yield / max(high, -low)

    def stress(self, where: Floats, step: int = -1) -> Floats:
        """Return the stress xx, yy, xy at points of the plate, (3, m), MPa.

        Parameters
        ----------
        where : (m, 2) array
            Positions, mm.
        step : int
            Index into `points`.
        """
        samples = self.solid.quadrature.points.reshape(-1, 2)
        values = metal_state(self.points[step]).stress
        if self.case.symmetry != "none":
            sign = 1.0 if self.case.symmetry == "even" else -1.0
            samples, values = _mirrored(samples, values, sign)
        return fitted(where, samples, values)

    def displacement(self, where: tuple[float, float], step: int = -1) -> Floats:
        """Return the displacement of the node nearest to a position, (2,), mm."""
        node = int(np.argmin(np.linalg.norm(self.mesh.points - np.array(where), axis=1)))
        return np.asarray(self.points[step].z[2 * node : 2 * node + 2])

    def plastic_area(self, step: int = -1) -> float:
        """Area of the whole plate that has yielded, mm2."""
        yielded = metal_state(self.points[step]).equivalent > 0.0
        share = 1.0 if self.case.symmetry == "none" else 4.0
        return share * float(self.solid.quadrature.areas.reshape(-1)[yielded].sum())


def _mirrored(samples: Floats, values: Floats, sign: float) -> tuple[Floats, Floats]:
    """Add the images of a quadrant's stresses in both axes (shear changes its sign in one)."""
    once = np.array([[sign], [sign], [-sign]])
    images = [(samples, values)]
    images += [(samples * [-1.0, 1.0], values * once), (samples * [1.0, -1.0], values * once)]
    images.append((-samples, values))
    return np.vstack([s for s, _ in images]), np.hstack([v for _, v in images])
