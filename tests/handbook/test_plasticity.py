"""Plastic rings and holes against printed values and an integration of equilibrium; necking."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from support import closed_forms

from fejoint.handbook import plasticity

INF = float("inf")
# front over hole radius, outer over hole radius, pressure over yield stress
RING = [
    (1.0, INF, 0.5774),
    (1.2, INF, 0.7862),
    (1.4, INF, 0.9540),
    (1.5, INF, 1.0236),
    (1.6, INF, 1.0839),
    (1.75, INF, 1.1543),
    (1.0, 3.0, 0.5121),
    (1.4, 3.0, 0.8330),
    (1.75, 3.0, 1.0006),
    (1.0, 2.0, 0.4286),
    (1.5, 2.0, 0.7022),
    (1.75, 2.0, 0.7548),
    (1.2, 1.5, 0.3979),
    (1.5, 1.5, 0.4393),
]


@pytest.mark.parametrize(("front", "outer", "pressure"), RING)
def test_pressed_ring(front: float, outer: float, pressure: float) -> None:
    ring = plasticity.pressed_ring(1.0, front, outer, 1.0)
    assert ring.pressure == pytest.approx(pressure, abs=6e-5)


def test_ring_collapse_pressures() -> None:
    found = [closed_forms.collapse_pressure(1.0, b, 1.0) for b in (1.5, 2.0, 2.5, 4.0)]
    assert found == pytest.approx([0.4393, 0.7698, 1.0094, 1.1547], abs=6e-5)


def _hoop_at_yield(sr: float) -> float:
    """Greater root of sr^2 - sr st + st^2 = 1."""
    return sr / 2 + np.sqrt(1 - 0.75 * sr**2)


@pytest.mark.parametrize("ring", [(1.5, INF), (1.6, 3.0)])
def test_pressed_ring_equals_integrated_equilibrium(ring: tuple[float, float]) -> None:
    front, outer = ring
    exact = plasticity.pressed_ring(1.0, front, outer, 1.0)
    start = float(exact.stresses(front)[0][0])
    walk = solve_ivp(
        lambda r, s: (_hoop_at_yield(s[0]) - s[0]) / r,
        (front, 1.0),
        [start],
        rtol=1e-10,
        atol=1e-12,
    )
    assert -walk.y[0, -1] == pytest.approx(exact.pressure, abs=1e-8)


def test_pressed_ring_yields_up_to_its_front_and_carries_its_load() -> None:
    ring = plasticity.pressed_ring(1.0, 1.5, 3.0, 250.0)
    r = np.linspace(1.0, 3.0, 4001)
    sr, st = ring.stresses(r)
    mises = np.sqrt(sr**2 - sr * st + st**2)
    assert mises[r < 1.5] == pytest.approx(250.0)
    assert mises[r > 1.51].max() < 250.0
    assert sr[-1] == pytest.approx(0.0, abs=1e-9)
    assert np.trapezoid(st, r) == pytest.approx(ring.pressure, rel=1e-5)


@pytest.mark.parametrize("tension", [0.55, 0.75, 0.9])
def test_stretched_hole_equals_integrated_equilibrium(tension: float) -> None:
    ring = plasticity.stretched_hole(1.0, tension, 1.0)
    sr, st = ring.stresses([1.0, 1e6])
    assert (sr[0], st[0]) == pytest.approx((0.0, 1.0), abs=1e-9)
    assert (sr[1], st[1]) == pytest.approx((tension, tension), abs=1e-9)
    walk = solve_ivp(
        lambda r, s: (_hoop_at_yield(s[0]) - s[0]) / r,
        (1.0, ring.front),
        [0.0],
        rtol=1e-10,
        atol=1e-12,
    )
    at_front = float(walk.y[0, -1])
    assert (at_front + _hoop_at_yield(at_front)) / 2 == pytest.approx(tension, abs=1e-8)


def test_stretched_hole_begins_to_yield_at_half_the_yield_stress() -> None:
    assert plasticity.stretched_hole(2.0, 50.0, 100.0).front == pytest.approx(2.0)
    with pytest.raises(ValueError, match="Y/2"):
        plasticity.stretched_hole(1.0, 1.0, 1.0)


def test_considere_loads_of_swift_and_voce() -> None:
    swift = closed_forms.considere_swift(1200.0, 0.012, 0.28)
    voce = closed_forms.considere_voce(260.0, 520.0, 11.0)
    assert swift.strength == pytest.approx(642.7, abs=0.05)
    assert voce.strength == pytest.approx(591.8, abs=0.05)

    def swift_law(p: float) -> float:
        return 1200.0 * (0.012 + p) ** 0.28

    def voce_law(p: float) -> float:
        return 260.0 + 520.0 * (1.0 - np.exp(-11.0 * p))

    assert closed_forms.considere(swift_law).strength == pytest.approx(swift.strength)
    assert closed_forms.considere(voce_law).strength == pytest.approx(voce.strength)
    assert closed_forms.considere(swift_law).plastic_strain == pytest.approx(0.268, abs=1e-4)
    # a law for the Cauchy stress and one for the Kirchhoff stress part by the elastic volume
    for law, cauchy in ((swift_law, 641.1), (voce_law, 590.6)):
        found = closed_forms.considere(law, modulus=200e3, poisson=0.3).strength
        assert found == pytest.approx(cauchy, abs=0.1)
    kirchhoff = closed_forms.considere(swift_law, modulus=200e3)
    assert kirchhoff.strength == pytest.approx(640.0, abs=0.05)


def test_open_hole_limit_load() -> None:
    assert closed_forms.open_hole_limit_load(20.0, 5.0, 2.0, 300.0) == 9000.0


def test_the_widest_front_turns_to_the_limit_angle_at_the_hole() -> None:
    front = plasticity.LIMIT_ANGLE
    ring = plasticity.PlasticRing(1.0, 1.0, INF, 250.0, front)
    assert ring.angle(1.0) == front
    with pytest.raises(ValueError, match="cannot carry"):
        ring.angle(0.99)
