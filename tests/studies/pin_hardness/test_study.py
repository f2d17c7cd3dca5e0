"""The study on the demo joint, and what its command takes and writes."""

from __future__ import annotations

import functools
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from support import DEMO

import fejoint
from fejoint.analysis.limit_loads import JointReading
from fejoint.analysis.progress import Told
from fejoint.analysis.section_cases import PullSettings
from fejoint.cli import pin_range as pin_range_command
from fejoint.cli.main import main
from fejoint.errors import BadInput
from fejoint.studies.pin_hardness import PinRange, pin_range
from fejoint.studies.pin_hardness import study as study_module
from fejoint.studies.pin_hardness.crossings import crossings
from fejoint.studies.pin_hardness.point import Asked, Finesse, solve_faces, solve_point
from fejoint.system.processes import pool

CASE = DEMO


@functools.cache
def study() -> PinRange:
    joint = fejoint.load(CASE)
    return pin_range(joint, softest=200.0, hardest=420.0, points=3, refine=0.5, processes=1)


def test_a_soft_pin_bends_first_and_a_hard_one_lets_the_ear_give():
    found = study()
    assert (found.points[0].first.mode, found.points[-1].first.mode) == (
        "pin bending",
        "hole elongation",
    )
    (only,) = found.crossings
    assert (only.softer[1], only.harder[1]) == ("pin", "ear")


def test_at_the_crossing_both_limits_are_equal_within_a_percent():
    found = study()
    (only,) = found.crossings
    for p in found.points:
        if p.hardness in only.between:
            bending, hole = p.lowest("pin bending", "pin"), p.lowest("hole elongation", "ear")
            assert bending == pytest.approx(hole, rel=0.01)
            assert only.load == pytest.approx(bending, rel=0.01)


def test_lent_face_sections_are_exact_where_they_are_lent():
    found = study()
    assert any(not p.own_faces for p in found.points)
    assert found.lending_error is not None
    assert found.lending_error < 1e-5


def test_a_pin_that_flattens_gets_face_sections_of_its_own():
    assert study().points[0].own_faces


def test_a_pin_that_flattens_is_told_in_plane_strain_too():
    found = study()
    assert found.held_disc is not None
    free, held = found.points[0], found.held_disc
    assert held.hardness == free.hardness
    # held out of its plane the disc flattens less and lets the pin bend less
    assert 1.0 <= held.first.load / free.first.load < 1.05
    assert any("plane strain" in note for note in found.notes)


@pytest.mark.parametrize(("faces", "pin"), [(0.75, 0.5), (0.5, 1.0)])
def test_the_crossing_stays_within_a_percent_under_refinement_of_either_section(faces, pin):
    joint, finesse = fejoint.load(CASE), Finesse(PullSettings(faces), PullSettings(pin))
    solved = solve_faces(joint, 322.0, finesse)
    points = [solve_point(joint, h, finesse, solved, Asked()) for h in (308.0, 322.0)]
    (one,), (other,) = study().crossings, crossings(points)
    assert other.hardness == pytest.approx(one.hardness, rel=0.01)


def test_the_kept_bend_falls_as_the_pin_gets_harder():
    sags = [p.bend_mm for p in study().points if p.bend_mm is not None]
    assert len(sags) >= 3
    assert sags == sorted(sags, reverse=True)


def test_a_study_is_a_table_and_a_picture():
    found = study()
    assert list(found.frame["hardness_HV"]) == [p.hardness for p in found.points]
    assert list(found.frame["load_N"]) == [p.first.load for p in found.points]
    figure = found.plot(title="fluke anchors")
    assert "fluke anchors" in [text.get_text() for text in figure.texts]
    assert figure.axes[1].get_xlabel() == "hardness of the pin, HV (steel)"


def test_the_study_says_what_it_holds_for():
    assert "carbon or low-alloy steel" in study().notes[0]


def test_table_picture_and_plain_data_are_written(tmp_path: Path, capsys):
    written = pin_range_command.write(study(), tmp_path)
    data = json.loads(written[0].read_text())
    assert data["schema"] == "fejoint.pin-range/1"
    assert data["crossings"][0]["hardness_HV"] == study().crossings[0].hardness
    assert len(data["points"]) == len(study().points)
    assert written[1].read_bytes().startswith(b"\x89PNG")
    pin_range_command.show(study(), written)
    printed = capsys.readouterr().out
    assert f"Below {study().crossings[0].hardness:.0f} HV pin bends comes first" in printed
    assert str(written[1]) in printed


