"""`fejoint sweep`, `advise` and `scatter` on the command line."""

from __future__ import annotations

import json
from pathlib import Path

import cheap
import pandas as pd
import pytest

from fejoint.cli import main
from fejoint.errors import BadInput
from fejoint.sweeps import one_joint
from fejoint.sweeps.store import Store

CASE = str(Path(__file__).parent.parent.parent / "cases" / "demo" / "hard-pin.toml")


@pytest.fixture(autouse=True)
def cheaply(monkeypatch):
    """Solve by the stand-in, in this process."""
    monkeypatch.setattr(one_joint, "solve", lambda case, settings: cheap.closed_form(case, {}))
    for function in ("fejoint.sweeps.run.run", "fejoint.sweeps.advise.advise",
                     "fejoint.sweeps.scatter.scatter"):  # fmt: skip
        module, _, name = function.rpartition(".")
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
    assert "hole elongation first in 6" in capsys.readouterr().out


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
    present = cheap.closed_form(one_joint.Joint.from_dict(_case()).to_dict(), {})["load_N"]
    words = ["advise", CASE, "--target", f"{present} N", "--margin", "10 %", "--workers", "0"]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert "ear.thickness 2 mm -> 2.2 mm" in said
    assert "still hole elongation of the ear; weight +2.8 g" in said
    assert main([*words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["goal_N"] == pytest.approx(1.1 * present)
    assert main(["advise", CASE, "--target", "90 kN", "--workers", "0"]) == 1


def test_scatter_prints_band_modes_and_causes(tmp_path, capsys):
    words = ["scatter", CASE, "--draws", "40", "--workers", "0", "--out", str(tmp_path)]
    assert main(words) == 0
    said = capsys.readouterr().out
    for part in ("one in twenty below", "hole elongation 100 %", "ear.strength"):
        assert part in said
    assert main([*words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["load_N"]["count"] == 40


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
    assert store.known("key") is None
    store.close()
