"""A round pin's mesh: half a disc in rings about a core, swept along the pin's axis."""

from __future__ import annotations

import itertools

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel.rigid_contact import GAUSS_AT, GAUSS_SHARE, face_shapes
from fejoint.sections.solid.grid import BrickMesh, QuadMesh, halves, joined, swept

CORE = 0.5
"""Half width of the core over the pin's radius."""
BULGE = 0.4
"""How far the core's sides bend from a square's (0) towards a circle's (1)."""
RINGS = (0.0, 0.4, 0.74, 1.0)
"""Ends of the rings between the core and the pin's surface; thin ones at the surface."""


def half_disc(radius: float, sectors: int) -> QuadMesh:
    """Mesh the half y >= 0 of a disc about the origin.

    Parameters
    ----------
    radius : float
        mm.
    sectors : int
        Element sides round the half circle, a multiple of 4.
    """
    n = sectors // 4
    u, v = np.linspace(-1.0, 1.0, 4 * n + 1), np.linspace(0.0, 1.0, 2 * n + 1)
    core = _core(u[None, :], v[:, None])
    # round the core: up its right side, along the top to the left, and down
    right, top, left = core[:, -1], core[-1, ::-1], core[::-1, 0]
    inner = radius * CORE * np.concatenate([right, top[1:], left[1:]])
    angle = np.linspace(0.0, np.pi, len(inner))
    outer = radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    share = halves(np.array(RINGS))[None, :, None]
    rings = (1.0 - share) * inner[:, None, :] + share * outer[:, None, :]
    return joined([radius * CORE * core, rings], radius)


def _core(u: Floats, v: Floats) -> Floats:
    """Places (..., 2) of the core, -1 <= u <= 1 across and 0 <= v <= 1 up, blended to a disc."""
    u, v = np.broadcast_arrays(u, v)
    far = np.maximum(np.abs(u), v)
    with np.errstate(divide="ignore", invalid="ignore"):
        steep = v >= np.abs(u)
        turn = np.where(
            steep,
            0.5 * np.pi - 0.25 * np.pi * u / v,
            np.where(u > 0, 0.25 * np.pi * v / u, np.pi + 0.25 * np.pi * v / u),
        )
    turn = np.where(far > 0.0, turn, 0.0)
    disc = np.sqrt(1.5) * far[..., None] * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    square = np.stack([u, v], axis=-1)
    return np.asarray((1.0 - BULGE) * square + BULGE * disc)


def layered(marks: Floats, fine: Floats, coarse: float, growth: float = 1.5) -> Floats:
    """Return ends of layers between marks, graded from each mark's own first side to a coarse one.

    Parameters
    ----------
    marks : (k,) array
        Places that are ends of layers, rising, mm.
    fine : (k,) array
        Layer beside every mark, mm; inf where it need not be fine.
    coarse : float
        Thickest layer, mm.
    growth : float
        Layer over the one before it.
    """
    ends = [float(marks[0])]
    for (a, b), (first, last) in zip(
        itertools.pairwise(marks), itertools.pairwise(fine), strict=True
    ):
        sides: tuple[list[float], list[float]] = ([], [])
        left = b - a
        step = [min(first, coarse), min(last, coarse)]
        while left > 0.0:
            k = int(step[1] < step[0])
            sides[k].append(step[k])
            left -= step[k]
            step[k] = min(growth * step[k], coarse)
        own = np.array(sides[0] + sides[1][::-1])
        # the last one put down sticks out: leave it off where that is nearer to what was wanted
        own *= (b - a) / own.sum()
        ends += list(a + np.cumsum(own))
        ends[-1] = float(b)
    return np.array(ends)


def shaft(radius: float, sectors: int, heights: Floats) -> tuple[BrickMesh, Ints]:
    """Mesh half a round pin along z.

    Returns
    -------
    mesh : BrickMesh
    surface : (sectors, n_layers, 8) array
        Faces of the round surface by angle from +x and by height; normals point outwards.
    """
    mesh = swept(half_disc(radius, sectors), heights)
    faces = mesh.hole
    middle = mesh.points[faces].mean(axis=1)
    angle = np.arctan2(middle[:, 1], middle[:, 0])
    order = np.lexsort((np.round(angle, 6), np.round(middle[:, 2], 6)))
    return mesh, np.swapaxes(faces[order].reshape(len(heights) - 1, sectors, 8), 0, 1).copy()


def section_means(points: Floats, bricks: Ints, heights: Floats) -> tuple[Ints, Floats]:
    """Return nodes and weights of the mean over a swept pin's sections at its layers' ends.

    Parameters
    ----------
    points : (n, 3) array
        At rest, mm.
    bricks : (m, 20) array
        Of the pin, layer by layer.
    heights : (n_layers + 1,) array
        Ends of the layers along z, mm.

    Returns
    -------
    nodes : (n_layers + 1, k) array
    weights : (k,) array
        They sum to 1.
    """
    n_layers = len(heights) - 1
    lower, upper = [0, 1, 2, 3, 8, 9, 10, 11], [4, 5, 6, 7, 12, 13, 14, 15]
    layers = bricks.reshape(n_layers, -1, 20)
    values, slopes = face_shapes(GAUSS_AT)
    t = np.einsum("gar,mai->mgri", slopes, points[layers[0][:, lower]])
    area = np.linalg.norm(np.cross(t[:, :, 0], t[:, :, 1]), axis=2)
    share = np.einsum("mg,g,ga->ma", area, GAUSS_SHARE, values)
    sections = np.concatenate([layers[:, :, lower], layers[-1:, :, upper]])
    _, first, number = np.unique(sections[0], return_index=True, return_inverse=True)
    weights = np.bincount(number.reshape(-1), share.reshape(-1))
    nodes = sections.reshape(n_layers + 1, -1)[:, first]
    return nodes, weights / weights.sum()
