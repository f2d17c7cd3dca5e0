"""Outlines out of drawings: what a cutter's file may hold, and what is refused with its place."""

from __future__ import annotations

import random
import re
from pathlib import Path

import numpy as np
import pytest
from ezdxf.math import Matrix44
from support import DEMO
from support.drawings import document, ear, ellipse_points, saved

import fejoint
from fejoint.errors import BadInput
from fejoint.joint import contour
from fejoint.meshing import contours
from fejoint.meshing.gmsh_session import session
from fejoint.output import cut_files

EAR = {"count": 2, "thickness": "2 mm", "material": "316 strip, annealed"}
SHAPES = {
    "round": {},
    "square": {"end": "square"},
    "clipped": {"end": "clipped", "clip": "3 mm"},
    "slot": {"hole_slot": "0.8 mm"},
    "slot off the axis": {"hole_slot": "0.8 mm", "hole_offset": "0.7 mm"},
}


def with_outline(outline) -> fejoint.Joint:
    case = dict(fejoint.load(DEMO).case)
    return fejoint.load(case | {"ear": EAR | {"outline": outline}})


def refused(outline) -> str:
    with pytest.raises(BadInput) as told:
        with_outline(outline)
    (fault,) = told.value.faults
    assert fault.field.startswith("ear.outline")
    assert "\n" not in str(fault)
    return str(fault)


def is_the_demo_s(joint: fejoint.Joint, within: float = 1e-6) -> bool:
    own, drawn = fejoint.load(DEMO).ears[0], joint.ears[0]
    names = ("hole", "hole_slot", "width", "edge_distance", "grip_length", "hole_offset")
    area = contours.area(contour.outside(own)) - contours.area(contour.outside(drawn))
    alike = all(abs(getattr(own, n) - getattr(drawn, n)) < within for n in names)
    return alike and abs(area) < 40.0 * within


@pytest.mark.parametrize("kind", ["dxf", "svg"])
@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)
def test_a_plate_that_was_cut_comes_back(shape, kind: str, tmp_path: Path):
    table = dict(fejoint.load(DEMO).case)
    joint = fejoint.load(table | {"ear": table["ear"] | shape})
    for part in cut_files.parts(joint):
        (tmp_path / f"{part.name}.{kind}").write_text(getattr(cut_files, kind)(part))
    back = fejoint.load(
        table
        | {"ear": EAR | {"outline": {"file": str(tmp_path / f"ear.{kind}"), "held": "left"}}}
        | {"shank": {"thickness": 6, "material": "A4-70 bolt shank",
                     "outline": str(tmp_path / f"shank.{kind}")}}
    )  # fmt: skip
    for own, drawn in ((joint.ears[0], back.ears[0]), (joint.shank, back.shank)):
        assert drawn.hole == pytest.approx(own.hole, abs=1e-6)
        area = contours.area(contour.outside(own))
        assert contours.area(contour.outside(drawn)) == pytest.approx(area, abs=1e-5)
        box = contours.box(contour.outside(own))
        assert contours.box(contour.outside(drawn)) == pytest.approx(box, abs=1e-6)
    for key in ("hole_slot", "hole_offset", "width", "grip_length"):
        own, drawn = (getattr(x.ears[0], key) for x in (joint, back))
        assert drawn == pytest.approx(own, abs=1e-6), key
    again = tmp_path / "again.toml"
    again.write_text(back.to_toml())
    assert fejoint.load(again) == back


@pytest.mark.parametrize("version", ["R12", "R2000", "R2007", "R2018"])
def test_every_version_is_read(version: str, tmp_path: Path):
    made, space = document(version)
    ear(space)
    file = saved(made, tmp_path / "ear.dxf")
    # the oldest has no place for a unit
    assert is_the_demo_s(with_outline({"file": str(file), "units": "mm"}))


