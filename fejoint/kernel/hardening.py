"""Hardening curves: the yield stress as a function of the equivalent plastic strain.

Every law is stored as one table of values and slopes, read by cubic Hermite interpolation on a
grid that is even in asinh(strain / strain0). The kernel therefore knows one form only, smooth to
its first derivative, and a law from a textbook, a tensile test or a free table costs the same.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.pchip import Monotone
from fejoint.kernel.root import root

_CELLS = 400
STRAIN_SCALE = 2e-4
"""The table's grid is even in asinh of the strain over this."""
_LAST_STRAIN = 4.0


def yield_stress(strain: Any, cell: Any, cells: Any) -> Any:
    """Return yield stress (MPa), its slope by the plastic strain (MPa), and the curve's cell.

    `cells` is `Hardening.cells`, and `cell` a guess: a search that moves little finds its cell
    without the asinh. numba compiles it with the return maps, so it knows numbers and arrays only.
    """
    last = cells.shape[0] - 2
    if not cells[cell, 0] <= strain < cells[cell + 1, 0]:
        if cell < last and cells[cell + 1, 0] <= strain < cells[cell + 2, 0]:
            cell += 1
        elif not strain > 0.0:
            cell = 0
        elif strain >= cells[last, 0]:
            cell = last
        else:
            cell = min(int(math.asinh(strain / STRAIN_SCALE) * cells[cell, 5]), last - 1)
    u = strain - cells[cell, 0]
    c1, c2, c3 = cells[cell, 2], cells[cell, 3], cells[cell, 4]
    return cells[cell, 1] + u * (c1 + u * (c2 + u * c3)), c1 + u * (2.0 * c2 + u * 3.0 * c3), cell


_COLUMNS = ("strain", "stress", "slope")


