from __future__ import annotations

import json
from dataclasses import replace

from support import DEMO
from support.pulled import quick_answer

import fejoint
from fejoint.cli.main import main
from fejoint.kernel.stop_reason import Stop, StopReason
from fejoint.studies import side_blow, used_joint


def test_used_says_at_what_load_the_joint_moves_again(capsys):
    assert main(["used", str(DEMO), "--kept", "0.05 mm", "--refine", "0.5"]) == 0
    said = capsys.readouterr().out
    assert "moves" in said
    assert "to the end" in said


def test_used_tells_the_same_joint_as_json(monkeypatch, capsys):
    joints = []

    def used(joint, length, *, refine):
        joints.append((joint.title, length, refine))
        return quick_answer()

    monkeypatch.setattr(used_joint, "used", used)
    assert main(["used", str(DEMO), "--kept", "0.05 mm", "--refine", "0.5", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == quick_answer().to_dict()
    assert joints == [(quick_answer().joint.title, 0.05, 0.5)]


def test_used_refuses_what_is_no_length(capsys):
    assert main(["used", str(DEMO), "--kept", "much"]) == 2
    assert "--kept" in capsys.readouterr().err


def test_blow_prints_loads_and_the_same_as_json(capsys):
    assert main(["blow", str(DEMO), "--refine", "0.5", "--angle", "0"]) == 0
    assert "the pin hinges" in capsys.readouterr().out
    assert main(["blow", str(DEMO), "--refine", "0.5", "--angle", "0", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["largest"] > 0.0


def test_what_broke_off_is_said_and_no_success(monkeypatch, capsys):
    stop = Stop(StopReason.NO_EQUILIBRIUM, "no equilibrium found")
    broken = replace(quick_answer(), trust=replace(quick_answer().trust, stopped_because=stop))
    monkeypatch.setattr(used_joint, "used", lambda *_, **__: broken)
    whole = side_blow.side_blow(fejoint.load(DEMO), refine=0.35)
    assert whole.finished
    cut = replace(whole, ended="no equilibrium found", finished=False)
    monkeypatch.setattr(side_blow, "side_blow", lambda *_, **__: cut)
    for words in (["used", str(DEMO), "--kept", "0.05 mm"], ["blow", str(DEMO)]):
        for more in ([], ["--json"]):
            assert main([*words, *more]) == 3
            assert "stopped early: no equilibrium found" in capsys.readouterr().err
