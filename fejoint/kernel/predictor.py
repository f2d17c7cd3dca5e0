"""Where a step is expected to end: extrapolation along the points already found.

Let z_k (mm) and l_k (N) be displacements and multipliers of the last equilibria, at the prescribed
displacements U_k (mm). The guess at U is the polynomial through the last n + 1 of them,

    z(U) = sum_k w_k z_k ,   w_k = prod_(j != k) (U - U_j) / (U_k - U_j) ,   l(U) likewise

of order n = 1 or n = 2, whichever would have come closer to the last point found: the parabola
where the path is smooth, the secant behind a kink (first yield, a contact that opens). The error is
of order step^(n + 1), so that Newton begins within reach at steps that would fail from the last
point. At first touch there is one point only and no stiffness to extrapolate by: the driven body is
moved along as a rigid one. A load's place is guessed by the last secant of load over displacement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fejoint.kernel.assembly import System
from fejoint.kernel.newton import EquilibriumPoint, StepControl


def travel_to(leg: StepControl, known: Sequence[EquilibriumPoint]) -> float | None:
    """Travel at which the last secant meets the leg's load, or None before there is one."""
    if len(known) < 2 or known[-1].load == known[-2].load:
        return None
    rate = (known[-1].travel - known[-2].travel) / (known[-1].load - known[-2].load)
    ahead = rate * (leg.value - known[-1].load)
    return known[-1].travel + ahead if ahead * (known[-1].travel - known[-2].travel) > 0 else None


def between(last: EquilibriumPoint, beyond: EquilibriumPoint, share: float) -> EquilibriumPoint:
    """Interpolate two points."""
    return replace(
        last,
        z=last.z + share * (beyond.z - last.z),
        multipliers=last.multipliers + share * (beyond.multipliers - last.multipliers),
        travel=last.travel + share * (beyond.travel - last.travel),
    )


def better_order(known: Sequence[EquilibriumPoint], new: EquilibriumPoint) -> int:
    """Order of extrapolation that would have served the new point better: 1, or 2 from 3 points."""
    if len(known) < 3 or len({p.travel for p in known}) < 3:
        return 1

    def miss(order: int) -> float:
        points = known[-1 - order :]
        weights = _extrapolation([p.travel for p in points], new.travel)
        z = sum(w * p.z for w, p in zip(weights, points, strict=True))
        return float(np.linalg.norm(z - new.z))

    return 1 if miss(1) <= miss(2) else 2


def predict(system: System, known: Sequence[EquilibriumPoint], travel: float) -> EquilibriumPoint:
    """Extrapolate the last points of this leg to a travel."""
    last = known[-1]
    if len(known) < 2 or known[-1].travel == known[-2].travel:
        # at first touch the drive carries its body along; under load Newton's tangent knows better
        moved = travel - last.travel if last.load == 0.0 else 0.0
        return replace(last, z=last.z + moved * system.rigid_body_mode, travel=travel)
    if len({p.travel for p in known}) < len(known):
        known = known[-2:]
    weights = _extrapolation([p.travel for p in known], travel)
    z, multipliers = np.zeros_like(last.z), np.zeros_like(last.multipliers)
    for weight, point in zip(weights, known, strict=True):
        z += weight * point.z
        multipliers += weight * point.multipliers
    return replace(last, z=z, multipliers=multipliers, travel=travel)


def _extrapolation(travels: Sequence[float], travel: float) -> list[float]:
    """Lagrange weights of the known travels at a new one."""
    weights = []
    for own in travels:
        weight = 1.0
        for other in travels:
            if other != own:
                weight *= (travel - other) / (own - other)
        weights.append(weight)
    return weights