@pytest.mark.parametrize(("code", "scale"), [(1, 1 / 25.4), (4, 1.0), (5, 0.1), (6, 0.001)])
def test_the_header_s_unit_is_taken(code: int, scale: float, tmp_path: Path):
    made, space = document(units=code)
    ear(space, scale)
    assert is_the_demo_s(with_outline(str(saved(made, tmp_path / "ear.dxf"))))


def test_without_a_unit_it_asks_with_the_size_in_both(tmp_path: Path):
    made, space = document(units=0)
    ear(space)
    file = str(saved(made, tmp_path / "ear.dxf"))
    said = refused(file)
    assert "is it 32 by 14 mm, or 32 by 14 in?" in said
    assert 'units = "mm"' in said
    assert is_the_demo_s(with_outline({"file": file, "units": "mm"}))
    with pytest.raises(BadInput, match=r"ear\.hole = 104\.14 mm: must be at most"):
        with_outline({"file": file, "units": "in"})


def polyline(space):
    space.add_lwpolyline(
        [(-25, -7, 0), (0, -7, 1), (0, 7, 0), (-25, 7, 0)], format="xyb", close=True
    )
    space.add_circle((0, 0), 2.05)


def old_polyline(space):
    space.add_polyline2d([(-25, -7, 0), (0, -7, 1), (0, 7, 0), (-25, 7, 0)], format="xyb",
                         close=True)  # fmt: skip
    space.add_circle((0, 0), 2.05)


def block(space):
    inside = space.doc.blocks.new("ear")
    ear(inside, 0.5)
    outer = space.doc.blocks.new("outer")
    outer.add_blockref("ear", (3.0, 1.0), dxfattribs={"rotation": 90.0})
    space.add_blockref("outer", (20.0, 30.0), dxfattribs={"rotation": -90.0, "xscale": 2.0,
                                                          "yscale": 2.0})  # fmt: skip


def mirrored_block(space):
    inside = space.doc.blocks.new("ear")
    ear(inside)
    space.add_blockref("ear", (0.0, 0.0), dxfattribs={"yscale": -1.0})


def from_behind(space):
    """Seen from behind: arcs and circles whose own z points away."""
    ear(space)
    for each in list(space):
        each.transform(Matrix44.scale(1.0, -1.0, 1.0))


def with_words(space):
    ear(space)
    space.add_text("do not scale", height=2.0).set_placement((-20.0, 0.0))
    space.add_mtext("R7")
    space.add_point((1.0, 1.0))
    space.add_linear_dim(base=(0.0, -12.0), p1=(-25.0, -7.0), p2=(0.0, -7.0)).render()
    space.add_hatch()


def doubled(space):
    ear(space)
    space.add_line((0.0, 7.0), (-25.0, 7.0))
    space.add_line((-25.0, 7.0), (0.0, 7.0))
    space.add_arc((0.0, 0.0), 7.0, -90.0, 90.0)
    space.add_circle((0.0, 0.0), 2.05)
    space.add_line((1.0, 1.0), (1.0, 1.0))


def nearly_closed(space):
    ear(space, gap=0.006)


def in_pieces(space):
    ear(space)
    side = next(e for e in space if e.dxftype() == "LINE" and e.dxf.start.x == e.dxf.end.x)
    space.delete_entity(side)
    space.add_line((-25.0, 7.0), (-25.0, 2.0))
    space.add_line((-25.0, 2.0), (-25.0, -7.0))


def on_our_layers(space):
    ear(space)
    space.add_line((-25.0, -20.0), (25.0, -20.0), dxfattribs={"layer": "gauge"})
    space.add_text("20", dxfattribs={"layer": "notes"})
    space.doc.layers.add("construction").off()
    space.add_line((-99.0, -9.0), (99.0, 9.0), dxfattribs={"layer": "construction"})


WAYS = (polyline, old_polyline, block, mirrored_block, from_behind, with_words, doubled,
        nearly_closed, in_pieces, on_our_layers)  # fmt: skip
