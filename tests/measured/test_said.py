"""What `fejoint match` says of a fit and of a caliper sheet is what it found."""

from __future__ import annotations

import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fejoint.cli.main import main
from fejoint.errors import BadInput, Fault
from fejoint.measured import caliper, evaluate, report_lines
from fejoint.measured.calibration_result import Learned, LearnedLaw, Prior
from fejoint.measured.rig_compliance import Curve
from fejoint.measured.statistics import Spread


def learned(name, unit, value, tightened):
    prior = Prior(name, unit, 250.0, 0.2, 100.0, 500.0)
    return Learned(prior, value, (0.9 * value, 1.1 * value), tightened)


@pytest.fixture(scope="module")
def fit():
    rig = Prior("compliance", "mm/N", 1e-5, 1.0, 0.0, 1e-3, logarithmic=False)
    return LearnedLaw(
        (learned("Rp0.2", "MPa", 281.0, 0.2), learned("friction", "", 0.2, 0.9)),
        np.array([[1.0, -0.4], [-0.4, 1.0]]),
        (Learned(rig, 2e-5, (1e-5, 3e-5), 0.1),),
        (0.1, 0.2),
        (0.08, 0.05),
        (0.01, 0.02),
        {"pull2.csv": (0.07, 0.015)},
        7,
        0.1,
        True,
        0.01,
        Curve(np.array([0.0, 9000.0]), np.array([0.0, 1.0])),
    )


def test_a_fit_tells_what_it_learned_from_what_the_logs_do_not_tell(fit):
    told = "\n".join(report_lines.of_fit(fit))
    assert "learned (7 solves)" in told
    assert "Rp0.2 281 MPa (252.9 to 309.1, 95 %); held before 250" in told
    assert "friction: the logs do not tell (0.2 fits, so does 0.18 to 0.22); 250 kept" in told
    assert "rig compliance in log 1 0.0200 mm/kN (0.0100 to 0.0300, 95 %)" in told
    assert "Rp0.2 with friction -0.40" in told


def test_a_fit_tells_its_worst_misfit_and_that_of_the_log_held_out(fit):
    told = report_lines.of_fit(replace(fit, notes=("the slack of pull 1 is large",)))
    assert "  misfit of the fitted logs 8.00 % -> 2.00 % of load" in told
    assert (
        "  pull2.csv, held out, is met better by what was learned: misfit 7.00 % -> 1.50 % of load"
    ) in told
    assert told[-1] == "  note: the slack of pull 1 is large"


def test_a_caliper_sheet_is_said_with_its_predictions_and_its_gaps(expected):
    sheet = caliper.Sheet(9500.0)
    rows = (
        caliper.Beside("ear 1, inner", 0.25, 0.21, ""),
        caliper.Beside("pin", 0.05, None, "the pull never reaches it"),
    )
    first, known, gap = report_lines.of_caliper(sheet, rows, expected)
    assert "peak of 9,500 N (969 kgf)" in first
    assert "0.250 mm; predicted 0.210 mm" in known
    assert "0.050 mm; the pull never reaches it" in gap


@pytest.fixture
def case(joint, tmp_path):
    path = tmp_path / "anchor.toml"
    path.write_text(joint.to_toml())
    return path


@pytest.fixture
def solved_once(expected, monkeypatch):
    monkeypatch.setattr(evaluate, "expectation", lambda *_, **__: expected)


def test_a_filled_sheet_goes_through_the_command(case, solved_once, monkeypatch, tmp_path, capsys):
    rows = [caliper.Beside("ear 1, inner", 0.25, 0.21, "")]
    monkeypatch.setattr(
        caliper, "by_caliper", lambda _, sheet, **__: caliper.ByCaliper(sheet, rows)
    )
    sheet = tmp_path / "sheet.toml"
    sheet.write_text(
        'peak = "9.5 kN"\nbroke = "hole elongation"\n[[hole]]\nwhere = "ear 1"\nface = "inner"\n'
        "before = 4.1\nafter = 4.35\n"
    )
    words = ["match", str(case), "--caliper", str(sheet), "--out", str(tmp_path / "out")]
    assert main([*words, "--book", str(tmp_path / "pulls.sqlite")]) == 0
    told = capsys.readouterr().out
    assert "by caliper, after a peak of 9,500 N" in told
    assert "rows written into" in told
    data = json.loads((tmp_path / "out/match.json").read_text())
    assert data["caliper"][0]["predicted_mm"] == 0.21
    assert data["seen"]["mode"] == "hole elongation"


