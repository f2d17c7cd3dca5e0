"""Refinement brings the models to their closed forms, at the order the page claims."""

from __future__ import annotations

import numpy as np
import pytest

from fejoint.validation.models import convergence


@pytest.mark.parametrize(
    ("measure", "order"), [(convergence._kirsch_field, 2), (convergence._ring_yield, 3)]
)
def test_linear_and_plastic_errors_fall_nearly_at_their_order(measure, order):
    (few, coarse), (many, fine) = measure(24), measure(48)
    assert many > 1.5 * few
    assert np.log2(abs(coarse) / abs(fine)) > order - 0.3


def test_the_contact_pressure_is_the_conforming_one_within_what_the_mesh_can_tell():
    # where in a side the contact ends moves the error up and down, so no order is asked for
    assert convergence._arc(48)[1] < 0.02
    assert convergence._arc(96)[1] < 0.01


def test_a_curve_without_closed_form_is_measured_against_its_finest_mesh():
    values = {8: (10, 1.2), 16: (40, 1.1), 32: (160, 1.0)}
    found = convergence._to_finest("experiment", "made up", tuple(values), values.get, 1)
    assert found.sides == (8, 16)
    assert found.errors == pytest.approx((0.2, 0.1))
    assert found.unknowns == (10, 40)
    assert "32 sides" in found.against


def test_the_four_groups_are_drawn(monkeypatch):
    measured = []

    def measure(*arguments):
        sides = arguments[-1]
        measured.append(sides)
        return sides**2, -1.0 / sides

    for name in ("_kirsch_field", "_arc", "_ring_yield", "_bearing_yield"):
        monkeypatch.setattr(convergence, name, measure)
    (specimen,) = (type("Specimen", (), {"name": "a specimen"})(),)
    found = convergence.curves(specimen)
    assert [c.group for c in found] == ["linear", "contact", "plasticity", "experiment"]
    assert measured == [24, 48, 96, 192] * 4
    assert all(e > 0.0 for c in found for e in c.errors)
