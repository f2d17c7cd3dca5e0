"""A plate with an open hole, no pin: the textbook's plate, pulled at its outer edges.

The hole's centre is the origin. The drive of the system is the consistent nodal vector of the
tractions on the outer edges, scaled so that the load is the greatest remote principal stress times
the gross section, N; the travel that works with it is the stretch of the plate in a simple pull. By
symmetry a quarter is meshed; stress states that mix tension and shear, and shear at large strain,
mesh the whole plate. Tractions are dead loads.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.errors import BadInput, Fault
from fejoint.handbook.plates import kirsch
from fejoint.kernel.assembly import System
from fejoint.kernel.contact import SecondaryEdge
from fejoint.kernel.elements import Solid
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.gmsh_mesher import quarter_plate
from fejoint.meshing.mesh import Mesh
from fejoint.reference_models.open_hole_result import Edge, PlateAnswer, PlateCase
from fejoint.reference_models.tractions import body, trace_loads, traction_vector

_NORMALS = {"right": (1.0, 0.0), "top": (0.0, 1.0), "left": (-1.0, 0.0), "bottom": (0.0, -1.0)}


def open_hole(
    hole: float | tuple[float, float],
    width: float,
    length: float | None = None,
    *,
    thickness: float = 1.0,
    modulus: float = 200e3,
    poisson: float = 0.3,
    hardening: Hardening | None = None,
    remote: tuple[float, float, float] = (1.0, 0.0, 0.0),
    edge: Edge = "even",
    large_strain: bool = False,
    factors: Sequence[float] = (1.0,),
    stop_stretch: float | None = None,
    sides: int = 48,
    solver: str = "fastest",
) -> PlateAnswer:
    """Pull a plate with a circular or elliptic open hole.

    Parameters
    ----------
    hole : float or (float, float)
        Diameter, or the two axes along x and y, mm.
    width : float
        Of the plate, along y, mm.
    length : float, optional
        Along x, mm; four widths without it.
    thickness : float
        mm.
    modulus, poisson : float
        E (MPa) and nu.
    hardening : Hardening, optional
        Elastic without it.
    remote : (float, float, float)
        Remote stress sxx, syy, sxy at load factor 1, MPa.
    edge : {"even", "infinite plate"}
        Even tractions on the outer edges, or those of an infinite plate with this (circular) hole.
    large_strain : bool
    factors : sequence of float
        Load factors at which to answer, in order.
    stop_stretch : float, optional
        Stretch to go on to after the last factor, mm: to a limit load.
    sides : int
        Element sides round the hole, a multiple of 4.
    solver : {"fastest", "pardiso", "superlu"}

    Returns
    -------
    PlateAnswer

    Raises
    ------
    BadInput
        If the hole does not fit the plate, or its tractions are not known.

    Examples
    --------
    >>> plate = open_hole(hole=4.0, width=80.0)
    >>> round(plate.kt, 1)
    3.0
    """
    axes = (hole, hole) if isinstance(hole, (int, float)) else hole
    length = 4.0 * width if length is None else length
    case = PlateCase(
        (0.5 * axes[0], 0.5 * axes[1]),
        width,
        length,
        thickness,
        Metal(modulus, poisson, hardening),
        remote,
        edge,
        large_strain,
    )
    _check(case)
    mesh = quarter_plate(0.5 * width, 0.5 * length, case.semi_axes, sides)
    if case.symmetry == "none":
        mesh = _whole(mesh)
    solid = body(mesh, case.metal, thickness, large_strain)
    system = _system(case, mesh, solid)
    share = 1.0 if case.symmetry == "none" else 0.25
    stop = None if stop_stretch is None else share * stop_stretch
    path = trace_loads(system, [f * case.unit_load for f in factors], stop, solver=solver)
    return PlateAnswer(case, mesh, solid, tuple(path.points), str(path.stopped_because))


def _check(case: PlateCase) -> None:
    faults = []
    for name, axis, side in (
        ("width", case.semi_axes[1], case.width),
        ("length", case.semi_axes[0], case.length),
    ):
        if not 0.0 < 2.0 * axis < side:
            allowed = f"must be more than the hole's {2.0 * axis:g} mm across it"
            faults.append(Fault(name, f"{side:g} mm", allowed, "take a wider plate"))
    if case.edge == "infinite plate" and case.semi_axes[0] != case.semi_axes[1]:
        allowed = "needs a circular hole: only its tractions are known here"
        faults.append(Fault("edge", case.edge, allowed, "take edge = even"))
    if not any(case.remote):
        faults.append(Fault("remote", "0", "must hold a stress", "give one of sxx, syy, sxy"))
    if faults:
        raise BadInput(*faults)


def _system(case: PlateCase, mesh: Mesh, solid: Solid) -> System:
    drive = np.zeros(2 * len(mesh.points))
    for name, normal in _NORMALS.items():
        if name in mesh.edges:
            where = SecondaryEdge.from_mesh(mesh.points, mesh.edges[name], case.thickness).points
            traction = _traction(case, where, normal)
            drive += traction_vector(mesh.points, mesh.edges[name], case.thickness, traction)
    drive /= case.unit_load
    if case.symmetry == "none":
        a = case.semi_axes[0]
        left, right = (_node_at(mesh, x, 0.0) for x in (-a, a))
        centred = np.zeros_like(drive)
        centred[[2 * left, 2 * right]] = 0.5
        fixed, guides = np.array([2 * left + 1, 2 * right + 1]), [centred]
    else:
        x_axis, y_axis = mesh.nodes_of("x axis"), mesh.nodes_of("y axis")
        guides = []
        if case.symmetry == "even":
            fixed = np.concatenate([2 * x_axis + 1, 2 * y_axis])
        else:
            # an odd state leaves the rotation free: one node more holds it
            hold = 2 * _node_at(mesh, case.semi_axes[0], 0.0) + 1
            fixed = np.concatenate([2 * x_axis, 2 * y_axis + 1, [hold]])
    rigid = drive / float(drive @ drive)
    return System(len(drive), [solid], drive, rigid, np.unique(fixed), guides)


def _traction(case: PlateCase, where: Floats, normal: tuple[float, float]) -> Floats:
    if case.edge == "even":
        sx, sy, sxy = (np.full(where.shape[:-1], s) for s in case.remote)
    else:
        sx, sy, sxy = kirsch(where[..., 0], where[..., 1], case.semi_axes[0], *case.remote)
    nx, ny = normal
    return np.stack([sx * nx + sxy * ny, sxy * nx + sy * ny], axis=-1)


def _whole(quarter: Mesh) -> Mesh:
    """Unfold a quadrant into the whole plate."""
    half = quarter.mirrored(("x axis",))
    turned = Mesh(half.points[:, ::-1], half.triangles[:, [0, 2, 1, 5, 4, 3]], half.edges)
    whole = turned.mirrored(("y axis",))
    back = Mesh(whole.points[:, ::-1], whole.triangles[:, [0, 2, 1, 5, 4, 3]], whole.edges)
    sides: dict[str, Ints] = {"hole": back.edges["hole"]}
    for name, axis in (("right", 0), ("top", 1)):
        edges = back.edges[name]
        high = back.points[edges[:, 2], axis] > 0.0
        sides[name], sides[{"right": "left", "top": "bottom"}[name]] = edges[high], edges[~high]
    return Mesh(back.points, back.triangles, sides)


def _node_at(mesh: Mesh, x: float, y: float) -> int:
    return int(np.argmin(np.linalg.norm(mesh.points - [x, y], axis=1)))