TOLD = {with_words: "left out, as no edges: 1 dimension, 1 hatch, 1 mtext, 1 point, 1 text",
        doubled: "5 doubled lines removed", nearly_closed: "gaps of up to 0.006 mm closed",
        on_our_layers: "1 on hidden layers"}  # fmt: skip


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.__name__)
def test_a_plate_is_read_however_it_was_drawn(way, tmp_path: Path):
    made, space = document()
    way(space)
    joint = with_outline({"file": str(saved(made, tmp_path / "ear.dxf")), "held": "left"})
    assert is_the_demo_s(joint, 0.01 if way is nearly_closed else 1e-6)
    said = " ".join(joint.assumptions)
    for other, words in TOLD.items():
        assert (words in said) is (other is way), said


@pytest.mark.parametrize("held", ["left", "right", "top", "bottom"])
def test_the_side_that_is_held_comes_left(held: str, tmp_path: Path):
    made, space = document()
    ear(space)
    turn = {"left": 0.0, "bottom": 90.0, "right": 180.0, "top": 270.0}[held]
    for each in list(space):
        each.transform(Matrix44.z_rotate(turn * 3.141592653589793 / 180.0))
    joint = with_outline({"file": str(saved(made, tmp_path / "ear.dxf")), "held": held})
    assert is_the_demo_s(joint)


def test_a_line_may_say_where_it_is_held(tmp_path: Path):
    made, space = document()
    ear(space)
    file = str(saved(made, tmp_path / "ear.dxf"))
    assert with_outline({"file": file, "held": "left at x = -20 mm"}).ears[0].grip_length == (
        pytest.approx(20.0)
    )
    said = refused({"file": file, "held": "left at x = -40 mm"})
    assert "must be cut by the line once right across" in said
    assert "must be left, right, top, bottom, or a line" in refused({"file": file, "held": "north"})


def test_curves_are_laid_through_by_arcs(tmp_path: Path):
    made, space = document()
    space.add_line((-25.0, 7.0), (-25.0, -7.0))
    space.add_line((-25.0, -7.0), (0.0, -7.0))
    space.add_line((0.0, 7.0), (-25.0, 7.0))
    space.add_ellipse((0.0, 0.0), (9.0, 0.0), 7.0 / 9.0, -1.5707963267948966, 1.5707963267948966)
    space.add_circle((0.0, 0.0), 2.05)
    ring = [(x - 12.0, y, 0.0) for x, y in ellipse_points(1.2, 0.8, 12)]
    space.add_open_spline([*ring, ring[0]])
    ear_ = with_outline({"file": str(saved(made, tmp_path / "ear.dxf")), "held": "left"}).ears[0]
    half = 0.5 * 3.141592653589793 * 9.0 * 7.0
    assert contours.area(ear_.outline.outside) == pytest.approx(25.0 * 14.0 + half, rel=1e-6)
    assert len(ear_.outline.openings) == 1
    assert ear_.edge_distance == pytest.approx(9.0, abs=1e-4)


def open_far(space):
    ear(space, gap=0.5)


def crossing(space):
    ear(space)
    space.add_lwpolyline([(-20, -3), (-10, 3), (-10, -3), (-20, 3)], close=True)


def across(space):
    ear(space)
    space.add_lwpolyline([(-20, 5), (-15, 5), (-15, 9), (-20, 9)], close=True)


def two_parts(space):
    ear(space)
    space.add_circle((40.0, 0.0), 3.0)


def two_holes(space):
    ear(space)
    space.add_circle((-12.0, 0.0), 1.5)


def no_hole(space):
    space.add_lwpolyline([(-25, -7), (7, -7), (7, 7), (-25, 7)], close=True)


def branching(space):
    ear(space)
    space.add_line((-25.0, 7.0), (-20.0, 0.0))
    space.add_line((-20.0, 0.0), (-25.0, -7.0))


