"""The bracketed root is SciPy's within the tolerance asked for."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from fejoint.kernel import root as bracketed
from fejoint.kernel.root import root

FUNCTIONS = {
    "line": (lambda x: 3.0 * x - 1.0, -5.0, 1e6),
    "steep": (lambda x: math.expm1(30.0 * (x - 0.7)), -1.0, 2.0),
    "logarithm from near its pole": (lambda x: math.log(x) + 8.0, 1e-12, 1e3),
    "jump": (lambda x: -1.0 if x < 0.3 else 2.0, 0.0, 1.0),
    "falling": (lambda x: math.cos(x), 0.0, 3.0),
    "wave": (lambda x: math.sin(x) - 0.5 * x, 1.0, 3.0),
    "flat at first": (lambda x: x**9 - 1e-3, -1.0, 10.0),
}


@pytest.mark.parametrize("name", FUNCTIONS)
@pytest.mark.parametrize("turned", [False, True])
def test_the_root_is_that_of_scipy(name, turned):
    function, low, high = FUNCTIONS[name]
    ends = (high, low) if turned else (low, high)
    calls = []

    def counted(x):
        calls.append(x)
        return function(x)

    found = root(counted, *ends, within=1e-13)
    assert found == pytest.approx(brentq(function, low, high, xtol=1e-14), rel=1e-12, abs=2e-13)
    assert len(calls) < 150


def test_random_cubics_have_the_root_of_scipy():
    rng = np.random.default_rng(3)
    for _ in range(300):
        a, c = rng.normal(size=2)
        shift = rng.uniform(-3.0, 3.0)

        def function(x, a=a, c=c, shift=shift):
            t = x - shift
            return (a * a * t * t + 0.1 * a * t + c * c + 0.01) * t

        found = root(function, -4.0, 5.0)
        assert abs(found - shift) <= 4e-12
        assert found == pytest.approx(brentq(function, -4.0, 5.0), abs=4e-12)


def test_a_root_with_no_slope_is_found():
    # SciPy's gives up here
    assert root(lambda x: (x - 1.0) ** 3, -3.0, 7.0) == pytest.approx(1.0, abs=2e-12)


@pytest.mark.parametrize(("low", "high"), [(2.0, 5.0), (0.0, 2.0)])
def test_a_root_at_an_end_is_found(low, high):
    assert root(lambda x: x - 2.0, low, high) == 2.0


@pytest.mark.parametrize("value", [1.0, -1.0, math.nan])
def test_no_change_of_sign_is_refused(value):
    with pytest.raises(ValueError, match="no change of sign"):
        root(lambda _: value, 0.0, 1.0)


def test_a_function_that_stops_being_a_number_is_refused():
    with pytest.raises(ValueError, match="not a number"):
        root(lambda x: math.nan if 0.2 < x < 0.8 else x - 0.5, 0.0, 1.0)


def test_a_search_that_may_not_go_on_ends_at_the_best_place_so_far(monkeypatch):
    monkeypatch.setattr(bracketed, "_MOST", 8)
    found = root(lambda x: x**9 - 1e-3, -1.0, 10.0)
    assert -1.0 < found < 10.0
    assert abs(found**9 - 1e-3) < min(abs(-1.0 - 1e-3), 10.0**9)
