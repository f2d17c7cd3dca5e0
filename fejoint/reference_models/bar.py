"""A bar in tension, past its load maximum: the tensile test that a hardening law stands for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fejoint.errors import SolveStopped
from fejoint.kernel.assembly import System
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.load_curve import maximum
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.mesh import strip
from fejoint.reference_models.tractions import body, metal_state, trace_loads, traction_vector
from fejoint.sections.observers import LoadMaximum

LENGTH, HEIGHT = 2.0, 1.0
LONGEST_STEP = 0.005
"""Strain of a step."""


@dataclass(frozen=True)
class Maximum:
    """Load maximum of a bar: engineering stress (MPa) and plastic strain there."""

    strength: float
    plastic_strain: float


def tension_bar(modulus: float, poisson: float, hardening: Hardening) -> Maximum:
    """Pull a bar of a few elements, large strain, until its load falls.

    Parameters
    ----------
    modulus, poisson : float
        E (MPa) and nu.
    hardening : Hardening

    Returns
    -------
    Maximum

    Raises
    ------
    SolveStopped
        If the load has no maximum up to a strain of 150 %.
    """
    mesh = strip(np.linspace(0.0, LENGTH, 3), np.linspace(0.0, HEIGHT, 2))
    solid = body(mesh, Metal(modulus, poisson, hardening), 1.0, True)
    pull = traction_vector(mesh.points, mesh.edges["right"], 1.0, np.array([1.0, 0.0]))
    drive = pull / HEIGHT
    rigid = np.zeros_like(drive)
    rigid[0::2] = mesh.points[:, 0] / LENGTH
    fixed = np.concatenate([2 * mesh.nodes_of("left"), 2 * mesh.nodes_of("bottom") + 1])
    system = System(len(drive), [solid], drive, rigid, np.unique(fixed))
    path = trace_loads(
        system, [], 1.5 * LENGTH, longest=LONGEST_STEP * LENGTH, observers=[LoadMaximum(0.002)]
    )
    travel = np.array([p.travel for p in path.points])
    top = maximum(np.array([p.load for p in path.points]), travel)
    if top is None:
        message = f"the bar's load has no maximum: {path.stopped_because}"
        raise SolveStopped(message)
    strains = [float(metal_state(p).equivalent.mean()) for p in path.points]
    return Maximum(top[0] / HEIGHT, float(np.interp(top[1], travel, strains)))
