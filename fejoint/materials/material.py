"""What a part is made of."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from fejoint.kernel.hardening import Hardening
from fejoint.materials import hardening_laws as laws


@dataclass(frozen=True)
class Material:
    """A metal: elastic constants, hardening curve, strength and ductility, and their source.

    Attributes
    ----------
    name : str
        Name in the library or the case.
    modulus, poisson, density : float
        Young's modulus in MPa, Poisson's ratio, density in g/cm3.
    hardening : Hardening
        Yield stress against plastic strain.
    rp02, rm : float
        0.2 % proof stress and tensile strength, MPa.
    uniform_strain : float
        Plastic extension at maximum force, engineering (Ag).
    fracture_strain : float
        Local true strain at fracture, ln(A0/Af), of a smooth tensile bar.
    fracture_band : (float, float)
        The range within which that strain may lie.
    strength_band : float
        Relative standard deviation of the strength.
    shape : str
        Family of the curve between yield and Rm.
    hardness_hv : float or None
        Vickers hardness, where the strength came from it.
    source : str
        Where the values come from.
    assumptions : tuple of str
        What was taken for granted.
    family : str
        Kind of metal; `hardness.STEEL` is the one that hardness converts for.
    law : tuple of pairs
        The law's recipe (keys of `laws.LAWS`), from which the curve can be built again.
    """

    name: str
    modulus: float
    poisson: float
    density: float
    hardening: Hardening = field(compare=False, repr=False)
    rp02: float
    rm: float
    uniform_strain: float
    fracture_strain: float
    fracture_band: tuple[float, float]
    strength_band: float
    shape: str
    hardness_hv: float | None
    source: str
    assumptions: tuple[str, ...] = ()
    family: str = "metal"
    law: tuple[tuple[str, Any], ...] = field(default=(), repr=False)

    def to_dict(self) -> dict[str, Any]:
        """Return plain numbers (MPa, g/cm3), complete: `custom` makes the same material of it."""
        law = dict(self.law) if self.law else laws.sampled(self.hardening)
        table: dict[str, Any] = {
            "modulus": self.modulus,
            "poisson": self.poisson,
            "density": self.density,
            "family": self.family,
            **{key: list(v) if isinstance(v, tuple) else v for key, v in law.items()},
            "fracture_strain": self.fracture_strain,
            "fracture_band": list(self.fracture_band),
            "strength_band": self.strength_band,
            "source": self.source,
            "assumptions": list(self.assumptions),
        }
        if self.hardness_hv is not None:
            table["hardness_hv"] = self.hardness_hv
        return table
