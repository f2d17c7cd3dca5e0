"""A round pin on the axial section's bedding: the strip of chords is a round bar."""

from __future__ import annotations

import numpy as np
import pytest

from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal
from fejoint.sections.axial.case import AxialCase, AxialSettings, Plate
from fejoint.sections.axial.problem import build as build_strip
from fejoint.sections.axial.pull import pull as pull_strip
from fejoint.sections.axial.pull import release as release_strip
from fejoint.sections.face.bearing_law import BearingLaw
from fejoint.sections.solid import round_pin

EAR, SHANK = BearingLaw.linear(80e3, 0.0), BearingLaw.linear(150e3, 0.0)
ELASTIC = Metal(200e3, 0.3, None)
PLASTIC = Metal(200e3, 0.3, Hardening.swift(500.0, 0.02, 0.15))
SETTINGS = AxialSettings(slices=0.5, longest=0.02)
SPRING = 90e3


def case_of(metal: Metal, *, single: bool = False) -> AxialCase:
    ear, shank = Plate(2.0, 0.0, EAR, SPRING), Plate(6.0, 0.5, SHANK, SPRING)
    plates = (ear, shank) if single else (ear, shank, Plate(2.0, 0.5, EAR, SPRING))
    return AxialCase(4.0, metal, plates, 1)


def both(case: AxialCase, travel: float):
    laws = [p.law for p in case.plates]
    if len(laws) == 3:
        laws[2] = laws[0]
    solid = round_pin.pull(round_pin.build(case, laws, SETTINGS, 8), [travel])
    strip = pull_strip(
        build_strip(case, SETTINGS),
        AxialSettings(slices=0.5, longest=0.02, stop_travel=travel),
    )
    return solid, strip


@pytest.mark.parametrize("single", [False, True], ids=["double", "single"])
def test_an_elastic_strip_is_a_round_bar(single):
    solid, strip = both(case_of(ELASTIC, single=single), 0.02)
    assert solid.path.finished
    assert solid.problem.quarter is not single
    assert strip.load[-1] == pytest.approx(solid.load[-1], rel=0.01)
    assert strip.moment[-1] == pytest.approx(solid.moment[-1], rel=0.01)
    # the middle line of the solid pin is flattened beside the bearing, the strip's is not
    sag = strip.problem.bend(strip.path.points[-1])[0]
    assert sag == pytest.approx(solid.sag[-1], rel=0.04)
    ends = solid.problem.moments(solid.path.points[-1])[[0, -1]]
    assert abs(ends[-1]) < 1e-9 * solid.moment[-1]
    assert abs(ends[0]) < (1e-3 if single else 1.001) * solid.moment[-1]


@pytest.mark.stress
def test_a_bent_strip_keeps_the_bend_of_a_round_bar():
    solid, strip = both(case_of(PLASTIC), 0.3)
    assert strip.load[-1] == pytest.approx(solid.load[-1], rel=0.02)
    assert strip.moment[-1] == pytest.approx(solid.moment[-1], rel=0.02)
    let_go, strip_let_go = round_pin.release(solid, -1), release_strip(strip, len(strip.load) - 1)
    assert let_go is not None
    assert strip_let_go is not None
    kept = solid.problem.bend(let_go)
    assert kept > 0.1
    assert strip.problem.bend(strip_let_go)[0] == pytest.approx(kept, rel=0.05)
    assert np.all(np.diff(solid.load) > 0.0)
