"""A weak piece that softens faster than the spring it is pulled through springs back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fejoint.kernel.assembly import System
from fejoint.kernel.continuation import (
    Observer,
    StepControl,
    StepSettings,
    Stop,
    StopReason,
    trace_path,
)
from fejoint.kernel.foundation import Bedding, Spring
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.stop_reason import REQUESTED

SOFT, STIFF, PEAK = 20.0, 100.0, 1.0
DRIVEN, RIGID = np.array([0.0, 1.0, 0.0]), np.array([1.0, 1.0, 0.0])

FALLEN = Stop(StopReason.LOAD_MAXIMUM, "fallen")


class Softening:
    """Rises to 100 N at 1 mm and falls by 80 N/mm beyond, smoothly: a hyperbola's two arms."""

    def force(self, x):
        return STIFF * x - (STIFF + 80.0) * 0.5 * (x - PEAK + np.hypot(x - PEAK, 0.02))

    def respond(self, travel, deepest):
        bend = 0.5 * (1.0 + (travel - PEAK) / np.hypot(travel - PEAK, 0.02))
        return self.force(travel), STIFF - (STIFF + 80.0) * bend, np.maximum(deepest, travel)


class Fallen(Observer):
    def on_trial_step(self, before, new):
        return FALLEN if new.load < 30.0 and new.z[0] > PEAK else None


@pytest.mark.parametrize("weights", [np.array([1.0, 0.0, 0.0]), None], ids=["measure", "length"])
def test_march_follows_a_snap_that_no_travel_reaches(weights):
    law = Softening()
    piece = Bedding(np.array([[0]]), np.array([[1.0]]), np.array([1.0]), 2, law)
    system = System(3, [piece, Spring(0, 1, SOFT)], DRIVEN, RIGID, np.array([2]), [])
    settings = StepSettings(0.02, 0.2, 1e-7, force_scale=1.0, measure=weights)
    path = trace_path(
        system, LinearSolver(True), [StepControl("travel", 50.0)], settings, [Fallen()]
    )
    assert path.stopped_because == FALLEN
    travel, weak = (
        np.array(x) for x in zip(*((p.travel, p.z[0]) for p in path.points), strict=True)
    )
    load = np.array([p.load for p in path.points])
    assert np.diff(travel).min() < -0.01  # no equilibrium lies further along the travel
    assert np.diff(weak).min() > 0.0
    np.testing.assert_allclose(load[1:], law.force(weak[1:]), atol=1e-4)
    np.testing.assert_allclose(travel, weak + load / SOFT, atol=1e-5)


def over_a_snap(reach: float, **how):
    law = Softening()
    piece = Bedding(np.array([[0]]), np.array([[1.0]]), np.array([1.0]), 2, law)
    system = System(3, [piece, Spring(0, 1, SOFT)], DRIVEN, RIGID, np.array([2]), [])
    settings = replace(StepSettings(0.02, 0.2, 1e-7, force_scale=1.0), **how)
    return trace_path(system, LinearSolver(True), [StepControl("travel", reach)], settings)


def test_a_snap_that_leads_on_to_the_leg_s_end_ends_there(monkeypatch):
    monkeypatch.setattr(Softening, "force", lambda self, x: _hardening_again(x)[0])
    monkeypatch.setattr(
        Softening, "respond", lambda self, x, d: (*_hardening_again(x), np.maximum(d, x))
    )
    path = over_a_snap(9.0)
    assert path.finished
    assert path.stopped_because == REQUESTED
    assert path.points[-1].travel >= 9.0
    assert np.diff([p.travel for p in path.points]).min() < -0.01


def _hardening_again(x):
    """Fall as before, and bear more again beyond 1.8 mm."""
    force = STIFF * x - 90.0 * (x - PEAK + np.hypot(x - PEAK, 0.02))
    slope = STIFF - 90.0 * (1.0 + (x - PEAK) / np.hypot(x - PEAK, 0.02))
    again = x - 1.8 + np.hypot(x - 1.8, 0.02)
    return force + 60.0 * again, slope + 60.0 * (1.0 + (x - 1.8) / np.hypot(x - 1.8, 0.02))


def test_a_snap_followed_by_too_many_steps_says_how_it_crept():
    path = over_a_snap(50.0, most=80)
    assert not path.finished
    assert str(path.stopped_because).startswith("crept to travel")
    assert path.points[-1].z[0] > PEAK


def test_a_snap_without_a_way_on_ends_where_it_was_lost(monkeypatch):
    whole = Softening.respond

    def torn(self, travel, deepest):
        force, slope, new = whole(self, travel, deepest)
        return np.where(travel > 1.3, np.nan, force), slope, new

    monkeypatch.setattr(Softening, "respond", torn)
    path = over_a_snap(50.0)
    assert not path.finished
    assert str(path.stopped_because).startswith("no equilibrium was found beyond travel")
    assert PEAK < path.points[-1].z[0] <= 1.3


def test_a_body_that_nothing_bears_any_more_counts_as_let_go(monkeypatch):
    whole = Softening.respond

    def lifted(self, travel, deepest):
        force, slope, new = whole(self, travel, deepest)
        return np.where(travel < 0.001, np.nan, force), slope, new

    law = Softening()
    piece = Bedding(np.array([[0]]), np.array([[1.0]]), np.array([1.0]), 2, law)
    system = System(3, [piece, Spring(0, 1, SOFT)], DRIVEN, RIGID, np.array([2]), [])
    settings = StepSettings(0.02, 0.2, 1e-7, force_scale=1.0)
    start = trace_path(system, LinearSolver(True), [StepControl("travel", 1.0)], settings).points[
        -1
    ]
    monkeypatch.setattr(Softening, "respond", lifted)
    back = trace_path(
        system, LinearSolver(True), [StepControl("travel", -1.0)], settings, start=start
    )
    assert back.finished
    assert 0.0 < back.points[-1].load < 0.05 * start.load
