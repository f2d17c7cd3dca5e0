"""The pin in its plates against beams, mechanisms and statics."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import pytest
from support import closed_forms

from fejoint.handbook import beams
from fejoint.handbook.pin_collapse import line_hinge_gap_load
from fejoint.kernel.continuation import Path, StepControl
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal
from fejoint.kernel.stop_reason import Stop, StopReason
from fejoint.sections import let_go
from fejoint.sections.axial import pull as axial
from fejoint.sections.axial.case import AxialCase, AxialSettings, Plate
from fejoint.sections.axial.grid import cuts_of
from fejoint.sections.axial.pull import AxialHistory
from fejoint.sections.face.bearing_law import BearingLaw

D, E, YIELD = 3.0, 200e3, 1000.0
ELASTIC = Metal(E, 0.3)
PERFECT = Metal(E, 0.3, Hardening.linear(YIELD))


@dataclass(frozen=True)
class BothWays:
    """Elastic bearing that also pulls, as a Winkler bed does."""

    stiffness: float

    def respond(self, travel, deepest):
        return self.stiffness * travel, np.full_like(travel, self.stiffness), deepest


@lru_cache
def across_gaps(gap: float, *, clearance: float = np.inf, slices: float = 2.0) -> AxialHistory:
    """Pull a perfectly plastic pin, small strain, out of rigid plates until it collapses."""
    law = BearingLaw.linear(2e9, clearance)
    ear = 3.0 * D if gap > D / 2 else 2.0 * D
    plates = (Plate(ear, 0.0, law), Plate(3.0 * D, gap, law), Plate(ear, gap, law))
    far = 0.1 * D + 0.15 * gap
    settings = AxialSettings(
        slices=slices, longest=0.1 * far, stop_travel=far, stop_at_maximum=False
    )
    case = AxialCase(D, PERFECT, plates, 1, large_strain=False)
    history = axial.pull(axial.build(case, settings), settings)
    assert history.path.finished
    return history


def test_with_hardly_a_gap_both_planes_shear_at_area_times_yield_over_root_3():
    load = across_gaps(0.02 * D).load.max()
    assert load == pytest.approx(2.0 * beams.full_plastic_shear(D, YIELD), rel=0.03)


@pytest.mark.parametrize("gap", [1.0, 2.0, 4.0])
def test_across_a_gap_a_pin_that_may_turn_collapses_at_the_mechanism_load(gap: float):
    expected = closed_forms.gap_load_with_shear(D, YIELD, gap * D, clamped=False)
    assert across_gaps(gap * D).load.max() == pytest.approx(expected, rel=0.02)


def test_a_neat_fit_holds_the_pin_above_plane_sections_clamped_load():
    # Beside a rigid neat hole the hinge cannot spread, so it yields between a plane section's
    # and a line's: 11 % above plane sections at this gap. A pin that may turn has no such hinge.
    gap = 2.0 * D
    load = across_gaps(gap, clearance=0.0).load.max()
    assert load > 1.05 * closed_forms.gap_load_with_shear(D, YIELD, gap, clamped=True)
    assert load < line_hinge_gap_load(D, YIELD, gap)


def test_a_pin_on_elastic_bearing_is_hetenyis_beam():
    # slender, so that what shear adds to a beam's bending stays small
    length, stiffness, pressed = 20.0 * D, 20.0, 0.1 * D
    half = 0.5 * (length - pressed)
    plates = (
        Plate(half, 0.0, BothWays(stiffness)),
        Plate(pressed, 0.0, BothWays(1e4 * E)),
        Plate(half, 0.0, BothWays(stiffness)),
    )
    settings = AxialSettings(stop_at_maximum=False)
    problem = axial.build(AxialCase(D, ELASTIC, plates, 1, large_strain=False), settings)
    history = axial.pull(problem, settings, legs=[StepControl("load", 300.0)])
    x, lateral = problem.axis(history.path.points[-1])
    bending = E * beams.round_inertia(D)
    beam = closed_forms.bedded_beam(length, stiffness, bending, 300.0)
    assert np.interp(0.5 * length, x, lateral) == pytest.approx(beam.middle, rel=0.02)
    assert lateral[0] == pytest.approx(beam.end, abs=0.02 * beam.middle)
    assert history.moment[-1] == pytest.approx(beam.moment, rel=0.02)


def elastic_joint(n_ears: int, ends: str, how: AxialSettings | None = None) -> AxialHistory:
    law = BearingLaw.linear(2e4, 0.05, reach=5.0)
    plates = (Plate(2.0, 0.0, law, 3e4), Plate(6.0, 0.3, law, 1e5), Plate(3.0, 0.3, law, 3e4))
    case = AxialCase(D, ELASTIC, plates[: n_ears + 1], 1, ends)
    settings = replace(how or AxialSettings(), stop_at_maximum=False)
    return axial.pull(axial.build(case, settings), settings, legs=[StepControl("load", 500.0)])


@pytest.mark.parametrize(("n_ears", "ends"), [(2, "free"), (2, "held"), (1, "free"), (1, "held")])
def test_the_pins_far_end_is_free_of_shear_and_moment(n_ears: int, ends: str):
    history = elastic_joint(n_ears, ends)
    _, shear, moment = history.problem.section_forces(history.path.points[-1])
    assert abs(shear[-1]) < 1e-6 * np.abs(shear).max()
    assert abs(moment[-1]) < 1e-6 * np.abs(moment).max()


@pytest.mark.parametrize("n_ears", [1, 2])
def test_a_free_end_bears_as_little_moment_on_a_coarse_mesh(n_ears: int):
    # a column's mean lies 2e-4 mm aside from half way between its cuts there
    history = elastic_joint(n_ears, "free", AxialSettings(rows=4, slices=0.35))
    for point in history.path.points[1:]:
        _, _, moment = history.problem.section_forces(point)
        assert np.abs(moment[[0, -1]]).max() < 1e-7 * D * history.load.max()


def test_a_held_end_does_not_turn_and_carries_a_couple():
    held, free = elastic_joint(1, "held"), elastic_joint(1, "free")
    couples, turns = [], []
    for history in (held, free):
        point = history.path.points[-1]
        _, _, moment = history.problem.section_forces(point)
        nodes = history.problem.mesh.nodes_of("left")
        y = history.problem.mesh.points[nodes, 1]
        turns.append(abs(np.polyfit(y, point.z[2 * nodes], 1)[0]))
        couples.append(abs(moment[0]))
    # the guide weighs the end by its chord, this fit does not
    assert turns[0] < 0.01 * turns[1]
    assert couples[1] == 0.0
    assert couples[0] > 0.1 * held.moment[-1]


def test_single_shear_bends_a_pin_more_than_double_shear():
    assert elastic_joint(1, "held").moment[-1] > 1.5 * elastic_joint(2, "free").moment[-1]


@pytest.mark.parametrize("n_ears", [1, 2])
def test_shank_and_ears_carry_the_load_at_every_step(n_ears: int):
    history = elastic_joint(n_ears, "free")
    assert history.imbalance() < 1e-6
    np.testing.assert_allclose(history.shares[:, 1], history.load, atol=1e-6 * history.load.max())
    assert across_gaps(D).imbalance() < 1e-6


def test_a_mirrored_joint_carries_the_same():
    history = elastic_joint(2, "free")
    case = history.problem.case
    back = tuple(replace(p, gap_before=0.3 if k else 0.0) for k, p in
                 enumerate(reversed(case.plates)))  # fmt: skip
    settings = AxialSettings(stop_at_maximum=False)
    turned = axial.pull(
        axial.build(replace(case, plates=back), settings),
        settings,
        legs=[StepControl("load", 500.0)],
    )
    np.testing.assert_allclose(turned.shares[-1], history.shares[-1][::-1], rtol=1e-5)
    assert turned.extension[-1] == pytest.approx(history.extension[-1], rel=1e-5)


def test_the_stiffer_of_two_ears_carries_more():
    case = elastic_joint(2, "free").problem.case
    stiff = replace(case.plates[0], law=BearingLaw.linear(8e4, 0.05, reach=5.0))
    settings = AxialSettings(stop_at_maximum=False)
    problem = axial.build(
        replace(case, plates=(stiff, case.plates[1], replace(stiff, law=case.plates[0].law,
                                                             gap_before=0.3))),
        settings,
    )  # fmt: skip
    shares = axial.pull(problem, settings, legs=[StepControl("load", 500.0)]).shares[-1]
    assert shares[0] > 1.05 * shares[2] > 0.0


def test_an_elastic_pin_springs_back_straight():
    history = elastic_joint(2, "free")
    let_go = axial.release(history, len(history.load) - 1, AxialSettings())
    assert let_go is not None
    at_load, _ = history.problem.bend(history.path.points[-1])
    assert history.problem.bend(let_go)[0] < 1e-3 * at_load


def in_two_ears(gaps: tuple[float, float], **settings) -> AxialHistory:
    law = BearingLaw.linear(2e4, 0.05, reach=5.0)
    plates = (Plate(D, 0.0, law, 3e4), Plate(2 * D, gaps[0], law, 5e4), Plate(D, gaps[1], law, 3e4))
    case = AxialCase(D, Metal(E, 0.3, Hardening.swift(YIELD, 0.05, 0.2)), plates, 1)
    how = AxialSettings(stop_travel=0.6, longest=0.05, **settings)
    return axial.pull(axial.build(case, how), how)


def test_half_a_pin_answers_as_the_whole_where_it_is_its_own_mirror_image():
    half, whole = in_two_ears((0.1, 0.1)), in_two_ears((0.1, 0.1), whole=True)
    assert half.problem.system.n_unknowns < 0.55 * whole.problem.system.n_unknowns
    assert len(half.load) == len(whole.load)
    for name in ("load", "shares", "moment", "shear"):
        ours, theirs = getattr(half, name), getattr(whole, name)
        np.testing.assert_allclose(ours, theirs, atol=2e-6 * np.abs(theirs).max())
    ours, theirs = (h.problem.axis(h.path.points[-1])[1] for h in (half, whole))
    np.testing.assert_allclose(ours, theirs, atol=1e-8)
    np.testing.assert_allclose(ours, ours[::-1], atol=1e-12)
    # what is left out of balance on the half is what is left on the whole
    end = half.path.points[-1]
    system = whole.problem.system
    rest = np.concatenate([end.multipliers, np.zeros(system.n_multipliers - 1)])
    states = half.path.points[-2].states
    states = (*states, *system.initial_states()[len(states) :])  # the bed that holds a loose pin
    out = system.evaluate(end.z, rest, end.travel, states)
    assert np.abs(out.residual).max() < 1e-5 * end.load


def test_a_pin_with_unequal_gaps_is_solved_whole():
    lopsided = in_two_ears((0.1, 0.4))
    assert lopsided.problem.system.mirror is None
    assert abs(lopsided.shares[-1, 0] - lopsided.shares[-1, 2]) > 1e-3 * lopsided.load[-1]


def test_a_joint_that_cannot_be_followed_back_has_no_release(monkeypatch):
    history = elastic_joint(2, "free")
    last = len(history.load) - 1
    lost = Path([history.path.points[last]], Stop(StopReason.NO_EQUILIBRIUM))
    monkeypatch.setattr(let_go, "trace_path", lambda *_, **__: lost)
    assert axial.release(history, last, AxialSettings()) is None
    assert axial.release(history, 0, AxialSettings()) is history.path.points[0]


def test_plates_that_nearly_touch_have_no_columns_between_them():
    law = BearingLaw.linear(2e4, 0.05, reach=5.0)

    def cuts(gap):
        plates = (Plate(D, 0.0, law), Plate(2 * D, gap, law), Plate(D, gap, law))
        return cuts_of(AxialCase(D, ELASTIC, plates, 1), AxialSettings())

    assert np.diff(cuts(1e-10)).min() > 1e-3 * D
    np.testing.assert_allclose(cuts(1e-10), cuts(0.0), atol=1e-9)
