from __future__ import annotations

import json

import numpy as np
import pytest

from fejoint.analysis.cautions import IN_A_LINE
from fejoint.analysis.definitions import HIGHEST_PULL
from fejoint.cli.main import main
from fejoint.measured import caliper, comparison, evaluate


@pytest.fixture
def case(joint, tmp_path):
    path = tmp_path / "anchor.toml"
    path.write_text(joint.to_toml())
    return path


@pytest.fixture(autouse=True)
def solved_once(expected, monkeypatch):
    monkeypatch.setattr(evaluate, "expectation", lambda *_, **__: expected)


def test_logs_are_put_beside_the_prediction_and_into_the_book(case, logs, tmp_path, capsys):
    book, out = tmp_path / "pulls.sqlite", tmp_path / "out"
    words = ["match", str(case), *map(str, logs), "--broke", "hole stretched", "--book", str(book)]
    assert main([*words, "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "force: column 2" in said
    assert "removed: slack" in said
    assert "as predicted first" in said
    assert IN_A_LINE in said
    assert (out / "overlay.png").exists()
    data = json.loads((out / "match.json").read_text())
    assert [m["kind"] for m in data["logs"]] == ["curve"] * 3
    assert main(["book", str(book), "--parity", str(tmp_path / "parity.png")]) == 0
    said = capsys.readouterr().out
    assert "3 samples: measured over predicted" in said
    assert (tmp_path / "parity.png").exists()
    assert main(["book", str(book), "--json"]) == 0
    assert (
        len(json.loads(capsys.readouterr().out)["pulls"]) == 3
    )  # a log that ends before its break has no peak


def test_the_plan_writes_its_page_and_a_caliper_sheet(case, tmp_path, capsys):
    assert main(["match", str(case), "--plan", "--json", "--out", str(tmp_path)]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["plan"]["samples_of_each_design"] >= 2
    assert (tmp_path / "plan.html").exists()
    assert (tmp_path / "caliper.toml").exists()


def test_force_against_time_is_enough(case, tmp_path, capsys):
    log = tmp_path / "time.csv"
    log.write_text("Time (s);Load (kgf)\n" + "".join(f"{k};{30 * k}\n" for k in range(40)))
    assert main(["match", str(case), str(log), "--out", str(tmp_path)]) == 0
    assert "only the load maximum" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "needs logs, --plan or --caliper"),
        (["nowhere.csv"], "cannot be read"),
        (["--plan", "--refine", "90"], "--refine"),
        (["--plan", "--broke", "it fell"], "--broke"),
        (["LOG", "--rig", "stiff"], "12 kN/mm"),
        (["LOG", "--speed", "5 mm"], "5 mm/min"),
        (["LOG", "--speed", "0 mm/min"], "must be above 0"),
        (["LOG", "--force-column", "9"], "--force-column"),
        (["--caliper", "nowhere.toml"], "is not there"),
        (["LOG", "--learn", "--hold-out", "5"], "--hold-out"),
    ],
)
def test_what_cannot_be_is_refused_with_its_mend(words, said, case, logs, tmp_path, capsys):
    words = [str(logs[0]) if w == "LOG" else w for w in words]
    assert main(["match", str(case), *words, "--out", str(tmp_path)]) == 2
    assert said in capsys.readouterr().err


def test_time_and_a_speed_are_a_travel(case, expected, tmp_path, capsys):
    log = tmp_path / "time.csv"
    steps = np.linspace(0.0, 2.0, 400)
    load = np.interp(steps, expected.curve.extension + 1e-4 * expected.curve.load,
                     expected.curve.load)  # fmt: skip
    rows = "".join(f"{12.0 * x:.4f};{f:.2f}\n" for x, f in zip(steps, load, strict=True))
    log.write_text("Time (s);Load (N)\n" + rows)
    words = ["match", str(case), str(log), "--speed", "5 mm/min", "--out", str(tmp_path)]
    assert main(words) == 0
    told = capsys.readouterr().out
    assert "travel: time at 5 mm/min" in told
    assert "removed: slack" in told


def test_a_log_that_cannot_be_matched_is_named(case, expected, tmp_path, capsys):
    log = tmp_path / "short.csv"
    top = expected.offset.load
    log.write_text("travel mm;force N\n" + "".join(f"{k};{top * (3 + k)}\n" for k in range(9)))
    assert main(["match", str(case), str(log), "--out", str(tmp_path)]) == 2
    told = capsys.readouterr().err
    assert "short.csv" in told
    assert "too few rows" in told


def test_a_peak_by_caliper_goes_into_the_book_where_nothing_is_left_of_the_joint(
    case, monkeypatch, tmp_path, capsys
):
    monkeypatch.setattr(caliper, "by_caliper", lambda *_, **__: caliper.ByCaliper(None, ()))
    sheet, book = tmp_path / "sheet.toml", tmp_path / "pulls.sqlite"
    sheet.write_text('peak = "9 kN"\nbroke = "pin shear"\nnote = "felt soft"\n')
    words = ["match", str(case), "--caliper", str(sheet), "--book", str(book)]
    assert main([*words, "--out", str(tmp_path / "out")]) == 0
    # the same sheet again, what was seen put right: still one sample
    sheet.write_text(sheet.read_text().replace("pin shear", "end tear-out"))
    assert main([*words, "--out", str(tmp_path / "out")]) == 0
    assert "1 rows written" in capsys.readouterr().out
    assert main(["book", str(book), "--json"]) == 0
    (pull,) = json.loads(capsys.readouterr().out)["pulls"]
    assert (pull["sample"], pull["measured"], pull["note"]) == ("caliper", 9000.0, "felt soft")
    assert main(["book", str(book), "--strike", "1", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["pulls"] == []
    assert main(["book", str(book), "--parity", str(tmp_path / "parity.png")]) == 2
    assert "holds no pull with a predicted load" in capsys.readouterr().err


def test_offset_loads_of_two_designs_are_compared_too(case, logs, expected, tmp_path):
    found = evaluate.match(None, logs[:2], against=logs[1:], expected=expected)
    # pulls that were stopped have no highest load to compare
    assert set(found.comparison) == {"offset load"}
    assert found.comparison["offset load"].difference == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize(("above", "judged"), [(1.0002, True), (1.02, False)])
def test_a_load_maximum_between_two_points_of_the_curve_is_a_prediction(above, judged, expected):
    from dataclasses import replace

    answer = expected.answer
    highest = float(answer.trace.load.max())
    first = answer.verdict.order[0]
    limit = replace(
        first.first, mode="net section", cause=HIGHEST_PULL, load=above * highest,
        source="computed",
    )  # fmt: skip
    order = (replace(first, first=limit, later=()),)
    found = comparison.expect(replace(answer, verdict=replace(answer.verdict, order=order)))
    assert (found.most_mode == "net section") == judged
    assert found.most == highest
