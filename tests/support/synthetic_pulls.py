"""Synthetic logs that run to the load maximum and break, of joints like the demo's: invented data.

The curves in demo_curves.npz are 66 pulls of cases/demo/hard-pin.toml with other laws of the ear
and other frictions, solved at a refinement of 0.35. Between them they are interpolated: a fit of
one of these joints shares its model with the truth, and costs no solves.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.interpolate import PchipInterpolator, RBFInterpolator

from fejoint.measured import comparison, rig_compliance
from fejoint.measured.blank_pull import Blank, read
from fejoint.measured.calibration_result import Prior, Pulled
from fejoint.measured.log_record import Log
from fejoint.measured.rig_compliance import Curve
from support import ROOT

NAMES = ("rp02", "rm", "uniform_strain", "friction")
START = (290.0, 620.0, 0.45, 0.15)
PRIORS = (
    Prior("rp02", "MPa", 290.0, 0.3, 116.0, 725.0),
    Prior("rm", "MPa", 620.0, 0.2, 310.0, 1240.0),
    Prior("uniform_strain", "", 0.45, 0.3, 0.14, 1.1),
    Prior("friction", "", 0.15, 0.1, 0.0, 0.6, logarithmic=False),
)
_GRID = np.linspace(0.0, 1.0, 140) ** 2


def inward(values):
    return np.array([p.inward(v) for p, v in zip(PRIORS, values, strict=True)])


@cache
def _family():
    data = np.load(ROOT / "tests/measured/demo_curves.npz")
    places = np.array([inward(p) for p in data["parameters"]])
    middle, width = places.mean(axis=0), places.std(axis=0)
    shapes, ends = [], []
    for load, extension in zip(data["load"], data["extension"], strict=True):
        keep = np.isfinite(load)
        f, x = load[keep].astype(float), extension[keep].astype(float)
        rising = np.concatenate([[True], np.diff(np.maximum.accumulate(x)) > 0.0])
        f, x = f[rising], x[rising]
        ends.append(x[int(np.argmax(f))])
        reach = np.minimum(6.4 * _GRID[1:], x[-1])
        slope = max((f[-1] - f[-2]) / (x[-1] - x[-2]), 0.0)
        shapes.append(
            np.log(PchipInterpolator(x, f)(reach) + slope * np.maximum(6.4 * _GRID[1:] - x[-1], 0))
        )
    of_shape = RBFInterpolator((places - middle) / width, np.array(shapes), degree=2)
    of_end = RBFInterpolator((places - middle) / width, np.log(ends)[:, None], degree=2)
    return of_shape, of_end, middle, width


def solve(at, reach=None):
    """Return the curve of parameters in the priors' coordinates, to its maximum or a reach."""
    of_shape, of_end, middle, width = _family()
    z = ((np.asarray(at) - middle) / width)[None, :]
    end = float(np.exp(of_end(z)[0, 0])) if reach is None else reach
    load = PchipInterpolator(6.4 * _GRID, np.concatenate([[0.0], np.exp(of_shape(z)[0])]))
    extension = end * _GRID
    return Curve(load(extension), extension)


def linear(load, stiffness=9000.0):
    return load / stiffness


def stiffening(load, soft=1500.0, hard=4800.0, turn=2500.0):
    """Travel of a grip with rubber: its stiffness rises from `soft` to `hard`, N/mm."""
    return load / hard + (1.0 / soft - 1.0 / hard) * turn * (1.0 - np.exp(-load / turn))


def broken_pull(curve, rig, rng, *, slack=0.3, noise=1e-3, rows=1200, sample=1.0):
    """Return force and travel of a pull to the maximum and its break."""
    load = sample * curve.load
    at = slack + rig(load) + curve.extension
    travel = np.linspace(0.0, at[-1], rows)
    force = np.interp(travel, at, load, left=0.0)
    after = at[-1] + np.linspace(0.01, 0.4, 25)
    travel, force = np.concatenate([travel, after]), np.concatenate([force, np.zeros(25)])
    return force + rng.normal(0.0, noise * load.max(), len(force)), travel


def as_log(force, travel, name="log"):
    top = float(force.max())
    return Log(name, "curve", force, travel, None, top, len(force), (), ())


def blank(rig, rng, most, noise=1e-3):
    """Return the blank pull of a rig: a stiff bar, which gives nothing."""
    load = np.linspace(0.0, 1.1 * most, 1500)
    return read(as_log(load + rng.normal(0.0, noise * most, 1500), 0.2 + rig(load), "blank"))


def pulled(force, travel, name, of_rig: Blank | None = None):
    """Prepare a log for the fit as `evaluate` does."""
    from fejoint.measured.blank_pull import taken_out

    log = as_log(force, travel, name)
    known = None
    if of_rig is not None:
        log, known = taken_out(log, of_rig), (of_rig.compliance_sd, of_rig.name)
    predicted = solve(inward(START))
    scale = comparison.offset_of(predicted, 0.082).load
    rig = rig_compliance.find(log.force, log.travel, predicted, scale, blank=known)
    return Pulled(name, log.force - rig.zero, travel, rig, of_rig)


def a_truth(rng):
    """Draw a law and friction within the solved ones."""
    return np.array(
        [
            290.0 * np.exp(np.clip(rng.normal(0.0, 0.10), -0.2, 0.2)),
            620.0 * np.exp(np.clip(rng.normal(0.0, 0.04), -0.08, 0.08)),
            0.45 * np.exp(np.clip(rng.normal(0.0, 0.10), -0.2, 0.2)),
            float(np.clip(rng.normal(0.17, 0.05), 0.06, 0.30)),
        ]
    )
