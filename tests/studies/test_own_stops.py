"""A case that stops its pull before anything gives: studies ask past the stop, or say so."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from support import DEMO

import fejoint
from fejoint.cli.main import main
from fejoint.errors import BadInput, SolveStopped
from fejoint.studies import directions as study
from fejoint.studies.directions import Direction, Directions
from fejoint.studies.sweeps import row
from fejoint.studies.sweeps.run import sweep

STOPS = ({"pull.stop_load": "100 N"}, {"pull.stop_displacement": "0.2 mm"})
EITHER = [pytest.param(STOPS[0], marks=pytest.mark.stress, id="load"), STOPS[1]]
COARSE = 0.3


def stopped(stop):
    joint = fejoint.load(DEMO)
    for key, value in stop.items():
        joint = joint.replace(key, value)
    return joint


@pytest.fixture(scope="module", name="first")
def _first() -> float:
    return fejoint.pull(fejoint.load(DEMO), refine=COARSE).verdict.first.load


@pytest.mark.parametrize("stop", EITHER, ids=str)
def test_what_gives_first_is_asked_past_the_stop(stop, first: float):
    joint = stopped(stop)
    settings = {"refine": COARSE, "whole": False, "stops": False}
    assert row.solve(joint.to_dict(), settings)["load_N"] == pytest.approx(first, rel=2e-3)
    told = fejoint.advise(joint, f"{0.9 * first} N", workers=0, refine=COARSE)
    assert told.reached
    assert told.present["load_N"] == pytest.approx(first, rel=2e-3)
    band = fejoint.scatter(joint, draws=3, workers=0, refine=COARSE).load
    assert 0.8 * first < band.low < band.high < 1.25 * first
    hard = fejoint.pin_range(joint, points=2, softest="400 HV", hardest="500 HV", refine=COARSE)
    assert all(p.first.load == pytest.approx(first, rel=5e-3) for p in hard.points)


@pytest.mark.parametrize("stop", EITHER, ids=str)
def test_a_used_joint_may_have_seen_more_than_the_stop(stop):
    found, whole = (
        fejoint.used(joint, hole="0.1 mm", refine=COARSE)
        for joint in (stopped(stop), fejoint.load(DEMO))
    )
    assert found.seen == pytest.approx(whole.seen, rel=1e-6)


def test_a_sweep_that_keeps_the_stop_tells_no_load_at_which_nothing_gave(capsys, tmp_path):
    joint = stopped(STOPS[0])
    table = sweep(joint, {"ear.width": "13:14:2 mm"}, workers=0, refine=COARSE).frame
    assert table["load_N"].isna().all()
    assert np.allclose(table["nothing_up_to_N"], 100.0, rtol=0.02)
    case = tmp_path / "case.toml"
    case.write_text(joint.to_toml())
    words = ["sweep", str(case), "--vary", "ear.width=13:14:2 mm", "--refine", str(COARSE)]
    assert main([*words, "--workers", "0", "--out", str(tmp_path / "out")]) == 0
    said = capsys.readouterr().out
    assert "nothing gave in 2, up to 100 to 100 N" in said
    assert "nothing up to 100 N" in said


def loose():
    """Return a joint whose rig moves by less than its play."""
    joint = fejoint.load(DEMO).replace("ear.hole", "6 mm")
    return joint.replace("pull.stop_displacement", "0.05 mm")


def test_a_joint_that_bears_nothing_is_told_in_a_line(monkeypatch):
    """Were its end to come before anything gave, no study would divide by the load."""
    nothing = {"load_N": None, "nothing_up_to_N": 0.0, "stopped_because": "it ended"}
    with pytest.raises(SolveStopped, match="nothing had given by then"):
        fejoint.advise(loose(), "500 N", workers=0, model=lambda *_: nothing)
    with pytest.raises(SolveStopped, match="nothing gave in any drawn joint"):
        fejoint.scatter(
            loose(), draws=2, workers=0, model=lambda *_: {**nothing, "mode": "", "part": ""}
        )
    with pytest.raises(BadInput, match="hole = 90 mm"):
        fejoint.used(loose(), hole="90 mm", refine=COARSE)


def test_an_advice_that_nothing_gives_below_the_target_says_so(capsys, monkeypatch):
    borne = {"load_N": None, "nothing_up_to_N": 900.0, "part": "joint", "mode": "nothing gave"}
    from fejoint.studies.sweeps import design_changes

    told = design_changes.advise(fejoint.load(DEMO), "500 N", workers=0, model=lambda *_: borne)
    assert told.reached
    monkeypatch.setattr(design_changes, "advise", lambda *_, **__: told)
    assert main(["advise", str(DEMO), "--target", "500 N"]) == 0
    assert "as it is: nothing gives up to 900 N" in capsys.readouterr().out
    assert json.dumps(told.present)


@pytest.mark.parametrize("stop", EITHER, ids=str)
def test_directions_are_compared_past_the_stop(stop, first: float):
    rows = fejoint.directions(stopped(stop), [0, 90], refine=COARSE)
    assert rows[0].first_load == pytest.approx(first, rel=2e-3)
    assert "ear bends aside at" in rows.sentence


def test_directions_in_which_nothing_gave_are_not_compared():
    row = Direction(0.0, None, None, None, "nothing gave", 100.0, 100.0, "", True)

    def of(*rows):
        return Directions(fejoint.load(DEMO), rows)

    said = of(row, replace(row, angle=90.0, largest_load=120.0)).sentence
    assert said == "Nothing gave in any direction, up to 120 N (12.2 kgf)."
    gave = replace(row, angle=90.0, first_mode="pin bending", first_load=300.0)
    assert of(row, gave).sentence == "Lowest at 90 degrees: pin bends at 300 N (30.6 kgf)."
    assert of(row, gave).plot().texts
    ends = [replace(row, joint_load=0.0), replace(row, joint_load=10.0)]
    assert study._interaction(45.0, *ends) is None
