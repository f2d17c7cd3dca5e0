"""What friction and the curve's shape do to a plate's loads: ratios of coarse solves."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from fejoint.joint.parts import Ear, Shank
from fejoint.kernel.plasticity import Metal
from fejoint.materials import hardening_laws as laws
from fejoint.sections.face import pull as face
from fejoint.sections.face.pull import FaceCase, FaceHistory

FRICTION = (0.0, 0.3)
"""Range of friction in a hole: greased to dry and rough; each value is as likely as another."""
SIDES, PACE = 16, 4.0
"""The coarse plates: ratios of their loads agree with everyday ones within 0.5 %."""
BEYOND = 1.12
"""Load up to which a coarse plate is pulled, over its offset load: friction moves it by less."""


@dataclass(frozen=True)
class Ratios:
    """What friction and the curve's shape do to a plate's loads, as logarithms of their ratios.

    Attributes
    ----------
    friction : tuple of float
        The values solved, the joint's own among them.
    offset, top : tuple of float
        ln(load/own) at each: of the offset load, and of the highest (zeros where not asked).
    shape : str
        The other family of curves that passes through the metal's points; "" without one.
    shape_offset, shape_top : float
        ln(load/own) with it.
    """

    friction: tuple[float, ...]
    offset: tuple[float, ...]
    top: tuple[float, ...]
    shape: str = ""
    shape_offset: float = 0.0
    shape_top: float = 0.0


def plate_ratios(
    part: Ear | Shank, history: FaceHistory, top: bool, ends: tuple[float, float] = FRICTION
) -> Ratios:
    """Solve a plate coarsely over the range of friction and with the other shape of its curve.

    Parameters
    ----------
    part : Ear or Shank
    history : FaceHistory
        The plate as the answer solved it.
    top : bool
        Pull on to the highest load; to the offset load only without.
    ends : (float, float)
        Range of friction, the plate's own within it.
    """
    case, offset = history.problem.case, history.offset
    stop = BEYOND * offset.load if offset is not None and not top else None
    friction = tuple(sorted({ends[0], case.friction, ends[1]}))
    loads = {f: _loads(replace(case, friction=f), stop) for f in friction}
    own = loads[case.friction]

    def against(found: tuple[float, float], which: int) -> float:
        ratio = found[which] / own[which]
        return math.log(ratio) if 0.0 < ratio < math.inf else 0.0

    offsets = tuple(against(loads[f], 0) for f in friction)
    tops = tuple(against(loads[f], 1) if top else 0.0 for f in friction)
    shape, metal = _other_shape(part)
    if metal is None:
        return Ratios(friction, offsets, tops)
    other = _loads(replace(case, metal=metal), stop)
    at_top = against(other, 1) if top else 0.0
    return Ratios(friction, offsets, tops, shape, against(other, 0), at_top)


def _loads(case: FaceCase, stop: float | None) -> tuple[float, float]:
    """Return a coarse plate's offset load (NaN where it has none) and its highest load, N."""
    settings = face.FaceSettings(sides=SIDES, pace=PACE, stop_load=stop)
    found = face.pull(face.build(case, settings), settings)
    if found.offset is None and stop is not None:  # friction moved it beyond the stop
        return _loads(case, None)
    offset = math.nan if found.offset is None else found.offset.load
    return offset, float(found.load.max())


def _other_shape(part: Ear | Shank) -> tuple[str, Metal | None]:
    """Return the other family of curves through a metal's tensile points, and the metal by it."""
    metal = part.material
    law = dict(metal.law)
    if law.get("law") != "tensile":
        return "", None
    shape = "voce" if metal.shape == "swift" else "swift"
    try:
        curve, _ = laws.build(law | {"shape": shape}, metal.modulus)
    except ValueError:
        return "", None
    return shape, Metal(metal.modulus, metal.poisson, curve)
