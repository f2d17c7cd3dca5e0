"""Where a point lies in a mesh: the nodes that carry it, and their shares."""

from __future__ import annotations

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.meshing.mesh import Mesh


def on_edge(mesh: Mesh, edges: Ints, direction: Floats, origin: Floats) -> list[tuple[int, float]]:
    """Nodes and shape functions at the point of a hole's edge seen in a direction from inside."""
    angle = np.arctan2(direction[1], direction[0])
    arms = mesh.points[edges[:, :2]] - origin
    ends = np.arctan2(arms[..., 1], arms[..., 0])
    miss = np.abs((ends.ravel() - angle + np.pi) % (2.0 * np.pi) - np.pi)
    if miss.min() < 1e-9:
        return [(int(edges[:, :2].ravel()[miss.argmin()]), 1.0)]
    gap = (angle - ends[:, 0] + 1e-9) % (2.0 * np.pi)
    span = (ends[:, 1] - ends[:, 0]) % (2.0 * np.pi)
    k = int(np.argmin(np.where(gap <= span, gap, np.inf)))
    s = 2.0 * gap[k] / span[k] - 1.0
    shapes = (0.5 * s * (s - 1.0), 0.5 * s * (s + 1.0), 1.0 - s * s)
    return [(int(n), float(w)) for n, w in zip(edges[k], shapes, strict=True)]


def in_triangle(mesh: Mesh, region: str, point: Floats) -> list[tuple[int, float]]:
    """Nodes and shape functions of the region's triangle (taken straight) that holds a point."""
    triangles = mesh.triangles[mesh.regions[region]]
    a, b, c = (mesh.points[triangles[:, k]] for k in range(3))
    u, v, w = b - a, c - a, point - a
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    s = (w[:, 0] * v[:, 1] - w[:, 1] * v[:, 0]) / area
    t = (u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0]) / area
    k = int(np.argmax(np.minimum(np.minimum(s, t), 1.0 - s - t)))
    x, y = s[k], t[k]
    z = 1.0 - x - y
    shapes = (z * (2 * z - 1), x * (2 * x - 1), y * (2 * y - 1), 4 * z * x, 4 * x * y, 4 * y * z)
    return [(int(n), float(h)) for n, h in zip(triangles[k], shapes, strict=True)]
