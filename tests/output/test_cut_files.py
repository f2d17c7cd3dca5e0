"""Drawings for a cutter, read back by readers that did not write them."""

from __future__ import annotations

import itertools
import math
import re
import xml.etree.ElementTree as ET

import pytest
from support import DEMO

import fejoint
from fejoint.joint import contour
from fejoint.meshing import contours
from fejoint.meshing.gmsh_session import session
from fejoint.output import cut_files

JOINTS = {
    "as it is": {},
    "slot off the axis, flared": {
        "ear.hole_slot": "1 mm", "ear.hole_offset": "1.2 mm", "ear.flare_depth": "0.5 mm",
    },
    "square, unequal": {"ear.end": "square", "ear.2.width": "16 mm"},
    "inches": {"ear.width": "9/16 in", "pin.diameter": "5/32 in", "ear.hole": "0.165 in"},
}  # fmt: skip


def joint_of(changes):
    joint = fejoint.load(DEMO)
    for path, value in changes.items():
        joint = joint.replace(path, value)
    return joint


def pairs(text):
    """Group codes and values of a DXF: a reader of a dozen lines, of the format's own rules."""
    lines = text.splitlines()
    return [(int(a), b.strip()) for a, b in zip(lines[::2], lines[1::2], strict=True)]


def polylines(text):
    """Closed polylines by layer."""
    found, entity = {}, None
    for code, value in pairs(text):
        if code == 0:
            entity = {"points": []} if value == "LWPOLYLINE" else None
        elif entity is None:
            continue
        elif code == 8:
            found.setdefault(value, []).append(entity)
        elif code == 70:
            entity["closed"] = int(value) & 1
        elif code == 10:
            entity["points"].append([float(value), 0.0, 0.0])
        elif code == 20:
            entity["points"][-1][1] = float(value)
        elif code == 42:
            entity["points"][-1][2] = float(value)
    return found


@pytest.mark.parametrize("changes", JOINTS.values(), ids=JOINTS)
def test_a_dxf_holds_each_contour_once_to_a_millionth_of_a_millimetre(changes):
    joint = joint_of(changes)
    for part in cut_files.parts(joint):
        lines = polylines(cut_files.dxf(part))
        assert set(lines) == {"outside", "holes"}
        for layer, wanted in part.cut:
            (only,) = lines[layer]
            assert only["closed"]
            for got, corner in zip(only["points"], wanted, strict=True):
                assert got == pytest.approx(corner, abs=1e-9)


def test_a_dxf_says_that_it_is_in_millimetres():
    (part, *_) = cut_files.parts(joint_of({}))
    found = pairs(cut_files.dxf(part))
    assert found[found.index((9, "$INSUNITS")) + 1] == (70, "4")
    assert found[found.index((9, "$MEASUREMENT")) + 1] == (70, "1")
    assert found[found.index((9, "$ACADVER")) + 1] == (1, "AC1015")


def test_the_gauge_is_as_long_as_it_says():
    for part in cut_files.parts(joint_of({})):
        (x0, y0), (x1, y1) = part.gauge
        assert (x1 - x0, y1 - y0) == (50.0, 0.0)
        assert y0 < contours.box(part.outside)[1]
        assert any(words == "50 mm" and layer == "gauge" for *_, layer, words in part.lines())


@pytest.mark.parametrize("changes", JOINTS.values(), ids=JOINTS)
def test_an_svg_has_the_same_contours(changes):
    for part in cut_files.parts(joint_of(changes)):
        root = ET.fromstring(cut_files.svg(part))
        space = {"s": "http://www.w3.org/2000/svg"}
        assert root.get("width").endswith("mm")
        _, _, wide, high = map(float, root.get("viewBox").split())
        assert (root.get("width"), root.get("height")) == (f"{wide:.6g}mm", f"{high:.6g}mm")
        for layer, wanted in part.cut:
            (path,) = root.findall(f"s:g[@id='{layer}']/s:path", space)
            assert along(path.get("d")) == pytest.approx(contours.area(wanted), rel=1e-6)


