"""A section at one moment of its pull, as fields at the nodes of the whole part.

What pictures, result files and the page show. A half model is made whole by its mirror image.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np

from fejoint.analysis.definitions import EARS_ALIKE, OFFSET_LOAD
from fejoint.analysis.result import Answer
from fejoint.arrays import Floats
from fejoint.kernel import load_curve
from fejoint.kernel.continuation import EquilibriumPoint
from fejoint.kernel.elements import Solid
from fejoint.kernel.kinematics import MetalState
from fejoint.meshing.mesh import Mesh
from fejoint.sections.axial.pull import AxialHistory
from fejoint.sections.face.pull import FaceHistory, FaceProblem
from fejoint.sections.nodal_fields import at_nodes
from fejoint.sections.observers import Ductility

FIELDS = ("von_mises", "plastic_strain", "damage", "thickness_ratio")
"""Scalar fields of a snapshot."""


@dataclass(frozen=True, eq=False)
class Snapshot:
    """Fields on a whole section, face or axial, at one moment.

    Attributes
    ----------
    moment : str
        "offset load", "end", or another name for people.
    load : float
        On this part, N.
    elongation : float
        Of the hole, mm; 0 in an axial section.
    mesh : Mesh
        Whole part at rest; regions "ear" and, with a meshed pin, "pin"; of an axial section
        "strip".
    displacement : (n, 2) array
        Of the nodes, mm.
    von_mises : (n,) array
        Equivalent true stress, MPa.
    plastic_strain : (n,) array
        Equivalent plastic strain.
    damage : (n,) array
        Share of the ductility used, averaged over a disc as wide as the sheet is thick.
    thickness_ratio : (n,) array
        Thickness over that at rest.
    pin_circle : (float, float, float) or None
        Centre and radius of a rigid pin, mm.
    pull, borne : float or None
        Pull on the joint, and what the plate bears of it, N; None where the joint was not solved.
    """

    moment: str
    load: float
    elongation: float
    mesh: Mesh
    displacement: Floats
    von_mises: Floats
    plastic_strain: Floats
    damage: Floats
    thickness_ratio: Floats
    pin_circle: tuple[float, float, float] | None = None
    pull: float | None = None
    borne: float | None = None

    @property
    def deformed(self) -> Floats:
        """Positions of the nodes now, (n, 2), mm."""
        return np.asarray(self.mesh.points + self.displacement)


def of_part(answer: Answer, name: str) -> tuple[Snapshot, ...]:
    """Return a plate's snapshots: at its offset load in the joint, where reached, and at the end.

    Parameters
    ----------
    answer : Answer
        With its solved sections.
    name : str
        A key of `answer.faces`.

    Notes
    -----
    A plate is solved by itself, with the same bearing all through its thickness. It is shown with
    its hole as much longer as the joint's is on the mean; what it bears by itself then is not
    what it bears in the joint, where it bears unevenly.
    """
    if name not in answer.plates:
        return moments(answer.faces[name])
    # along a path the pull may end let go, where a plate's own fields are not known
    grown, last = answer.plates[name].hole_elongation, len(answer.trace.load) - 1
    end = float(np.argmax(grown) if answer.path else last)
    found, offset = [], offset_index(answer, name)
    if offset is not None and offset < end:
        found.append(in_joint(answer, name, offset, "offset load"))
    moment = "end" if end == last else "where its hole is longest"
    return (*found, in_joint(answer, name, end, moment))


def offset_index(answer: Answer, name: str) -> float | None:
    """Return the fractional index of the joint's path at a plate's offset load, or None."""
    members = (name, "ear 1", "ear 2", EARS_ALIKE) if name == "ear" else (name,)
    limits = (x for row in answer.verdict.order for x in (row.first, *row.later))
    loads = (x.load for x in limits if x.cause == OFFSET_LOAD and x.member in members)
    load = next(loads, None)
    return None if load is None else load_curve.first_reach(answer.trace.load, load)


def in_joint(answer: Answer, name: str, index: float, moment: str) -> Snapshot:
    """Return a plate's snapshot at a fractional index of the joint's path."""
    own = answer.plates[name]
    shot = at(answer.faces[name], face_index(answer, name, index), moment)
    return replace(
        shot,
        pull=load_curve.at_index(answer.trace.load, index),
        borne=load_curve.at_index(own.load, index),
    )


def face_index(answer: Answer, name: str, index: float) -> float:
    """Return where on its own path a plate's hole is as long as at an index of the joint's."""
    face = answer.faces[name].elongation
    grown = load_curve.at_index(answer.plates[name].hole_elongation, index)
    found = load_curve.first_reach(face, grown)
    return len(face) - 1.0 if found is None else found


def moments(history: FaceHistory) -> tuple[Snapshot, ...]:
    """Return a plate's own snapshots: at its offset load, where it was reached, and at its end."""
    found = []
    last = len(history.load) - 1.0
    offset = history.offset
    if offset is not None:
        index = load_curve.first_reach(history.elongation, offset.elongation)
        if index is not None and index < last:
            found.append(at(history, index, "offset load"))
    return (*found, at(history, last, "end"))