@dataclass(frozen=True, eq=False)
class Hardening:
    """Yield stress against equivalent plastic strain, tabulated.

    Attributes
    ----------
    strain : (n,) array
        Equivalent plastic strain at the grid points, from 0.
    stress : (n,) array
        Yield stress (true, MPa) at the grid points.
    slope : (n,) array
        d(stress)/d(strain) at the grid points, MPa.
    name : str
        The law in words, with its numbers, for reports.
    """

    strain: Floats
    stress: Floats
    slope: Floats
    name: str = "table"

    def __post_init__(self) -> None:
        for column in _COLUMNS:
            values = np.ascontiguousarray(getattr(self, column), float)
            object.__setattr__(self, column, values)

    def __eq__(self, other: object) -> bool:
        """Tell equal curves, so that equal sections are solved once; the name is for people."""
        if not isinstance(other, Hardening):
            return NotImplemented
        return all(np.array_equal(getattr(self, c), getattr(other, c)) for c in _COLUMNS)

    def __hash__(self) -> int:
        """Hash by the curve; -0.0 equals 0.0, and so must its hash."""
        return hash(tuple((getattr(self, c) + 0.0).tobytes() for c in _COLUMNS))

    @property
    def first_yield(self) -> float:
        """Yield stress of the virgin metal, MPa."""
        return float(self.stress[0])

    def __call__(self, strain: Floats) -> tuple[Floats, Floats]:
        """Return yield stress and hardening modulus.

        Parameters
        ----------
        strain : array
            Equivalent plastic strain, at least 0, any shape.

        Returns
        -------
        stress, slope : arrays of the same shape
            Yield stress and its derivative, MPa. Beyond the table the curve goes on straight.
        """
        strain = np.asarray(strain, float)
        read = np.empty((2, strain.size))
        cell = 0
        for k, e in enumerate(strain.reshape(-1).tolist()):
            read[0, k], read[1, k], cell = yield_stress(e, cell, self.cells)
        return read[0].reshape(strain.shape), read[1].reshape(strain.shape)

    @cached_property
    def cells(self) -> Floats:
        """The curve as the scalar laws read it, (n + 1, 6).

        A row has a cell's first strain, the four coefficients of its cubic in the strain since, the
        constant one first, and the cells per unit of asinh. The last row but one is the straight
        line past the table; the last is where no strain comes to.
        """
        width, rise = np.diff(self.strain), np.diff(self.stress)
        cells = np.zeros((len(self.strain) + 1, 6))
        cells[:-1, 0], cells[-1, 0] = self.strain, np.inf
        cells[:-1, 1], cells[:-1, 2] = self.stress, self.slope
        before, after = self.slope[:-1] * width, self.slope[1:] * width
        cells[:-2, 3] = (3.0 * rise - 2.0 * before - after) / width**2
        cells[:-2, 4] = (before + after - 2.0 * rise) / width**3
        cells[:, 5] = len(width) / np.arcsinh(self.strain[-1] / STRAIN_SCALE)
        return cells

    def plastic_work(self, strain: Floats) -> Floats:
        """Integral of the yield stress from 0 to `strain`, MPa (= N mm/mm3).

        Simpson's rule over each cell, which is exact for its cubic.
        """
        strain = np.asarray(strain, float)
        knots = self.strain
        middle, _ = self(0.5 * (knots[1:] + knots[:-1]))
        y = self.stress
        whole = np.diff(knots) * (y[1:] + 4.0 * middle + y[:-1]) / 6.0
        before = np.concatenate([[0.0], np.cumsum(whole)])
        cell = np.clip(np.searchsorted(knots, strain, side="right") - 1, 0, len(knots) - 1)
        start = knots[cell]
        stresses = (self(x)[0] for x in (start, 0.5 * (start + strain), strain))
        first, half, last = stresses
        return np.asarray(before[cell] + (strain - start) * (first + 4.0 * half + last) / 6.0)

    def scaled(self, factor: float) -> Hardening:
        """Return the same curve with every stress times `factor`."""
        return Hardening(
            self.strain, self.stress * factor, self.slope * factor, f"{factor:.4g} x {self.name}"
        )

    @classmethod
    def from_functions(
        cls, stress: Callable[[Floats], Floats], slope: Callable[[Floats], Floats], name: str
    ) -> Hardening:
        """Tabulate a law given by its value and derivative."""
        grid = _grid()
        return cls(
            grid,
            np.broadcast_to(np.asarray(stress(grid), float), grid.shape).copy(),
            np.broadcast_to(np.asarray(slope(grid), float), grid.shape).copy(),
            name,
        )

    @classmethod
    def linear(cls, yield_stress: float, modulus: float = 0.0) -> Hardening:
        """Return yield_stress + modulus * strain; modulus 0 is perfectly plastic."""
        name = f"linear {yield_stress:g} + {modulus:g} eps MPa" if modulus else "perfectly plastic"
        return cls.from_functions(
            lambda e: yield_stress + modulus * e, lambda e: np.full_like(e, modulus), name
        )

    @classmethod
    def swift(cls, yield_stress: float, strain0: float, exponent: float) -> Hardening:
        """Return yield_stress * (1 + strain/strain0)**exponent (Swift 1952)."""
        return cls.from_functions(
            lambda e: yield_stress * (1.0 + e / strain0) ** exponent,
            lambda e: yield_stress * exponent / strain0 * (1.0 + e / strain0) ** (exponent - 1.0),
            f"Swift {yield_stress:.4g} (1 + eps/{strain0:.4g})^{exponent:.4g} MPa",
        )

    @classmethod
    def voce(cls, yield_stress: float, rise: float, rate: float, modulus: float = 0.0) -> Hardening:
        """Return yield_stress + rise*(1 - exp(-rate*strain)) + modulus*strain (Voce 1948)."""
        return cls.from_functions(
            lambda e: yield_stress + rise * -np.expm1(-rate * e) + modulus * e,
            lambda e: rise * rate * np.exp(-rate * e) + modulus,
            f"Voce {yield_stress:.4g} + {rise:.4g} (1 - exp(-{rate:.4g} eps))"
            + (f" + {modulus:.4g} eps MPa" if modulus else " MPa"),
        )

    @classmethod
    def ramberg_osgood(cls, rp02: float, exponent: float) -> Hardening:
        """Return the law strain = 0.002 (stress/rp02)**exponent (Ramberg and Osgood 1943).

        The law has no yield point. The plastic strain counted here starts where the law gives
        1e-5, so the tabulated stress at 0 is rp02 * (1e-5/0.002)**(1/exponent).
        """
        start = 1e-5
        power = 1.0 / exponent
        return cls.from_functions(
            lambda e: rp02 * ((e + start) / 0.002) ** power,
            lambda e: rp02 * power / 0.002 * ((e + start) / 0.002) ** (power - 1.0),
            f"Ramberg-Osgood Rp0.2 {rp02:g} MPa, n {exponent:g}",
        )

    @classmethod
    def table(cls, strain: Floats, stress: Floats) -> Hardening:
        """Interpolate points of true stress against plastic strain, monotone.

        Raises
        ------
        ValueError
            If the strains do not rise from 0, or a stress is not positive.
        """
        strain, stress = np.asarray(strain, float), np.asarray(stress, float)
        if strain.ndim != 1 or strain.shape != stress.shape or len(strain) < 2:
            message = "a hardening table needs two equal columns of at least 2 points"
            raise ValueError(message)
        if strain[0] != 0.0 or np.any(np.diff(strain) <= 0.0):
            message = "the plastic strains of a hardening table must rise from 0"
            raise ValueError(message)
        if np.any(stress <= 0.0):
            message = "the stresses of a hardening table must be positive"
            raise ValueError(message)
        curve = Monotone(strain, stress)
        last = strain[-1]
        end_slope = float(curve(last, 1))

        def value(e: Floats) -> Floats:
            return np.asarray(curve(np.minimum(e, last)) + end_slope * np.maximum(e - last, 0.0))

        def slope(e: Floats) -> Floats:
            return np.where(e < last, curve(np.minimum(e, last), 1), end_slope)

        return cls.from_functions(value, slope, f"table of {len(strain)} points")

    @classmethod
    def from_tensile(
        cls, modulus: float, rp02: float, rm: float, ag: float, shape: str = "swift"
    ) -> Hardening:
        """Build a law through Rp0.2 and through the Considere point of Rm and Ag.

        Parameters
        ----------
        modulus : float
            Young's modulus, MPa.
        rp02, rm : float
            0.2 % proof stress and tensile strength (engineering), MPa.
        ag : float
            Plastic extension at maximum force (engineering, 0.1 is 10 %).
        shape : {"swift", "voce"}
            The curve's family between the two points.

        Raises
        ------
        ValueError
            If no curve of the family passes: rm <= rp02, or ag too small for the ratio.

        Notes
        -----
        At maximum force the true stress s equals its slope by the total true strain (Considere
        1885); by the plastic strain that slope is s/(1 - s/modulus). With total engineering
        strain e = ag + rm/modulus, s = rm (1 + e) and the true plastic strain is
        p = ln(1 + e) - s/modulus. Swift a (1 + eps/c)**n and Voce y + r (1 - exp(-b eps)) are
        fitted to (0.002, rp02), (p, s) and the slope at p. Behind the neck, where a tensile test
        tells nothing, a power law rises too fast and a saturation law too little (true stresses at
        fracture, corrected for the neck, lie between the two and nearer to the latter): there
        Swift's curve goes on as Voce's through the same points, which has its stress and slope.
        """
        if not 0.0 < rp02 < rm:
            message = f"Rm ({rm:g} MPa) must lie above Rp0.2 ({rp02:g} MPa)"
            raise ValueError(message)
        total = ag + rm / modulus
        peak = rm * (1.0 + total)
        strain = float(np.log1p(total) - peak / modulus)
        proof = rp02 * (1.0 + 0.002 + rp02 / modulus)
        if strain <= _PROOF:
            message = f"Ag {ag:g} is too small: the plastic strain at Rm must exceed 0.002"
            raise ValueError(message)
        through = strain, peak, 1.0 / (1.0 - peak / modulus), proof / peak, f"{rp02 / rm:.3f}", ag
        if shape == "swift":
            law = _swift_through(*through)
            # metal that stretches as far as its ratio hardly allows has no saturation law
            with contextlib.suppress(ValueError):
                law = law.followed_by(_voce_through(*through), strain)
            return law
        if shape == "voce":
            return _voce_through(*through)
        message = f"shape {shape!r} is not 'swift' or 'voce'"
        raise ValueError(message)

    def followed_by(self, other: Hardening, strain: float) -> Hardening:
        """Return this law up to a plastic strain, and beyond it another that meets it there."""
        here = self.strain <= strain
        stress, slope = (
            np.where(here, getattr(self, c), getattr(other, c)) for c in ("stress", "slope")
        )
        name = f"{self.name}, from {strain:.4g} on {other.name}"
        return Hardening(self.strain, stress, slope, name)


