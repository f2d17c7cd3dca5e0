from __future__ import annotations

import json

from support import DEMO

from fejoint.cli.main import main


def test_blow_prints_loads_and_the_same_as_json(capsys):
    assert main(["blow", str(DEMO), "--refine", "0.5", "--angle", "0"]) == 0
    assert "the pin hinges" in capsys.readouterr().out
    assert main(["blow", str(DEMO), "--refine", "0.5", "--angle", "0", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["largest"] > 0.0
