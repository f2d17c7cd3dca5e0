"""Logs as a rig would write them, invented: a curve with slack, the rig's stretch and noise."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import PchipInterpolator

from fejoint.materials.hardening_laws import through_tensile_points
from fejoint.measured.rig_compliance import Curve

TRUTH = {"rp02": 318.0, "rm": 592.0, "uniform_strain": 0.41, "friction": 0.2}
COMPLIANCE, SLACK = 1.0 / 9000.0, 0.35
REACH = 1.7
"""Extension to which the invented joints are pulled, mm: more than 25 % of the hole."""
HOLE, THICKNESS, STIFFNESS = 4.1, 4.0, 70_000.0


def cheap_curve(values, *, stiffness=STIFFNESS, scale=1.0, reach=1.5):
    """Stand in for the solve: a bearing curve in closed form from a law and a friction."""
    hardening, _ = through_tensile_points(
        193000.0, values["rp02"], values["rm"], values["uniform_strain"], "swift"
    )
    kept = np.concatenate([[0.0], np.geomspace(1e-4, reach, 70)])
    stress, _ = hardening(0.45 * kept / HOLE)
    load = scale * 1.4 * HOLE * THICKNESS * stress * (1.0 + 0.35 * values["friction"])
    extension = load / stiffness + kept
    rising = np.linspace(0.0, 0.97, 12)[1:]
    return Curve(
        np.concatenate([[0.0], rising * load[0], load]),
        np.concatenate([[0.0], rising * extension[0], extension]),
    )


def logged(curve, *, slack, compliance, noise, rows=1500, seed=1, until=None, zero=0.0):
    """Force and travel of a rig, evenly in travel."""
    rng = np.random.default_rng(seed)
    end = curve.extension[-1] if until is None else until
    shape = PchipInterpolator(curve.extension, curve.load)
    top = float(shape(end))
    fine = np.linspace(0.0, end, 4000)
    at = slack + compliance * shape(fine) + fine
    travel = np.linspace(0.0, slack + compliance * top + end, rows)
    force = np.interp(travel, at, shape(fine), left=0.0)
    return force + zero + rng.normal(0.0, noise, rows), travel


def as_csv(path, columns, head="", *, comma=False, sep=";", digits=4):
    """Write columns as a rig does."""
    rows = [sep.join(f"{x:.{digits}f}" for x in row) for row in zip(*columns, strict=True)]
    text = "\n".join(rows)
    path.write_text(head + (text.replace(".", ",") if comma else text) + "\n", encoding="utf-8")
    return path
