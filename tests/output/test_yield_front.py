"""The line round yielded metal: what of it is drawn."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.tri import Triangulation

from fejoint.output.pictures import theme as look
from fejoint.output.pictures import yield_front


def lines(strain, *, width: float = 4.0, shown: tuple[float, float] = (0.0, 4.0)):
    """Lines over a plate `width` x 2 of which a stretch of x is shown."""
    x, y = np.meshgrid(np.linspace(0.0, width, 161), np.linspace(0.0, 2.0, 81))
    mesh = Triangulation(x.ravel(), y.ravel())
    axes = look.figure((4.0, 2.0)).add_subplot()
    axes.set(xlim=shown, ylim=(0.0, 2.0))
    return yield_front.lines(axes, mesh, strain(mesh.x, mesh.y), 1.0)


def spots(*places: tuple[float, float, float]):
    """Strain that passes the line round each place (x, y, radius)."""

    def strain(x, y):
        inside = [r - np.hypot(x - a, y - b) for a, b, r in places]
        return yield_front.YIELDED + 0.01 * np.max(inside, axis=0)

    return strain


def test_a_ring_much_shorter_than_the_longest_line_is_an_island():
    assert len(lines(spots((1.0, 1.0, 0.8), (3.0, 1.0, 0.2)))) == 1
    assert len(lines(spots((1.0, 1.0, 0.8), (3.0, 1.0, 0.5)))) == 2


def test_a_short_line_that_ends_on_the_edge_bounds_a_piece_of_the_part():
    drawn = lines(spots((1.5, 1.0, 0.9), (3.4, 0.0, 0.45)))
    assert len(drawn) == 2
    assert min(len(line) for line in drawn) > 4
    # nothing that a few elements at the edge do by themselves
    assert len(lines(spots((1.5, 1.0, 0.9), (3.4, 0.0, 0.1)))) == 1


def test_what_lies_outside_the_picture_makes_nothing_in_it_an_island():
    far = spots((12.0, 1.0, 0.95), (1.0, 1.0, 0.3))
    assert len(lines(far, width=14.0, shown=(0.0, 4.0))) == 1
    assert len(lines(far, width=14.0, shown=(0.0, 14.0))) == 1
    (seen,) = lines(far, width=14.0, shown=(0.0, 4.0))
    assert seen[:, 0].max() < 2.0


def test_metal_that_has_not_yielded_has_no_line():
    assert lines(lambda x, y: 0.0 * x) == []


@pytest.mark.parametrize("radius", [0.3, 0.8])
def test_a_line_stays_where_the_strain_is(radius: float):
    (line,) = lines(spots((2.0, 1.0, radius)))
    away = np.hypot(line[:, 0] - 2.0, line[:, 1] - 1.0)
    assert away == pytest.approx(radius, abs=0.02)
