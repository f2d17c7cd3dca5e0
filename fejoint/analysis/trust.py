"""How well the sections of a joint were solved: mesh, equilibrium, energy, penetration."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fejoint.analysis.result import Trust
from fejoint.analysis.section_cases import PlateInJoint
from fejoint.kernel.elements import Solid
from fejoint.kernel.stop_reason import Stop
from fejoint.sections.axial.pull import AxialHistory
from fejoint.sections.face import pull as face
from fejoint.sections.face.pull import FaceHistory
from fejoint.sections.nodal_fields import energy_error


def energy_balance(history: FaceHistory) -> float:
    """Return the energy that a pulled face section cannot account for, over the work put in.

    External work by the trapezoid rule, less the energy stored (elastic and contact), the plastic
    work as the integral of the yield stress, and friction's heat: each computed on its own.
    """
    points = history.path.points
    load, travel = (np.array([getattr(p, k) for p in points]) for k in ("load", "travel"))
    work = float(np.trapezoid(load, travel))
    end = points[-1]
    plastic = 0.0
    for term, state in zip(history.problem.system.terms, end.states, strict=True):
        if isinstance(term, Solid) and term.metal.hardening is not None:
            density = term.metal.hardening.plastic_work(state.equivalent)
            plastic += float(density @ term.volumes.ravel())
    return (work - end.stored - plastic - end.lost) / work if work > 0.0 else 0.0


def trust_in(members: Sequence[PlateInJoint], ear: int, history: AxialHistory, stop: Stop) -> Trust:
    """Return what an answer says of itself.

    Parameters
    ----------
    members : sequence of PlateInJoint
        Along the pin.
    ear : int
        Place of the weaker one.
    history : AxialHistory
    stop : Stop
        The end of the joint's pull.
    """
    faces = list({id(m): m.history for m in members}.values())
    weak = members[ear].history
    offset = weak.offset
    point = weak.path.points[weak.point_at_load(offset.load) if offset else -1]
    plate = weak.problem.system.terms[face.PLATE]
    assert isinstance(plate, Solid)
    paths = [h.path for h in faces] + [history.path]
    # a plate's curve that broke off where the joint never came takes nothing from the answer
    return Trust(
        energy_error(plate, point.states[face.PLATE].stress, len(weak.problem.mesh.points)),
        max(max(p.residual for path in paths for p in path.points), history.imbalance()),
        max((energy_balance(h) for h in faces), key=abs),
        max(h.problem.penetration(h.path.points[-1]) / h.problem.case.outline.hole for h in faces),
        stop if stop.finished else stop.root,
    )