def slot_across(space):
    no_hole(space)
    space.add_lwpolyline([(-2, -1, 0), (-2, 1, -1), (2, 1, 0), (2, -1, -1)], format="xyb",
                         close=True)  # fmt: skip


def too_near(space):
    ear(space)
    space.add_circle((-3.9, 0.0), 1.5)


def empty(space):
    space.add_text("nothing")


def in_a_hole(space):
    ear(space)
    space.add_circle((0.0, 0.0), 1.0)


UGLY = {
    open_far: "is open at -0.5, -7 mm: the nearest end is 0.5 mm away",
    crossing: "crosses itself at -15, 0 mm",
    across: "crosses another line at",
    two_parts: "must hold one part, and another lies at",
    two_holes: "must show which hole is the pin's: hole ⌀4.1 at 0, 0; hole ⌀3 at -12, 0",
    no_hole: "holds no round hole or slot for the pin",
    branching: "branches: 3 lines meet at -25, ",
    slot_across: "must run along the pull",
    too_near: "mm of metal between the hole and an opening",
    empty: "holds no edges",
    in_a_hole: "has a line within a hole",
}


@pytest.mark.parametrize("way", UGLY, ids=lambda way: way.__name__)
def test_an_ugly_drawing_is_refused_with_its_place(way, tmp_path: Path):
    made, space = document()
    way(space)
    asked = {"file": str(saved(made, tmp_path / "ear.dxf")), "held": "left"}
    if way is too_near:
        asked["hole"] = "4.1 mm"
    said = refused(asked)
    assert UGLY[way] in said, said


def test_the_hole_is_named_by_its_size_or_its_place(tmp_path: Path):
    made, space = document()
    two_holes(space)
    file = str(saved(made, tmp_path / "ear.dxf"))
    by_size = with_outline({"file": file, "hole": "4.1 mm"}).ears[0]
    by_place = with_outline({"file": file, "hole_at": ["0 mm", "0 mm"]}).ears[0]
    assert by_size == by_place
    assert len(by_size.outline.openings) == 1
    case = dict(fejoint.load(DEMO).case)
    own = fejoint.load(case | {"ear": EAR | {"hole": "4.1 mm", "outline": file}}).ears[0]
    assert own == by_size
    assert "must show which hole" in refused({"file": file, "hole": "5 mm"})


def test_a_hole_of_another_size_than_drawn_is_told(tmp_path: Path):
    made, space = document()
    ear(space)
    file = str(saved(made, tmp_path / "ear.dxf"))
    case = dict(fejoint.load(DEMO).case)
    for hole, told in (("4.1 mm", False), ("4.3 mm", True)):
        joint = fejoint.load(case | {"ear": EAR | {"hole": hole, "outline": file}})
        said = "ear: its hole of 4.1 mm is taken as 4.3 mm" in joint.assumptions
        assert said is told
        assert joint.ears[0].hole == float(hole.split()[0])


