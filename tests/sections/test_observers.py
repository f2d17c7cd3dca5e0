from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

from fejoint.kernel.continuation import EquilibriumPoint, Stop
from fejoint.kernel.stop_reason import REQUESTED
from fejoint.sections.observers import FirstYield, LoadMaximum, Reached, StepLimit


def point(load: float, travel: float, mises: float = 0.0, plastic: float = 0.0) -> EquilibriumPoint:
    state = SimpleNamespace(mises=np.array([mises]), equivalent=np.array([plastic]))
    return EquilibriumPoint(travel, np.array([load]), np.zeros(1), (state,))


def test_maximum_stops_two_percent_behind_the_largest_load():
    observer = LoadMaximum()
    loads = [0.0, 50.0, 100.0, 99.0, 98.5, 97.5]
    points = [point(p, k) for k, p in enumerate(loads)]
    looks = [observer.on_trial_step(a, b) for a, b in pairwise(points)]
    assert looks[:-1] == [None] * 4
    assert isinstance(looks[-1], Stop)


def test_release_is_no_load_maximum():
    observer = LoadMaximum()
    path = [(0, 0), (100, 1), (50, 0.9), (10, 0.8), (60, 0.9), (100, 1.0), (110, 1.1)]
    points = [point(p, u) for p, u in path]
    points[2:4] = [replace(p, loading=False) for p in points[2:4]]
    assert all(observer.on_trial_step(a, b) is None for a, b in pairwise(points))


def test_snap_is_still_the_way_past_a_maximum():
    observer = LoadMaximum()
    points = [point(p, u) for p, u in [(0, 0), (100, 1.0), (99, 0.99), (97, 0.98)]]
    looks = [observer.on_trial_step(a, b) for a, b in pairwise(points)]
    assert looks[:2] == [None, None]
    assert isinstance(looks[2], Stop)


def test_first_yield_asks_for_steps_that_close_in_on_the_yield_stress():
    """Stress grows as the root of the travel, as under a pin."""
    observer, last, now = FirstYield(0, 300.0), point(0.0, 0.0), 1.0
    stress = lambda u: 300.0 * np.sqrt(u / 0.5)  # noqa: E731
    for _ in range(30):
        new = point(now, now, min(stress(now), 300.0), max(0.0, now - 0.5))
        wish = observer.on_trial_step(last, new)
        if wish is None and new.states[0].equivalent[0] > 0.0:
            break
        if wish is None:
            last, now = new, now + 0.3
        else:
            assert last.travel < wish.travel < now
            now = wish.travel
    assert observer.passed
    assert observer.ratio(last) >= 0.95


def test_first_yield_is_silent_afterwards():
    observer = FirstYield(0, 300.0, passed=True)
    assert observer.on_trial_step(point(0, 0, 10.0), point(1, 1, 300.0, 0.1)) is None


def test_pace_bounds_the_step_only_below_its_limit():
    pace = StepLimit(lambda p: p.travel, 0.5, 0.01)
    assert pace.longest_step(point(0, 0.4)) == 0.01
    assert pace.longest_step(point(0, 0.6)) == np.inf


def test_reached_stops_at_its_value():
    observer = Reached(lambda p: p.load, 100.0, REQUESTED)
    assert observer.on_trial_step(point(0, 0), point(99.0, 1)) is None
    assert observer.on_trial_step(point(99, 1), point(100.0, 2)) == REQUESTED
    with pytest.raises(AttributeError):
        _ = observer.on_trial_step(point(0, 0), point(1.0, 1)).reason
