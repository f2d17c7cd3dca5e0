"""Pictures are drawn for paper and screen, whole, in every kind of file, from any answer."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest
from PIL import Image
from support import DEMO
from support.pulled import quick_answer, released_answer, thin_answer

import fejoint
from fejoint.analysis.result import Answer
from fejoint.errors import BadInput
from fejoint.output import comparison_table, pictures, report
from fejoint.output.field_snapshot import at, moments
from fejoint.output.pictures import film as animation
from fejoint.output.pictures import limit_axis, load_curve
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.dimension_lines import Sketch
from fejoint.output.pictures.joint_drawing import profile
from fejoint.output.pictures.stress_fields import pin_outline
from fejoint.output.pictures.triangulation import Patchwork, outline, rings
from fejoint.page import scene
from fejoint.reference_models.tractions import metal_state
from fejoint.system import probes


@pytest.fixture(name="answer", scope="module")
def _answer() -> Answer:
    return quick_answer()


@pytest.mark.parametrize("what", pictures.table())
@pytest.mark.parametrize("theme", look.THEMES)
def test_every_picture_has_its_size_and_says_something(
    answer: Answer, what: str, theme: str, tmp_path: Path
):
    answer = {"dishing": thin_answer, "releases": released_answer}.get(what, lambda: answer)()
    path = pictures.picture(answer, what, tmp_path / "it.png", size=(900, 520), theme=theme)
    pixels = matplotlib.image.imread(path)
    assert pixels.shape[:2] == (520, 900)
    paper = np.array(matplotlib.colors.to_rgb(look.THEMES[theme].paper))
    drawn = np.abs(pixels[..., :3] - paper).max(axis=-1) > 0.05
    assert 0.01 < drawn.mean() < 0.9
    # nothing but the field of a cut part may touch the picture's edge
    assert not drawn[[0, -1]].any()


@pytest.mark.parametrize("suffix", look.SUFFIXES)
def test_vector_files_are_small_and_do_not_change(answer: Answer, suffix: str, tmp_path: Path):
    one, two = (
        pictures.picture(answer, "plastic", tmp_path / f"{k}{suffix}", size=(900, 500))
        for k in "ab"
    )
    assert one.read_bytes() == two.read_bytes()
    assert one.stat().st_size < 800_000


def test_a_band_without_an_upper_end_is_drawn_to_the_end_of_the_axis(tmp_path: Path):
    answer = json.loads(quick_answer().to_json())
    first = answer["verdict"]["order"][0]
    drawn = []
    for band in (None, [0.5 * first["load_N"], None], [0.5 * first["load_N"], 1e9]):
        first["band_N"] = band
        drawn.append(pictures.picture(answer, "limits", tmp_path / "it.png").read_bytes())
    assert drawn[0] != drawn[1] == drawn[2]
    first["band_N"] = [0.5 * first["load_N"], np.inf]
    assert pictures.picture(answer, "limits", tmp_path / "it.png").read_bytes() == drawn[1]


def test_write_all_writes_what_it_says(answer: Answer, tmp_path: Path):
    written = pictures.write_all(answer, tmp_path / "out")
    assert sorted(p.name for p in written) == sorted(
        p.file for p in pictures.table().values() if p.file and p.is_of(answer)
    )
    assert all(p.stat().st_size > 10_000 for p in written)


@pytest.mark.parametrize("what", ["curve", "limits", "drawing"])
def test_plain_data_draws_the_same(answer: Answer, what: str, tmp_path: Path):
    stored = json.loads(answer.to_json())
    one = pictures.picture(answer, what, tmp_path / "a.png", size=(700, 400))
    two = pictures.picture(stored, what, tmp_path / "b.png", size=(700, 400))
    assert one.read_bytes() == two.read_bytes()


@pytest.mark.parametrize(
    ("what", "name", "theme", "told"),
    [
        ("stres", "a.png", "print", "stress"),
        ("curve", "a.bmp", "print", ".svg"),
        ("curve", "a.png", "paper", "screen"),
    ],
)
def test_wishes_that_cannot_be_met_are_refused(
    answer: Answer, what: str, name: str, theme: str, told: str, tmp_path: Path
):
    with pytest.raises(BadInput, match=told):
        pictures.picture(answer, what, tmp_path / name, theme=theme)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("what", ["stress", "plastic"])
def test_colour_maps_run_evenly_from_paper_to_ink(what: str):
    for theme in look.THEMES.values():
        steps = look.colours(what, theme)(np.linspace(0.0, 1.0, 64))[:, :3]
        lightness = steps @ np.array([0.2126, 0.7152, 0.0722])
        change = np.diff(lightness) * (1.0 if theme.dark else -1.0)
        assert np.all(change > -0.004)
        # black metal would be lost in dark paper: there it begins with the metal's grey
        little = theme.metal if theme.dark else theme.paper
        np.testing.assert_allclose(steps[0], matplotlib.colors.to_rgb(little), atol=0.01)


def test_fine_triangles_cover_the_part(answer: Answer):
    mesh = moments(answer.faces["ear"])[0].mesh
    ear = mesh.triangles[mesh.regions["ear"]]
    patches = Patchwork.of(mesh.points, ear)
    x, y = patches(mesh.points).T
    a, b, c = patches.corners.T
    fine = 0.5 * ((x[b] - x[a]) * (y[c] - y[a]) - (x[c] - x[a]) * (y[b] - y[a]))
    assert np.all(fine > 0.0)
    outer, hole = (outline(ring, mesh.points) for ring in rings(ear))

    def inside(loop: np.ndarray) -> float:
        u, v = loop.T
        return 0.5 * float(np.sum(u[:-1] * v[1:] - u[1:] * v[:-1]))

    assert fine.sum() == pytest.approx(inside(outer) + inside(hole), rel=1e-9)
    np.testing.assert_allclose(np.linalg.norm(hole, axis=1), 4.1 / 2, rtol=1e-3)
    # no side is seen to be straight: it leaves the circle by less than 0.5 % of the hole
    middle = 0.5 * (hole[1:] + hole[:-1])
    assert 1.0 - np.linalg.norm(middle, axis=1).min() / (4.1 / 2) < 0.01
    # shared sides are merged: fewer points than three a triangle would need
    assert len(x) < 0.6 * len(patches.corners)


@pytest.mark.parametrize(("end", "share"), [("round", np.pi / 8), ("square", 0.5)])
def test_drawn_outline_has_the_ears_area(end: str, share: float):
    joint = fejoint.load(DEMO)
    ear = joint.replace("ear.end", end).ears[0]
    x, y = profile(ear).T
    area = 0.5 * abs(float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])))
    straight = ear.grip_length + ear.edge_distance - 0.5 * ear.width
    assert area == pytest.approx(ear.width * straight + share * ear.width**2, rel=1e-3)


def test_oblique_and_single_joints_are_drawn(tmp_path: Path):
    joint = fejoint.load(DEMO)
    table = joint.replace("pull.angle", 60).to_dict()
    table["ear"], table["fit"]["gap"] = table["ear"][:1], [0.5]
    stored = {"case": fejoint.load(table).to_dict()}
    assert pictures.picture(stored, "drawing", tmp_path / "a.svg").stat().st_size > 5000


def test_a_machine_that_cannot_render_gets_the_flat_picture(
    answer: Answer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(probes, "can_render", lambda: False)
    one = pictures.picture(answer, "relief", tmp_path / "a.png", size=(900, 470))
    two = pictures.picture(answer, "thickness", tmp_path / "b.png", size=(900, 470))
    assert one.read_bytes() == two.read_bytes()


def test_film_runs_from_rest_to_the_end(answer: Answer, tmp_path: Path):
    path = animation.film(answer, tmp_path / "pull.gif", size=(360, 300))
    with Image.open(path) as film:
        assert film.n_frames == animation.FRAMES
        assert film.size == (360, 300)
        first = np.array(film.convert("RGB"))
        film.seek(film.n_frames - 1)
        last = np.array(film.convert("RGB"))
    assert np.mean(np.any(first != last, axis=-1)) > 0.02
    with pytest.raises(BadInput, match=r"\.gif"):
        animation.film(answer, tmp_path / "pull.avi")


@pytest.fixture(name="bare", scope="module")
def _bare() -> Answer:
    """A rigid pin pulled obliquely, by small strain: no disc, no mirror, no true stress."""
    joint = fejoint.load(DEMO)
    table = joint.to_dict()
    table["pin"] = {"diameter": 4.0, "rigid": True}
    table["pull"] = {"angle": 30.0, "stop_displacement": 0.2, "large_strain": False}
    return fejoint.pull(fejoint.load(table), refine=0.35)


def test_a_rigid_pin_is_a_circle_that_touches_the_hole_where_it_is_pulled(bare: Answer):
    shot = at(bare.faces["ear"], 1.0, "first touch")
    cx, cy, radius = shot.pin_circle
    assert radius == 2.0
    assert "pin" not in shot.mesh.regions
    rim = pin_outline(shot)
    assert np.hypot(*(rim - (cx, cy)).T) == pytest.approx(2.0)
    hole = shot.deformed[shot.mesh.nodes_of("hole")]
    gaps = np.hypot(*(hole - (cx, cy)).T) - radius
    touching = hole[gaps.argmin()] - (cx, cy)
    assert gaps.min() == pytest.approx(0.0, abs=1e-3)
    angle = np.degrees(np.arctan2(touching[1], touching[0]))
    assert angle == pytest.approx(30.0, abs=12.0)


def test_small_strain_shows_the_law_s_stress_and_hardly_thinner_metal(bare: Answer):
    face = bare.faces["ear"]
    shot = at(face, len(face.load) - 1.0, "end")
    state = metal_state(face.path.points[-1])
    assert shot.von_mises.max() == pytest.approx(state.mises.max(), rel=0.1)
    assert 0.7 < shot.thickness_ratio.min() < 1.0 < shot.thickness_ratio.max() < 1.3


def test_the_scene_of_a_rigid_pin_holds_its_circles_and_one_without_pin_its_ear(bare: Answer):
    packed = scene.pack(bare)
    assert b"ear.pin_circle" in packed
    assert b'"pin":' in packed
    alone = scene.pack(dataclasses.replace(bare, axial=None))
    assert b'"pin":' not in alone
    assert b"ear.moment" in alone


def test_the_bent_pin_of_a_rigid_one_is_refused(bare: Answer, tmp_path: Path):
    with pytest.raises(BadInput, match="which a rigid or unsolved pin has not"):
        pictures.picture(bare, "pin", tmp_path / "pin.png")


def test_an_answer_without_its_fields_is_solved_again_for_them(
    answer: Answer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    asked = []

    def again(stored):
        asked.append(stored["case"]["title"])
        return answer

    monkeypatch.setattr(pictures, "solve_again", again)
    whole = pictures.picture(answer, "stress", tmp_path / "a.png").read_bytes()
    bare = dataclasses.replace(answer, faces={}, axial=None)
    assert pictures.picture(bare, "stress", tmp_path / "b.png").read_bytes() == whole
    assert asked == [answer.joint.title]


def test_a_film_of_no_field_is_refused(answer: Answer, tmp_path: Path):
    with pytest.raises(BadInput, match="must be one of stress, plastic, thickness"):
        animation.film(answer, tmp_path / "it.gif", what="colour")


def test_a_handbook_limit_is_told_from_a_computed_one(tmp_path: Path):
    answer = json.loads(quick_answer().to_json())
    words = {}
    for source in ("computed", "handbook"):
        answer["verdict"]["order"][0]["source"] = source
        words[source] = pictures.picture(answer, "limits", tmp_path / "it.svg").read_text()
    assert "by hand, not computed" in words["handbook"]
    assert "by hand, not computed" not in words["computed"]


def test_a_rule_outside_its_bounds_stands_in_brackets_on_the_axis_as_in_the_table(tmp_path: Path):
    answer = json.loads(quick_answer().to_json())
    row = answer["verdict"]["order"][0]
    row["handbook_load_N"] = 9940.0
    words = {}
    for note in ("", "too short"):
        row["handbook_note"] = note
        (first, *_) = limit_axis.rows_of(answer)
        words[note] = first.beside(narrow=False)[-1]
        drawn = pictures.picture(answer, "limits", tmp_path / "it.svg").read_text()
        assert (f"lighter, in brackets: {limit_axis.OUTSIDE}" in drawn) is bool(note)
        # no load by hand is written in one column's width, so nothing stands in brackets there
        drawn = pictures.picture(answer, "limits", tmp_path / "it.svg", width=80.0).read_text()
        assert ("lighter: a rule used" in drawn) is bool(note)
        assert "brackets" not in drawn
    assert words == {
        "": "by hand 9,940 N", "too short": "(by hand 9,940 N)",
    }  # fmt: skip


def test_what_happens_in_a_spot_of_the_meshs_scale_is_told_with_about_everywhere(tmp_path: Path):
    answer = json.loads(quick_answer().to_json())
    event = next(e for e in answer["events"] if e["name"] == "first yield ear")
    event["load_N"] = 934.0
    about = "about 930 N (95 kgf)"
    drawn = pictures.picture(answer, "curve", tmp_path / "it.svg").read_text()
    assert about in drawn
    assert dict(comparison_table.side_by_side([answer]))["ears: first yield"] == [about]
    page = report.single(answer)
    assert '<td class="n">about 930</td><td class="n">95</td>' in page


def test_a_drawing_tells_of_a_clipped_end_and_of_a_second_ear(tmp_path: Path):
    joint = fejoint.load(DEMO)
    table = joint.to_dict()
    table["ear"][0] |= {"end": "clipped", "clip": 2.0}
    table["ear"][1] |= {"width": 17.0}
    clipped = fejoint.load(table)
    outline_of = profile(clipped.ears[0])
    e, top = clipped.ears[0].edge_distance, 0.5 * clipped.ears[0].width
    for corner in ((e - 2.0, -top), (e, 2.0 - top), (e, top - 2.0), (e - 2.0, top)):
        assert np.any(np.all(np.isclose(outline_of, corner), axis=1))
    text = pictures.picture({"case": clipped.to_dict()}, "drawing", tmp_path / "a.svg").read_text()
    assert "ear 2: 17 wide" in text


def test_a_drawing_shows_slot_offset_and_flare(tmp_path: Path):
    table = fejoint.load(DEMO).to_dict()
    plain = pictures.picture({"case": table}, "drawing", tmp_path / "a.svg").read_text()
    for key, value, said in (
        ("hole_slot", 0.6, "slot 0.6"),
        ("hole_offset", 0.9, "hole 0.9 off the axis"),
        ("flare_depth", 0.7, "flare 0.7 deep, 90°"),
    ):
        changed = json.loads(json.dumps(table))
        for ear in changed["ear"]:
            ear[key] = value
        drawn = pictures.picture({"case": changed}, "drawing", tmp_path / "b.svg").read_text()
        assert said in drawn
        assert said not in plain
        # more than its words: the lines differ too
        assert lines(drawn) != lines(plain)


def lines(svg: str) -> list[str]:
    return re.findall(r" d=\"([^\"]*)\"", svg)


def test_a_label_wider_than_its_dimension_stands_beside_it():
    axes = look.figure((900, 500)).add_subplot()
    sketch = Sketch(axes, look.THEMES["print"], 2.0)
    for room in (50.0, 1.0):
        sketch._label((10.0 - 0.5 * room, 10.0 + 0.5 * room), 5.0, "⌀4.1")
    inside, beside = axes.texts
    assert (inside.get_position(), inside.get_ha()) == ((10.0, 5.0), "center")
    assert beside.get_ha() == "left"
    assert beside.get_position()[0] > 10.5


def test_heads_lie_outside_the_plates_at_both_ends(answer: Answer):
    from matplotlib.patches import Polygon

    figure, _ = pictures.drawing_of(answer, "pin")
    steel = matplotlib.colors.to_rgb(look.THEMES["print"].steel)
    shapes = [p for p in figure.axes[0].patches if isinstance(p, Polygon)]
    heads = [p.get_xy() for p in shapes if matplotlib.colors.to_rgb(p.get_facecolor()) == steel]
    assert len(heads) == 2
    grip = answer.joint.grip
    for corners in heads:
        # the section hangs down from 0 to the grip
        middle = corners[:-1, 1].mean()
        assert middle > 0.0 or middle < -grip
        low, high = figure.axes[0].get_ylim()
        assert np.all((corners[:, 1] > low) & (corners[:, 1] < high))


@pytest.mark.parametrize(("top", "length"), [(20_000.0, 1.5), (46e6, 1.1), (4.8, 4.0), (2e3, 1.2),
                                             (0.013, 2.0), (8500.0, 3.5)])  # fmt: skip
def test_a_scales_figures_are_those_of_its_ticks_and_keep_clear(top: float, length: float):
    ticks = limit_axis._ticks(top, length)
    said = [float(look.thousands(v).replace(",", "")) for v in ticks]
    assert said == pytest.approx(ticks, rel=1e-9)
    assert len(set(said)) == len(ticks) > 1
    wide = [look.text_width(look.thousands(v), limit_axis.SMALL) for v in ticks]
    for k in range(len(ticks) - 1):
        apart = length * (ticks[k + 1] - ticks[k]) / top
        assert apart > 0.5 * (wide[k] + wide[k + 1])


def test_the_curve_sets_off_what_gives_first_and_marks_it_where_no_event_does(tmp_path: Path):
    answer = json.loads(quick_answer().to_json())
    drawn = {e["name"]: e["first"] for e in load_curve.events_on_curve(answer)}
    assert [name for name, first in drawn.items() if first] == ["offset load"]
    rows = answer["verdict"]["order"]
    shank = dict(rows[0]) | {"mode": "shank hole", "member": "shank", "part": "shank",
                             "load_N": 0.5 * rows[0]["load_N"], "later": []}  # fmt: skip
    answer["verdict"]["order"] = [shank, *rows]
    (added,) = [e for e in load_curve.events_on_curve(answer) if e["first"]]
    assert added["name"] == "shank: hole stretches"
    x, y = (np.array(answer["curve"][k]) for k in ("hole_elongation_mm", "load_N"))
    assert np.interp(added["load_N"], y[:20], x[:20]) == pytest.approx(
        added["hole_elongation_mm"], rel=0.02
    )
    written = pictures.picture(answer, "curve", tmp_path / "it.svg").read_text()
    assert "shank: hole" in written


@pytest.mark.parametrize("stored", [True, False])
def test_a_picture_of_what_an_answer_has_not_is_refused(stored: bool, tmp_path: Path):
    answer = quick_answer()
    given = json.loads(answer.to_json()) if stored else answer
    with pytest.raises(BadInput, match="releases: needs a path of pulls"):
        pictures.picture(given, "releases", tmp_path / "it.png")


def test_thickened_and_thinned_metal_are_told_apart_without_colour():
    from matplotlib.contour import ContourSet
    from matplotlib.text import Text

    figure, _ = pictures.drawing_of(thin_answer(), "thickness")
    drawn = [c for axes in figure.axes for c in axes.collections if isinstance(c, ContourSet)]
    dashed = {bool(c.levels[0] > 0.0): c.get_linestyle()[0][1] is not None for c in drawn}
    assert dashed == {True: False, False: True}
    assert any("dashed where thinner" in t.get_text() for t in figure.findobj(Text))
