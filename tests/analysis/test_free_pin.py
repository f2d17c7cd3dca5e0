"""Pins that turn freely in their clearance before they bear: no load, and no answer made of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from support import DEMO

import fejoint
from fejoint.analysis.result import Answer


def loose(stop: float, *, holes: tuple[float, float], gap: float, **pin: Any) -> Answer:
    """Pull the demo in single shear, its pin free in loose holes of ear and shank (mm)."""
    table = fejoint.load(DEMO).to_dict()
    table["ear"] = [table["ear"][0] | {"hole": holes[0], "thickness": pin.pop("ear", 2.0)}]
    table["shank"] |= {"hole": holes[1], "thickness": pin.pop("shank", 6.0)}
    table["fit"] = {"gap": [gap], "friction": 0.0}
    table["pin"] = (pin or table["pin"]) | {"diameter": 4.0, "ends": "free"}
    table["pull"]["stop_displacement"] = stop
    return fejoint.pull(fejoint.load(table), refine=0.35)


def test_pin_turns_at_no_load_and_then_bears_at_a_rising_one():
    curve = loose(0.2, holes=(4.4, 4.4), gap=0.1).trace
    assert np.abs(curve.load[curve.extension < 0.015]).max() < 1e-3
    bearing = curve.load[curve.extension > 0.06]
    assert bearing[0] > 1.0
    assert np.all(np.diff(bearing) > 0.0)


def test_pull_that_ends_before_the_pin_bears_says_that_nothing_gave():
    answer = loose(0.02, holes=(4.4, 4.4), gap=0.1)
    assert answer.event("load maximum").load is None
    assert answer.verdict.sentence.startswith("The joint bore no load")


@pytest.mark.parametrize("seed", [16, 30, 37])
def test_pin_that_turns_freely_is_not_thrown_into_a_jam(seed):
    # of 45 such joints these three ended at loads down to -3,490 N while steps were let leap
    rng = np.random.default_rng([77, seed])
    holes = tuple(4.0 * (1.0 + rng.uniform(0.01, 0.4, 2)))
    plates = {"ear": float(rng.uniform(0.3, 4.0)), "shank": float(rng.uniform(0.3, 8.0))}
    gap, rigid, stop = rng.uniform(0.0, 3.0), rng.random() < 0.5, rng.uniform(0.02, 0.15)
    answer = loose(stop, holes=holes, gap=gap, rigid=bool(rigid), **plates)
    assert answer.trace.load.min() > -1e-3