def at(history: FaceHistory, index: float, moment: str) -> Snapshot:
    """Return the fields at a fractional index of the path, linear between its points.

    Parameters
    ----------
    history : FaceHistory
    index : float
        0 is the part at rest.
    moment : str
        Its name.

    Returns
    -------
    Snapshot
    """
    problem = history.problem
    z, scalars = _mixed(history, index)
    n = len(problem.mesh.points)
    mesh, displacement, scalars = _whole(problem, z[: 2 * n].reshape(n, 2), scalars)
    circle = None
    if problem.case.pin_metal is None:
        middle = 0.5 * problem.case.clearance * problem.direction + z[-2:]
        circle = (float(middle[0]), float(middle[1]), 0.5 * problem.case.pin_diameter)
    return Snapshot(
        moment,
        load_curve.at_index(history.load, index),
        load_curve.at_index(history.elongation, index),
        mesh,
        displacement,
        pin_circle=circle,
        **cast("dict[str, Any]", scalars),
    )


def pin_at(history: AxialHistory, index: float, moment: str) -> Snapshot:
    """Return the pin's fields in the axial section at a fractional index of its path."""
    mesh = history.problem.mesh
    z, scalars = _mixed(history, index)
    n = len(mesh.points)
    load = load_curve.at_index(history.load, index)
    fields = cast("dict[str, Any]", scalars)
    return Snapshot(moment, load, 0.0, mesh, z[: 2 * n].reshape(n, 2), **fields)


def _mixed(history: FaceHistory | AxialHistory, index: float) -> tuple[Floats, dict[str, Floats]]:
    """Unknowns and nodal fields between two points of a path."""
    points = history.path.points
    k = min(int(index), len(points) - 1)
    share = index - k
    if share < 1e-9 or k + 1 == len(points):
        parts = [(points[k], 1.0)]
    else:
        parts = [(points[k], 1.0 - share), (points[k + 1], share)]
    z = np.sum([weight * p.z for p, weight in parts], axis=0)
    scalars = {
        name: np.sum([weight * _nodal(history, p, name) for p, weight in parts], axis=0)
        for name in FIELDS
    }
    return z, scalars


def _nodal(history: FaceHistory | AxialHistory, point: EquilibriumPoint, name: str) -> Floats:
    """One field of one point of the path at the nodes, body by body."""
    n_nodes = len(history.problem.mesh.points)
    total = np.zeros(n_nodes)
    for place, term in enumerate(history.problem.system.terms):
        if not isinstance(term, Solid):
            continue
        state: MetalState = point.states[place]
        own = at_nodes(term, _values(history.ductility, point, place, term, state, name), n_nodes)
        total = np.where(np.isnan(own), total, own)
    return total if name == "thickness_ratio" else np.maximum(total, 0.0)


def _values(
    ductility: Ductility | None,
    point: EquilibriumPoint,
    place: int,
    solid: Solid,
    state: MetalState,
    name: str,
) -> Floats:
    metal = solid.metal
    if name == "von_mises":
        if not solid.large_strain:
            return state.mises
        # the kernel keeps the Kirchhoff stress, J times the true one; only elastic strain has J
        volume = np.exp((1.0 - 2.0 * metal.poisson) / metal.modulus * state.stress[:2].sum(axis=0))
        return np.asarray(state.mises / volume)
    if name == "plastic_strain":
        return state.equivalent
    if name == "damage":
        if ductility is None or place != ductility.term:
            return np.zeros_like(state.equivalent)
        return ductility.average(ductility.damage(point))
    return _thickness_ratio(solid, state)


def _thickness_ratio(solid: Solid, state: MetalState) -> Floats:
    """Thickness over that at rest: elastic part by Hooke, plastic part by constant volume."""
    metal = solid.metal
    elastic = -metal.poisson / metal.modulus * state.stress[:2].sum(axis=0)
    xx, yy, xy = state.inverse_plastic_metric
    if solid.large_strain:
        return np.asarray(np.exp(elastic + 0.5 * np.log(xx * yy - xy * xy)))
    return np.asarray(1.0 + elastic + 0.5 * (xx + yy - 2.0))


def _whole(
    problem: FaceProblem, displacement: Floats, scalars: dict[str, Floats]
) -> tuple[Mesh, Floats, dict[str, Floats]]:
    """Mirror a half model's mesh and fields."""
    mesh = problem.mesh
    if not problem.half:
        return mesh, displacement, scalars
    seam = tuple(name for name in ("neck", "tip", "pin axis") if name in mesh.edges)
    off_seam = np.ones(len(mesh.points), bool)
    off_seam[mesh.nodes_of(*seam)] = False

    def both(values: Any, sign: Any) -> Floats:
        return np.concatenate([values, sign * values[off_seam]])

    return (
        mesh.mirrored(seam),
        both(displacement, np.array([1.0, -1.0])),
        {name: both(values, 1.0) for name, values in scalars.items()},
    )
