"""`fejoint sweep`, `advise` and `scatter` on the command line."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from support import DEMO, cheap

import fejoint
from fejoint.analysis.definitions import title
from fejoint.cli.main import main
from fejoint.errors import BadInput, SolveStopped
from fejoint.inputs.units import figures
from fejoint.studies.sweeps import row
from fejoint.studies.sweeps.run import run
from fejoint.studies.sweeps.store import Store
from fejoint.studies.sweeps.tolerance_band import Band, scatter

CASE = str(DEMO)


@pytest.fixture(autouse=True)
def cheaply(monkeypatch):
    """Solve by the stand-in, in this process."""
    monkeypatch.setattr(row, "solve", lambda case, settings: cheap.closed_form(case, {}))
    for function in ("run.run", "design_changes.advise", "tolerance_band.scatter"):
        module, _, name = f"fejoint.studies.sweeps.{function}".rpartition(".")
        found = getattr(__import__(module, fromlist=[name]), name)
        monkeypatch.setitem(found.__kwdefaults__, "model", cheap.closed_form)


def test_sweep_writes_tables_and_a_map_and_goes_on(tmp_path, capsys):
    words = ["sweep", CASE, "--vary", "ear.hole=3.9:4.5:4 mm", "--vary", "ear.width=12,14 mm",
             "--workers", "0", "--out", str(tmp_path), "--json"]  # fmt: skip
    assert main(words) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["states"] == {"solved": 6, "refused": 2}
    assert [Path(p).name for p in told["files"]] == ["table.parquet", "table.csv", "map.png"]
    assert all(Path(p).exists() for p in told["files"])
    assert len(pd.read_csv(tmp_path / "table.csv")) == 8
    assert main(words) == 0
    assert json.loads(capsys.readouterr().out)["solved_now"] == 0
    assert main(words[:-1]) == 0
    assert "hole stretches first in 6" in capsys.readouterr().out


def test_a_million_joints_are_estimated_and_refused(tmp_path, capsys):
    words = ["sweep", CASE, "--vary", "ear.hole=4.1:4.5:1000 mm", "--vary",
             "ear.width=12:16:1000 mm", "--out", str(tmp_path / "none")]  # fmt: skip
    assert main(words) == 2
    assert "days" in capsys.readouterr().err
    assert not (tmp_path / "none").exists()
    assert main([*words, "--estimate"]) == 0
    assert "GB" in capsys.readouterr().out


def test_bad_options_are_told_before_anything_is_solved(capsys):
    for words in (
        ["sweep", CASE, "--vary", "ear.hol=4 mm"],
        ["sweep", CASE, "--vary", "ear.hole=4.1 mm", "--refine", "99"],
        ["sweep", CASE, "--vary", "ear.hole=4.1 mm", "--workers", "-1"],
        ["advise", CASE, "--target", "300 kg"],
        ["advise", CASE, "--target", "300 kgf", "--limit", "ear.width=14 mm"],
        ["scatter", CASE, "--draws", "0"],
    ):
        assert main(words) == 2
    assert capsys.readouterr().err.count("\n") >= 6


def test_advise_prints_the_change_and_what_else_it_changes(capsys):
    present = cheap.closed_form(row.Joint.from_dict(_case()).to_dict(), {})["load_N"]
    words = ["advise", CASE, "--target", f"{present} N", "--margin", "10 %", "--workers", "0"]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert "ear.thickness 2 mm -> 2.2 mm" in said
    assert "still ear: hole stretches; weight +2.8 g" in said
    assert main([*words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["goal_N"] == pytest.approx(1.1 * present)
    assert main(["advise", CASE, "--target", "90 kN", "--workers", "0"]) == 1


def test_scatter_prints_band_modes_and_causes(tmp_path, capsys):
    words = ["scatter", CASE, "--draws", "40", "--workers", "0", "--out", str(tmp_path)]
    assert main(words) == 0
    said = capsys.readouterr().out
    for part in ("one in twenty below", "hole stretches 100 %", "ear.strength"):
        assert part in said
    assert main([*words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["load_N"]["count"] == 40


@pytest.mark.parametrize(("draws", "few"), [(3, True), (19, True), (20, False)])
def test_a_scatter_of_few_joints_tells_no_twentieth_of_them(draws, few, tmp_path, capsys):
    words = ["scatter", CASE, "--draws", str(draws), "--workers", "0", "--out", str(tmp_path)]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert ("too few to tell one in twenty" in said) is few
    assert (f"hole stretches {draws} of {draws}" in said) is few
    assert ("too few joints to tell what causes the band" in said) is (draws == 3)
    loads = np.arange(draws, dtype=float)
    band = Band.of(loads)
    assert ((band.low, band.high) == (0.0, draws - 1.0)) is few


def _case():
    import tomllib

    return tomllib.loads(Path(CASE).read_text())


def test_a_sweep_of_which_no_joint_was_solved_says_so(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(cheap.math, "sqrt", None)  # every joint fails
    words = ["sweep", CASE, "--vary", "ear.width=12,14 mm", "--workers", "0"]
    assert main([*words, "--out", str(tmp_path)]) == 3
    told = capsys.readouterr()
    assert "no joint was solved" in told.err
    assert "NoneType" in told.out


def test_a_full_file_of_rows_is_told_with_its_place(tmp_path):
    store = Store(tmp_path)
    full = store._file.execute("pragma page_count").fetchone()[0]
    store._file.execute(f"pragma max_page_count = {full}")
    with pytest.raises(BadInput, match=r"rows\.sqlite.* cannot be written .*make room"):
        store.keep("key", {"state": "solved", "text": "x" * 20_000})
    assert store._file.execute("select count(*) from found").fetchone() == (0,)
    store.close()


def _use(monkeypatch, model):
    monkeypatch.setitem(run.__kwdefaults__, "model", model)
    monkeypatch.setitem(scatter.__kwdefaults__, "model", model)


def test_an_interrupted_sweep_says_how_it_goes_on(tmp_path, capsys, monkeypatch):
    _use(monkeypatch, cheap.stopped_by_hand)
    words = ["sweep", CASE, "--vary", "ear.width=14,15,16 mm", "--workers", "0"]
    assert main([*words, "--out", str(tmp_path)]) == 3
    assert "interrupted: what was solved is kept" in capsys.readouterr().err


def test_a_sweep_too_small_for_a_map_says_why_and_is_fine(tmp_path, capsys):
    words = ["sweep", CASE, "--vary", "ear.width=14 mm", "--vary", "ear.hole=4.1,4.2 mm"]
    assert main([*words, "--workers", "0", "--out", str(tmp_path)]) == 0
    assert "no picture: " in capsys.readouterr().err
    assert (tmp_path / "table.csv").is_file()
    assert not (tmp_path / "map.png").exists()


def test_advice_that_is_not_needed_is_told_in_a_line(capsys):
    assert main(["advise", CASE, "--target", "10 N", "--workers", "0"]) == 0
    told = capsys.readouterr().out
    assert "as it is reaches it: nothing needs to change" in told
    assert "one dimension" not in told


def test_drawn_joints_that_failed_are_counted_beside_the_band(tmp_path, capsys, monkeypatch):
    _use(monkeypatch, cheap.fails_on_wide)
    case = tmp_path / "case.toml"
    text = Path(CASE).read_text().partition("[scatter")[0]
    wide = '\n[scatter]\n"ear.width" = { from = "13 mm", to = "16 mm" }\n'
    case.write_text(text + wide)
    words = ["scatter", str(case), "--draws", "30", "--workers", "0", "--out", str(tmp_path / "o")]
    assert main(words) == 0
    assert "10 joints failed: not in the band" in capsys.readouterr().out


def test_a_band_without_any_solved_joint_is_refused_with_the_first_reason(monkeypatch, tmp_path):
    joint = fejoint.load({**fejoint.load(CASE).case, "scatter": {
        "ear.width": {"from": "15 mm", "to": "16 mm"}}})  # fmt: skip
    with pytest.raises(SolveStopped, match="no drawn joint was solved: ArithmeticError: no equil"):
        scatter(joint, draws=3, known_metals=False, workers=0, model=cheap.fails_on_wide)


def test_a_sweep_of_one_dimension_prints_its_table_in_order(tmp_path, capsys, monkeypatch):
    _use(monkeypatch, cheap.fails_on_wide)
    words = ["sweep", CASE, "--vary", "ear.width=15,13,14 mm", "--workers", "0"]
    assert main([*words, "--out", str(tmp_path)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in lines[1:4]] == ["13", "14", "15"]
    frame = pd.read_csv(tmp_path / "table.csv").set_index("ear.width_mm")
    for line, width in zip(lines[1:3], (13.0, 14.0), strict=True):
        row = frame.loc[width]
        assert f"{row['part']}: {title(row['mode'])}" in line
        assert figures(row["load_N"]) in line.split()
        assert figures(row["load_N"] / 9.80665) in line.split()
        assert line.split()[-1] == figures(row["offset_load_N"])
    assert lines[3].split() == ["15", "failed"]


def test_a_long_table_and_one_of_two_dimensions_stay_in_their_file(tmp_path, capsys):
    for vary in (["ear.width=13:14:61 mm"], ["ear.width=13,14 mm", "ear.thickness=2,3 mm"]):
        words = [word for v in vary for word in ("--vary", v)]
        assert main(["sweep", CASE, *words, "--workers", "0", "--out", str(tmp_path)]) == 0
        assert capsys.readouterr().out.splitlines()[0].split()[1] == "joints:"
