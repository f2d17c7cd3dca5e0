"""A pin between heads that leans in its plates: the bearing moves along with its front."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from fejoint.kernel.continuation import StepControl
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.leaning import LeaningBedding
from fejoint.kernel.plasticity import Metal
from fejoint.sections.axial import pull as axial
from fejoint.sections.axial.case import AxialCase, AxialSettings, Plate
from fejoint.sections.axial.problem import LEANS
from fejoint.sections.face.bearing_law import BearingLaw

D = 4.0
SOFT = Metal(193e3, 0.3, Hardening.swift(240.0, 0.02, 0.3))


@lru_cache
def pulled(ends: str = "headed", *, whole: bool = False, large: bool = True) -> axial.AxialHistory:
    law = BearingLaw.linear(2e4, 0.1, reach=5.0)
    plates = (Plate(2.0, 0.0, law, 2e5), Plate(6.0, 0.1, law, 3e5), Plate(2.0, 0.1, law, 2e5))
    settings = AxialSettings(whole=whole, longest=0.03, stop_travel=0.3)
    case = AxialCase(D, SOFT, plates, 1, ends, large_strain=large)
    return axial.pull(axial.build(case, settings), settings)


def test_heads_let_a_pin_that_leans_carry_more():
    headed, free = pulled(), pulled("free")
    gained = headed.load[-1] / free.load[-1]
    assert 1.05 < gained < 1.5
    # before it leans nothing is gained
    assert headed.load[1] == pytest.approx(free.load[1], rel=1e-2)


def test_small_strain_knows_no_lean():
    problem = pulled(large=False).problem
    assert problem.leaning is None
    assert not any(isinstance(term, LeaningBedding) for term in problem.system.terms)


@pytest.mark.parametrize(("ends", "plates"), [("free", 3), ("held", 3), ("headed", 2)])
def test_an_ear_that_may_slide_and_single_shear_gain_nothing(ends: str, plates: int):
    case = pulled().problem.case
    assert axial.build(case).leaning is not None
    assert axial.build(replace(case, ends=ends, plates=case.plates[:plates])).leaning is None


def test_half_a_leaning_pin_answers_for_the_whole():
    half, whole = pulled(), pulled(whole=True)
    assert half.problem.system.mirror is not None
    assert whole.problem.system.mirror is None
    assert half.load[-1] == pytest.approx(whole.load[-1], rel=1e-5)
    assert half.moment[-1] == pytest.approx(whole.moment[-1], rel=1e-4)


def test_the_lever_arm_is_shorter_by_the_radius_times_the_slopes():
    history = pulled()
    problem, point = history.problem, history.path.points[-1]
    along = np.tan(problem.turns(point))
    for plate, way in ((0, 1.0), (1, -1.0)):
        bedding = problem.bedding(plate)
        assert isinstance(bedding, LeaningBedding)
        own = bedding.places < 0.5 * problem.cuts[-1]
        force = bedding.forces(point.z, point.states[1 + plate])[own]
        sections = bedding.bearing_sections(point.z)[own]
        moved = force @ (sections - bedding.places[own]) / force.sum()
        slopes = np.interp(sections, problem.middles, along)
        lean = force @ np.sin(np.arctan(slopes)) / force.sum()
        assert 0.01 * D < way * moved < LEANS * 0.5 * D
        assert moved == pytest.approx(way * 0.5 * D * lean, rel=0.05)


def test_the_axis_unknowns_are_the_columns_means():
    history = pulled()
    point = history.path.points[-1]
    axis = history.problem.leaning
    assert axis is not None
    means = history.problem.axis(point)[1]
    np.testing.assert_allclose(point.z[axis.dofs], means, atol=2e-5)
    z = point.z.copy()
    z[axis.dofs] = 0.0
    history.problem.settle_axis(z)
    np.testing.assert_allclose(z[axis.dofs], means)


def test_forces_and_moments_of_a_leaning_pin_balance():
    history = pulled(whole=True)
    assert history.imbalance() < 1e-6
    _, shear, moment = history.problem.section_forces(history.path.points[-1])
    assert abs(shear[-1]) < 1e-6 * np.abs(shear).max()
    assert abs(moment[-1]) < 1e-5 * np.abs(moment).max()
    # what crosses from ear to shank is half the load, wherever sections bear
    turn = float(history.problem.turns(history.path.points[-1]).max())
    assert np.abs(shear).max() == pytest.approx(0.5 * history.load[-1] * np.cos(turn), rel=0.01)


def test_the_energy_of_an_elastic_leaning_pin_comes_back():
    """Around a closed path the load's work is that of nothing lost."""
    law = BearingLaw.linear(2e4, np.inf, reach=5.0)
    plates = (Plate(2.0, 0.0, law, 2e5), Plate(6.0, 1.0, law, 3e5), Plate(2.0, 1.0, law, 2e5))
    settings = AxialSettings(longest=0.01)
    case = AxialCase(D, replace(SOFT, hardening=None), plates, 1, "headed")
    legs = [StepControl("travel", t) for t in (0.4, 0.05)]
    history = axial.pull(axial.build(case, settings), settings, legs)
    top = int(history.extension.argmax())
    down = np.interp(0.2, history.extension[top:][::-1], history.load[top:][::-1])
    assert down == pytest.approx(
        np.interp(0.2, history.extension[: top + 1], history.load[: top + 1]), rel=1e-3
    )
    point = history.path.points[top]
    assert history.problem.most_turned(point) > 1.0
