"""Sheets for the shop: to scale, complete, and nothing on them touches however extreme the part."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from support import DEMO, ROOT, random_joints, wide_joints
from support.labels import faults, texts

import fejoint
from fejoint.cli.main import main
from fejoint.output import sheets
from fejoint.output.pictures import theme as look

OUTLINES = ROOT / "cases" / "outlines"
EXTREME = {
    "tiny": {"ear.thickness": "0.2 mm", "ear.hole_slot": "0.02 mm"},
    "all at once": {"ear.hole_slot": "1 mm", "ear.hole_offset": "1 mm", "ear.flare_depth": "0.5 mm",
                    "title": "A title that goes on and on " * 6},
    "long": {"ear.grip_length": "900 mm"},
    "wide": {"ear.grip_length": "310 mm", "ear.width": "300 mm", "ear.edge_distance": "150 mm"},
    "a word without end": {"title": "W" * 180},
}  # fmt: skip


def drawn(joint, paper="a4"):
    for part in sheets.parts(joint):
        with look.styled(look.theme("print")):
            yield part, sheets.drawn(part, joint, None, paper, "case.toml")


@pytest.mark.parametrize("paper", sheets.PAPERS)
@pytest.mark.parametrize("changes", [{}, *EXTREME.values()], ids=["demo", *EXTREME])
def test_nothing_touches_or_leaves_the_paper(changes, paper):
    joint = fejoint.load(DEMO)
    for key, value in changes.items():
        joint = joint.replace(key, value)
    for part, figure in drawn(joint, paper):
        assert faults(figure) == [], part.name


@pytest.mark.sampled
def test_nothing_touches_on_sheets_of_random_joints(draws, tally):
    rng = np.random.default_rng(3)
    count = 60 if draws(60) == 60 else 6
    for k in range(count):
        joint = (random_joints, wide_joints)[k % 2].draw(rng)
        for part, figure in drawn(joint, ("a4", "letter")[k % 2]):
            assert faults(figure) == [], (k, part.name)
    tally(f"sheets of {count} random joints keep clear")


def test_a_part_and_the_gauge_are_as_long_on_paper_as_they_say():
    joint = fejoint.load(DEMO)
    _, figure = next(drawn(joint))
    scale = next(t for t, _, _ in texts(figure) if t.startswith("scale"))
    times = float(scale.split()[1]) / float(scale.split()[3].rstrip(","))
    width, height = figure.get_size_inches() * look.MM
    assert (width, height) == pytest.approx(sheets.PAPERS["a4"])
    (axes,) = figure.axes
    assert axes.get_xlim() == pytest.approx((0.0, width))
    assert axes.get_ylim() == pytest.approx((0.0, height))
    spans = [np.ptp(line.get_xdata()) for line in axes.lines]
    assert times * 32.0 == pytest.approx(spans[0])
    assert any(span == pytest.approx(50.0) for span in spans)


def test_every_dimension_stands_in_the_table_with_the_case_s_tolerance():
    table = dict(fejoint.load(DEMO).case)
    table["scatter"] = {"ear": {"hole": {"within": "0.05 mm"}, "width": {"within": "1 %"}},
                        "pin.diameter": {"from": "3.95 mm", "to": "4 mm"}}  # fmt: skip
    table["ear"] = table["ear"] | {
        "hole_slot": "1 mm",
        "hole_offset": "0.5 mm",
        "flare_depth": "0.4 mm",
        "end": "clipped",
        "clip": "3 mm",
    }
    plate, shank, pin = sheets.parts(fejoint.load(table))
    rows = {what: value for _, what, value in plate.rows}
    assert rows["hole, diameter"] == "4.1 mm ± 0.05 mm"
    assert rows["width"] == "14 mm ± 1 %"
    assert rows["hole to the end"] == "7 mm"
    assert rows["hole longer than round"] == "1 mm"
    assert rows["hole off the axis"] == "0.5 mm"
    assert rows["flare on the outer face"] == "0.4 mm, 90°"
    assert rows["cut corner, 45 degrees"] == "3 mm"
    assert rows["clearance of the pin"] == "0.1 mm"
    assert {what: value for _, what, value in pin.rows}["diameter"] == "4 mm (3.95 to 4)"
    assert plate.pieces == 2
    letters = [letter for part in (plate, shank, pin) for letter, _, _ in part.rows if letter]
    assert len([*plate.above, *plate.left, *plate.leaders]) == len(
        [letter for letter, _, _ in plate.rows if letter]
    )
    assert "A" in letters


def test_a_drawn_plate_tells_its_openings():
    plate, *_ = sheets.parts(fejoint.load(OUTLINES / "lightened-ear.toml"))
    said = [value for _, what, value in plate.rows if what.startswith("opening 4 by 4")]
    assert sorted(said) == ["-16, -3.6 mm", "-16, 3.6 mm"]


@pytest.mark.parametrize("paper", sheets.PAPERS)
def test_the_command_writes_them(paper: str, tmp_path: Path, capsys):
    words = ["cut", str(DEMO), "--no-prediction", "--sheets", paper, "--out", str(tmp_path)]
    assert main(words) == 0
    for name in ("ear", "shank", "pin"):
        for suffix in ("pdf", "svg"):
            assert (tmp_path / f"{name}-sheet.{suffix}").stat().st_size > 2000
    assert main([*words[:4], "a5"]) == 2
    assert "a4" in capsys.readouterr().err
