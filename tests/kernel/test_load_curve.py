"""Where a curve is largest, and where it first reaches a level."""

from __future__ import annotations

import numpy as np
import pytest

from fejoint.kernel.load_curve import first_reach, maximum


def test_a_top_that_is_flat_to_a_rounding_is_its_own_maximum():
    # the parabola through it opens upwards by rounding alone
    along = np.array([0.04097352393619469, 0.2697867137638703, 0.6369616873214543])
    load = np.array([1.6527635528529092, 1.6527635528529094, 1.6527635528529094])
    top, at = maximum(load, along)
    assert top == pytest.approx(load[1], rel=1e-14)
    assert along[0] <= at <= along[2]


def test_a_level_below_the_first_value_is_reached_at_once():
    values = np.array([2.0, 4.0, 8.0])
    assert first_reach(values, 1.0) == 0.0
    assert first_reach(values, 6.0) == 1.5
    assert first_reach(values, 9.0) is None
