"""The near pairs are those of SciPy's tree."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from fejoint.sections.neighbours import pairs_within


def clouds(rng, kind):
    n, m = rng.integers(1, 400, 2)
    if kind == "lattice":  # many pairs are the very radius apart
        return rng.integers(0, 20, (n, 2)) * 1.0, rng.integers(0, 20, (m, 2)) * 1.0
    if kind == "graded":
        return tuple(
            10.0 ** rng.uniform(-3.0, 1.5, (k, 1)) * rng.normal(size=(k, 2)) for k in (n, m)
        )
    if kind == "in a line":
        return tuple(np.column_stack([rng.uniform(size=k), np.full(k, 0.3)]) for k in (n, m))
    return rng.uniform(size=(n, 2)), rng.uniform(size=(m, 2)) + 0.4


@pytest.mark.parametrize("kind", ["lattice", "graded", "in a line", "apart"])
@pytest.mark.parametrize("radius", [0.0, 1e-7, 0.03, 1.0, 3.0, 100.0])
def test_pairs_are_those_of_the_tree(kind, radius):
    rng = np.random.default_rng(5)
    for _ in range(5):
        points, others = clouds(rng, kind)
        for b in (others, points):
            first, second = pairs_within(points, b, radius)
            near = cKDTree(points).query_ball_tree(cKDTree(b), radius)
            expected = {(i, j) for i, row in enumerate(near) for j in row}
            assert len(first) == len(expected)
            assert set(zip(first.tolist(), second.tolist(), strict=True)) == expected


def test_no_points_have_no_neighbours():
    none, some = np.zeros((0, 2)), np.zeros((3, 2))
    for a, b in ((none, some), (some, none), (none, none)):
        assert [len(x) for x in pairs_within(a, b, 1.0)] == [0, 0]
