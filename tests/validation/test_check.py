"""`fejoint check`: its rows, its exit code, its JSON, and what it notices when physics breaks."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fejoint.cli.check import check as check_command
from fejoint.cli.main import main
from fejoint.errors import BadInput
from fejoint.kernel.contact import PinContact
from fejoint.kernel.elements import Solid
from fejoint.kernel.hardening import Hardening
from fejoint.materials import hardness
from fejoint.system import resources
from fejoint.system.processes import ProcessLost, Submit, pool
from fejoint.validation import page as check_page
from fejoint.validation import reference_case
from fejoint.validation import run as check
from fejoint.validation import text as check_text
from fejoint.validation.models import runs
from fejoint.validation.models.convergence import Curve, slope

CASES = {case.name: case for case in reference_case.read_all()}
BUILT = [case for case in CASES.values() if case.run in runs.HOMES]
SLOW = ("partial slip", "bearing test", "trade fact")


def _marked(case: reference_case.ReferenceCase) -> Any:
    slow = case.run in SLOW or case.name == "hertz-line"
    marks = [pytest.mark.stress] if case.run == "trade fact" else [pytest.mark.slow] * slow
    return pytest.param(case, id=case.name, marks=marks)


@pytest.mark.parametrize("case", [_marked(case) for case in BUILT])
def test_every_reference_case_holds_or_misses_for_a_stated_cause(
    case: reference_case.ReferenceCase,
) -> None:
    if case.kind == "second opinion":
        pytest.importorskip("felupe")
    for row in check.compute(case):
        assert math.isfinite(row.got), row.note
        assert row.passed is not False, f"{row.name}: {row.got:g} for {row.expected.value:g}"
        assert row.note != check.NO_CAUSE, f"{row.name} misses by {row.error:+.1%} and no cause"


def _mutated(name: str, *, fails: set[str]) -> None:
    rows = check.compute(CASES[name])
    assert {row.expected.quantity for row in rows if row.passed is False} >= fails


def test_a_wrong_tangent_sign_in_contact_makes_contact_rows_fail(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    right = PinContact.evaluate

    def wrong(self: PinContact, *a: Any) -> Any:
        answer = right(self, *a)
        return replace(answer, tangent=lambda: -answer.tangent())

    monkeypatch.setattr(PinContact, "evaluate", wrong)
    _mutated("pin-in-plate-2", fails={"half contact angle", "peak pressure"})


def test_a_forgotten_thickness_makes_linear_and_contact_rows_fail(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(Solid, "volumes", property(lambda self: self.quadrature.areas))
    _mutated("kirsch-tension", fails={"peak hoop stress", "rim growth along the pull"})
    _mutated("lame-ring", fails={"hoop stress at the hole", "growth of the hole"})
    _mutated("pin-in-plate-2", fails={"half contact angle"})


def test_a_strength_5_percent_wrong_makes_hardness_and_bar_rows_fail(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    right = hardness.to_strength
    monkeypatch.setattr(
        hardness, "to_strength", lambda *a: replace(right(*a), rm=1.05 * right(*a).rm)
    )
    _mutated("hardness-steel", fails={"300 HV, tensile strength"})
    made = Hardening.from_tensile

    def stronger(modulus: float, rp02: float, rm: float, ag: float, shape: str) -> Hardening:
        return made(modulus, rp02, 1.05 * rm, ag, shape)

    monkeypatch.setattr(Hardening, "from_tensile", stronger)
    _mutated("bar-from-tensile-swift", fails={"tensile strength"})


def test_a_wrong_shear_modulus_makes_kirschs_field_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    from fejoint.kernel.plasticity import Metal

    right = Metal.shear_modulus.fget
    assert right is not None
    monkeypatch.setattr(Metal, "shear_modulus", property(lambda self: 1.05 * right(self)))
    _mutated("kirsch-tension", fails={"rim growth along the pull"})


def _case(kind: str, run: str, **row: Any) -> reference_case.ReferenceCase:
    source = reference_case.Source("nobody", "nothing", "nowhere", "made up for a test")
    expected = reference_case.Expectation("q", 1.0, "1", 0.01, "why not", source, **row)
    return reference_case.ReferenceCase("a-case", "A case", kind, run, {}, source, (expected,))


@pytest.fixture
def gives(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], None]:
    def give(value: float) -> None:
        monkeypatch.setattr(runs, "find", lambda run: lambda case: {"q": value})

    return give


def test_only_verifying_rows_decide_the_exit_code(gives: Callable[[float], None]) -> None:
    gives(1.2)
    for kind, passed in (("linear", False), ("experiment", None), ("common practice", None)):
        (row,) = check.compute(_case(kind, "any"))
        assert row.passed is passed
        assert check.Outcome((row,), 0.0).exit_code == (1 if passed is False else 0)
    gives(1.005)
    assert check.compute(_case("experiment", "any"))[0].passed is True


def test_a_known_miss_keeps_its_cause_and_is_null_in_json(gives: Callable[[float], None]) -> None:
    gives(1.5)
    (row,) = check.compute(_case("linear", "any", known_miss="the paper is wrong"))
    assert row.verdict == "known miss"
    told = row.as_dict()
    assert told["pass"] is None
    assert told["note"] == "the paper is wrong"
    assert told["error"] == pytest.approx(0.5)


def test_what_is_not_built_or_breaks_fails_and_never_passes(
    monkeypatch: pytest.MonkeyPatch, gives: Callable[[float], None]
) -> None:
    (row,) = check.compute(_case("joint", "no such run"))
    assert row.passed is False
    assert "not built yet" in row.note
    gives(math.nan)
    assert check.compute(_case("linear", "any"))[0].passed is False

    def broken(run: str) -> Any:
        _ = 1 / 0

    monkeypatch.setattr(runs, "find", broken)
    (row,) = check.compute(_case("experiment", "any"))
    assert row.passed is False
    assert "ZeroDivisionError" in row.note
    assert row.as_dict()["got"] is None
    assert check_text.cells(row)[4:7] == ("-", "1", "-")


def test_a_missing_library_is_not_run_and_costs_no_exit_code(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "felupe", None)
    row, _ = check.compute(CASES["second-opinion-hole"])
    assert (row.passed, row.verdict) == (None, "not run")


def test_json_has_the_agreed_keys(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--only", "handbook", "--json", "--jobs", "1"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert list(told) == ["cases"]
    keys = {"name", "kind", "source", "expected", "got", "error", "tolerance", "pass"}
    assert all(keys <= set(row) for row in told["cases"])
    assert {row["kind"] for row in told["cases"]} == {"handbook"}


def test_the_table_names_group_source_and_counts(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--only", "en-pin-16", "--jobs", "1"]) == 0
    text = capsys.readouterr().out
    assert "pin bending, replaceable" in text
    assert "3 rows: 3 pass" in text


def test_an_unknown_group_is_bad_input(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--only", "poetry"]) == BadInput.exit_code
    assert "must be a case's name or one of" in capsys.readouterr().err


def test_processes_give_what_one_process_gives() -> None:
    alone, together = (check.run("strip-hole-20", jobs=1), check.run("linear", jobs=2))
    same = [row for row in together.rows if row.case.name == "strip-hole-20"]
    assert [row.got for row in same] == pytest.approx([row.got for row in alone.rows], rel=1e-9)


def test_at_least_30_rows_verify() -> None:
    rows = [e for c in BUILT if c.kind not in check.COMPARISONS for e in c.expectations]
    assert len(rows) >= 30


def test_sizes_are_written_as_their_tolerance_is(gives: Callable[[float], None]) -> None:
    gives(1.005)
    (row,) = check.compute(_case("linear", "any"))
    assert "+0.50 %" in check_text.cells(row)
    (row,) = check.compute(_case("linear", "any", absolute=True))
    assert "+0.005" in check_text.cells(row)
    (row,) = check.compute(replace(_case("linear", "any"), expectations=(_tight(),)))
    assert "5e-05 %" in check_text.cells(row)


def _tight() -> reference_case.Expectation:
    return replace(_case("linear", "any").expectations[0], tolerance=5e-7)


def test_all_cases_lie_in_the_folder(tmp_path: Path) -> None:
    with pytest.raises(BadInput):
        check.run(root=tmp_path)
    assert np.all([(reference_case.folder() / name).is_dir() for name in CASES])


def test_the_page_tells_counts_causes_and_sources(gives: Callable[[float], None]) -> None:
    gives(1.5)
    rows = [
        *check.compute(_case("linear", "any", known_miss="the paper is wrong")),
        *check.compute(_case("experiment", "any")),
    ]
    page = check_page.text(check.Outcome(tuple(rows), 1.0))
    assert "2 rows: 0 pass, 2 known miss" in page
    assert "the paper is wrong" in page
    assert "nobody, nothing, nowhere (made up for a test)" in page


def test_the_page_is_html_too_that_holds_its_pictures(tmp_path: Path) -> None:
    (tmp_path / "parity.png").write_bytes(b"a picture")
    page = check_page.html(
        "# Cases\n\n| a | b |\n|---|---|\n| <x> | 2 |\n\n![p](parity.png)\n", tmp_path
    )
    assert "<h1>Cases</h1>" in page
    assert "<td>&lt;x&gt;</td>" in page
    assert 'src="data:image/png;base64,' in page
    assert "--mark" in page  # the reports' own look


@pytest.mark.slow
def test_the_page_has_its_pictures(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    curve = Curve("linear", "a thing", (24, 48), (1000, 2000), (0.1, 0.02), 2)
    monkeypatch.setattr(check_page, "curves", lambda case: (curve,))
    outcome = check.run("bearing-7050-t7451-e20", jobs=1)
    written = check_page.write(outcome, tmp_path)
    assert [p.name for p in written] == [
        "README.md", "parity.png", "convergence.png", "reference.html",
    ]  # fmt: skip
    assert all(p.stat().st_size > 1000 for p in written)
    assert "parity.png" in written[0].read_text()


def test_an_order_of_convergence_is_read() -> None:
    curve = Curve("linear", "a thing", (24, 48, 96), (1, 2, 3), (0.16, 0.04, 0.01), 2)
    assert slope(curve) == pytest.approx(2.0)


def test_every_picture_and_heading_of_the_page_has_its_kind() -> None:
    assert set(check_page.GROUPS) == set(reference_case.KINDS)


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], None]:
    """Let `fejoint check` find one row with a number."""

    def show(got: float) -> None:
        monkeypatch.setattr(runs, "find", lambda run: lambda case: {"q": got})
        outcome = check.Outcome(check.compute(_case("linear", "any")), 1.0)
        monkeypatch.setattr(check, "run", lambda *_, **__: outcome)

    return show


def test_a_row_that_misses_is_told_below_the_table(
    shown: Callable[[float], None], capsys: pytest.CaptureFixture[str]
) -> None:
    shown(1.5)
    assert check_command() == 1
    assert "MISS: a-case: q: outside its tolerance" in capsys.readouterr().out


def test_the_page_is_written_in_a_checkout_only(
    shown: Callable[[float], None],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
) -> None:
    shown(1.0)
    page = tmp_path / "page.html"
    monkeypatch.setattr(check_page, "write", lambda outcome: (page,))
    assert check_command(page=True) == 0
    assert f"wrote {page}" in capsys.readouterr().out
    monkeypatch.setattr(resources, "is_checkout", lambda: False)
    with pytest.raises(BadInput, match="in a checkout of the project only"):
        check_command(page=True)


def test_the_page_of_all_cases_is_never_written_of_some(
    shown: Callable[[float], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    shown(1.0)
    written: list[object] = []
    monkeypatch.setattr(check_page, "write", lambda outcome: written.append(outcome) or ())
    with pytest.raises(BadInput, match="leave out one of the two"):
        check_command(only="linear", page=True)
    assert not written


def test_all_cases_are_taken_where_none_is_named() -> None:
    cases = reference_case.read_all()
    assert check.select(cases, None) == tuple(cases)
    assert {c.kind for c in check.select(cases, "linear")} == {"linear"}


def test_a_case_that_takes_its_process_with_it_is_a_row_that_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    names = [c.name for c in check.select(reference_case.read_all(), "handbook")][:2]

    @contextmanager
    def losing(processes: int) -> Iterator[Submit]:
        with pool(0) as submit:
            yield lambda work, case: submit(_lost if case.name == names[0] else work, case)

    monkeypatch.setattr(check, "pool", losing)
    rows = check.run("handbook", jobs=2).rows
    (lost,) = {r.note for r in rows if r.case.name == names[0]}
    assert lost == "lost with its process"
    assert not any(r.passed for r in rows if r.case.name == names[0])
    assert not any(r.passed is False for r in rows if r.case.name == names[1])


def _lost(case: reference_case.ReferenceCase) -> None:
    message = "lost with its process"
    raise ProcessLost(message)


def test_an_interrupted_check_hands_out_no_further_case() -> None:
    def stop(done: int, of: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        check.run("handbook", jobs=2, tell=stop)


def test_a_check_of_what_is_not_borne_is_not_a_number(monkeypatch: pytest.MonkeyPatch) -> None:
    from types import SimpleNamespace

    from fejoint.validation.models import pins, trade

    axial = SimpleNamespace(load=np.array([0.0, 100.0]))
    monkeypatch.setattr(trade, "pull", lambda joint: SimpleNamespace(axial=axial))
    assert math.isnan(trade.kept_bend(None, 200.0))
    lost = SimpleNamespace(path=SimpleNamespace(finished=False))
    monkeypatch.setattr(pins, "pull", lambda *_: lost)
    monkeypatch.setattr(pins, "build", lambda *_: None)
    case = next(case for case in CASES.values() if case.run == "rigid double shear")
    assert math.isnan(pins.rigid_double_shear(case)["collapse load"])


def test_the_page_s_curve_of_a_bearing_test_is_of_the_test_itself() -> None:
    from fejoint.validation.models.convergence import _bearing_yield

    specimen = next(case for case in CASES.values() if case.run == "bearing test")
    unknowns, stress = _bearing_yield(specimen, 24)
    more, finer = _bearing_yield(specimen, 32)
    assert more > unknowns > 500
    assert stress == pytest.approx(finer, rel=0.01)
