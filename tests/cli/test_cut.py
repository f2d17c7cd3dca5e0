"""`fejoint cut`."""

from __future__ import annotations

import json

from support import DEMO

from fejoint.cli.main import main


def test_drawings_are_written_and_told(tmp_path, capsys):
    out = tmp_path / "cut"
    assert main(["cut", str(DEMO), "--refine", "0.35", "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "no kerf" in said
    assert "stand clear" in said
    names = {p.name for p in out.iterdir() if not p.name.startswith(".")}
    assert names == {"ear.dxf", "ear.svg", "shank.dxf", "shank.svg"}
    assert all(name in said for name in names)
    assert "Computed:" in (out / "ear.svg").read_text()


def test_without_a_prediction_nothing_is_solved(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("fejoint.analysis.pull.pull", None)
    words = ["cut", str(DEMO), "--no-prediction", "--json", "--step", "--out", str(tmp_path)]
    assert main(words) == 0
    files = json.loads(capsys.readouterr().out)["files"]
    assert [f.rpartition("/")[2] for f in files] == [
        "ear.dxf", "ear.svg", "shank.dxf", "shank.svg", "ear.step", "shank.step", "pin.step",
    ]  # fmt: skip
    assert "Computed:" not in (tmp_path / "ear.svg").read_text()


def test_a_folder_that_cannot_be_is_refused(tmp_path, capsys):
    (tmp_path / "file").write_text("")
    words = ["cut", str(DEMO), "--no-prediction", "--out", str(tmp_path / "file")]
    assert main(words) == 2
    assert str(tmp_path / "file") in capsys.readouterr().err
