"""A mesh of 6-node triangles with named parts, and the ones that need no mesher."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from fejoint.arrays import Floats, Ints


@dataclass(frozen=True, eq=False)
class Mesh:
    """Curved 6-node triangles with named regions and edges.

    Attributes
    ----------
    points : (n_points, 2) array
        Node coordinates, mm.
    triangles : (n_elements, 6) array
        Corner nodes counter-clockwise, then the nodes amid sides 01, 12 and 20.
    edges : dict of str to (n_edges, 3) arrays
        Named boundary parts: start, end and middle node of every element side, in walking order.
    regions : dict of str to (k,) arrays
        Named element sets.
    """

    points: Floats
    triangles: Ints
    edges: dict[str, Ints]
    regions: dict[str, Ints] = field(default_factory=dict)

    def nodes_of(self, *edges: str) -> Ints:
        """Return the node numbers on the named edges, sorted, each once."""
        return np.unique(np.concatenate([self.edges[name].ravel() for name in edges]))

    def mirrored(self, seam: tuple[str, ...], drop: tuple[str, ...] = ()) -> Mesh:
        """Return the whole mesh made of this upper half and its image in the x axis.

        Parameters
        ----------
        seam : names of the edges on the x axis
            Their nodes are shared by both halves.
        drop : names of edges to leave out of the result
        """
        n = len(self.points)
        on_seam = np.zeros(n, bool)
        on_seam[self.nodes_of(*seam)] = True
        image = np.arange(n)
        image[~on_seam] = n + np.arange(np.count_nonzero(~on_seam))
        points = np.vstack([self.points, self.points[~on_seam] * [1.0, -1.0]])
        points[np.flatnonzero(on_seam), 1] = 0.0
        flipped = image[self.triangles][:, [0, 2, 1, 5, 4, 3]]
        edges = {
            # the image is walked backwards, so that a closed edge keeps one sense
            name: np.vstack([image[e][::-1][:, [1, 0, 2]], e])
            for name, e in self.edges.items()
            if name not in seam and name not in drop
        }
        m = len(self.triangles)
        regions = {name: np.concatenate([r, r + m]) for name, r in self.regions.items()}
        return Mesh(points, np.vstack([self.triangles, flipped]), edges, regions)


def strip(length_cuts: Floats, height_cuts: Floats) -> Mesh:
    """Mesh a rectangle with straight 6-node triangles on a grid, alternating diagonals.

    Parameters
    ----------
    length_cuts, height_cuts : (k,) arrays
        Grid lines along x and y, rising, mm.

    Returns
    -------
    Mesh
        Edges "left", "right", "bottom", "top".
    """
    nx, ny = len(length_cuts) - 1, len(height_cuts) - 1
    x = np.interp(np.arange(2 * nx + 1) / 2.0, np.arange(nx + 1), length_cuts)
    y = np.interp(np.arange(2 * ny + 1) / 2.0, np.arange(ny + 1), height_cuts)
    points = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)

    def node(i: Ints, j: Ints) -> Ints:
        return i * (2 * ny + 1) + j

    i, j = (2 * g.ravel() for g in np.meshgrid(np.arange(nx), np.arange(ny), indexing="ij"))
    corner = {(p, q): node(i + p, j + q) for p in range(3) for q in range(3)}
    rising = [
        [(0, 0), (2, 0), (2, 2), (1, 0), (2, 1), (1, 1)],
        [(0, 0), (2, 2), (0, 2), (1, 1), (1, 2), (0, 1)],
    ]
    falling = [
        [(0, 0), (2, 0), (0, 2), (1, 0), (1, 1), (0, 1)],
        [(2, 0), (2, 2), (0, 2), (2, 1), (1, 2), (1, 1)],
    ]
    odd = ((i + j) // 2) % 2 == 1
    triangles = np.vstack(
        [
            np.where(odd[:, None], *(np.stack([corner[k] for k in t], axis=1) for t in pair))
            for pair in zip(falling, rising, strict=True)
        ]
    )
    along, up = 2 * np.arange(nx), 2 * np.arange(ny)
    last_x, last_y = np.full(ny, 2 * nx), np.full(nx, 2 * ny)
    zero_x, zero_y = np.zeros(ny, np.intp), np.zeros(nx, np.intp)
    edges = {
        "left": np.stack([node(zero_x, up + s) for s in (0, 2, 1)], axis=1),
        "right": np.stack([node(last_x, up + s) for s in (0, 2, 1)], axis=1),
        "bottom": np.stack([node(along + s, zero_y) for s in (0, 2, 1)], axis=1),
        "top": np.stack([node(along + s, last_y) for s in (0, 2, 1)], axis=1),
    }
    return Mesh(points, triangles, edges, {"strip": np.arange(len(triangles))})


_CORNERS_AND_MIDDLES = np.array(
    [[0, 0], [1, 0], [0, 1], [0.5, 0], [0.5, 0.5], [0, 0.5], [1 / 3, 1 / 3]]
)


def jacobians(mesh: Mesh) -> Floats:
    """Jacobian determinants at the nodes and the middle of every triangle, (n_elements, 7)."""
    x, y = _CORNERS_AND_MIDDLES.T
    one = np.ones_like(x)
    by_x = np.stack(
        [4 * (x + y) - 3, 4 * x - 1, 0 * one, 4 * (1 - 2 * x - y), 4 * y, -4 * y], axis=1
    )
    by_y = np.stack(
        [4 * (x + y) - 3, 0 * one, 4 * y - 1, -4 * x, 4 * x, 4 * (1 - x - 2 * y)], axis=1
    )
    nodes = mesh.points[mesh.triangles]
    dx, dy = (np.einsum("qa,eai->eqi", d, nodes) for d in (by_x, by_y))
    return np.asarray(dx[..., 0] * dy[..., 1] - dx[..., 1] * dy[..., 0])