def test_what_was_learned_is_written_as_material_and_as_case(
    case, logs, fit, solved_once, monkeypatch, tmp_path, capsys
):
    written = ("title = 'metal'\n", "title = 'case'\n")
    law = replace(fit, material=written[0], case=written[1])
    monkeypatch.setattr(evaluate, "learned", lambda *_, **__: law)
    out = tmp_path / "out"
    words = ["match", str(case), str(logs[0]), "--learn", "--out", str(out)]
    assert main(words) == 0
    assert "learned (7 solves)" in capsys.readouterr().out
    assert (out / "learned-material.toml").read_text() == written[0]
    assert (out / "learned-case.toml").read_text() == written[1]


def test_logs_that_teach_nothing_are_still_shown_and_the_refusal_is_last(
    case, logs, solved_once, monkeypatch, tmp_path, capsys
):
    def learned(*_, **__):
        raise BadInput(Fault("--learn", "", "finds too little beyond yield", "pull further"))

    monkeypatch.setattr(evaluate, "learned", learned)
    words = ["match", str(case), str(logs[0]), "--learn", "--out", str(tmp_path / "out")]
    assert main(words) == 2
    told = capsys.readouterr()
    assert "rows read" in told.out
    assert "too little beyond yield" in told.err
    assert (tmp_path / "out/overlay.png").exists()


def peaks(folder, name, loads):
    path = folder / name
    path.write_text("sample,break load [N]\n" + "".join(f"{k},{f}\n" for k, f in enumerate(loads)))
    return path


def test_break_loads_are_counted_compared_and_their_outlier_named(
    case, solved_once, tmp_path, capsys
):
    rng = np.random.default_rng(1)
    ours = peaks(tmp_path, "ours.csv", [*np.round(9500.0 + 90.0 * rng.normal(size=9)), 7000.0])
    theirs = peaks(tmp_path, "theirs.csv", np.round(11_000.0 + 90.0 * rng.normal(size=9)))
    words = ["match", str(case), str(ours), "--against", str(theirs), "--broke", "pin shear"]
    book = tmp_path / "pulls.sqlite"
    assert main([*words, "--book", str(book), "--out", str(tmp_path / "out")]) == 0
    told = capsys.readouterr().out
    assert "load maximum, 10 samples: mean 9," in told
    assert "outlier by Grubbs' test at 5 %, counted all the same: ours.csv, 10" in told
    assert "the other design against this: +1" in told
    assert "told apart" in told
    assert "10 rows written into" in told
    assert main(["book", str(book), "--json"]) == 0
    names = [pull["sample"] for pull in json.loads(capsys.readouterr().out)["pulls"]]
    assert names == [f"ours.csv, {k}" for k in range(1, 11)]


def test_lines_left_out_are_named_up_to_five(case, solved_once, tmp_path, capsys):
    rows = [f"{0.02 * k:.2f};{60 * k}" for k in range(60)]
    for k in range(20, 28):
        rows[k] = f"{0.02 * k:.2f};lost"
    log = tmp_path / "gaps.csv"
    log.write_text("\n".join(["travel mm;force N", *rows]))
    assert main(["match", str(case), str(log), "--out", str(tmp_path / "out")]) == 0
    told = capsys.readouterr().out
    assert told.count("left out:") == 5
    assert "and 3 more lines (see match.json)" in told


@pytest.mark.parametrize(
    ("option", "value"), [("--rig", "0 kN/mm"), ("--speed", "-5 mm/min"), ("--part", "sail")]
)
def test_an_option_out_of_range_is_refused_at_its_name(
    option, value, case, logs, solved_once, tmp_path, capsys
):
    words = ["match", str(case), str(logs[0]), option, value, "--learn"]
    assert main([*words, "--out", str(tmp_path / "out")]) == 2
    assert option in capsys.readouterr().err


def test_an_outlying_offset_load_is_named_by_its_log(expected):
    def matched(name, offset):
        log = SimpleNamespace(name=name, kind="curve")
        return SimpleNamespace(log=log, offset=offset, broke=False, unsure=False)

    matches = (matched("a.csv", 1), matched("no offset.csv", None), matched("b.csv", 1))
    spread = Spread(2, 8000.0, 100.0, (7900.0, 8100.0), (1,))
    outcome = SimpleNamespace(matches=matches)
    told = report_lines._say_spread("offset load", spread, outcome)
    assert told.endswith("counted all the same: b.csv")