def along(data):
    """Area within a path of lines and arcs, walked point by point; y points down in it."""
    points = []
    for letter, numbers in re.findall(r"([MLAZ])([^MLAZ]*)", data):
        v = [float(x) for x in re.findall(r"[-+.\de]+", numbers)]
        if letter in "ML":
            points.append((v[0], -v[1]))
        elif letter == "A":
            points += arc(points[-1], (v[5], -v[6]), v[0], large=v[3] == 1, up=v[4] == 0)
    total = 0.0
    for (x0, y0), (x1, y1) in itertools.pairwise([*points, points[0]]):
        total += 0.5 * (x0 * y1 - x1 * y0)
    return total


def arc(a, b, radius, *, large, up, count=4000):
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    chord = math.dist(a, b)
    off = math.sqrt(max(radius**2 - chord**2 / 4, 0.0)) * (1 if up != large else -1)
    centre = (
        middle[0] - off * (b[1] - a[1]) / chord,
        middle[1] + off * (b[0] - a[0]) / chord,
    )
    begin = math.atan2(a[1] - centre[1], a[0] - centre[0])
    end = math.atan2(b[1] - centre[1], b[0] - centre[0])
    turn = (end - begin) % (2 * math.pi) if up else -((begin - end) % (2 * math.pi))
    return [
        (
            centre[0] + radius * math.cos(begin + turn * k / count),
            centre[1] + radius * math.sin(begin + turn * k / count),
        )
        for k in range(1, count + 1)
    ]


def test_equal_ears_are_drawn_once_and_unequal_ones_each():
    names = [p.name for p in cut_files.parts(joint_of({}))]
    assert names == ["ear", "shank"]
    names = [p.name for p in cut_files.parts(joint_of({"ear.2.width": "16 mm"}))]
    assert names == ["ear-1", "ear-2", "shank"]
    single = joint_of({}).to_dict()
    single["ear"], single["fit"]["gap"] = single["ear"][:1], 0.1
    parts = cut_files.parts(fejoint.Joint.from_dict(single))
    assert [p.name for p in parts] == ["ear", "shank"]
    assert "1 piece" in " ".join(parts[0].notes)


def test_notes_say_metal_thickness_number_and_what_is_computed():
    joint = joint_of({"ear.flare_depth": "0.5 mm"})
    answer = fejoint.pull(joint.replace("pull.stop_displacement", "0.4 mm"), refine=0.35)
    ear, shank = cut_files.parts(joint, answer)
    said = " ".join(ear.notes)
    assert "316 strip, annealed, 2 mm thick, 2 pieces" in said
    assert "flared on the outer face, 0.5 mm deep" in said
    assert answer.verdict.sentence in said
    assert "This part: offset load at" in said
    assert "does not replace a test" in said
    assert "This part" not in " ".join(shank.notes)
    assert max(map(len, ear.notes)) <= 100


def test_a_title_can_neither_break_out_of_a_drawing_nor_speak_its_codes():
    joint = joint_of({"title": "%%c<script>&  evil"})
    (part, *_) = cut_files.parts(joint)
    assert "%%" not in cut_files.dxf(part)
    root = ET.fromstring(cut_files.svg(part))
    assert not root.findall(".//{http://www.w3.org/2000/svg}script")


@pytest.mark.parametrize("changes", [JOINTS["as it is"], JOINTS["slot off the axis, flared"]])
def test_a_step_file_is_one_body_of_the_parts_volume(changes, tmp_path, capfd):
    joint = joint_of(changes)
    paths = {p.name: p for p in cut_files.write_steps(joint, tmp_path)}
    assert set(paths) == {"ear.step", "shank.step", "pin.step"}
    assert capfd.readouterr().out == ""
    ear = joint.ears[0]
    flat = contours.area(contour.outside(ear)) - contours.area(contour.hole(ear))
    volumes = {
        "ear.step": flat * ear.thickness,
        "pin.step": math.pi * joint.pin.diameter**2 / 4 * joint.grip,
    }
    for name, wanted in volumes.items():
        with session() as gmsh:
            (body,) = gmsh.model.occ.importShapes(str(paths[name]))
            assert gmsh.model.occ.getMass(*body) == pytest.approx(wanted, rel=1e-6)
