"""Bands of what happens in a spot no larger than an element: first yield, and a pin's break.

An answer finds them on its own mesh: what a mesh of half as many elements would say is close to
what the elements' means say, and a mesh of twice as many lies about as far to the other side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fejoint.analysis.definitions import EXHAUSTED
from fejoint.analysis.result import LimitLoad
from fejoint.analysis.solved_joint import SolvedJoint
from fejoint.kernel.continuation import EquilibriumPoint
from fejoint.kernel.elements import Solid
from fejoint.sections.axial.pull import PIN
from fejoint.sections.face.pull import PLATE

_CONTACT, _BENDING = 2.0, 1.0
"""Power of the stress by which the load goes: under a pin stress is as the root of the load (Hertz,
a line contact), in bending as the load."""


def yield_band(joint: SolvedJoint, name: str, ear: int, load: float) -> tuple[float, float] | None:
    """Return the range of a first yield's load on other meshes, N; None for other events."""
    if name == "first yield ear":
        face = joint.members[ear].history
        body = face.problem.system.terms[PLATE]
        points, first = face.path.points, face.first_yield_plate
        term, power = PLATE, _CONTACT
    elif name == "first yield pin":
        body, points, first = joint.history.problem.pin, joint.history.path.points, load
        term, power = PIN, _BENDING
    else:
        return None
    if not isinstance(body, Solid) or first is None or len(points) < 3:
        return None
    factor = _peak_over_element(body, points, term) ** power
    return load / factor, load * factor


def _peak_over_element(body: Solid, points: Sequence[EquilibriumPoint], term: int) -> float:
    """Return the largest stress over the largest of the elements' means, at the last elastic point.

    1 for a stress that the mesh sees whole.
    """
    yielded = (k for k, p in enumerate(points) if p.states[term].equivalent.max() > 0.0)
    last = next(yielded, len(points)) - 1
    stress = points[last].states[term].mises.reshape(len(body.dofs), -1)
    mean = float(stress.mean(axis=1).max())
    return float(stress.max()) / mean if mean > 0.0 else 1.0


def pin_damage_band(joint: SolvedJoint, limit: LimitLoad) -> LimitLoad:
    """Return a pin's break with the mesh's part in its band.

    Near a collapse strain gathers in ever shorter columns: on twice as fine a mesh the damage at a
    load may be twice as large (hard demo: breaks at 18,940, 17,350 and 16,470 N at refinements of
    1/2, 1 and 2; half the damage is reached at 16,840, 16,460 and 16,510 N).
    """
    half = joint.place(joint.history.damage, 0.5 * EXHAUSTED)
    if half is None or limit.band is None:
        return limit
    early = min(joint.load_at(half), limit.load)
    low, high = limit.band
    return replace(limit, band=(min(low, early), max(high, limit.load**2 / early)))
