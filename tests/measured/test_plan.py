from __future__ import annotations

from dataclasses import replace

import pytest

from fejoint.analysis.cautions import CAUTIONS
from fejoint.errors import BadInput
from fejoint.measured import plan_page, report_lines, statistics, test_plan


@pytest.fixture(scope="module")
def made(expected):
    return test_plan.make(expected, scatter=0.05)


def test_every_event_is_told_with_its_load_or_its_reason(made, expected):
    names = [h.name for h in made.happenings]
    assert {e.name for e in expected.answer.events} <= set(names)
    loads = [h.load for h in made.happenings if h.load is not None]
    assert loads == sorted(loads)
    assert all(h.why for h in made.happenings if h.load is None)


def test_the_load_cell_holds_the_most_to_expect(made):
    assert made.highest <= test_plan.CELL_USE * made.cell
    assert made.cell in [1e3 * c for c in test_plan.CELLS]


def test_a_proof_pull_stops_before_one_joint_in_twenty_gives(made, expected):
    first = expected.answer.verdict.first.load
    assert made.proof < first * (1.0 - 1.6 * 0.05)
    assert made.proof > 0.5 * first


def test_scatter_comes_from_samples_where_there_are_some(expected):
    seen = statistics.spread([8.0, 8.3, 8.6, 8.1])
    made = test_plan.make(expected, seen=seen)
    assert made.scatter == pytest.approx(seen.relative)
    assert "seen in 4 samples" in made.scatter_from
    assert test_plan.make(expected).scatter >= test_plan.SCATTER
    with pytest.raises(BadInput, match="--scatter"):
        test_plan.make(expected, scatter=-1.0)


def test_the_page_holds_loads_in_both_units_and_the_cautions(made, tmp_path):
    text = plan_page.write_page(made, tmp_path / "plan.html").read_text()
    for said in (*CAUTIONS, f"{made.proof:,.0f} N", f"{made.proof / 9.80665:,.0f} kgf"):
        assert said.replace("'", "&#39;") in text
    assert "https://" not in text.replace("http://www.w3.org", "")


@pytest.mark.parametrize("most", [1.0, 374.0, 376.0, 7.4e5, 7.6e5, 3.2e6, 9.9e8])
def test_a_cell_is_never_smaller_than_what_it_is_to_bear(expected, most: float):
    made = test_plan.make(replace(expected, most=most), scatter=0.05)
    assert made.cell >= made.highest / test_plan.CELL_USE
    assert made.cell <= max(500.0, 3.0 * made.highest / test_plan.CELL_USE)


def test_events_are_named_as_tables_name_them(expected):
    said = "\n".join(report_lines.of_plan(test_plan.make(expected)))
    assert "both ears: first yield: about " in said
    assert "both ears: offset load (2 % of the hole): " in said
    assert "first yield ear" not in said
