"""A round bar as the axial section sees it, bent and sheared on its own: no bearing, no joint.

The strip of chord thickness is the axial section's; here its ends are held plane, so that moment
and shear against curvature and slope can be compared with the closed forms of a round bar.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fejoint.arrays import Floats
from fejoint.kernel.assembly import System
from fejoint.kernel.contact import SecondaryEdge
from fejoint.kernel.elements import Quadrature, Solid
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.mesh import Mesh, strip
from fejoint.reference_models.tractions import trace_travels, traction_vector
from fejoint.sections.axial.case import ROWS


@dataclass(frozen=True, eq=False)
class _Bar:
    mesh: Mesh
    solid: Solid
    length: float


def _bar(diameter: float, metal: Metal, length: float, rows: int) -> _Bar:
    r = 0.5 * diameter
    columns = max(4, round(length / diameter * 8))
    heights = r * np.sin(np.linspace(-0.5, 0.5, rows + 1) * np.pi)
    mesh = strip(np.linspace(0.0, length, columns + 1), heights)
    quadrature = Quadrature.of(mesh.points, mesh.triangles)
    chord = 2.0 * np.sqrt(np.maximum(r * r - quadrature.points[..., 1] ** 2, 0.0))
    dofs = (2 * mesh.triangles[:, :, None] + np.arange(2)).reshape(len(mesh.triangles), 12)
    return _Bar(mesh, Solid(metal, dofs, quadrature, chord, large_strain=False), length)


def bending_moments(
    diameter: float, metal: Metal, curvatures: Sequence[float], rows: int = ROWS
) -> Floats:
    """Bend a bar to rising curvatures and return its moments, small strain.

    Parameters
    ----------
    diameter : float
        mm.
    metal : Metal
    curvatures : sequence of float
        1/mm.
    rows : int
        Element rows over the height.

    Returns
    -------
    (n,) array
        N mm.
    """
    bar = _bar(diameter, metal, diameter, rows)
    points, n = bar.mesh.points, 2 * len(bar.mesh.points)
    right = bar.mesh.nodes_of("right")
    top = right[np.argmax(points[right, 1])]
    drive = np.zeros(n)
    drive[2 * top] = -1.0 / points[top, 1]
    guides = []
    for node in right[right != top]:
        # the end stays plane: u = -turn y
        plane = np.zeros(n)
        plane[2 * node] = 1.0 / diameter
        plane[2 * top] = -points[node, 1] / points[top, 1] / diameter
        guides.append(plane)
    left = bar.mesh.nodes_of("left")
    axis = left[np.argmin(np.abs(points[left, 1]))]
    fixed = np.concatenate([2 * left, [2 * axis + 1]])
    rigid = np.zeros(n)
    rigid[0::2] = -points[:, 1] * points[:, 0] / bar.length
    system = System(n, [bar.solid], drive, rigid, fixed, guides)
    return trace_travels(system, [k * bar.length for k in curvatures])


def shear_slope(
    diameter: float, metal: Metal, lengths: tuple[float, float], rows: int = ROWS
) -> float:
    """Return the shear stiffness of an elastic bar, N per radian.

    Two bars of different length are sheared between ends that do not turn; the difference of their
    deflections leaves the ends out, and the bending part is taken off by the bar's own stiffness.
    """
    give = [_guided_give(_bar(diameter, metal, length, rows)) for length in lengths]
    small = 1e-6 / diameter
    bending = float(bending_moments(diameter, metal, [small], rows)[0]) / small
    short, long = lengths
    bent = (long**3 - short**3) / (12.0 * bending)
    return (long - short) / (give[1] - give[0] - bent)


def _guided_give(bar: _Bar) -> float:
    """Deflection per shear force of a bar between ends that do not turn, mm/N."""
    left, right = bar.mesh.nodes_of("left"), bar.mesh.nodes_of("right")
    n = 2 * len(bar.mesh.points)
    drive, held = (_shear_flow(bar.mesh, name) for name in ("right", "left"))
    rigid = np.zeros(n)
    rigid[1::2] = bar.mesh.points[:, 0] / bar.length
    fixed = np.concatenate([2 * left, 2 * right])
    system = System(n, [bar.solid], drive, rigid, fixed, [held])
    unit = 1e-6 * bar.length
    return unit / float(trace_travels(system, [unit])[0])


def _shear_flow(mesh: Mesh, edge: str) -> Floats:
    """Nodal share of a unit shear force on an end, spread as V Q / I over a round section."""
    r = mesh.points[:, 1].max()
    y = SecondaryEdge.of(mesh.points, mesh.edges[edge], 1.0).points[..., 1]
    flow = np.maximum(r * r - y * y, 0.0) ** 1.5
    nodal = traction_vector(
        mesh.points, mesh.edges[edge], 1.0, np.stack([np.zeros_like(flow), flow], axis=-1)
    )
    return np.asarray(nodal / nodal.sum())
