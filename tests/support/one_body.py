"""Small bodies for the kernel's tests: distorted patches, bars, and their finite differences."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from itertools import pairwise

import numpy as np
from scipy.sparse import coo_array

from fejoint.arrays import Floats, Ints
from fejoint.kernel.assembly import Response, SparsityChanged, System
from fejoint.kernel.elements import Quadrature, Solid
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.mesh import Mesh, jacobians, strip

STEEL = (200e3, 0.3)


def distorted_patch(seed: int = 4) -> Mesh:
    """Four by three cells whose inner nodes are shifted and whose sides are curved."""
    mesh = strip(np.linspace(0.0, 4.0, 5), np.linspace(0.0, 3.0, 4))
    shift = np.random.default_rng(seed).uniform(-0.08, 0.08, mesh.points.shape)
    patch = Mesh(mesh.points + shift, mesh.triangles, mesh.edges, mesh.regions)
    assert jacobians(patch).min() > 0.0
    return patch


def solid(mesh: Mesh, metal: Metal, *, large: bool = True, thickness: float = 1.0) -> Solid:
    dofs = (2 * mesh.triangles[:, :, None] + np.arange(2)).reshape(-1, 12)
    return Solid(metal, dofs, Quadrature.of(mesh.points, mesh.triangles), thickness, large)


def affine(mesh: Mesh, gradient: Floats) -> Floats:
    """Nodal displacements of the homogeneous deformation with this displacement gradient."""
    return (mesh.points @ np.asarray(gradient, float).T).reshape(-1)


def boundary_dofs(mesh: Mesh) -> Ints:
    nodes = mesh.nodes_of(*mesh.edges)
    return np.concatenate([2 * nodes, 2 * nodes + 1])


def forces(term, z: Floats, state=None) -> Floats:
    r = term.evaluate(z, term.initial_state() if state is None else state)
    return np.bincount(r.dofs, r.forces, len(z))


def stiffness(term, z: Floats, state=None) -> Floats:
    """Dense tangent of a term."""
    entries = made(term.evaluate(z, term.initial_state() if state is None else state))
    rows, columns = (np.concatenate(x) for x in zip(*term.blocks(), strict=True))
    return coo_array((entries, (rows, columns)), shape=(len(z), len(z))).toarray()


def made(response: Response) -> Floats:
    """Tangent entries of a term that may have to take in more places first."""
    with suppress(SparsityChanged):
        return response.tangent()
    return response.tangent()


def tangent_errors(
    term, z: Floats, state, steps: tuple[float, ...], seed: int = 0, active=None
) -> list[float]:
    """Relative error of the tangent against central differences along one random direction."""
    way = np.random.default_rng(seed).normal(size=len(z))
    if active is not None:
        way = np.where(np.isin(np.arange(len(z)), active), way, 0.0)
    exact = stiffness(term, z, state) @ way
    return [
        float(
            np.linalg.norm(
                (forces(term, z + h * way, state) - forces(term, z - h * way, state)) / (2 * h)
                - exact
            )
            / np.linalg.norm(exact)
        )
        for h in steps
    ]


def assert_second_order(errors: list[float], ratio: float, floor: float = 1e-8) -> None:
    """The error falls with the square of the step (each `ratio` of the last) down to the floor."""
    assert errors[-1] < floor, errors
    for coarse, fine in pairwise(errors):
        if fine > 5.0 * floor:
            assert fine < 2.5 * ratio**2 * coarse, errors


def bar(metal: Metal, *, large: bool = True, length: float = 2.0) -> tuple[System, float]:
    """A bar of unit section, drawn at its right end; its length."""
    mesh = strip(np.array([0.0, length]), np.array([0.0, 1.0]))
    body = solid(mesh, metal, large=large)
    drive, rigid = np.zeros(2 * len(mesh.points)), np.zeros(2 * len(mesh.points))
    start, end, middle = mesh.edges["right"][0]
    drive[[2 * start, 2 * end, 2 * middle]] = 1 / 6, 1 / 6, 4 / 6
    rigid[0::2] = mesh.points[:, 0] / length
    fixed = np.concatenate([2 * mesh.nodes_of("left"), 2 * mesh.nodes_of("bottom") + 1])
    return System(len(drive), [body], drive, rigid, np.unique(fixed)), length


def bar_curve(law: Callable, modulus: float, plastic: Floats) -> tuple[Floats, Floats]:
    """Closed form of a bar whose law gives Kirchhoff stress: elongation ratio, load per area.

    With tau = F stretch / A0: F/A0 = law(p) exp(-(p + law(p)/E)).
    """
    strain = plastic + law(plastic) / modulus
    return np.expm1(strain), law(plastic) * np.exp(-strain)