@pytest.mark.parametrize(
    "wrong", [{"softest": 40.0}, {"softest": 500.0, "hardest": 300.0}, {"points": 1}]
)
def test_a_range_outside_the_table_is_refused(wrong: dict):
    with pytest.raises(BadInput):
        pin_range(fejoint.load(CASE), **wrong)


@pytest.mark.parametrize(
    "words", [["--softest", "40 HV"], ["--hardest", "70 HRC"], ["--after", "3 mm"],
              ["--refine", "90"]]
)  # fmt: skip
def test_the_command_refuses_what_it_cannot_take_and_writes_nothing(
    words: list[str], tmp_path: Path, capsys
):
    assert main(["pin-range", str(CASE), "--out", str(tmp_path / "x"), *words]) == 2
    assert words[0] in capsys.readouterr().err
    assert not (tmp_path / "x").exists()


def test_interrupted_it_writes_nothing_and_says_so(tmp_path: Path, capsys, monkeypatch):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("fejoint.studies.pin_hardness.pin_range", interrupted)
    assert main(["pin-range", str(CASE), "--out", str(tmp_path / "x")]) == 3
    assert "interrupted" in capsys.readouterr().err
    assert not (tmp_path / "x").exists()


@pytest.mark.parametrize("as_json", [False, True])
def test_the_command_writes_what_the_study_found_and_prints_it(
    tmp_path: Path, capsys, monkeypatch, as_json: bool
):
    asked = {}

    def known(joint, *, tell, **how):
        asked.update(how)
        return study()

    monkeypatch.setattr("fejoint.studies.pin_hardness.pin_range", known)
    words = ["pin-range", str(CASE), "--out", str(tmp_path), "--after", "400 kgf"]
    assert main([*words, "--json"] if as_json else words) == 0
    out = capsys.readouterr().out
    assert asked["after"] == pytest.approx(400 * 9.80665)
    written = json.loads((tmp_path / "pin-range.json").read_text())
    assert (json.loads(out) == written) if as_json else ("pin-range.png" in out)


def test_a_pull_of_nothing_keeps_no_bend(tmp_path: Path, capsys):
    assert main(["pin-range", str(CASE), "--out", str(tmp_path / "x"), "--after", "0 N"]) == 2
    assert "--after = 0 N: must be above 0" in capsys.readouterr().err


def test_where_one_part_always_gives_first_it_is_said(tmp_path: Path):
    found = replace(study(), crossings=())
    (said,) = found.sentences
    assert said.startswith("From 200 to 420 HV this always comes first: pin bends")


def test_a_joint_that_carries_less_is_crossed_out_in_the_picture():
    from fejoint.output.pictures import theme
    from fejoint.studies.pin_hardness.plot import _bends, _name

    points = tuple(replace(p, bend_mm=None) if k == 0 else p for k, p in enumerate(study().points))
    for found, crossed in ((study(), False), (replace(study(), points=points), True)):
        axes = theme.figure((900, 500)).add_subplot()
        _bends(axes, found, theme.THEMES["print"])
        assert ("×: the joint carries less" in axes.get_title(loc="left")) == crossed
    grid = np.linspace(0.0, 1.0, 40)
    taken: list = []
    _name(axes, "pin bending", grid, {"pin bending": np.full(40, np.nan)}, taken, "k")
    assert taken == []
    assert [t.get_text() for t in axes.texts] == []


def test_what_no_limit_and_no_check_leave_is_said():
    points = study().points
    assert study_module._flattening(points[0], None) == ()
    assert "refine before trusting" in study_module._notes(points, 0.02, 3)[-1]
    assert "refine before trusting" not in "".join(study_module._notes(points, 0.001, 3))


def test_each_solve_is_told_with_how_many_are_known():
    told = []
    with pool(0) as submit:
        done = [submit(float, k) for k in (1, 2, 3)]
    tell = study_module._Told(Told(None), lambda *words: told.append(words), 2)
    assert sorted(tell.each("ear", done)) == [1.0, 2.0, 3.0]
    assert told == [("ear", 1, 2), ("ear", 2, 2), ("ear", 3, 3)]


def test_a_joint_in_which_nothing_gives_has_its_largest_load_for_a_limit(monkeypatch):
    joint, finesse = fejoint.load(CASE), Finesse(PullSettings(0.35), PullSettings(0.35))
    monkeypatch.setattr(JointReading, "limits", lambda self: iter(()))
    short = joint.replace("pull.stop_displacement", "0.05 mm")
    found = solve_point(short, 400.0, finesse, None, Asked())
    assert (found.first.part, found.first.cause) == ("joint", "largest load reached")
    assert found.first.load > 0.0
