"""Joints whole in the round beside the everyday sections: stored numbers, and how they are read."""

from __future__ import annotations

import os
from dataclasses import replace

import numpy as np
import pytest

from fejoint.sections.solid.whole_joint_case import WholeJointSettings
from fejoint.validation import reference_case
from fejoint.validation.models import whole_joints
from fejoint.validation.models.whole_joints import (
    Readings,
    by_sections,
    case_of,
    frictionless,
    in_the_round,
    quantities,
)

CASES = [c for c in reference_case.read_all() if c.kind == "whole joint"]


def joint(name: str = "whole-joint-hard"):
    return frictionless(next(c for c in CASES if c.name == name).given)


def made_up(reach: float = 1.0, hinge: float | None = 5.0) -> Readings:
    """Loads of 100 a millimetre; bearing falls from the inner face, elongation with depth."""
    ends = np.linspace(0.0, 2.0, 9)
    return Readings(
        reach,
        lambda t: 100.0 * t,
        lambda t: 10.0 * t,
        lambda t: 0.1 * t if t < 0.3 else None,
        7.0,
        hinge,
        lambda plate, t: (np.array([0.0, 1.0]), np.array([t, t + 1.0 + plate])),
        lambda plate, t: t,
        lambda t: (ends, 8.0 - np.arange(8.0)),
    )


def test_quantities_are_read_where_they_say():
    found = quantities(joint(), made_up())
    assert found["load at 0.38 mm, N"] == pytest.approx(38.0)
    assert found["offset load, N"] == 7.0
    assert found["hinge load, N"] == 5.0
    # 0.03 pin diameters behind the mouth
    assert found["shank: elongation at the mouth at 0.2 mm, mm"] == pytest.approx(0.2 + 0.12 * 2.0)
    assert found["ear: bearing of the inner quarter at 0.2 mm, N/mm"] == pytest.approx(7.5)
    assert found["ear: bearing of the outer quarter at 0.2 mm, N/mm"] == pytest.approx(1.5)
    assert "bend kept from 0.38 mm, mm" not in found


def test_what_was_not_reached_is_left_out():
    found = quantities(joint(), made_up(0.25, None))
    assert "load at 0.2 mm, N" in found
    assert not any("0.3" in name for name in found)
    assert "hinge load, N" not in found


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.name)
def test_every_expected_quantity_is_one_that_is_read(case):
    read = {name.rpartition(", ")[0] for name in quantities(joint(), made_up())}
    read |= {"bend kept from 0.38 mm"}
    assert {row.quantity for row in case.expectations} <= read
    assert frictionless(case.given).friction == 0.0
    known = [row for row in case.expectations if row.known_miss]
    assert all(row.tolerance <= 0.15 for row in known)


def test_a_joint_becomes_the_solid_one():
    known = joint()
    bare = replace(known.pin, ends="free")
    single = replace(known, ears=known.ears[:1], gaps=known.gaps[:1], pin=bare)
    two, one = case_of(known), case_of(single)
    assert (two.double, two.guided) == (True, True)
    assert (one.double, one.guided) == (False, False)
    assert two.shank.thickness == 6.0
    assert two.gap == 0.1
    assert two.ear.outline.hole == 4.1


@pytest.mark.stress
def test_both_models_are_read_alike(monkeypatch):
    """A short pull on a rough mesh: every quantity has its partner, and none is another's."""
    monkeypatch.setattr(whole_joints, "TRAVELS", (0.04,))
    monkeypatch.setattr(whole_joints, "READ_AT", (0.04,))
    monkeypatch.setattr(whole_joints, "FURTHEST", 0.05)
    asked = joint()
    asked = replace(asked, pull=replace(asked.pull, stop_displacement=0.05))
    rough = WholeJointSettings(sides=14, layer=0.2, coarse=0.4)
    solid, history = in_the_round(asked, rough)
    assert history.path.finished
    said, found = (quantities(asked, r) for r in (by_sections(asked), solid))
    assert set(said) == set(found)
    for name, value in said.items():
        if "kept" not in name:
            assert value == pytest.approx(found[name], rel=0.4), name


@pytest.mark.sampled
@pytest.mark.skipif(os.environ.get("FEJOINT_STRESS") != "1", reason="minutes a joint")
@pytest.mark.parametrize("case", CASES, ids=lambda c: c.name)
def test_stored_numbers_are_those_of_the_solid_joint(case, tally):
    """On the everyday mesh: a number of its own mesh again, or near one of a finer one."""
    asked = frictionless(case.given)
    solid, history = in_the_round(asked, WholeJointSettings())
    found = {n.rpartition(", ")[0]: v for n, v in quantities(asked, solid).items()}
    assert abs(history.energy_gap) < 0.01
    farthest = 0.0
    for row in case.expectations:
        error = found[row.quantity] / row.value - 1.0
        farthest = max(farthest, abs(error))
        assert abs(error) < (0.01 if row.tolerance <= 0.05 else 0.05), row.quantity
    tally(f"{case.name}: within {farthest:.1%}")
