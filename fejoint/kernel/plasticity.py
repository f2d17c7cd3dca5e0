"""A metal's elastic moduli and hardening, for the return maps.

The laws themselves are scalar functions: plane_stress.py where the metal is free to strain out of
the plane, plane_strain.py where it is not.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fejoint.kernel.hardening import Hardening, Table

MetalData = tuple[bool, float, float, float, Table]
"""A metal as the scalar laws read it: plane strain, S, 2 G, bulk modulus K (MPa), table."""


@dataclass(frozen=True)
class Metal:
    """An elastic-plastic metal: E (MPa), nu, and its hardening curve (None is elastic).

    In a plane section it is free to strain out of the plane, unless `plane_strain` is set.
    """

    modulus: float
    poisson: float
    hardening: Hardening | None = None
    plane_strain: bool = False

    @property
    def shear_modulus(self) -> float:
        """Shear modulus G, MPa."""
        return self.modulus / (2.0 * (1.0 + self.poisson))

    @property
    def biaxial_modulus(self) -> float:
        """Modulus S = E/(1 - nu) between the sums of stress and of in-plane strain, MPa."""
        return self.modulus / (1.0 - self.poisson)

    @property
    def bulk_modulus(self) -> float:
        """Bulk modulus K, MPa; inf for a metal that keeps its volume."""
        below = 3.0 * (1.0 - 2.0 * self.poisson)
        return self.modulus / below if below > 0.0 else np.inf

    @cached_property
    def data(self) -> MetalData:
        """The metal as the scalar laws read it; an elastic one has an empty table."""
        none = np.empty(0)
        table = (none, none, none, 0.0) if self.hardening is None else self.hardening.data
        moduli = float(self.biaxial_modulus), 2.0 * float(self.shear_modulus)
        return bool(self.plane_strain), *moduli, float(self.bulk_modulus), table
