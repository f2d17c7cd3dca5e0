from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.one_body import bar, bar_curve

from fejoint.kernel.continuation import (
    Observer,
    StepControl,
    StepRequest,
    StepSettings,
    Stop,
    StopReason,
    trace_path,
)
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.plasticity import Metal
from fejoint.kernel.predictor import predict
from fejoint.kernel.stop_reason import REQUESTED

FAR_ENOUGH = Stop(StopReason.FAR_ENOUGH, "far enough")
LAW = Hardening.swift(290.0, 0.02235, 0.394)
SWIFT = Metal(200e3, 0.3, LAW)
STEPS = StepSettings(first=1e-3, longest=0.05, shortest=1e-9, force_scale=1.0)


def walk(
    *legs: StepControl, observers=(), settings: StepSettings = STEPS, metal: Metal = SWIFT, **more
):
    system, _ = bar(metal)
    return system, trace_path(system, LinearSolver(True), legs, settings, observers, **more)


def loads(path):
    return np.array([p.load for p in path.points])


def travels(path):
    return np.array([p.travel for p in path.points])


def test_every_point_is_in_equilibrium_and_holds_its_travel():
    legs = (StepControl("travel", 0.3), StepControl("load", 5.0), StepControl("travel", 0.4))
    system, path = walk(*legs)
    assert path.finished, path.stopped_because
    states = path.points[0].states
    for p in path.points[1:]:
        e = system.evaluate(p.z, p.multipliers, p.travel, states)
        assert np.linalg.norm(e.residual[: len(system.free)]) <= 1e-6 * max(abs(p.load), 1.0)
        assert system.drive @ p.z == pytest.approx(p.travel, abs=1e-9)
        states = p.states


def test_a_load_target_ends_where_the_travel_target_of_the_same_point_does():
    _, by_travel = walk(StepControl("travel", 0.2))
    end = by_travel.points[-1]
    _, by_load = walk(StepControl("load", end.load))
    assert by_load.finished, by_load.stopped_because
    assert by_load.points[-1].load == pytest.approx(end.load, rel=1e-7)
    assert by_load.points[-1].travel == pytest.approx(end.travel, rel=1e-6)
    np.testing.assert_allclose(by_load.points[-1].z, end.z, atol=1e-7)


@pytest.mark.parametrize("first", [1e-4, 1e-2, 0.5])
def test_a_load_is_found_whatever_the_first_step(first):
    _, path = walk(StepControl("load", 400.0), settings=replace(STEPS, first=first))
    assert path.finished, path.stopped_because
    assert path.points[-1].load == pytest.approx(400.0, rel=1e-6)
    assert np.all(loads(path) <= 400.0 * (1 + 1e-6))


def test_a_load_above_the_maximum_ends_with_a_stated_reason():
    _, path = walk(
        StepControl("load", 900.0), observers=[_StopAt(1.0)], settings=replace(STEPS, longest=0.1)
    )
    assert path.stopped_because
    assert loads(path).max() < 630.0


def test_legs_end_on_their_targets_in_order():
    legs = (
        StepControl("travel", 0.1),
        StepControl("load", 100.0),
        StepControl("travel", 0.25),
        StepControl("load", 0.0),
    )
    _, path = walk(*legs)
    assert path.finished, path.stopped_because
    assert path.stopped_because == REQUESTED
    assert len(path.legs) == 4
    _, path = walk(*legs[:-1], replace(legs[-1], stop=FAR_ENOUGH))
    assert path.stopped_because == FAR_ENOUGH
    for k, leg in zip(path.legs, legs, strict=True):
        at = path.points[k].travel if leg.kind == "travel" else path.points[k].load
        assert at == pytest.approx(leg.value, abs=1e-6)


def test_reloading_follows_the_unloading_line_and_joins_the_curve_again():
    _, path = walk(StepControl("travel", 0.2), StepControl("load", 1.0), StepControl("travel", 0.4))
    peak = path.points[path.legs[0]]
    ratio, load = bar_curve(lambda p: LAW(p)[0], 200e3, np.linspace(0.0, 0.6, 20_001))
    for p in path.points[path.legs[1] + 1 :]:
        if p.travel > peak.travel * 1.001:
            assert p.load == pytest.approx(float(np.interp(p.travel / 2.0, ratio, load)), rel=1e-5)
        elif p.load < 0.99 * peak.load:
            assert p.states[0].equivalent.max() == pytest.approx(
                peak.states[0].equivalent.max(), abs=1e-12
            )


class _Interrupt:
    def __init__(self, after: int) -> None:
        self.left = after

    def __call__(self, point, iteration, error):
        self.left -= 1
        if self.left < 0:
            raise KeyboardInterrupt


def test_an_interrupt_keeps_every_point_there_was():
    _, whole = walk(StepControl("travel", 0.3))
    _, cut = walk(StepControl("travel", 0.3), progress=_Interrupt(25))
    assert cut.stopped_because == Stop(StopReason.INTERRUPTED)
    assert not cut.finished
    assert 1 < len(cut.points) < len(whole.points)
    np.testing.assert_array_equal(loads(cut), loads(whole)[: len(cut.points)])


class _StopAt(Observer):
    def __init__(self, travel):
        self.travel = travel

    def on_trial_step(self, before, new):
        return FAR_ENOUGH if new.travel >= self.travel else None


class _Once(Observer):
    """Asks for one point at a travel."""

    def __init__(self, travel):
        self.travel, self.asked = travel, False

    def on_trial_step(self, before, new):
        if not self.asked and before.travel < self.travel < new.travel:
            self.asked = True
            return StepRequest(self.travel)
        return None


