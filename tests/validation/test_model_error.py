"""Bias and spread of the model: the statistics, and the shipped table held to the page."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import get_args

import numpy as np
import pytest

from fejoint.analysis import model_error as answers_read
from fejoint.analysis.definitions import DEFINITIONS
from fejoint.validation import model_error, reference_case
from fejoint.validation import run as check
from fejoint.validation.model_error import Value

METALS = {case.name: case.metal for case in reference_case.read_all()}


@dataclass(frozen=True)
class Printed:
    """A row as the page prints it."""

    label: tuple[str, str, str]
    ratio: float


def _page_rows() -> Iterator[Printed]:
    """Read the rows back from the page that `fejoint check --page` wrote."""
    for line in (reference_case.folder() / "README.md").read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.split(" | ")]
        name, _, quantity = cells[0].removeprefix("| ").partition(": ")
        if len(cells) == 8 and name in METALS and cells[1][0].isdigit() and float(cells[1]) > 0:
            yield Printed((name, quantity, METALS[name]), float(cells[2]) / float(cells[1]))


@pytest.fixture(scope="module")
def page_rows() -> list[Printed]:
    return list(_page_rows())


def test_the_shipped_table_is_that_of_the_page_s_rows(page_rows: list[Printed]) -> None:
    told = {e.kind: e for e in model_error.errors_by_kind(page_rows)}
    shipped = answers_read.table()
    assert set(told) == set(shipped) == set(get_args(answers_read.Kind))
    for kind, found in told.items():
        for name, value in asdict(found).items():
            kept = getattr(shipped[kind], name)
            if isinstance(value, float):
                assert kept == pytest.approx(value, abs=3e-4), (kind, name)
            else:
                assert str(kept).replace("'", '"') == str(value), (kind, name)


def test_the_stated_band_holds_85_to_95_percent_of_metals_left_out(
    page_rows: list[Printed],
) -> None:
    found = model_error.values(page_rows)
    held = [ok for kind in model_error.TESTED.values() for ok in model_error.covered(found[kind])]
    assert len(held) >= 34
    assert 0.85 <= np.mean(held) <= 0.95
    for kind in model_error.TESTED.values():
        assert 0.85 <= np.mean(model_error.covered(found[kind])) <= 0.95


def test_every_test_of_metal_speaks_of_a_limit_and_names_its_metal() -> None:
    for case in reference_case.read_all():
        if case.kind == "experiment":
            assert case.metal
            assert {e.quantity for e in case.expectations} <= set(model_error.TESTED)


def _drawn(metals: int, between: float, within: float, bias: float, seed: int) -> list[Value]:
    rng = np.random.default_rng(seed)
    own = bias + between * rng.standard_normal(metals)
    return [
        Value(f"metal {k}", f"case-{k}-e{e}", float(own[k] + within * rng.standard_normal()))
        for k in range(metals)
        for e in (15, 20)
    ]


def test_bands_hold_nine_in_ten_values_whose_spread_is_known() -> None:
    held = [np.mean(model_error.covered(_drawn(9, 0.05, 0.03, 0.08, k))) for k in range(50)]
    assert np.mean(held) == pytest.approx(0.90, abs=0.03)


def test_bias_and_spread_are_those_of_the_draw() -> None:
    found = model_error.tested("greatest load", _drawn(700, 0.05, 0.0, 0.08, 2))
    assert found.bias == pytest.approx(0.08, abs=0.006)
    assert found.spread == pytest.approx(0.05, rel=0.07)
    assert found.deviation == pytest.approx(0.05, rel=0.07)  # many metals, no twins


def test_few_metals_widen_the_band() -> None:
    errors = np.array([-0.05, 0.05, -0.05, 0.05])
    widths = [model_error.half_width(errors, m) for m in (3, 6, 1000)]
    assert widths[0] > 1.5 * widths[1] > 1.5 * widths[2]
    assert widths[2] == pytest.approx(1.645 * errors.std(ddof=1), rel=0.01)


def test_noise_of_the_references_is_taken_off() -> None:
    rng = np.random.default_rng(3)
    twins = [
        Value(f"m{k}", f"table{j}-e20", 0.06 * float(rng.standard_normal()))
        for k in range(500)
        for j in (1, 2)
    ]
    assert model_error.noise(twins) == pytest.approx(0.06, rel=0.1)
    assert model_error.noise(twins) < 0.062  # a lower bound
    assert model_error.tested("greatest load", twins).deviation < 0.02
    apart = [replace(v, label=f"table-e{k}") for k, v in enumerate(twins)]
    assert model_error.noise(apart) == 0.0


def test_a_value_too_high_in_the_moment_is_a_hinge_too_low() -> None:
    rows = [
        Printed(("whole-joint-soft", "hinge load", ""), 0.9),
        Printed(("whole-joint-hard", "pin's moment at 0.2 mm", ""), 1.0 / 0.9),
    ]
    errors = [v.error for v in model_error.values(rows)["pin hinge"]]
    assert errors == pytest.approx([math.log(0.9)] * 2)
    found = model_error.finer("pin hinge", model_error.values(rows)["pin hinge"])
    assert found.deviation == pytest.approx(-math.log(0.9))  # no less than the shift


def test_rows_without_a_number_write_no_table(page_rows: list[Printed]) -> None:
    assert model_error.complete(page_rows)
    lost = [replace(r, ratio=math.nan) if "hinge" in r.label[1] else r for r in page_rows]
    assert not model_error.complete(lost)
    assert not model_error.complete(page_rows[:40])


def test_the_table_is_written_as_it_is_read(tmp_path: Path, page_rows: list[Printed]) -> None:
    errors = model_error.errors_by_kind(page_rows)
    path = model_error.write(errors, tmp_path)
    rows = tomllib.loads(path.read_text(encoding="utf-8"))["limit"]
    assert [row["kind"] for row in rows] == [e.kind for e in errors]
    assert model_error.draw(page_rows, errors, tmp_path / "e.png").stat().st_size > 1000
    told = "\n".join(model_error.lines(errors, "e.png"))
    assert "hole stretches" in told
    assert "no test exists" in told


@pytest.mark.parametrize(
    ("mode", "cause", "kind"),
    [
        ("hole elongation", "offset load", "hole stretches"),
        ("shank hole", "offset load", "hole stretches"),
        ("shank hole", "highest pull", "greatest load"),
        ("end tear-out", "stretch used up right through", "greatest load"),
        ("end dishes", "highest load of a thin end, by rule", "end dishes"),
        ("net section", "highest pull", "net section"),
        ("strip yield", "whole section at Rp0.2", "strip yields"),
        ("ear bending", "hinge", "ear bends"),
        ("pin bending", "hinge", "pin hinge"),
        ("pin bending", "bend left 1 % of the span", "bend left"),
        ("pin bending", "highest pull", "pin hinge"),
        ("pin shear", "full plastic shear", "pin shears"),
        ("pin break", "stretch used up", "pin breaks"),
    ],
)
def test_every_limit_has_its_kind(mode: str, cause: str, kind: str) -> None:
    assert any(d.mode == mode and d.cause == cause for d in DEFINITIONS)
    assert answers_read.kind_of(mode, cause) == kind
    assert answers_read.of(mode, cause).kind == kind


@pytest.mark.stress
def test_the_tests_rows_computed_anew_are_those_of_the_page(page_rows: list[Printed]) -> None:
    kept = {row.label: row.ratio for row in page_rows}
    rows = check.run("experiment").rows
    assert len(rows) >= 34
    for row in rows:
        assert row.ratio == pytest.approx(kept[row.label], rel=2e-4)
