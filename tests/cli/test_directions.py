"""`fejoint directions` says what each direction bears, in a table, as JSON and as a picture."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from support import DEMO

from fejoint.cli.main import main
from fejoint.studies import directions as study
from fejoint.studies.directions import Direction, Directions

ROWS = (
    Direction(0.0, 8193.0, 8300.0, 8300.0, "hole elongation", 8193.0, 9100.0, "asked stop", True),
    Direction(90.0, None, 2100.0, 2100.0, "ear bending", 2100.0, 2500.0, "asked stop", True),
    Direction(
        180.0, 9900.0, 10_100.0, None, "hole elongation", 9900.0, 12_000.0, "asked stop", True
    ),
)


@pytest.fixture
def angles(monkeypatch):
    """Angles asked for; the solve itself is tested beside its module."""
    seen = []

    def directions(joint, angles, **_):
        seen.extend(angles)
        return Directions(joint, ROWS)

    monkeypatch.setattr(study, "directions", directions)
    return seen


def test_the_table_shows_newton_and_kilograms_and_leaves_out_what_is_not_known(
    angles, tmp_path, capsys
):
    assert main(["directions", str(DEMO), "--every", "90", "--out", str(tmp_path)]) == 0
    assert angles == [0.0, 90.0, 180.0]
    lines = capsys.readouterr().out.splitlines()
    straight, across, back = (line.split() for line in lines[4:7])
    assert straight[:6] == ["0", "8,190", "835", "8,300", "8,300", "9,100"]
    assert across[:4] == ["90", "2,100", "2,100", "2,500"]
    assert back[:5] == ["180", "9,900", "1,010", "10,100", "12,000"]
    assert lines[1] == (
        "Lowest at 90 degrees: ear bends aside at 2,100 N (214 kgf), 74 % less than straight "
        "(8,190 N (835 kgf))."
    )
    assert any("clamped at its grip" in line for line in lines)
    assert (tmp_path / "directions.png").stat().st_size > 10_000


def test_json_names_units_and_writes_no_picture(angles, tmp_path, capsys):
    words = ["directions", str(DEMO), "--every", "60", "--json", "--out", str(tmp_path / "none")]
    assert main(words) == 0
    assert angles == [0.0, 60.0, 120.0, 180.0]
    rows = json.loads(capsys.readouterr().out)
    assert [row["angle_deg"] for row in rows] == [0.0, 90.0, 180.0]
    assert rows[1]["hole_load_N"] is None
    assert not (tmp_path / "none").exists()


def test_a_direction_that_broke_off_is_said_and_no_success(angles, monkeypatch, tmp_path, capsys):
    broken = replace(ROWS[1], ended="no equilibrium found", finished=False)
    monkeypatch.setattr(
        study, "directions", lambda joint, *_, **__: Directions(joint, (ROWS[0], broken))
    )
    for more in (["--json"], ["--out", str(tmp_path)]):
        assert main(["directions", str(DEMO), "--every", "90", *more]) == 3
        assert "stopped early: at 90 deg, no equilibrium found" in capsys.readouterr().err


@pytest.mark.parametrize("every", ["0", "0.5", "91", "nan"])
def test_a_step_that_gives_no_directions_is_refused(every, angles, capsys):
    assert main(["directions", str(DEMO), "--every", every]) == 2
    assert "from 1 to 90" in capsys.readouterr().err
    assert angles == []
