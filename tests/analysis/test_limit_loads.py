"""What is read off a solved joint: bends, kept elongations, limits and events."""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from support import DEMO_CASES

import fejoint
from fejoint.analysis.definitions import TORN_INSIDE, TORN_THROUGH
from fejoint.analysis.limit_loads import JointReading, without_doubles
from fejoint.analysis.pull import pull_axial, solve_members
from fejoint.analysis.result import EVENTS, LimitLoad
from fejoint.analysis.section_cases import PullSettings
from fejoint.handbook.beams import full_plastic_moment, full_plastic_shear

CASES = DEMO_CASES


@functools.cache
def reading(pin: str, ends: str = "headed") -> JointReading:
    joint = fejoint.load(CASES / f"{pin}-pin.toml").replace("pin.ends", ends)
    settings = PullSettings(refine=0.5)
    members = solve_members(joint, settings)
    return JointReading(joint, members, pull_axial(joint, members, settings), settings.axial(joint))


def test_the_bend_a_soft_pin_keeps_grows_with_the_load_it_was_let_go_from():
    r = reading("soft")
    last = len(r.history.load) - 1
    kept = [r.bend_after(k) for k in range(0, last, max(1, last // 6))]
    sags = np.array([b[0] for b in kept if b is not None])
    assert len(sags) > 4
    assert np.all(np.diff(sags) > -1e-5)
    assert sags[-1] > 0.2


def test_the_bend_kept_is_less_than_the_bend_under_load():
    r = reading("soft")
    k = len(r.history.load) // 2
    kept = r.bend_after(k)
    assert kept is not None
    assert 0.0 < kept[0] < r.history.problem.bend(r.history.path.points[k])[0]


def test_let_go_from_the_bend_limit_the_pin_keeps_one_percent_of_its_span():
    r = reading("soft")
    limit = r.bend_limit_load
    assert limit is not None
    below = int(np.searchsorted(r.history.load, limit)) - 1
    low, high = r.bend_after(below), r.bend_after(below + 1)
    assert low is not None
    assert high is not None
    assert low[0] <= 0.01 * r.history.problem.case.span <= high[0]


def test_hinge_and_shear_loads_stand_where_moment_and_shear_reach_the_plastic_ones():
    r = reading("soft")
    d, rp02 = r.joint.pin.diameter, r.joint.pin.material.rp02
    assert r.plastic_section == (full_plastic_moment(d, rp02), full_plastic_shear(d, rp02))
    assert r.hinge_load is not None
    assert r.shear_load is not None
    rising = np.diff(r.history.load, prepend=-1.0) > 0.0
    load, moments = r.history.load[rising], r.history.moment[rising]
    moment = PchipInterpolator(load, moments)(r.hinge_load)
    assert moment == pytest.approx(r.plastic_section[0], rel=3e-3)  # over loads, not extensions
    # two shear planes
    assert r.shear_load == pytest.approx(2.0 * r.plastic_section[1], rel=1e-3)


def test_bending_and_shear_together_come_before_either_alone():
    r = reading("soft")
    assert r.interaction_load is not None
    either = min(r.hinge_load or np.inf, r.shear_load or np.inf)
    assert r.interaction_load <= either * (1.0 + 1e-9)


@pytest.mark.parametrize("pin", ["soft", "hard"])
def test_a_hole_keeps_less_than_it_stretches_and_the_inner_face_stretches_most(pin: str):
    r = reading(pin)
    for ear in r.ears:
        kept, mean, worst = (f(ear) for f in (r.kept_elongation, r.elongation, r.worst_elongation))
        assert np.all(np.diff(kept) >= -1e-12)
        assert np.all(kept <= mean + 1e-9)
        assert np.all(worst >= mean - 1e-9)


def test_a_soft_pin_bears_more_unevenly_than_a_hard_one():
    uneven = [reading(pin).pin(2000.0)["bearing_peak_over_mean"] for pin in ("soft", "hard")]
    assert uneven[0] > uneven[1] > 1.0


@pytest.mark.parametrize("pin", ["soft", "hard"])
def test_every_event_is_told_reached_or_with_its_reason(pin: str):
    events = reading(pin).events()
    assert tuple(e.name for e in events) == EVENTS
    assert all((e.load is None) == bool(e.reason) for e in events)


def test_of_two_causes_that_say_the_same_the_better_is_kept():
    inside, through = (
        LimitLoad("net section", "ear", 100.0, c) for c in (TORN_INSIDE, TORN_THROUGH)
    )
    assert without_doubles([inside, through]) == [through]
    apart = replace(through, load=102.0)
    assert without_doubles([inside, apart]) == [inside, apart]
    other = replace(through, member="ear 2")
    assert without_doubles([inside, other]) == [inside, other]


def test_what_comes_before_the_highest_pull_is_not_told_by_what_lies_behind_it():
    inside, through = (
        LimitLoad("net section", "ear", 100.0, c) for c in (TORN_INSIDE, TORN_THROUGH)
    )
    behind, early = replace(through, past_top=True), replace(inside, past_top=True)
    assert without_doubles([inside, behind]) == [inside, behind]
    assert without_doubles([early, behind]) == [behind]
    assert without_doubles([early, through]) == [through]


def test_a_pin_breaks_within_the_band_of_its_fracture_strain():
    # between heads its ears are worn out before it breaks
    assert not any(x.mode == "pin break" for x in reading("hard").limits())
    (broken,) = [x for x in reading("hard", "free").limits() if x.mode == "pin break"]
    assert broken.band is not None
    assert broken.band[0] < broken.load <= broken.band[1]


def test_a_soft_pin_flattens_before_it_bends_and_a_hard_one_does_not():
    assert reading("soft").flattens
    assert not reading("hard").flattens


def test_a_bend_that_cannot_be_followed_on_one_side_is_none(monkeypatch):
    r = reading("soft")
    known = {2: None, 3: (0.1, 1.0), 4: (0.2, 3.0), 5: None}
    monkeypatch.setattr(JointReading, "bend_after", lambda self, k: known.get(k))
    assert r.kept_bend(3.0) == (0.1, 1.0)
    assert r.kept_bend(3.25) == pytest.approx((0.125, 1.5))
    assert r.kept_bend(4.5) is None
    assert r.kept_bend(5.5) is None


def test_a_bend_between_two_points_grows_as_it_does_beside_them(monkeypatch):
    r = reading("soft")
    monkeypatch.setattr(JointReading, "bend_after", lambda self, k: (k**3 / 1e3, k**2 / 1e2))
    for place in (4.25, 5.5, 7.75):
        assert r.kept_bend(place) == pytest.approx((place**3 / 1e3, place**2 / 1e2), rel=0.01)
        chord = np.interp(place, np.arange(12), np.arange(12) ** 3 / 1e3)
        assert r.kept_bend(place)[0] < chord


def test_a_bend_kept_after_a_pull_between_two_points_is_that_of_a_pull_to_it():
    r = reading("soft")
    k = next(k for k in range(len(r.history.load)) if (r.bend_after(k) or (0.0,))[0] > 0.002)
    half = 0.5 * (r.history.load[k - 1] + r.history.load[k])
    told = r.kept_bend(r.place(r.history.load, half))[0]
    joint = r.joint.replace("pull.stop_load", f"{half} N")
    solved = fejoint.pull(joint, refine=0.5).pin["permanent_bend_mm"]
    assert told == pytest.approx(solved, abs=1.5e-3)
