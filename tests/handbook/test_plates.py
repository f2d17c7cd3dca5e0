"""Elastic plates: field equations, printed values, and an independent solver for the strip."""

from __future__ import annotations

import numpy as np
import pytest
from support import closed_forms

from fejoint.handbook import plates


def test_kirsch_ligament_and_rim_values() -> None:
    r = np.array([1.0, 1.25, 1.5, 2.0, 3.0])
    hoop = plates.kirsch_polar(r, np.pi / 2, 1.0, 1.0, 0.0, 0.0)[1]
    assert hoop == pytest.approx([3.0, 1.9344, 1.5185, 1.2188, 1.0741], abs=6e-5)
    rim = np.linspace(0, 2 * np.pi, 721)

    def peak(*remote: float) -> float:
        return float(np.abs(plates.kirsch_polar(1.0, rim, 1.0, *remote)[1]).max())

    assert peak(1.0, 1.0, 0.0) == pytest.approx(2.0)
    assert peak(0.0, 0.0, 1.0) == pytest.approx(4.0)
    assert peak(1.0, 0.5, 0.0) == pytest.approx(2.5)
    assert closed_forms.kirsch_rim_growth([0.0, np.pi / 2], 2.0, 5.0, 10.0) == pytest.approx(
        [3.0, -1.0]
    )


@pytest.mark.parametrize("remote", [(1.0, 0.0, 0.0), (1.0, 0.4, -0.3)])
def test_kirsch_meets_equilibrium_compatibility_and_the_free_rim(
    remote: tuple[float, float, float],
) -> None:
    rng = np.random.default_rng(1)
    r, t, h = rng.uniform(1.1, 4.0, 50), rng.uniform(0, 2 * np.pi, 50), 1e-3
    x, y = r * np.cos(t), r * np.sin(t)

    def field(dx: float, dy: float) -> np.ndarray:
        return np.array(plates.kirsch(x + dx, y + dy, 1.0, *remote))

    ddx, ddy = (field(h, 0) - field(-h, 0)) / (2 * h), (field(0, h) - field(0, -h)) / (2 * h)
    assert np.abs(ddx[0] + ddy[2]).max() < 1e-4
    assert np.abs(ddx[2] + ddy[1]).max() < 1e-4
    around = field(h, 0) + field(-h, 0) + field(0, h) + field(0, -h) - 4 * field(0, 0)
    assert np.abs((around[0] + around[1]) / h**2).max() < 1e-3
    sr, _, srt = plates.kirsch_polar(1.0, t, 1.0, *remote)
    assert np.abs([sr, srt]).max() < 1e-14
    far = np.array(plates.kirsch(1e5, 2e5, 1.0, *remote))
    assert far == pytest.approx(np.array(remote), abs=1e-8)


