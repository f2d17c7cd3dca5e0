"""A used joint put together again with some new parts.

Used plates keep what their slices have borne; a used pin keeps its shape, its plastic strain and
what stress is left in it. A slice of a used plate bears from the travel at which it lost touch on
the way back, a slice of a new one from where it stood when new. The pin is laid
against the ears until its first slice touches, then the shank against the pin: nothing bears yet.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.continuation import at_rest
from fejoint.kernel.newton import EquilibriumPoint
from fejoint.sections.axial.problem import PIN, AxialProblem


def refitted(
    problem: AxialProblem,
    released: EquilibriumPoint,
    *,
    new_pin: bool,
    new_ears: bool,
    touch: Mapping[int, Floats],
) -> EquilibriumPoint:
    """Return where the pull of a joint of used and new parts begins.

    Parameters
    ----------
    problem : AxialProblem
        Of the same mesh as the one that was released.
    released : EquilibriumPoint
        The used joint, let go.
    new_pin, new_ears : bool
    touch : mapping of int to (n_slices,) array
        By plate: travel from which each slice of a used one bears, mm.
    """
    system, case, n = problem.system, problem.case, 2 * len(problem.mesh.points)
    states = list(system.initial_states())
    z = np.zeros(system.n_dofs)
    damage = {}
    if not new_pin:
        states[PIN] = released.states[PIN]
        z[:n] = released.z[:n]
        damage = {k: v for k, v in released.damage.items() if k == PIN}
    for k in range(len(case.plates)):
        if k == case.shank or not new_ears:
            states[1 + k] = released.states[1 + k]

    problem.settle_axis(z)

    def missing(plate: int) -> float:
        """Travel until the first slice of a plate touches, mm."""
        fresh = new_ears and plate != case.shank
        return float(np.min((0.0 if fresh else touch[plate]) - problem.bedding(plate).travel(z)))

    z[1:n:2] += min(missing(k) for k in range(len(case.plates)) if k != case.shank)
    problem.settle_axis(z)
    ahead = missing(case.shank)
    # the shank, and what pulls it, move ahead of the pin
    z[problem.bedding(case.shank).part] += ahead
    z[-1] += ahead
    return EquilibriumPoint(
        float(z[-1]), at_rest(system).multipliers, z, tuple(states), damage=damage
    )
