"""What a sweep of one dimension at a time and its bar show."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import cheap
import pytest

from fejoint.cli import main
from fejoint.sweeps import shown
from fejoint.sweeps.run import run
from fejoint.sweeps.sensitivities import sensitivities

CASE = str(Path(__file__).parent.parent.parent / "cases" / "demo" / "hard-pin.toml")


@pytest.fixture(autouse=True)
def cheaply(monkeypatch):
    monkeypatch.setitem(run.__kwdefaults__, "model", cheap.closed_form)
    monkeypatch.setitem(sensitivities.__kwdefaults__, "model", cheap.closed_form)


def test_one_dimension_at_a_time_has_the_closed_form_s_powers(tmp_path, capsys):
    words = ["sweep", CASE, "--workers", "0", "--out", str(tmp_path)]
    assert main([*words, "--json"]) == 0
    rows = {row["dimension"]["path"]: row for row in json.loads(capsys.readouterr().out)}
    powers = {"ear.thickness": 1.0, "ear.edge_distance": 0.5, "ear.width": 0.3}
    for path, power in powers.items():
        assert rows[path]["offset_load"] == pytest.approx(power, abs=0.02)
    assert main(words) == 0
    told = capsys.readouterr().out
    assert "offset load, %/%" in told
    line = next(x for x in told.splitlines() if x.startswith("ear.thickness"))
    assert "+1.00" in line


def test_a_bar_counts_on_a_terminal_and_is_silent_in_a_pipe(monkeypatch, capsys):
    with shown.progress_bar(quiet=False) as tell:
        assert tell is None
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    with shown.progress_bar(quiet=True) as tell:
        assert tell is None
    with shown.progress_bar(quiet=False) as tell:
        tell(3, 12, {})
    assert capsys.readouterr().out == ""
