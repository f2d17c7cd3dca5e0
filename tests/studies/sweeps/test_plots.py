"""Pictures of studies show what the tables say."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from matplotlib.figure import Figure
from support import DEMO, cheap

from fejoint.cli.main import main
from fejoint.errors import BadInput
from fejoint.output.pictures import theme as look
from fejoint.studies.sweeps import row
from fejoint.studies.sweeps.design_changes import advise
from fejoint.studies.sweeps.plan import Plan
from fejoint.studies.sweeps.run import run
from fejoint.studies.sweeps.sensitivities import sensitivities
from fejoint.studies.sweeps.tolerance_band import scatter
from fejoint.studies.sweeps.variation import parse

CASE = str(DEMO)


@pytest.fixture
def cheaply(monkeypatch):
    """Solve by the stand-in, in this process."""
    monkeypatch.setattr(row, "solve", lambda case, settings: cheap.closed_form(case, {}))
    for function in ("run.run", "design_changes.advise", "tolerance_band.scatter",
                     "sensitivities.sensitivities"):  # fmt: skip
        module, _, name = f"fejoint.studies.sweeps.{function}".rpartition(".")
        found = getattr(__import__(module, fromlist=[name]), name)
        monkeypatch.setitem(found.__kwdefaults__, "model", cheap.closed_form)


def said(figure: Figure) -> str:
    """Return the words of a picture, as the comments of its SVG keep them."""
    return " | ".join(re.findall(r"<!-- (.*?) -->", look.encoded(figure, "svg", 900).decode()))


def test_a_line_over_one_dimension_names_what_gives_and_the_joint_as_it_is(joint, tmp_path):
    rows = Plan(joint, (parse("pin.hardness=100:300:9 HV"),))
    table = run(rows, {}, folder=tmp_path, workers=0, model=cheap.closed_form)
    words = said(table.plot(title="a joint"))
    assert "first: pin bends" in words
    assert "first: ear: hole stretches" in words
    assert "a joint" in words


def test_a_sweep_draws_its_map_and_joints_one_by_one_do_not(joint, tmp_path):
    varied = (parse("ear.thickness=1:3:3 mm"), parse("ear.edge_distance=5:9:3 mm"))
    table = run(Plan(joint, varied), {}, workers=0, model=cheap.closed_form)
    assert "the joint as it is" in said(table.plot())
    drawn = scatter(joint, draws=3, workers=0, model=cheap.closed_form)
    with pytest.raises(BadInput, match="3 joints: are of joints given one by one"):
        drawn.table.plot()


def test_a_line_of_one_joint_is_refused(joint, tmp_path):
    rows = Plan(joint, (parse("pin.hardness=300 HV"),))
    table = run(rows, {}, folder=tmp_path, workers=0, model=cheap.closed_form)
    with pytest.raises(BadInput, match="needs two joints"):
        table.plot()


def test_a_histogram_tells_the_odds_of_the_table(joint, tmp_path):
    found = scatter(joint, draws=40, folder=tmp_path, workers=0, model=cheap.closed_form)
    words = said(found.plot())
    assert "1 in 20 gives below" in words
    assert f"{found.load.low:,.0f}"[:3] in words
    assert "100 %" in words or "first: pin bends" in words


def test_sensitivities_are_bars_the_strongest_on_top(joint, tmp_path):
    found = sensitivities(joint, model=cheap.closed_form, folder=tmp_path, workers=0)
    words = said(found.plot())
    known = sorted((s for s in found if s.load is not None), key=lambda s: -abs(s.load))
    values = [f"{s.load:+.2f}" for s in known]
    assert list(found.frame["load"].dropna()) == [s.load for s in found if s.load is not None]
    assert set(found.frame["unit"]) >= {"mm"}
    assert [x for x in re.findall(r"[+-]\d\.\d\d", words)] == values


def test_advice_shows_before_and_after_with_the_pull_to_carry(joint, tmp_path):
    found = advise(joint, 1.1 * cheap.closed_form(joint.to_dict(), {})["load_N"],
                   model=cheap.closed_form, workers=0)  # fmt: skip
    words = said(found.plot())
    assert "as it is" in words
    assert "to be carried: " in words
    assert list(found.frame["change"]) == ["as it is", *(c.words for c in found.single),
                                           *(c.words for c in found.double)]  # fmt: skip
    assert found.frame["load_N"][1:].min() >= found.goal
    for change in found.single:
        assert change.dimensions[0].name.replace(".", " ").replace("_", " ") in words


def test_commands_write_the_pictures(cheaply, tmp_path, capsys):
    out = ["--workers", "0", "--out"]
    assert main(["sweep", CASE, "--vary", "ear.hole=4.1:4.5:3 mm", *out, str(tmp_path / "a"),
                 "--json"]) == 0  # fmt: skip
    files = json.loads(capsys.readouterr().out)["files"]
    assert [Path(f).name for f in files] == ["table.parquet", "table.csv", "line.png"]
    assert main(["sweep", CASE, *out, str(tmp_path / "b")]) == 0
    assert (tmp_path / "b" / "sensitivities.png").exists()
    assert main(["scatter", CASE, "--draws", "12", *out, str(tmp_path / "c")]) == 0
    assert (tmp_path / "c" / "scatter.png").exists()
    picture = tmp_path / "d" / "advice.png"
    words = ["advise", CASE, "--target", "10 kN", "--workers", "0", "--picture", str(picture)]
    assert main(words) in (0, 1)
    assert picture.exists()
    assert f"wrote {picture}" in capsys.readouterr().out
