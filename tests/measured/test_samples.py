from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from fejoint.errors import BadInput
from fejoint.measured import statistics


def test_the_planned_sample_size_tells_designs_apart_at_the_stated_power(tally):
    difference, scatter, wanted = 0.10, 0.05, 0.9
    count = statistics.samples_needed(difference, scatter, wanted)
    rng = np.random.default_rng(8)
    trials = 4000
    first = rng.normal(1.0, scatter, (trials, count))
    second = rng.normal(1.0 + difference, scatter, (trials, count))
    told = stats.ttest_ind(first, second, axis=1, equal_var=False).pvalue < 0.05
    share = float(told.mean())
    stated = statistics.power(count, difference, scatter)
    tally(f"{count} samples each: told apart in {share:.3f} of {trials}, stated {stated:.3f}")
    assert stated >= wanted
    assert share > wanted - 0.015
    assert statistics.power(count - 1, difference, scatter) < wanted


def test_power_without_a_difference_is_the_level_of_the_test():
    assert statistics.power(8, 0.0, 0.05) == pytest.approx(0.05, abs=1e-6)


def test_the_interval_covers_the_mean_as_often_as_it_says():
    rng = np.random.default_rng(3)
    hits = 0
    for _ in range(1000):
        low, high = statistics.spread(rng.normal(100.0, 5.0, 5)).interval
        hits += low <= 100.0 <= high
    assert 930 <= hits <= 970


def test_an_outlier_is_named_and_counted_all_the_same():
    found = statistics.spread([8.1, 8.2, 8.0, 8.15, 8.05, 6.0])
    assert found.outliers == (5,)
    assert found.mean == pytest.approx(np.mean([8.1, 8.2, 8.0, 8.15, 8.05, 6.0]))
    assert statistics.spread([8.1, 8.2, 8.0, 8.15, 8.05, 7.9]).outliers == ()


def test_welch_tells_designs_that_differ_and_spares_those_that_do_not():
    a = [8.0, 8.3, 7.8, 8.1, 8.2]
    apart = statistics.compare(a, [9.0, 9.4, 8.8, 9.1, 9.2])
    assert apart.told_apart
    assert apart.interval[0] < apart.difference < apart.interval[1]
    assert not statistics.compare(a, [8.1, 8.4, 7.7, 8.0, 8.3]).told_apart


@pytest.mark.parametrize("values", [([1.0], [2.0, 3.0])])
def test_one_sample_compares_with_nothing(values):
    with pytest.raises(BadInput, match="at least 2"):
        statistics.compare(*values)
    assert statistics.spread([5.0]).interval is None


def test_equal_samples_have_no_spread_and_no_outliers():
    found = statistics.spread([5.0] * 6)
    assert found.deviation == 0.0
    assert found.outliers == ()
    assert statistics.compare([5.0] * 3, [5.0] * 3).difference == 0.0


@pytest.mark.parametrize(
    ("difference", "scatter", "wanted"),
    [(0.0, 0.05, 0.9), (0.1, 0.0, 0.9), (0.1, 0.05, 1.0), (0.001, 0.5, 0.9), (np.nan, 0.1, 0.9)],
)
def test_impossible_plans_are_refused(difference, scatter, wanted):
    with pytest.raises(BadInput):
        statistics.samples_needed(difference, scatter, wanted)
