from __future__ import annotations

import json
from dataclasses import replace

from support import DEMO

import fejoint
from fejoint.cli.main import main
from fejoint.studies import side_blow


def test_blow_prints_loads_and_the_same_as_json(capsys):
    assert main(["blow", str(DEMO), "--refine", "0.5", "--angle", "0"]) == 0
    assert "the pin hinges" in capsys.readouterr().out
    assert main(["blow", str(DEMO), "--refine", "0.5", "--angle", "0", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["largest"] > 0.0


def test_a_blow_that_broke_off_is_said_and_no_success(monkeypatch, capsys):
    whole = side_blow.side_blow(fejoint.load(DEMO), refine=0.35)
    assert whole.finished
    cut = replace(whole, ended="no equilibrium found", finished=False)
    monkeypatch.setattr(side_blow, "side_blow", lambda *_, **__: cut)
    for more in ([], ["--json"]):
        assert main(["blow", str(DEMO), *more]) == 3
        assert "stopped early: no equilibrium found" in capsys.readouterr().err
