"""Counts and tallies of the suites that draw their cases.

``scripts/test`` runs a seeded sample of each; ``scripts/stress`` sets ``FEJOINT_STRESS`` and runs
the full counts.
"""

from __future__ import annotations

import os
from collections.abc import Callable

import pytest
from hypothesis import settings

SAMPLE = 20
STRESS = os.environ.get("FEJOINT_STRESS") == "1"

settings.register_profile("sample", max_examples=SAMPLE, derandomize=True, deadline=None)
settings.register_profile("stress", max_examples=1000, deadline=None)
settings.load_profile("stress" if STRESS else "sample")


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Leave out what only ``scripts/stress`` has the time for."""
    if item.get_closest_marker("stress") and not STRESS:
        pytest.skip("in scripts/stress")


@pytest.fixture
def draws() -> Callable[[int], int]:
    """How many cases to draw, given the full count."""
    return lambda full: full if STRESS else min(SAMPLE, full)


@pytest.fixture
def tally(record_property: Callable[[str, object], None]) -> Callable[[str], None]:
    """Note one line of a suite's outcome, such as "212 of 212 kills left a readable answer"."""
    return lambda line: record_property("tally", line)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print the tallies of all suites, gathered from the worker processes."""
    lines = [
        f"{report.nodeid.partition('::')[2]}: {value}"
        for outcome in ("passed", "failed")
        for report in terminalreporter.getreports(outcome)
        for name, value in report.user_properties
        if name == "tally" and report.when == "call"
    ]
    if lines:
        terminalreporter.section("tallies")
        for line in lines:
            terminalreporter.line(line)
