"""Hardening curves: the yield stress as a function of the equivalent plastic strain.

Every law is stored as one table of values and slopes, read by cubic Hermite interpolation on a
grid that is even in asinh(strain / strain0). The kernel therefore knows one form only, smooth to
its first derivative, and a law from a textbook, a tensile test or a free table costs the same.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.pchip import Monotone
from fejoint.kernel.root import root

_CELLS = 400
STRAIN_SCALE = 2e-4
"""The table's grid is even in asinh of the strain over this."""
_LAST_STRAIN = 4.0

Table = tuple[Floats, Floats, Floats, float]
"""A curve as the scalar laws read it: strains, stresses, slopes, cells per unit of asinh."""


def yield_stress(strain: Any, cell: Any, table: Any) -> Any:
    """Return yield stress (MPa), its slope by the plastic strain (MPa), and the table's cell.

    `cell` is a guess: a search that moves little finds its cell without the asinh. Beyond the
    table's end the curve goes on straight. numba compiles it with the return maps, so it knows
    numbers and arrays only.
    """
    strains, stresses, slopes, per_cell = table
    last = strains.size - 1
    if strain >= strains[last]:
        over = strain - strains[last]
        return stresses[last] + slopes[last] * over, slopes[last], last - 1
    if not (strains[cell] <= strain < strains[cell + 1]):
        if cell + 2 <= last and strains[cell + 1] <= strain < strains[cell + 2]:
            cell += 1
        elif strain < 0.0 or not math.isfinite(strain):
            cell = 0
        else:
            cell = int(math.asinh(strain / STRAIN_SCALE) * per_cell)
            cell = min(max(cell, 0), last - 1)
    width = strains[cell + 1] - strains[cell]
    per_width = 1.0 / width
    t = (strain - strains[cell]) * per_width
    y0, y1 = stresses[cell], stresses[cell + 1]
    m0, m1 = slopes[cell] * width, slopes[cell + 1] * width
    c2 = 3.0 * (y1 - y0) - 2.0 * m0 - m1
    c3 = 2.0 * (y0 - y1) + m0 + m1
    stress = y0 + t * (m0 + t * (c2 + t * c3))
    return stress, (m0 + t * (2.0 * c2 + t * 3.0 * c3)) * per_width, cell


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
    per_cell : float
        Grid cells per unit of asinh(strain / strain0); follows from the grid.
    """

    strain: Floats
    stress: Floats
    slope: Floats
    name: str = "table"
    per_cell: float = field(init=False, repr=False)

    def __post_init__(self) -> None:
        for column in _COLUMNS:
            values = np.ascontiguousarray(getattr(self, column), float)
            object.__setattr__(self, column, values)
        step = np.arcsinh(self.strain[-1] / STRAIN_SCALE) / (len(self.strain) - 1)
        object.__setattr__(self, "per_cell", 1.0 / step)

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
        read, data = np.empty((2, strain.size)), self.data
        cell = 0
        for k, e in enumerate(strain.reshape(-1).tolist()):
            read[0, k], read[1, k], cell = yield_stress(e, cell, data)
        return read[0].reshape(strain.shape), read[1].reshape(strain.shape)

    @property
    def data(self) -> Table:
        """The curve as the scalar laws read it."""
        return self.strain, self.stress, self.slope, self.per_cell

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
        fitted to (0.002, rp02), (p, s) and the slope at p.
        """
        if not 0.0 < rp02 < rm:
            message = f"Rm ({rm:g} MPa) must lie above Rp0.2 ({rp02:g} MPa)"
            raise ValueError(message)
        total = ag + rm / modulus
        peak = rm * (1.0 + total)
        strain = float(np.log1p(total) - peak / modulus)
        proof = rp02 * (1.0 + 0.002 + rp02 / modulus)
        offset = 0.002
        if strain <= offset:
            message = f"Ag {ag:g} is too small: the plastic strain at Rm must exceed 0.002"
            raise ValueError(message)
        ratio = proof / peak
        steep = 1.0 / (1.0 - peak / modulus)
        if shape == "swift":
            # the slope gives n = steep (strain + c); one equation is left for c
            def swift_miss(c: float) -> float:
                power = steep * (strain + c)
                return float(power * np.log((offset + c) / (strain + c)) - np.log(ratio))

            low = -offset * (1.0 - 1e-9)
            c = _root(swift_miss, max(low, 1e-9 - offset), 1e3, ratio, shape)
            if c <= 0.0:
                message = f"no Swift curve: Rp0.2/Rm {rp02 / rm:.3f} is too low for Ag {ag:g}"
                raise ValueError(message)
            n = steep * (strain + c)
            law = cls.swift(peak * (c / (strain + c)) ** n, c, n)
        elif shape == "voce":
            # slope r b exp(-b p) = steep peak; through both points: one equation for b
            def voce_miss(b: float) -> float:
                return float(1.0 - steep * np.expm1(b * (strain - offset)) / b - ratio)

            b = _root(voce_miss, 1e-6, 700.0 / strain, ratio, shape)
            rise = steep * peak * np.exp(b * strain) / b
            law = cls.voce(peak + rise * np.expm1(-b * strain), rise, b)
            if law.first_yield <= 0.0:
                message = f"no Voce curve: Rp0.2/Rm {rp02 / rm:.3f} is too low for Ag {ag:g}"
                raise ValueError(message)
        else:
            message = f"shape {shape!r} is not 'swift' or 'voce'"
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
