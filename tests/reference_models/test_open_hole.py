"""Open-hole plates, pressed rings and bars: the textbook's numbers from our own kernel."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from support import closed_forms

from fejoint.errors import BadInput, SolveStopped
from fejoint.handbook import plasticity, plates
from fejoint.kernel.continuation import Path
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.stop_reason import Stop, StopReason
from fejoint.reference_models.bar import tension_bar
from fejoint.reference_models.open_hole import open_hole
from fejoint.reference_models.ring import pressed_ring
from fejoint.reference_models.stress_recovery import fitted


@pytest.mark.parametrize(
    ("remote", "least", "peak"),
    [((1, 0, 0), -1, 3), ((1, 1, 0), 2, 2), ((0, 0, 1), -4, 4), ((0.5, 0.5, 0.5), -1, 3)],
)
def test_kirsch_peak_within_0_3_percent_at_twice_the_default_refinement(
    remote: tuple[float, float, float], least: float, peak: float
) -> None:
    plate = open_hole(2.0, 20.0, 20.0, remote=remote, edge="infinite plate", sides=96)
    low, high = plate.rim.extremes()
    assert high == pytest.approx(peak, rel=0.003)
    assert low == pytest.approx(least, rel=0.003)


def test_kirsch_field_converges_with_the_mesh() -> None:
    errors = []
    for sides in (24, 48, 96):
        plate = open_hole(2.0, 20.0, 20.0, edge="infinite plate", sides=sides)
        x, y = plate.solid.quadrature.points.reshape(-1, 2).T
        exact = np.array(plates.kirsch(x, y, 1.0, 1.0, 0.0, 0.0))
        got = plate.points[-1].states[0].stress
        # farther out the size of the elements follows the distance, not the number of sides
        areas = plate.solid.quadrature.areas.reshape(-1) * (np.hypot(x, y) < 1.3)
        errors.append(np.sqrt(((got - exact) ** 2).sum(axis=0) @ areas / areas.sum()))
    assert errors[0] > 2.0 * errors[1] > 6.0 * errors[2]
    assert errors[0] > 10.0 * errors[2]
    assert errors[1] < 0.02


def test_stress_between_integration_points_is_kirschs() -> None:
    plate = open_hole(2.0, 20.0, 20.0, edge="infinite plate", sides=96)
    where = np.array([[0.0, 1.25], [1.5, 0.4], [-2.0, 0.3], [0.7, -1.6]])
    exact = np.array(plates.kirsch(where[:, 0], where[:, 1], 1.0, 1.0, 0.0, 0.0))
    assert plate.stress(where) == pytest.approx(exact, abs=0.01)


def test_the_rim_moves_as_kirsch_says() -> None:
    plate = open_hole(2.0, 20.0, 20.0, edge="infinite plate", modulus=1.0)
    assert plate.displacement((1.0, 0.0))[0] == pytest.approx(3.0, rel=1e-3)
    assert plate.displacement((0.0, 1.0))[1] == pytest.approx(-1.0, rel=1e-3)


def test_a_quarter_and_the_whole_plate_agree() -> None:
    quarter = open_hole(2.0, 8.0, 20.0)
    # a breath of shear makes the whole plate be meshed
    whole = open_hole(2.0, 8.0, 20.0, remote=(1.0, 0.0, 1e-9))
    assert len(whole.mesh.points) > 3 * len(quarter.mesh.points)
    assert whole.kt == pytest.approx(quarter.kt, rel=1e-5)
    assert whole.stretch[-1] == pytest.approx(quarter.stretch[-1], rel=1e-7)


def test_stress_and_stretch_do_not_depend_on_thickness_at_equal_remote_stress() -> None:
    thin, thick = (open_hole(2.0, 8.0, 20.0, thickness=t) for t in (0.5, 3.0))
    assert thick.kt == pytest.approx(thin.kt, rel=1e-9)
    assert thick.stretch[-1] == pytest.approx(thin.stretch[-1], rel=1e-9)
    assert thick.load[-1] == pytest.approx(6.0 * thin.load[-1], rel=1e-9)


def test_the_limit_load_is_that_of_the_net_section() -> None:
    plate = open_hole(
        2.0, 8.0, 24.0, hardening=Hardening.linear(250.0), remote=(250.0, 0.0, 0.0),
        factors=(0.5,), stop_stretch=0.15,
    )  # fmt: skip
    assert plate.load.max() == pytest.approx(250.0 * 6.0, rel=0.01)


def test_large_strain_agrees_with_small_strain_at_a_small_load() -> None:
    law = Hardening.swift(250.0, 0.02, 0.2)
    small, large = (
        open_hole(2.0, 8.0, 16.0, hardening=law, remote=(100.0, 0.0, 0.0), large_strain=flag)
        for flag in (False, True)
    )
    assert large.stretch[-1] == pytest.approx(small.stretch[-1], rel=2e-3)


def test_lames_ring() -> None:
    ring = pressed_ring(1.0, 2.0, modulus=1.0)
    assert ring.hoop == pytest.approx((5.0 / 3.0, 2.0 / 3.0), rel=1e-3)
    assert ring.growth[-1] == pytest.approx(
        float(closed_forms.lame_growth(1.0, 1.0, 2.0, 1.0, 1.0, 0.3)), rel=1e-4
    )


def test_nadais_ring_yields_and_spreads_as_the_closed_form_says() -> None:
    law = Hardening.linear(250.0)
    ring = pressed_ring(1.0, 2.0, hardening=law, pressures=list(np.linspace(110.0, 170.0, 16)))
    assert ring.first_yield == pytest.approx(
        plasticity.pressed_ring(1.0, 1.0, 2.0, 250.0).pressure, rel=1e-3
    )
    exact = plasticity.pressed_ring(1.0, 1.2, 2.0, 250.0).pressure
    assert ring.pressure_at_front(1.2) == pytest.approx(exact, rel=0.01)


def test_a_swift_bar_has_consideres_load_maximum() -> None:
    got = tension_bar(200e3, 0.3, Hardening.swift(300.0, 0.02, 0.25))
    exact = closed_forms.considere(lambda p: 300.0 * (1.0 + p / 0.02) ** 0.25, modulus=200e3)
    assert got.strength == pytest.approx(exact.strength, rel=1e-4)
    assert got.plastic_strain == pytest.approx(exact.plastic_strain, rel=0.02)


def test_a_quadratic_field_is_recovered_exactly() -> None:
    samples = np.random.default_rng(5).uniform(-1, 1, (200, 2))
    x, y = samples.T
    values = np.stack([1 + x * y, x**2 - 3 * y])
    got = fitted(np.array([[0.1, 0.2], [1.0, -1.0]]), samples, values)
    assert got == pytest.approx(np.array([[1.02, 0.0], [-0.59, 4.0]]), abs=1e-9)


def test_a_hole_wider_than_the_plate_is_refused() -> None:
    with pytest.raises(BadInput, match="width"):
        open_hole(8.0, 6.0)


def test_an_elastic_ring_never_yields() -> None:
    with pytest.raises(ValueError, match="no first yield"):
        _ = pressed_ring(1.0, 2.0, modulus=1.0, sides=16).first_yield


def test_a_bar_that_hardens_for_ever_has_no_load_maximum() -> None:
    with pytest.raises(SolveStopped, match="has no maximum"):
        tension_bar(200e3, 0.3, Hardening.linear(300.0, 5000.0))


def test_a_walk_that_finds_no_equilibrium_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    from fejoint.reference_models import tractions

    lost = Path([], Stop(StopReason.NO_EQUILIBRIUM))
    monkeypatch.setattr(tractions, "trace_path", lambda *_, **__: lost)
    monkeypatch.setattr(tractions, "_elastic_give", lambda *_: 1.0)
    with pytest.raises(SolveStopped, match="no equilibrium was found"):
        tractions.trace_travels(SimpleNamespace(symmetric=True), [0.1, 0.2])
