"""Reference cases: every expected value names its source, and a bad folder says why."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from fejoint.errors import BadInput
from fejoint.validation import reference_case

EXPECTED = """
title = "A hole"
kind = "linear"
run = "open hole"
[source]
author = "Kirsch"
title = "Die Theorie der Elastizitaet"
year = 1898
where = "closed form"
status = "from memory"
[[expect]]
quantity = "peak"
value = 3.0
unit = "1"
tolerance = 0.02
reason = "mesh"
"""


def _folder(tmp_path: Path, expected: str) -> Path:
    path = tmp_path / "one"
    path.mkdir()
    (path / "case.toml").write_text("hole = 2.0\n")
    (path / "expected.toml").write_text(expected)
    return path


def _row(**more: Any) -> reference_case.Expectation:
    source = reference_case.Source("nobody", "nothing", "nowhere", "from memory")
    return reference_case.Expectation("angle", 50.0, "deg", 1.0, "element", source, **more)


def test_a_folder_gives_its_problem_and_its_source(tmp_path: Path) -> None:
    case = reference_case.read(_folder(tmp_path, EXPECTED))
    assert case.given == {"hole": 2.0}
    assert str(case.source) == (
        "Kirsch 1898, Die Theorie der Elastizitaet, closed form (from memory)"
    )
    row = case.expectations[0]
    assert row.holds(3.05)
    assert not row.holds(2.9)


@pytest.mark.parametrize(
    ("gone", "said"),
    [
        ('author = "Kirsch"', "source.author"),
        ('status = "from memory"', "source.status"),
        ('reason = "mesh"', "expect.1.reason"),
        ("value = 3.0", "expect.1.value"),
        ('kind = "linear"', "kind"),
    ],
)
def test_a_case_without_its_source_is_refused(tmp_path: Path, gone: str, said: str) -> None:
    with pytest.raises(BadInput, match=said):
        reference_case.read(_folder(tmp_path, EXPECTED.replace(gone, "")))


def test_an_absolute_tolerance_is_in_the_unit() -> None:
    row = _row(absolute=True)
    assert row.holds(50.9)
    assert not row.holds(51.1)


def test_a_bound_holds_on_one_side_only() -> None:
    least, most = _row(absolute=True, sense="at least"), _row(absolute=True, sense="at most")
    assert least.holds(90.0)
    assert not least.holds(48.9)
    assert most.holds(10.0)
    assert not most.holds(51.1)
    assert not least.holds(float("nan"))


def test_a_row_may_have_its_own_source(tmp_path: Path) -> None:
    own = (
        "[expect.source]\nauthor = 'Howland'\nyear = 1930\ntitle = 'Strip'\n"
        "where = 'table'\nstatus = 'from memory'\n"
    )
    case = reference_case.read(_folder(tmp_path, EXPECTED + own))
    assert case.source.author == "Kirsch"
    assert case.expectations[0].source.author == "Howland"


def test_no_folder_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="must hold reference cases"):
        reference_case.read_all(tmp_path)


def test_the_projects_own_cases_all_read() -> None:
    cases = reference_case.read_all()
    assert len({case.name for case in cases}) == len(cases)
    assert sum(len(case.expectations) for case in cases) >= 30
