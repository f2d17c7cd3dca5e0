"""What the trade says of a hard pin of 2.4 mm: no source, so a range is tried and printed."""

from __future__ import annotations

import itertools
import math

from fejoint.analysis.pull import pull
from fejoint.analysis.section_cases import PullSettings
from fejoint.inputs.units import KGF
from fejoint.joint import model
from fejoint.joint.edit import changed
from fejoint.joint.model import Joint
from fejoint.kernel.load_curve import first_reach
from fejoint.sections.axial import pull as axial
from fejoint.validation.reference_case import ReferenceCase

PROOF = 200.0 * KGF
"""The fact's pull, N."""
STRENGTHS = ("205 MPa", "300 MPa")
GEOMETRIES = (
    {"ear.width": "8 mm", "ear.edge_distance": "3 mm"},
    {"ear.width": "14 mm", "ear.edge_distance": "6 mm"},
)
"""Weakest and strongest of what the fact leaves open."""


def trade_fact(case: ReferenceCase) -> dict[str, float]:
    """Pull the ends of the range, the middle, and the middle with a soft pin."""
    loads = []
    for strength, geometry in itertools.product(STRENGTHS, GEOMETRIES):
        table = changed(case.given, "material.316 strip of the trade.rp02", strength)
        for path, value in geometry.items():
            table = changed(table, path, value)
        loads.append(_offset_load(model.read(table)))
    hard = pull(model.read(case.given))
    sheared = hard.pin.get("shear_load_N")
    soft = model.read(changed(case.given, "pin.material", "soft wire"))
    return {
        "least offset load over the range": min(loads),
        "greatest offset load over the range": max(loads),
        # a pin that has not sheared by the joint's greatest load shears at more
        "shear load of the hard pin": (
            float(sheared) if isinstance(sheared, float) else float(hard.trace.load.max())
        ),
        "permanent bend of the soft pin over its grip": kept_bend(soft, PROOF) / soft.grip,
    }


def _offset_load(joint: Joint) -> float:
    found = next(e for e in pull(joint).events if e.name == "offset load")
    return found.load if found.load is not None else math.nan


def kept_bend(joint: Joint, load: float) -> float:
    """Bend that the pin keeps after a pull to a load, mm; NaN if the joint does not bear it."""
    history = pull(joint).axial
    assert history is not None
    index = first_reach(history.load, load)
    if index is None or index < 1.0:
        return math.nan
    bends = []
    for place in (math.floor(index), math.ceil(index)):
        let_go = axial.release(history, place, PullSettings().axial(joint))
        bends.append(math.nan if let_go is None else history.problem.bend(let_go)[0])
    share = index - math.floor(index)
    return bends[0] + share * (bends[1] - bends[0])
