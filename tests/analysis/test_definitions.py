"""Every definition that decides a verdict, pinned on joints made by hand with known curves."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, get_args

import numpy as np
import pytest
from support import DEMO
from support.hand_made import POINTS, Plate, reading

import fejoint
from fejoint.analysis import definitions as by
from fejoint.analysis.measured_pin import MeasuredPin
from fejoint.analysis.result import EVENTS, LimitLoad
from fejoint.analysis.section_cases import PullSettings, face_case
from fejoint.handbook import limit_loads
from fejoint.handbook.beams import full_plastic_moment, full_plastic_shear
from fejoint.handbook.strip_bending import strip_hinge_load, strip_use
from fejoint.kernel.stop_reason import Stop, StopReason
from fejoint.sections.face import pull as face

SHARE = np.linspace(0.0, 1.0, POINTS)
STRONG = Plate(pace=0.05, slices=(1.0,), stiff=1e5, knee=1e5)
"""A shank or an ear that stays elastic."""


def limits(r, member: str, cause: str) -> list[LimitLoad]:
    return [x for x in r.limits() if (x.member, x.cause) == (member, cause)]


def one(r, member: str, cause: str) -> LimitLoad:
    (found,) = limits(r, member, cause)
    return found


def offset_by_hand(plate: Plate, hole: float, share: float = 0.02) -> float:
    """Load where the line moved by a share of the hole meets the flatter line, N.

    The slices pass their knees at different travels; at the meeting all have.
    """
    at = plate.knee / plate.stiff
    # knee + flat (x - at) = stiff (x - share hole)
    x = (plate.knee - plate.flat * at + plate.stiff * share * hole) / (plate.stiff - plate.flat)
    return float(plate.stiff * (x - share * hole))


def test_offset_load_is_read_at_two_percent_of_the_hole_on_the_mean_of_the_slices():
    weak = Plate(pace=1.0, slices=(0.7, 1.0, 1.3))
    r = reading(weak, STRONG, STRONG, load=None)
    hole = r.joint.ears[0].hole
    alone = reading(weak, STRONG)
    found = one(alone, "ear", by.OFFSET_LOAD)
    assert found.load == pytest.approx(offset_by_hand(weak, hole), rel=2e-3)
    worst = offset_by_hand(weak, hole, 0.02 / 1.3)
    assert found.load > worst + 5.0
    assert one(r, "ear 1", by.OFFSET_LOAD).part == "ear"


def test_each_ear_has_its_own_limits_and_the_weaker_gives_first():
    fast, slow = Plate(pace=1.0), Plate(pace=0.4)
    for first, second, weak in ((fast, slow, 0), (slow, fast, 2)):
        r = reading(first, STRONG, second)
        loads = {m: one(r, m, by.OFFSET_LOAD).load for m in ("ear 1", "ear 2")}
        assert r.weaker_ear == weak
        low = r.member(weak)
        assert loads[low] == min(loads.values())
        assert max(loads.values()) > 1.05 * loads[low]
        event = next(e for e in r.events() if e.name == "offset load")
        assert (event.member, event.load) == (low, pytest.approx(loads[low]))
        pace = max(first.pace, second.pace)
        at = np.interp(event.load, r.history.load, SHARE)
        assert event.hole_elongation == pytest.approx(pace * at, rel=1e-3)


def test_two_ears_that_see_the_same_are_told_once():
    r = reading(Plate(), STRONG, Plate(), same=True)
    assert {x.member for x in r.limits() if x.part == "ear"} == {by.EARS_ALIKE}
    apart = reading(Plate(), STRONG, Plate())
    assert {x.member for x in apart.limits() if x.part == "ear"} == {"ear 1", "ear 2"}
    assert {x.member for x in reading(Plate(), STRONG).limits()} == {"ear"}


def test_load_that_leaves_two_percent_is_read_on_the_mean_of_what_stays():
    plate = Plate(slices=(0.7, 1.0, 1.3), kept=0.5)
    r = reading(plate, STRONG)
    hole = r.joint.ears[0].hole
    mean = plate.knee / plate.stiff + 0.02 * hole / plate.kept
    expected = plate.load(mean * np.array(plate.slices)).mean()
    event = next(e for e in r.events() if e.name == "permanent set 2 %")
    assert event.load == pytest.approx(expected, rel=2e-3)
    assert event.load > one(r, "ear", by.OFFSET_LOAD).load


@pytest.mark.parametrize(
    ("at", "mode"), [(0.0, "end tear-out"), (55.0, "end tear-out"), (65.0, "net section"),
                     (90.0, "net section"), (-65.0, "net section")],
)  # fmt: skip
def test_metal_within_sixty_degrees_of_the_pull_is_the_end(at, mode):
    for angle in (0.0, 40.0):
        r = reading(Plate(torn=0.5, at_deg=at), STRONG, angle=angle)
        assert one(r, "ear", by.TORN_THROUGH).mode == mode


@pytest.mark.parametrize(("angle", "mode"), [(119.0, "end tear-out"), (121.0, "hole elongation"),
                                             (180.0, "hole elongation"),
                                             (-180.0, "hole elongation")])  # fmt: skip
def test_an_ear_that_is_pushed_towards_its_grip_has_no_end_to_tear(angle: float, mode: str):
    r = reading(Plate(torn=0.5, at_deg=0.0), STRONG, angle=angle)
    assert one(r, "ear", by.TORN_THROUGH).mode == mode
    r = reading(Plate(torn=0.5, at_deg=90.0), STRONG, angle=angle)
    assert one(r, "ear", by.TORN_THROUGH).mode == "net section"


def test_metal_nearer_to_the_grip_than_to_the_hole_tears_by_bending():
    for x, mode in ((-12.0, "net section"), (-13.0, "ear bending")):
        r = reading(Plate(torn=0.5, torn_at=(x, 6.0)), STRONG, angle=90.0)
        assert one(r, "ear", by.TORN_THROUGH).mode == mode


def test_stretch_used_up_inside_and_right_through_are_told_apart():
    plate = Plate(slices=(0.8, 1.0, 1.2), torn=0.5)
    r = reading(plate, STRONG)
    inside, through = one(r, "ear", by.TORN_INSIDE), one(r, "ear", by.TORN_THROUGH)
    assert inside.load == pytest.approx(
        plate.load(np.array(plate.slices) * 0.5 / 1.2).mean(), rel=1e-3
    )
    assert through.load == pytest.approx(plate.load(np.array(plate.slices) * 0.5).mean(), rel=1e-3)
    metal = r.joint.ears[0].material
    low = 0.5 * metal.fracture_band[0] / metal.fracture_strain
    assert through.band is not None
    assert through.band[0] == pytest.approx(
        plate.load(np.array(plate.slices) * low).mean(), rel=1e-3
    )
    even = reading(Plate(slices=(0.999, 1.0, 1.001), torn=0.5), STRONG)
    assert limits(even, "ear", by.TORN_INSIDE) == []
    assert len(limits(even, "ear", by.TORN_THROUGH)) == 1


def test_every_ears_use_of_its_stretch_is_that_at_the_joints_end():
    r = reading(Plate(pace=1.0, slices=(0.8, 1.2), torn=2.0), STRONG, Plate(pace=0.5, torn=1.0))
    used = {row["plate"]: row["used"] for row in r.ductility()}
    assert used["ear 1"] == pytest.approx(0.6)
    assert used["ear 2"] == pytest.approx(0.6)
    assert set(used) == {"ear 1", "ear 2", "shank"}


def test_an_ear_past_its_highest_load_has_a_row_though_the_joints_load_still_rises():
    weak, strong = Plate(top=0.6, slices=(1.0,)), Plate(flat=4e3)
    r = reading(weak, STRONG, strong)
    assert r.top is None
    found = one(r, "ear 1", by.OWN_TOP)
    assert found.load == pytest.approx(float(np.interp(0.6, SHARE, r.history.load)), rel=1e-3)
    assert limits(r, "ear 2", by.OWN_TOP) == []


def test_a_flat_top_has_a_band_of_pulls_as_wide_as_the_share_is_flat():
    weak = Plate(pace=1.0, top=0.6, slices=(1.0,), stiff=1e4, knee=1e3, flat=500.0)
    r = reading(weak, STRONG, Plate(flat=4e3))
    found = one(r, "ear 1", by.OWN_TOP)
    # from the top, 1,250 N, the share rises by 500 N/mm and falls by twice that
    off = 5e-3 * weak.load(np.array([0.6]))[0]
    ends = np.interp([0.6 - off / 500.0, 0.6 + off / 1000.0], SHARE, r.history.load)
    assert found.band == pytest.approx(tuple(ends), rel=1e-4)
    assert ends[0] < found.load < ends[1]


def test_an_ear_that_is_let_go_behind_its_top_has_not_passed_it():
    for back, passed in ((0.0, True), (1.0, False)):
        r = reading(Plate(top=0.6, slices=(1.0, 1.0)), STRONG, Plate(flat=4e3))
        problem, plate = r.history.problem, Plate(top=0.6)
        # one slice goes on past its top, the other springs back by as much again
        turn = np.maximum(SHARE - 0.62, 0.0)
        travels = np.array([SHARE, SHARE - back * (turn + 0.4 * turn / turn[-1])]).T
        forces = plate.load(travels) / 2.0
        forces[:, 1] -= back * 2e3 * turn
        problem.slice_travels = lambda p, k, t=travels, own=problem.slice_travels: (
            t[p.index] if k == 0 else own(p, k)
        )
        problem.slice_forces = lambda p, k, f=forces, own=problem.slice_forces: (
            f[p.index] if k == 0 else own(p, k)
        )
        r.history.shares[:, 0] = forces.sum(axis=1)
        assert bool(limits(r, "ear 1", by.OWN_TOP)) is passed


def test_an_ear_whose_share_falls_on_a_rising_curve_has_not_passed_its_highest_load():
    r = reading(Plate(), STRONG, Plate())
    r.history.shares[-50:, 0] *= 0.5
    assert limits(r, "ear 1", by.OWN_TOP) == []


def fallen(top: float = 0.5, **how):
    """Return a joint whose pull falls from half of its way on."""
    load = 4e3 * np.minimum(SHARE, top) - 2e3 * np.maximum(SHARE - top, 0.0)
    return load


@pytest.mark.parametrize(
    ("plates", "pin", "member", "mode"),
    [
        ((Plate(pace=2.0, at_deg=80.0), STRONG, STRONG), 0.0, "ear 1", "net section"),
        ((STRONG, STRONG, Plate(pace=2.0)), 0.0, "ear 2", "end tear-out"),
        ((STRONG, Plate(pace=2.0), STRONG), 0.0, "shank", "shank hole"),
        ((STRONG, STRONG, STRONG), 10.0, "pin", "pin bending"),
        ((Plate(pace=2.0), STRONG, STRONG), 1.0, "ear 1", "end tear-out"),
    ],
)  # fmt: skip
def test_the_highest_pull_belongs_to_the_part_that_takes_the_plastic_work(
    plates, pin, member, mode
):
    r = reading(
        *plates, load=fallen(), pin_work=pin, pin_yields_at=50 if pin else None,
        moment=1e3, shear=0.1,
    )  # fmt: skip
    found = [x for x in r.limits() if x.cause == by.HIGHEST_PULL]
    assert [(x.member, x.mode) for x in found] == [(member, mode)]
    assert found[0].load == pytest.approx(2e3)


def test_the_pin_at_its_highest_pull_shears_where_it_is_nearer_to_full_shear():
    d, rp02 = 4.0, fejoint.load(DEMO).pin.material.rp02
    mp, vp = full_plastic_moment(d, rp02), full_plastic_shear(d, rp02)
    for m, v, mode in ((0.9, 0.8, "pin bending"), (0.8, 0.9, "pin shear")):
        r = reading(
            STRONG, STRONG, STRONG, load=fallen(), pin_work=10.0, pin_yields_at=50,
            moment=m * mp, shear=v * vp,
        )  # fmt: skip
        assert [x.mode for x in r.limits() if x.cause == by.HIGHEST_PULL] == [mode]


def test_what_is_met_behind_the_highest_pull_says_so():
    r = reading(
        Plate(), STRONG, load=fallen(), pin_damage=1.25, pin_yields_at=50, pin_work=10.0,
        moment=4.0 * full_plastic_moment(4.0, fejoint.load(DEMO).pin.material.rp02),
    )  # fmt: skip
    broken = one(r, "pin", by.BROKEN)
    assert broken.past_top
    assert broken.load == pytest.approx(2e3 - 2e3 * 0.3, rel=1e-3)
    assert not one(r, "pin", by.HINGE).past_top


def test_a_highest_pull_is_a_solved_point_and_an_end_that_rises_is_none():
    r = reading(Plate(), STRONG, load=fallen(), pin_yields_at=50)
    assert r.top == int(np.argmax(r.history.load))
    assert reading(Plate(), STRONG).top is None
    event = next(e for e in reading(Plate(), STRONG).events() if e.name == "load maximum")
    assert event.load is None
    assert "still rose" in event.reason


def test_a_hinge_is_the_full_plastic_moment_and_shear_the_full_plastic_shear_at_rp02():
    pin = fejoint.load(DEMO).pin
    mp = pin.diameter**3 / 6.0 * pin.material.rp02
    vp = np.pi * pin.diameter**2 / 4.0 * pin.material.rp02 / np.sqrt(3.0)
    r = reading(Plate(), STRONG, moment=2.0 * mp, shear=1.25 * vp, pin_yields_at=20)
    loads = r.history.load
    assert one(r, "pin", by.HINGE).load == pytest.approx(np.interp(0.5, SHARE, loads))
    assert one(r, "pin", by.SHEARED).load == pytest.approx(np.interp(0.8, SHARE, loads))


def test_a_pin_counts_as_bent_by_one_percent_of_its_span():
    r = reading(Plate(), STRONG, bend=0.4, pin_yields_at=5)
    # a span of 8 mm: 0.08 mm is a fifth of what it keeps at the end
    expected = np.interp(0.2, SHARE, r.history.load)
    assert one(r, "pin", by.BEND_LEFT).load == pytest.approx(expected, rel=1e-3)
    assert limits(reading(Plate(), STRONG, bend=0.4), "pin", by.BEND_LEFT) == []


def test_a_pin_breaks_at_a_damage_of_one_with_the_meshs_part_in_its_band():
    r = reading(Plate(), STRONG, pin_damage=1.6, pin_yields_at=5)
    found = one(r, "pin", by.BROKEN)
    loads = r.history.load
    assert found.load == pytest.approx(np.interp(1.0 / 1.6, SHARE, loads), rel=1e-4)
    assert found.band is not None
    assert found.band[0] <= np.interp(0.5 / 1.6, SHARE, loads) * (1.0 + 1e-6)
    assert found.band[1] >= found.load**2 / np.interp(0.5 / 1.6, SHARE, loads) * (1.0 - 1e-6)


def test_an_ear_pulled_sideways_hinges_at_its_grip():
    strong = Plate(pace=1.0, stiff=1e4, knee=8e3, flat=8e3, slices=(1.0,))
    r = reading(strong, STRONG, angle=90.0)
    found = one(r, "ear", by.HINGE)
    ear = r.joint.ears[0]
    assert found.mode == "ear bending"
    assert found.load == pytest.approx(strip_hinge_load(ear, 90.0), rel=1e-3)
    assert strip_hinge_load(ear, 90.0) == pytest.approx(
        0.25 * ear.thickness * ear.width**2 * ear.material.rp02 / ear.grip_length
    )
    assert limits(reading(strong, STRONG), "ear", by.HINGE) == []


def test_a_strip_that_yields_by_its_pull_is_no_ear_that_bends():
    strong = Plate(pace=2.0, stiff=1e4, knee=1.8e4, flat=8e3, slices=(1.0,))
    for angle, mode, cause in (
        (0.0, "strip yield", by.YIELDED), (3.0, "strip yield", by.YIELDED),
        (90.0, "ear bending", by.HINGE),
    ):  # fmt: skip
        r = reading(strong, STRONG, angle=angle)
        ear = r.joint.ears[0]
        found = [x for x in r.limits() if x.cause in (by.YIELDED, by.HINGE)]
        assert [(x.mode, x.cause) for x in found] == [(mode, cause)]
        assert found[0].load == pytest.approx(strip_hinge_load(ear, angle), rel=1e-3)
    straight = one(reading(strong, STRONG), "ear", by.YIELDED)
    assert straight.load == pytest.approx(ear.width * ear.thickness * ear.material.rp02, rel=1e-3)
    line = limit_loads.headline(limit_loads.limits(r.joint), "strip yield", "ear", "gross yield")
    assert line is not None
    assert line.load == pytest.approx(ear.width * ear.thickness * ear.material.rp02)


def test_a_pin_flattens_where_it_yields_under_the_load_of_the_ear_it_lies_in():
    other = Plate(stiff=1e4, knee=1.8e4, slices=(1.0,), pace=1.25)
    r = reading(Plate(), STRONG, other)
    first = min(x.load for x in r.limits())
    bears = [float(np.interp(first, r.history.load, r.history.shares[:, k])) for k in (0, 2)]
    assert bears[1] > 1.5 * bears[0]
    for one_at, two_at, flat in (
        (0.95, np.inf, True), (1.05, np.inf, False), (np.inf, 0.95, True), (1.05, 1.05, False),
    ):  # fmt: skip
        plates = (
            replace(Plate(), flattens=one_at * bears[0]),
            STRONG,
            replace(other, flattens=two_at * bears[1]),
        )
        assert reading(*plates).flattens is flat


def test_an_ear_stays_bent_aside_at_one_percent_of_its_length_off_its_line():
    plate = Plate(pace=2.0, slices=(1.0,), stiff=1e3, knee=1e3, flat=1e3)
    at = np.linspace(0.0, 2.0, 801)
    length = fejoint.load(DEMO).ears[0].grip_length
    # the ear's own movement: 1 mm a kN up to 1 kN, five times as much a kN behind
    load = 1e3 * at
    own = np.where(load < 1e3, load, 1e3 + 5.0 * (load - 1e3)) / 1e3
    r = reading(plate, STRONG, angle=90.0, behind=own)
    # off the line by 0.01 L: 4 mm a kN behind the knee
    expected = 1e3 + 0.01 * length / 4.0 * 1e3
    assert one(r, "ear", by.ASIDE).load == pytest.approx(expected, rel=2e-3)
    assert limits(reading(plate, STRONG, behind=own), "ear", by.ASIDE) == []


@pytest.mark.parametrize(("angle", "knee", "bent"), [(2.0, 4e3, False), (2.0, 1e3, True),
                                                     (20.0, 4e3, True)])  # fmt: skip
def test_an_ear_stays_bent_aside_where_bending_uses_more_of_its_strip_than_the_pull(
    angle, knee, bent
):
    plate = Plate(pace=2.0, slices=(1.0,), stiff=4e3, knee=4e3, flat=4e3)
    load = 4e3 * np.linspace(0.0, 2.0, 801)
    own = np.where(load < knee, load, knee + 5.0 * (load - knee)) / 1e3
    r = reading(plate, STRONG, angle=angle, behind=own)
    moment, pull = strip_use(r.joint.ears[0], knee, angle)
    assert (moment > pull) is bent
    assert bool(limits(r, "ear", by.ASIDE)) is bent


def test_first_yield_is_that_of_the_most_loaded_slice_of_the_ear_that_yields_first():
    r = reading(Plate(yields=900.0), STRONG, Plate(yields=600.0, slices=(0.5, 1.5)))
    event = next(e for e in r.events() if e.name == "first yield ear")
    assert event.member == "ear 2"
    # travel 0.06 mm in the slice that travels 1.5 times the mean
    assert event.load == pytest.approx(np.interp(0.04, SHARE, r.history.load), rel=1e-3)


def test_every_event_and_every_limit_has_its_words():
    assert set(by.EVENT_TITLES) == set(EVENTS)
    for d in by.DEFINITIONS:
        assert by.MODES[d.mode].name == d.mode
        assert all((d.read, d.threshold, d.source))
        for member in ("ear", "ear 1", by.EARS_ALIKE):
            assert "{" not in by.sentence_words(d.mode, d.cause, member)
    assert len({(d.mode, d.cause) for d in by.DEFINITIONS}) == len(by.DEFINITIONS)


def test_ends_are_said_in_plain_words_with_their_member():
    def ended(reason: StopReason, member: str = "") -> str:
        own = Stop(reason, "as the solver says it")
        return by.end_words(Stop(StopReason.LAW_ENDED, "", own, member) if member else own)

    # on the mean over its thickness: its load may have fallen or not
    beyond = "ear 1 had been pulled beyond the place of the highest load"
    assert ended(StopReason.LOAD_MAXIMUM, "ear 1") == beyond
    assert ended(StopReason.LOAD_MAXIMUM) == "the joint was past its highest load"
    assert ended(StopReason.DUCTILITY_EXHAUSTED, "shank").startswith("the shank had torn")
    assert ended(StopReason.DUCTILITY_EXHAUSTED).startswith("the pin had broken")
    assert ended(StopReason.TURNED_TOO_FAR) == "as the solver says it"
    assert by.end_words(Stop(StopReason.INTERRUPTED, "interrupted at 5 N")) == "interrupted at 5 N"


def test_the_end_of_one_of_two_ears_alike_is_that_of_both():
    own = Stop(StopReason.LOAD_MAXIMUM, "passed")
    for same, second, said in ((True, "ear 1", by.EARS_ALIKE), (False, "ear 2", "ear 2"),
                               (True, "shank", "the shank")):  # fmt: skip
        stop = Stop(StopReason.LAW_ENDED, "", own, second)
        r = reading(Plate(), STRONG, Plate(), same=same, stopped_because=stop)
        assert by.end_words(r.stop).startswith(f"{said} had been pulled")
        assert all(said in e.reason for e in r.events() if e.load is None)


def test_the_bearing_is_on_what_a_flare_leaves_and_by_hand_on_half_of_that_loss():
    joint = fejoint.load(DEMO)
    flared = joint.replace("ear.flare_depth", 0.6)
    ear = flared.ears[0]
    assert face_case(flared, ear).land == pytest.approx(ear.thickness - 0.6)
    assert limit_loads.bearing_thickness(ear) == pytest.approx(ear.thickness - 0.3)


def test_local_travel_is_read_against_the_section_one_width_towards_the_grip():
    joint = fejoint.load(DEMO)
    settings = PullSettings(0.35)
    problem = face.build(face_case(joint, joint.ears[0]), settings.ear(joint))
    point = problem.system.initial_states()
    z = np.zeros(problem.system.n_dofs)
    n = len(problem.mesh.points)
    z[0 : 2 * n : 2] = 1e-3 * problem.mesh.points[:, 0]
    from fejoint.kernel.newton import EquilibriumPoint

    stretched = EquilibriumPoint(0.5, np.zeros(problem.system.n_multipliers), z, point)
    width = joint.ears[0].width
    assert problem.local_travel(stretched) == pytest.approx(0.5 + 1e-3 * width, rel=2e-3)


@pytest.mark.parametrize(
    ("mode", "counted", "by_hand"),
    [
        ("hole elongation", "bearing yield", lambda e, d, m: 1.5 * e.thickness * d * m.rp02),
        ("end tear-out", "breaking",
         lambda e, d, m: 0.6 * m.rm * 2 * e.thickness * (e.edge_distance - e.hole / 2 + d / 2)),
        ("net section", "breaking",
         lambda e, d, m: (e.width - e.hole) * e.thickness * m.rm),
    ],
)  # fmt: skip
def test_the_handbook_row_beside_an_ears_limit(mode, counted, by_hand):
    joint = fejoint.load(DEMO)
    ear = joint.ears[0]
    line = limit_loads.headline(limit_loads.limits(joint), mode, "ear", counted, by.EARS_ALIKE)
    assert line is not None
    expected = 2 * by_hand(ear, joint.pin.diameter, ear.material)
    assert line.load == pytest.approx(expected, rel=1e-6)


def test_the_handbooks_rows_have_the_values_of_their_formulas():
    joint = fejoint.load(DEMO)
    (ear, _), d = joint.ears, joint.pin.diameter
    t, m = ear.thickness, ear.material
    end, side = ear.edge_distance - ear.hole / 2, (ear.width - ear.hole) / 2
    found = {x.formula: x.load / 2 for x in limit_loads.limits(joint) if x.part == "ear"}
    assert found == {
        "1.5 t d fy": pytest.approx(1.5 * t * d * m.rp02),
        "1.8 Fy d t": pytest.approx(1.8 * t * d * m.rp02),
        "0.6 Fu 2 t (a + d/2)": pytest.approx(1.2 * m.rm * t * (end + d / 2)),
        "1.5 lc t Fu": pytest.approx(1.5 * end * t * m.rm),
        "2 t fy (a - 2 d0/3)": pytest.approx(2 * t * m.rp02 * (end - 2 * ear.hole / 3)),
        "2 t min(2 t + 16 mm, b) Fu": pytest.approx(2 * t * side * m.rm),
        "(W - D) t Rm": pytest.approx((ear.width - ear.hole) * t * m.rm),
        "Fy W t (the whole section yields)": pytest.approx(ear.width * t * m.rp02),
        "2 t fy (c - d0/3)": pytest.approx(2 * t * m.rp02 * (side - ear.hole / 3)),
        "2.25 d t fu": pytest.approx(0.75 * 3 * d * t * m.rm),
        "Fu 2 t min(be, 4 t, 0.6 (Fu/Fy) sqrt(Dh/be) be)": pytest.approx(2 * t * side * m.rm),
        "(min(W, 8 t) - D) t Fu": pytest.approx((ear.width - ear.hole) * t * m.rm),
    }


def test_thin_ears_have_what_published_rules_count_of_them():
    joint = fejoint.load(DEMO).replace("ear.thickness", "0.6 mm").replace("pin.head", "12 mm")
    (ear, _), d, t = joint.ears, joint.pin.diameter, 0.6
    fu = ear.material.rm
    found = {x.formula: x for x in limit_loads.limits(joint) if x.part == "ear"}
    assert found["3 d t fu"].load / 2 == pytest.approx(3 * d * t * fu)
    assert found["3 d t fu"].mode == "end dishes"
    wide = found["(min(W, 8 t) - D) t Fu"]
    assert wide.load / 2 == pytest.approx((8 * t - ear.hole) * t * fu)
    narrow = found["Fu 2 t min(be, 4 t, 0.6 (Fu/Fy) sqrt(Dh/be) be)"]
    assert narrow.load / 2 == pytest.approx(2 * t * 4 * t * fu)


def test_a_limit_passed_within_one_step_is_read_on_the_curve_and_not_on_its_chord():
    x = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 5.0])
    history: Any = SimpleNamespace(extension=x, load=100.0 * x)
    nothing: Any = None
    joint = MeasuredPin(nothing, [], history, nothing)
    moment = x * (10.0 - x)
    place = joint.bent_place(moment, 12.0)
    assert place == pytest.approx(5.0 - np.sqrt(13.0), abs=0.01)
    assert joint.place(moment, 12.0) == pytest.approx(1.0 + 3.0 / 7.0)
    assert joint.load_at(place) == pytest.approx(100.0 * place)
    assert joint.bent_place(moment, 99.0) is None
    assert joint.bent_place(moment, 0.0) == 0.0
    # behind the highest pull the load tells no place: the chord is all there is
    history.load = np.array([0.0, 100.0, 90.0, 80.0, 70.0, 60.0])
    assert joint.bent_place(moment, 12.0) == joint.place(moment, 12.0)


def test_a_soft_pins_hinge_does_not_hang_on_the_length_of_the_steps():
    joint = fejoint.load(DEMO.with_name("soft-pin.toml")).replace("pull.stop_displacement", 0.2)
    loads = [fejoint.pull(joint, refine=0.35, pace=p).pin["hinge_load_N"] for p in (1.0, 0.25)]
    assert loads[0] == pytest.approx(loads[1], rel=4e-3)


def test_type_checkers_know_every_mode_and_part():
    assert get_args(by.ModeName) == tuple(by.MODES)
    assert set(get_args(by.Part)) == {mode.part for mode in by.MODES.values()}