_PROOF = 0.002
"""Plastic strain at Rp0.2."""


def _swift_through(
    strain: float, peak: float, steep: float, ratio: float, said: str, ag: float
) -> Hardening:
    """Return Swift's law through the proof stress and the Considere point.

    Its slope at the latter, steep x peak, gives n = steep (strain + c); one equation is left for c.
    """

    def miss(c: float) -> float:
        power = steep * (strain + c)
        return float(power * np.log((_PROOF + c) / (strain + c)) - np.log(ratio))

    low = -_PROOF * (1.0 - 1e-9)
    c = _root(miss, max(low, 1e-9 - _PROOF), 1e3, ratio, "swift")
    if c <= 0.0:
        message = f"no Swift curve: Rp0.2/Rm {said} is too low for Ag {ag:g}"
        raise ValueError(message)
    n = steep * (strain + c)
    return Hardening.swift(peak * (c / (strain + c)) ** n, c, n)


def _voce_through(
    strain: float, peak: float, steep: float, ratio: float, said: str, ag: float
) -> Hardening:
    """Return Voce's law through the proof stress and the Considere point, with its slope there.

    That slope is r b exp(-b strain) = steep x peak; through both points: one equation for b.
    """

    def miss(b: float) -> float:
        return float(1.0 - steep * np.expm1(b * (strain - _PROOF)) / b - ratio)

    b = _root(miss, 1e-6, 700.0 / strain, ratio, "voce")
    rise = steep * peak * np.exp(b * strain) / b
    law = Hardening.voce(peak + rise * np.expm1(-b * strain), rise, b)
    if law.first_yield <= 0.0:
        message = f"no Voce curve: Rp0.2/Rm {said} is too low for Ag {ag:g}"
        raise ValueError(message)
    return law


def _root(
    miss: Callable[[float], float], low: float, high: float, ratio: float, shape: str
) -> float:
    if miss(low) * miss(high) > 0.0:
        message = (
            f"no {shape.capitalize()} curve passes Rp0.2 and Rm with this Ag "
            f"(true proof over true peak stress {ratio:.3f})"
        )
        raise ValueError(message)
    return root(miss, low, high, within=1e-14)


def _grid() -> Floats:
    return STRAIN_SCALE * np.sinh(
        np.linspace(0.0, np.arcsinh(_LAST_STRAIN / STRAIN_SCALE), _CELLS + 1)
    )
