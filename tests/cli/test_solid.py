"""`fejoint solid` says what an end loses, writes fields and pictures, refuses what it cannot do."""

from __future__ import annotations

import json

import meshio
import numpy as np
import pytest
from support import DEMO

from fejoint.cli.main import main

COARSE = ["--refine", "0.4", "--set", 'ear.thickness="0.8 mm"']
SHORT = [*COARSE, "--set", 'pull.stop_displacement="0.12 mm"']


def test_words_files_and_pictures_of_a_thin_ear(tmp_path, capsys):
    assert main(["solid", str(DEMO), *SHORT, "--out", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "stays in its plane" in said
    assert "no head" in said
    assert "out of straight by 0.008 mm (curl)" in said
    grid = meshio.read(tmp_path / "solid.vtu")
    assert grid.cells[0].type == "hexahedron20"
    assert grid.points[:, 1].min() == pytest.approx(-grid.points[:, 1].max())
    assert grid.point_data["plastic_strain"].max() > 0.01
    assert np.isfinite(grid.point_data["displacement_mm"]).all()
    assert (tmp_path / "solid-curve.png").stat().st_size > 10_000


@pytest.mark.slow
def test_json_tells_the_loss_of_a_dishing_end(capsys):
    assert main(["solid", str(DEMO), *COARSE, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["schema"] == "fejoint.solid/1"
    assert 0.15 < answer["loss_greatest"] < 0.35
    assert abs(answer["loss_offset"]) < 0.02
    away, towards = (answer["solid"][n] for n in ("curls away", "curls in"))
    assert away["greatest_load_N"] < answer["plane"]["greatest_load_N"]
    assert away["leaves_plane_N"] < away["greatest_load_N"]
    assert max(away["tip_out_of_plane_mm"]) > 0.08 > abs(min(towards["tip_out_of_plane_mm"])) / 10
    assert away["pile_up"] > 1.05


def test_head_is_the_cases_unless_another_is_asked_for():
    from fejoint.analysis.solid_ear import SolidQuestion, solid_case
    from fejoint.joint import model

    table = model.load(DEMO).to_dict()
    table["pin"] |= {"ends": "headed", "head": 9.0}
    joint = model.read(table)
    assert solid_case(joint, SolidQuestion()).above.radius == 4.5
    assert solid_case(joint, SolidQuestion(head=12.0)).above.radius == 6.0
    assert solid_case(joint, SolidQuestion(head=0.0)).above is None


@pytest.mark.parametrize("head", ["none", "14 mm"])
def test_head_that_is_asked_for_is_told(head, capsys):
    words = [*SHORT, "--set", 'pin.ends="headed"', "--set", 'pin.head="9 mm"', "--head", head]
    assert main(["solid", str(DEMO), *words, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["head_diameter_mm"]
    assert told == (None if head == "none" else 14.0)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--head", "3 mm"], "--head = 3 mm: must be above the hole"),
        (["--refine", "4"], "--refine = 4: must be at most 2.5 for a solid ear"),
        (["--head", "wide"], "--head = wide"),
        (["--ear", "3"], "--ear = 3: must be 1 to 2"),
        (["--crooked", "9 mm"], "--crooked = 9 mm: must be above 0"),
        (["--set", 'ear.hole_slot="0.5 mm"'], "must be 0 for a solid ear"),
        (["--set", 'ear.flare_depth="0.5 mm"'], "ear.flare_depth = 0.5 mm"),
    ],
)
def test_bad_input_is_one_line_and_writes_nothing(words, told, tmp_path, capsys):
    folder = tmp_path / "none"
    assert main(["solid", str(DEMO), *words, "--out", str(folder)]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 1
    assert told in lines[0]
    assert not folder.exists()


def test_interrupt_keeps_what_is_there(monkeypatch, tmp_path, capsys):
    from fejoint.analysis import solid_ear

    pull, calls = solid_ear.solid.pull, []

    def interrupted(problem, settings, observers=(), progress=None):
        def stop(point, iteration, error):
            if calls and point is not None and point.load > 300.0:
                raise KeyboardInterrupt

        calls.append(problem)
        return pull(problem, settings, observers, stop)

    monkeypatch.setattr(solid_ear.solid, "pull", interrupted)
    assert main(["solid", str(DEMO), *SHORT, "--out", str(tmp_path)]) == 3
    caught = capsys.readouterr()
    assert "interrupted" in caught.err
    assert len(calls) == 1
    assert "in its plane" in caught.out
    assert (tmp_path / "solid.vtu").exists()
