"""A pin in single shear turns in its clearance, stress-free, before it bears."""

from __future__ import annotations

import numpy as np
import pytest

from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal
from fejoint.kernel.stop_reason import REQUESTED
from fejoint.sections.axial import pull as axial
from fejoint.sections.axial.case import AxialCase, AxialSettings, Plate
from fejoint.sections.axial.free_play import CLEAR, SHORT_OF_IT, free_play, turned
from fejoint.sections.axial.pull import PIN, AxialProblem
from fejoint.sections.face.bearing_law import BearingLaw

STEEL = Metal(200e3, 0.3, Hardening.linear(1000.0))
D, EAR, SHANK, GAP = 4.0, 2.0, 6.0, 0.5


def joint(
    ear: float = 0.3, shank: float = 0.6, *, shank_first: bool = False, large: bool = True,
    ends: str = "free", slices: float = 1.0,
) -> AxialProblem:  # fmt: skip
    """A pin with given clearances in an ear and a shank, GAP apart."""
    parts = [(EAR, ear), (SHANK, shank)][:: -1 if shank_first else 1]
    plates = tuple(
        Plate(thickness, GAP if k else 0.0, BearingLaw.linear(3e4, clearance))
        for k, (thickness, clearance) in enumerate(parts)
    )
    case = AxialCase(D, STEEL, plates, 0 if shank_first else 1, ends, large_strain=large)
    return axial.build(case, AxialSettings(slices=slices))


@pytest.mark.parametrize(("ear", "shank"), [(0.3, 0.6), (0.6, 0.3)])
def test_free_play_is_the_gap_times_the_steepest_turn_that_both_holes_allow(ear, shank):
    steepest = min(ear / EAR, shank / SHANK)
    errors = []
    for slices in (1.0, 4.0):
        travel, sine = free_play(joint(ear, shank, slices=slices))
        errors.append([abs(sine / steepest - 1.0), abs(travel / (GAP * steepest) - 1.0)])
    # slices bear at their middles, so the last one's half width is missing at either end
    assert np.all(np.array(errors[1]) < 0.5 * np.array(errors[0]))
    assert errors[1][0] < 0.05


@pytest.mark.parametrize("shank_first", [False, True])
@pytest.mark.parametrize("large", [False, True], ids=["small strain", "large strain"])
def test_turned_pin_is_free_of_stress_and_bears_nowhere(shank_first, large):
    problem = joint(shank_first=shank_first, large=large)
    whole, sine = free_play(problem)
    assert (sine < 0.0) == shank_first
    point = turned(problem)
    assert point.travel == pytest.approx(SHORT_OF_IT * whole)
    assert point.states[PIN].mises.max() < 1e-6
    for k, plate in enumerate(problem.case.plates):
        travels = problem.slice_travels(point, k)
        assert np.all(travels < 0.0)
        assert np.all(travels > -plate.law.clearance)
        np.testing.assert_array_equal(problem.slice_forces(point, k), 0.0)
        # the inner face is all but touched
        assert travels.max() == pytest.approx(-CLEAR * point.travel, rel=1e-3)


def test_pin_bears_where_the_free_play_ends():
    problem = joint()
    whole, _ = free_play(problem)
    history = axial.pull(problem, AxialSettings(longest=0.05 * whole, stop_travel=1.3 * whole))
    assert history.load[history.extension <= whole].max() < 0.01 * history.load[-1]
    assert np.all(np.diff(history.load[history.extension > whole]) > 0.0)


def test_pull_that_is_to_end_within_the_free_play_bears_nothing():
    problem = joint()
    asked = 0.4 * free_play(problem)[0]
    history = axial.pull(problem, AxialSettings(stop_travel=asked))
    assert history.path.finished
    assert history.path.stopped_because == REQUESTED
    assert history.extension[-1] == asked
    np.testing.assert_array_equal(history.load, 0.0)


@pytest.mark.parametrize(
    "problem",
    [
        joint(ends="held"),
        joint(ear=0.0),
        joint(ear=np.inf),
        joint(ear=2.5, shank=9.0),
    ],
    ids=["held", "neat", "open", "turns over"],
)
def test_there_is_no_free_play_where_nothing_turns_or_nothing_stops_it(problem):
    assert free_play(problem) == (0.0, 0.0)
    assert turned(problem) is None