def _strip_gross_kt(ratio: float, aspect: float = 3.0, terms: int = 44) -> float:
    """Peak over gross stress of a strip with a hole: complex series, least squares on the edges.

    phi and psi are odd Laurent series with real coefficients (two symmetries); the strip is
    `aspect` widths long. Independent of the project's mesher, elements and solver.
    """
    hole, half, long = ratio / 2, 0.5, aspect / 2
    down, up = np.arange(-terms + 1, 0, 2), np.arange(1, terms, 2)
    powers = np.concatenate([down, up]).astype(float)
    size = np.where(powers < 0, hole, long)
    angle = (np.arange(300) + 0.5) / 300 * np.pi / 2
    hole_z = hole * np.exp(1j * angle)
    edge = 1 - np.cos((np.arange(400) + 0.5) / 400 * np.pi / 2)
    top_z = long * (1 - edge[::-1]) + 1j * half
    right_z = long + 1j * half * (np.arange(200) + 0.5) / 200

    def stresses(z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Rows of the sum sx + sy and of sy - sx + 2i sxy for all unknowns."""
        z = z[:, None]
        first = powers / size * (z / size) ** (powers - 1)
        second = powers * (powers - 1) / size**2 * (z / size) ** (powers - 2)
        zero = np.zeros_like(first)
        return np.hstack([4 * first.real, zero.real]), np.hstack(
            [2 * np.conj(z) * second, 2 * first]
        )

    total, turned = stresses(hole_z)
    local = turned * np.exp(2j * angle)[:, None]  # st - sr + 2i srt
    rows = [(total - local.real) / 2, local.imag / 2]
    total, turned = stresses(top_z)
    rows += [(total + turned.real) / 2, turned.imag / 2]
    total, turned = stresses(right_z)
    rows += [(total - turned.real) / 2, turned.imag / 2]
    matrix = np.vstack(rows)
    right = np.zeros(len(matrix))
    right[-2 * len(right_z) : -len(right_z)] = 1.0
    scale = np.linalg.norm(matrix, axis=0)
    unknowns = np.linalg.lstsq(matrix / scale, right, rcond=1e-13)[0] / scale
    total, turned = stresses(np.array([1j * hole]))
    return float(((total - turned.real) / 2 @ unknowns)[0])


@pytest.mark.parametrize("ratio", closed_forms.HOLE_RATIOS[2:])
def test_strip_with_hole_agrees_with_an_independent_series_solution(ratio: float) -> None:
    assert closed_forms.finite_width_gross(ratio) == pytest.approx(_strip_gross_kt(ratio), rel=2e-3)


def test_strip_with_hole_values_and_the_remembered_formulas_below_them() -> None:
    assert closed_forms.finite_width_gross(0.25) == pytest.approx(3.248, rel=1e-3)
    assert closed_forms.finite_width_gross(0.35) == pytest.approx(3.538, rel=1e-3)
    assert closed_forms.finite_width_net(0.5) == pytest.approx(2.1739, abs=1e-4)
    for ratio in (0.1, 0.2, 0.3, 0.4, 0.5):
        net = closed_forms.finite_width_net(ratio)
        assert 0.97 * net < closed_forms.heywood_net(ratio) < net
        assert 0.99 * net < closed_forms.peterson_net(ratio) < net
    with pytest.raises(ValueError, match="between 0 and"):
        closed_forms.finite_width_gross(0.7)


def test_inglis_ellipse_along_across_and_at_45_degrees() -> None:
    eta = np.linspace(0, 2 * np.pi, 200001)
    assert closed_forms.inglis_peak(2, 1) == 5.0
    assert closed_forms.inglis_peak(1.2, 1) == pytest.approx(3.4)
    assert closed_forms.inglis_peak(1, 1.2) == pytest.approx(2.667, abs=5e-4)
    assert plates.inglis_hoop(0.0, 2, 1, np.pi / 2) == pytest.approx(5.0)
    assert plates.inglis_hoop(np.pi / 2, 2, 1, 0.0) == pytest.approx(2.0)
    assert plates.inglis_hoop(eta, 2, 1, np.pi / 4).max() == pytest.approx(3.622, abs=1e-3)


def test_inglis_equals_the_conformal_mapping_solution() -> None:
    theta, a, b, beta = np.linspace(0, 2 * np.pi, 37), 2.0, 0.8, 0.6
    m = (a - b) / (a + b)
    mapped = (1 - m**2 + 2 * m * np.cos(2 * beta) - 2 * np.cos(2 * (theta - beta))) / (
        1 + m**2 - 2 * m * np.cos(2 * theta)
    )
    assert plates.inglis_hoop(theta, a, b, beta) == pytest.approx(mapped)


def test_lame_ring_carries_its_pressures_and_its_load() -> None:
    r = np.linspace(2.0, 5.0, 20001)
    sr, st = closed_forms.lame_ring(r, 2.0, 5.0, 10.0, 3.0)
    assert sr[[0, -1]] == pytest.approx([-10.0, -3.0])
    assert np.trapezoid(st, r) == pytest.approx(10.0 * 2.0 - 3.0 * 5.0, rel=1e-7)
    growth = closed_forms.lame_growth(r, 2.0, 5.0, 10.0, 200e3, 0.3)
    sr, st = closed_forms.lame_ring(r, 2.0, 5.0, 10.0)
    assert np.gradient(growth, r)[1:-1] == pytest.approx(((sr - 0.3 * st) / 200e3)[1:-1], rel=1e-5)


def test_remembered_lug_fit_is_only_good_for_wide_holes() -> None:
    converged = {0.2: 1.355, 0.3: 1.693, 0.4: 2.139, 0.5: 2.733, 0.6: 3.557}
    for ratio, peak in converged.items():
        error = closed_forms.lug_peak_over_bearing(ratio) / peak - 1.0
        assert (abs(error) < 0.03) == (ratio >= 0.4)
