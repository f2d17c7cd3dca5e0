"""Contours of plates: areas, boxes and arcs against their formulas."""

from __future__ import annotations

import math

import pytest
from support import DEMO

import fejoint
from fejoint.joint import contour
from fejoint.meshing import contours


@pytest.fixture
def joint():
    return fejoint.load(DEMO)


def ear(joint, **changes):
    for key, value in changes.items():
        joint = joint.replace(f"ear.{key}", value)
    return joint.ears[0]


def test_an_ears_area_is_that_of_its_strip_and_its_end(joint):
    for end, less in (("round", (2.0 - math.pi / 2.0) * 49.0), ("square", 0.0)):
        part = ear(joint, end=end)
        assert contours.area(contour.outside(part)) == pytest.approx(14.0 * 32.0 - less)
    table = joint.to_dict()
    for one in table["ear"]:
        one |= {"end": "clipped", "clip": 3.0}
    part = fejoint.Joint.from_dict(table).ears[0]
    assert contours.area(contour.outside(part)) == pytest.approx(14.0 * 32.0 - 9.0)


def test_holes_are_walked_counter_clockwise_too(joint):
    part = ear(joint)
    assert contours.area(contour.hole(part)) == pytest.approx(math.pi * 4.1**2 / 4)
    slot = ear(joint, hole_slot="1 mm")
    assert contours.area(contour.hole(slot)) == pytest.approx(math.pi * 4.1**2 / 4 + 4.1)
    assert contours.box(contour.hole(slot)) == pytest.approx((-2.05, -2.05, 3.05, 2.05))


def test_a_box_reaches_as_far_as_the_arcs_do(joint):
    assert contours.box(contour.outside(ear(joint))) == pytest.approx((-25.0, -7.0, 7.0, 7.0))
    off = ear(joint, hole_offset="1.5 mm")
    assert contours.box(contour.outside(off)) == pytest.approx((-25.0, -8.5, 7.0, 5.5))
    shank = joint.shank
    left, low, right, high = contours.box(contour.outside(shank))
    assert (left, right) == pytest.approx((-shank.length, shank.edge_distance))
    assert (low, high) == pytest.approx((-shank.width / 2, shank.width / 2))


def test_points_lie_on_the_contour_and_come_back_to_its_first_corner(joint):
    slot = ear(joint, hole_slot="1 mm")
    for corners in (contour.outside(slot), contour.hole(slot), contour.hole(slot, 0.4)):
        x, y = contours.points(corners).T
        assert (x[0], y[0]) == (x[-1], y[-1]) == pytest.approx(corners[0][:2])
        within = 0.5 * (x[:-1] * y[1:] - x[1:] * y[:-1]).sum()
        assert within == pytest.approx(contours.area(corners), rel=4e-4)
        box = contours.box(corners)
        assert (x.min(), y.min(), x.max(), y.max()) == pytest.approx(box, abs=1e-3)
    x, y = contours.points(contour.hole(ear(joint))).T
    assert (x**2 + y**2) ** 0.5 == pytest.approx(2.05)


@pytest.mark.parametrize("angle", [20.0, 90.0, 179.0, 180.0, 270.0])
def test_an_arc_has_the_radius_and_the_middle_of_its_circle(angle):
    bulge = math.tan(math.radians(angle) / 4.0)
    points = [
        (3.0 + 2.0 * math.cos(a), 1.0 + 2.0 * math.sin(a))
        for a in (0.3, 0.3 + math.radians(angle) / 2.0, 0.3 + math.radians(angle))
    ]
    assert contours.arc_radius(points[0], points[2], bulge) == pytest.approx(2.0)
    assert contours.arc_middle(points[0], points[2], bulge) == pytest.approx(points[1])