class _Short(Observer):
    def longest_step(self, last):
        return 0.004


def test_an_observers_stop_keeps_its_point_and_gives_its_reason():
    _, path = walk(StepControl("travel", 0.5), observers=[_StopAt(0.1)])
    assert path.stopped_because == FAR_ENOUGH
    assert path.finished
    assert travels(path)[-2] < 0.1 <= travels(path)[-1]


def test_an_observers_request_puts_a_point_where_it_asks():
    _, path = walk(StepControl("travel", 0.5), observers=[_Once(0.1234567)])
    assert np.min(np.abs(travels(path) - 0.1234567)) < 1e-12
    assert path.finished


def test_no_step_is_longer_than_an_observer_allows():
    _, path = walk(StepControl("travel", 0.05), observers=[_Short()])
    assert np.diff(travels(path)).max() <= 0.004 * (1 + 1e-9)


def test_a_path_without_equilibrium_ends_with_the_reason_and_what_it_has():
    """A bar of elastic metal cannot be pressed to nothing."""
    _, path = walk(StepControl("travel", -2.5), metal=Metal(200e3, 0.3))
    assert not path.finished
    assert "no equilibrium was found beyond travel" in str(path.stopped_because)
    assert len(path.points) > 3
    assert all(np.isfinite(p.load) for p in path.points)
    assert path.points[-1].travel > -2.0


class _Failing(LinearSolver):
    """A solver that fails at some of its factorisations."""

    def __init__(self, fail: set[int]) -> None:
        super().__init__(True)
        self._calls, self._fail = 0, fail

    def solve(self, matrix, b):
        self._calls += 1
        bad = self._calls in self._fail
        return np.full_like(b, np.nan) if bad else super().solve(matrix, b)


def test_a_failed_step_is_cut_and_the_path_goes_on():
    system, _ = bar(SWIFT)
    smooth = trace_path(system, LinearSolver(True), [StepControl("travel", 0.2)], STEPS)
    rough = trace_path(system, _Failing({6, 7, 14}), [StepControl("travel", 0.2)], STEPS)
    assert rough.finished
    assert len(rough.points) > len(smooth.points)
    assert rough.points[-1].load == pytest.approx(smooth.points[-1].load, rel=1e-6)


def test_a_solver_that_always_fails_ends_the_path_and_does_not_loop():
    system, _ = bar(SWIFT)
    path = trace_path(system, _Failing(set(range(100_000))), [StepControl("travel", 0.2)], STEPS)
    assert not path.finished
    assert "singular" in str(path.stopped_because)
    assert len(path.points) == 1


def test_a_march_goes_on_from_a_point_as_if_it_had_never_stopped():
    system, _ = bar(SWIFT)
    first = trace_path(system, LinearSolver(True), [StepControl("travel", 0.1)], STEPS)
    second = trace_path(
        system, LinearSolver(True), [StepControl("travel", 0.3)], STEPS, start=first.points[-1]
    )
    _, whole = walk(StepControl("travel", 0.3))
    assert second.points[-1].load == pytest.approx(whole.points[-1].load, rel=1e-6)


def test_work_put_in_is_energy_stored_and_metal_flowed():
    misses = []
    for pace in (1.0, 0.5):
        settings = replace(STEPS, longest=0.02 * pace, first=1e-3 * pace)
        system, path = walk(StepControl("travel", 0.4), StepControl("load", 0.0), settings=settings)
        load, travel = loads(path), travels(path)
        work = float((0.5 * (load[1:] + load[:-1]) * np.diff(travel)).sum())
        end = path.points[-1]
        volumes = system.terms[0].volumes.reshape(-1)
        plastic = float(LAW.plastic_work(end.states[0].equivalent) @ volumes)
        misses.append(abs(work - end.stored - plastic) / work)
    assert misses[0] < 1e-2
    assert misses[1] < 0.6 * misses[0]


class _Regrown(Observer):
    """Wants the first step again, as a law does that had to grow for it."""

    def __init__(self):
        self.done = False

    def on_trial_step(self, before, new):
        if self.done:
            return None
        self.done = True
        return StepRequest(new.travel)


class _Seen(Observer):
    def __init__(self):
        self.travels = []

    def on_trial_step(self, before, new):
        self.travels.append(new.travel)


def test_the_others_see_a_step_only_once_its_law_has_grown():
    seen = _Seen()
    _, path = walk(StepControl("travel", 0.05), observers=[_Regrown(), seen])
    assert path.finished
    assert seen.travels == [p.travel for p in path.points[1:]]


def test_a_path_of_too_many_steps_says_how_it_crept():
    _, path = walk(StepControl("travel", 0.3), settings=replace(STEPS, most=3))
    assert not path.finished
    assert len(path.points) == 4
    step = path.points[-1].travel - path.points[-2].travel
    assert str(path.stopped_because).startswith(f"crept to travel {path.points[-1].travel:.4g} mm")
    assert str(path.stopped_because).endswith(f"in 3 steps, the last of {step:.1e} mm")


def test_a_path_that_turned_is_extrapolated_by_its_last_two_points():
    system, path = walk(StepControl("travel", 0.04), settings=replace(STEPS, longest=0.02))
    a, b = path.points[-2], path.points[-1]
    turned = [replace(b, z=5.0 * b.z), a, b]
    ahead = b.travel + (b.travel - a.travel)
    assert predict(system, turned, ahead).z == pytest.approx(2.0 * b.z - a.z)
