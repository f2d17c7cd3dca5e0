"""The monotone curve is SciPy's to rounding."""

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from fejoint.kernel.pchip import Monotone


def columns(rng, n):
    """Places of very unequal distance; values that rise, fall, and stand still."""
    x = np.cumsum(10.0 ** rng.uniform(-4.0, 1.0, n)) - rng.uniform(0.0, 5.0)
    steps = rng.normal(size=n) * 10.0 ** rng.uniform(-3.0, 3.0)
    steps[rng.random(n) < 0.3] = 0.0
    y = np.cumsum(np.abs(steps) if rng.random() < 0.5 else steps)
    return x, y


@pytest.mark.parametrize("n", [2, 3, 4, 5, 8, 40, 300])
def test_values_slopes_and_coefficients_are_those_of_scipy(n):
    rng = np.random.default_rng(n)
    for _ in range(50):
        x, y = columns(rng, n)
        own, other = Monotone(x, y), PchipInterpolator(x, y)
        steepest = np.abs(np.diff(y) / np.diff(x)).max()
        assert np.array_equal(own.x, x)
        assert own.c.shape == other.c.shape
        # each coefficient by what it can add inside its piece
        reach = np.diff(x) ** np.array([[3], [2], [1], [0]])
        scale = np.abs(y).max() + steepest * np.diff(x).max()
        assert np.abs((own.c - other.c) * reach).max() <= 1e-13 * scale
        beyond = 0.1 * (x[-1] - x[0])
        at = np.concatenate([x, rng.uniform(x[0] - beyond, x[-1] + beyond, 200)])
        inside = (at >= x[0]) & (at <= x[-1])
        assert np.abs(own(at) - other(at))[inside].max() <= 1e-13 * scale
        assert np.abs(own(at, 1) - other(at, 1))[inside].max() <= 1e-12 * max(steepest, 1e-300)
        far = np.abs(other(at[~inside])).max(initial=scale)
        assert np.abs(own(at) - other(at)).max() <= 1e-11 * far


def test_the_curve_passes_its_points_and_stays_between_them():
    rng = np.random.default_rng(1)
    for _ in range(50):
        x, y = columns(rng, 12)
        curve = Monotone(x, y)
        assert curve(x) == pytest.approx(y, rel=1e-12, abs=1e-12 * np.abs(y).max())
        fine = curve(x[:-1, None] + np.linspace(0.0, 1.0, 30) * np.diff(x)[:, None])
        low, high = np.minimum(y[:-1], y[1:]), np.maximum(y[:-1], y[1:])
        slack = 1e-12 * np.abs(y).max()
        assert np.all(fine >= low[:, None] - slack)
        assert np.all(fine <= high[:, None] + slack)


@pytest.mark.parametrize(
    ("y", "slopes"),
    [
        ([0.0, 1.0, 2.0, 3.0], [1.0, 1.0, 1.0, 1.0]),
        # the parabola's end slope of -0.5 has the wrong sign; the middle is a peak
        ([0.0, 1.0, 4.0, 4.0], [0.0, 1.5, 0.0, 0.0]),
        # 3.5 by the parabola, held at three times the first secant
        ([0.0, 1.0, -4.0, -4.0], [3.0, 0.0, 0.0, 0.0]),
    ],
)
def test_end_slopes_are_held_within_what_keeps_the_curve_monotone(y, slopes):
    x = np.arange(4.0)
    assert Monotone(x, y)(x, 1) == pytest.approx(slopes, abs=1e-12)
    assert PchipInterpolator(x, y)(x, 1) == pytest.approx(slopes, abs=1e-12)


def test_a_single_number_a_table_and_no_number_keep_their_shape():
    curve = Monotone([0.0, 1.0, 3.0], [0.0, 2.0, 3.0])
    assert curve(1.0).shape == ()
    assert curve(np.zeros((2, 3))).shape == (2, 3)
    assert np.isnan(curve(np.array([np.nan, 1.0]))).tolist() == [True, False]


@pytest.mark.parametrize(
    ("x", "y"),
    [
        ([0.0], [1.0]),
        ([0.0, 1.0], [1.0, 2.0, 3.0]),
        ([0.0, 1.0, 1.0], [0.0, 1.0, 2.0]),
        ([0.0, np.nan, 1.0], [0.0, 1.0, 2.0]),
    ],
)
def test_points_that_make_no_curve_are_refused(x, y):
    with pytest.raises(ValueError, match="monotone curve"):
        Monotone(x, y)