def test_a_sieve_is_read_or_refused(tmp_path: Path):
    for rows, too_many in ((6, False), (9, True)):
        made, space = document()
        space.add_lwpolyline([(-90, -30), (20, -30), (20, 30), (-90, 30)], close=True)
        space.add_circle((0.0, 0.0), 2.05)
        for k in range(12 * rows):
            space.add_circle((-85.0 + 5.0 * (k % 12), -25.0 + 6.0 * (k // 12)), 1.5)
        asked = {"file": str(saved(made, tmp_path / "ear.dxf")), "hole": "4.1 mm", "held": "left"}
        if too_many:
            assert "must hold at most 100 holes" in refused(asked)
        else:
            assert len(with_outline(asked).ears[0].outline.openings) == 72


@pytest.mark.parametrize(("asked", "words"), [
    ("none.dxf", "cannot be read (No such file"),
    ("ear.step", "must end in .dxf or .svg"),
    ({"file": "ear.dxf", "unit": "mm"}, "did you mean units?"),
    ({"units": "mm"}, "is missing"),
    ({"file": "none.dxf", "units": "furlong"}, "must be mm, cm, m or in"),
])  # fmt: skip
def test_what_is_asked_wrongly_is_told(asked, words: str):
    with pytest.raises(BadInput) as told:
        with_outline(asked)
    assert words in str(told.value)


def test_keys_that_the_drawing_says_are_refused_and_others_change_it(tmp_path: Path):
    made, space = document()
    ear(space)
    file = str(saved(made, tmp_path / "ear.dxf"))
    case = dict(fejoint.load(DEMO).case)
    for key, value in (("width", 14), ("grip_length", 25), ("end", "round")):
        with pytest.raises(BadInput, match="cannot stand beside an outline"):
            fejoint.load(case | {"ear": EAR | {"outline": file, key: value}})
    joint = with_outline(file)
    longer = joint.replace("ear.edge_distance", "9 mm").ears[0]
    assert longer.edge_distance == pytest.approx(9.0)
    assert contours.box(longer.outline.outside) == pytest.approx((-25.0, -7.0, 9.0, 7.0))
    area = contours.area(joint.ears[0].outline.outside)
    assert contours.area(longer.outline.outside) == pytest.approx(area + 2.0 * 14.0)
    assert joint.replace("ear.hole", "4.3 mm").ears[0].hole == pytest.approx(4.3)
    with pytest.raises(BadInput, match="cannot stand beside an outline"):
        joint.replace("ear.width", "15 mm")


def test_a_case_file_names_its_drawing_from_its_own_folder(tmp_path: Path):
    made, space = document()
    ear(space)
    saved(made, tmp_path / "ear.dxf")
    case = re.sub(r"(?ms)^\[ear\].*?(?=^\[pin\])", '[ear]\nthickness = "2 mm"\n'
                  'material = "316 strip, annealed"\noutline = "ear.dxf"\n\n',
                  DEMO.read_text())  # fmt: skip
    (tmp_path / "case.toml").write_text(case)
    joint = fejoint.load(tmp_path / "case.toml")
    assert is_the_demo_s(joint)
    assert any("held at its left side" in said for said in joint.assumptions)
    assert joint.ears[0].outline.source == "ear.dxf"
    # an answer and a copy need the file no more
    (tmp_path / "ear.dxf").unlink()
    assert fejoint.Joint.from_dict(joint.to_dict()).ears == joint.ears


@pytest.mark.sampled
def test_damaged_drawings_end_in_a_line_or_in_a_plate(draws, tally, tmp_path: Path):
    made, space = document()
    with_words(space)
    block_ = made.blocks.new("more")
    ear(block_)
    whole = saved(made, tmp_path / "ear.dxf").read_bytes()
    svg = cut_files.svg(cut_files.parts(fejoint.load(DEMO))[0]).encode()
    rng, ends = random.Random(20), {"read": 0, "refused": 0}
    lines: list[str] = []
    for k in range(draws(400)):
        kind, data = (".dxf", bytearray(whole)) if k % 2 else (".svg", bytearray(svg))
        for _ in range(rng.choice((1, 3, 40))):
            way = rng.randrange(4)
            at = rng.randrange(len(data))
            if way == 0:
                data[at] = rng.randrange(256)
            elif way == 1:
                del data[at : at + rng.choice((1, 20, 2000))]
            elif way == 2:
                data[at:at] = bytes(rng.choice((b"9", b"-", b"e", b" ", b"nan", b"\n0\nLINE\n")))
            else:
                del data[at:]
            if not data:
                break
        file = tmp_path / f"hurt{kind}"
        file.write_bytes(bytes(data))
        try:
            with_outline({"file": str(file), "units": "mm"})
        except BadInput as bad:
            ends["refused"] += 1
            lines += [str(fault) for fault in bad.faults]
        else:
            ends["read"] += 1
    assert all("\n" not in line for line in lines)
    tally(f"damaged drawings: {ends}")


SVGS = {
    "path": '<path d="m-25 7h25a7 7 0 0 0 0-14h-25z"/><circle r="2.05"/>',
    "quarters and three quarters": '<path d="M-25 7H0A7 7 0 0 0 7 0A7 7 0 0 0 0-7H-25Z"/>'
    '<path d="M2.05 0A2.05 2.05 0 1 0 0 2.05A2.05 2.05 0 0 0 2.05 0Z"/>',
    "flags run together": '<path d="M-25,7 H0 A7,7,0,00,0,-7 H-25 Z"/><circle r="2.05"/>',
    "transforms": '<g transform="translate(-25,0) scale(2)"><path transform="rotate(90)" '
    'd="M3.5 0V-12.5A3.5 3.5 0 0 0 -3.5 -12.5V0Z"/><circle cx="12.5" r="1.025"/></g>',
    "curves": '<path d="M-25 7L0 7C3.8659932 7 7 3.8659932 7 0S3.8659932 -7 0 -7L-25 -7Z"/>'
    '<ellipse rx="2.05" ry="2.05"/>',
    "hidden and words": '<path d="M-25 7H0A7 7 0 0 0 0-7H-25Z"/><circle r="2.05"/>'
    '<text>ear</text><g display="none"><path d="M0 0H99"/></g><defs><path d="M0 0H9"/></defs>',
}


@pytest.mark.parametrize("inside", SVGS.values(), ids=SVGS)
def test_svg_paths_and_shapes_are_read(inside: str, tmp_path: Path):
    file = tmp_path / "ear.svg"
    file.write_text('<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" '
                    f'viewBox="-40 -20 60 40">{inside}</svg>')  # fmt: skip
    curved = "C" in inside
    joint = with_outline({"file": str(file), "held": "left"})
    assert is_the_demo_s(joint, 0.003 if curved else 1e-6)


@pytest.mark.parametrize(("size", "unit", "words"), [
    ('width="60mm" viewBox="0 0 60 40"', None, ""),
    ('width="60" viewBox="0 0 60 40"', None, "does not say its unit"),
    ("", None, "does not say its unit"), ("", "mm", ""),
    ('width="6cm" viewBox="0 0 60 40"', None, ""),
])  # fmt: skip
def test_an_svg_says_its_scale_or_is_asked(size: str, unit: str | None, words: str, tmp_path: Path):
    file = tmp_path / "ear.svg"
    file.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{SVGS["path"]}</svg>')
    asked = {"file": str(file), "held": "left"} | ({"units": unit} if unit else {})
    if words:
        assert words in refused(asked)
    else:
        assert is_the_demo_s(with_outline(asked))


def test_an_svg_of_entities_is_refused(tmp_path: Path):
    file = tmp_path / "ear.svg"
    file.write_text('<!DOCTYPE svg [<!ENTITY a "b">]><svg xmlns="http://www.w3.org/2000/svg"/>')
    assert "must define no entities" in refused(str(file))


def test_what_is_cut_again_has_the_area_that_another_kernel_finds(tmp_path: Path):
    """A plate with an opening, by gmsh's own kernel."""
    made, space = document()
    two_holes(space)
    joint = with_outline({"file": str(saved(made, tmp_path / "ear.dxf")), "hole": "4.1 mm"})
    part = cut_files.parts(joint)[0]
    with session() as kernel:
        occ = kernel.model.occ
        face = occ.addPlaneSurface([cut_files._loop(occ, corners) for _, corners in part.cut])
        occ.synchronize()
        area = occ.getMass(2, face)
    own = contours.area(part.outside) - sum(abs(contours.area(h)) for h in part.holes)
    assert area == pytest.approx(own, rel=1e-9)


@pytest.mark.parametrize("none", [np.array([1.0, 2.0]), [1.0], {"outside": [[]]}, {"outside": 3}])
def test_what_is_no_outline_is_refused_in_a_line(none):
    assert "ear.outline" in refused(none)
