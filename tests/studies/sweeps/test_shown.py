"""What a sweep of one dimension at a time and its bar show."""

from __future__ import annotations

import json

import pytest
from support import DEMO, cheap

from fejoint.cli.main import main
from fejoint.studies.sweeps.run import run
from fejoint.studies.sweeps.sensitivities import sensitivities

CASE = str(DEMO)


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
