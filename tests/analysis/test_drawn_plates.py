"""Plates of a drawn outline: ordinary ones answer as their dimensions do, others as by hand."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from support import DEMO

import fejoint
from fejoint.analysis import section_cases
from fejoint.cli.main import main
from fejoint.errors import BadInput
from fejoint.handbook.strip_bending import strip_hinge_load, strip_use
from fejoint.joint import contour
from fejoint.joint.outline import Outline
from fejoint.meshing import contours
from fejoint.output import pictures
from fejoint.sections.face.problem import FaceSettings, build

OUTLINES = Path(__file__).parents[2] / "cases" / "outlines"
COARSE = 0.4
QUARTER = math.tan(math.radians(90.0) / 4.0)


def circle(x: float, y: float, r: float) -> contours.Contour:
    return ((x + r, y, 1.0), (x - r, y, 1.0))


def drawn(joint: fejoint.Joint, outline: Outline | None = None, **keys) -> fejoint.Joint:
    """Return a joint whose ears have an outline: their own, or another."""
    own = joint.ears[0]
    shape = outline or Outline(contour.outside(own))
    ear = {"count": 2, "thickness": own.thickness, "hole": own.hole, "hole_slot": own.hole_slot,
           "material": own.material.name, "outline": shape.to_dict()}  # fmt: skip
    return fejoint.load(dict(joint.case) | {"ear": ear | keys})


def loads(answer: fejoint.Answer) -> dict[tuple[str, str], float]:
    rows = [x for part in answer.verdict.order for x in (part.first, *part.later)]
    return {(x.member, f"{x.mode}, {x.cause}"): x.load for x in rows}


@pytest.mark.parametrize(("changes", "angle"), [
    ({}, 0.0), ({"hole_offset": "0.7 mm", "hole_slot": "0.8 mm"}, 30.0), *(
        pytest.param(changes, 0.0, marks=pytest.mark.stress) for changes in (
            {"end": "square"}, {"end": "clipped", "clip": "3 mm"}, {"hole_slot": "0.8 mm"},
            {"hole_offset": "0.7 mm"}, {"edge_distance": "9 mm"},
        )
    ),
], ids=str)  # fmt: skip
def test_an_ordinary_ear_as_an_outline_gives_the_same(changes, angle: float):
    table = dict(fejoint.load(DEMO).case)
    joint = fejoint.load(table | {"ear": table["ear"] | changes}).replace("pull.angle", angle)
    own, same = (fejoint.pull(x, refine=COARSE) for x in (joint, drawn(joint)))
    found, wanted = loads(same), loads(own)
    assert found.keys() == wanted.keys()
    for key, load in wanted.items():
        assert found[key] == pytest.approx(load, rel=2e-3), key


def test_the_shank_s_outline_gives_the_same():
    joint = fejoint.load(DEMO)
    own = joint.shank
    shank = {"thickness": own.thickness, "hole": own.hole, "material": own.material.name,
             "outline": Outline(contour.outside(own)).to_dict()}  # fmt: skip
    same = fejoint.load(dict(joint.case) | {"shank": shank})
    assert loads(fejoint.pull(same, refine=COARSE)) == pytest.approx(
        loads(fejoint.pull(joint, refine=COARSE)), rel=2e-3
    )


@pytest.fixture(scope="module", name="light")
def _light() -> fejoint.Answer:
    joint = fejoint.load(DEMO)
    holes = (circle(-10.0, 2.9, 1.8), circle(-10.0, -2.9, 1.8))
    return fejoint.pull(drawn(joint, Outline(contour.outside(joint.ears[0]), holes)), refine=COARSE)


def test_an_ear_with_more_holes_tears_at_them_and_says_so(light):
    ear = light.joint.ears[0]
    assert ear.outline.symmetric
    net = 14.0 - 4.0 * 1.8
    assert ear.strip_width == pytest.approx(net, rel=1e-3)
    found = loads(light)
    metal, area = ear.material, 2.0 * net * ear.thickness
    assert found["both ears", "strip yield, whole section at Rp0.2"] == pytest.approx(
        area * metal.rp02, rel=2e-3
    )
    # the pull on the net section at the tensile strength, by hand
    assert found["both ears", "net section, highest pull"] == pytest.approx(
        area * metal.rm, rel=0.02
    )
    (used, _) = light.ductility
    assert used["mode"] == "net section"
    assert used["at_mm"][0] == pytest.approx(-10.0, abs=1.8)
    assert any("beside an opening" in said for said in light.warnings)


@pytest.mark.parametrize("whole", [False, True])
def test_the_mesh_has_the_area_of_the_plate(light, whole: bool):
    case = section_cases.face_case(light.joint, light.joint.ears[0])
    mesh = build(case, FaceSettings(sides=24, free=whole)).mesh
    triangles = mesh.points[mesh.triangles[mesh.regions["ear"], :3]]
    a, b, c = (triangles[:, k] for k in range(3))
    found = 0.5 * np.abs(np.linalg.det(np.stack([b - a, c - a], axis=-1))).sum()
    part = light.joint.ears[0]
    area = contours.area(part.outline.outside) - 0.25 * math.pi * part.hole**2
    area -= sum(contours.area(opening) for opening in part.outline.openings)
    assert found == pytest.approx(area if whole else 0.5 * area, rel=0.01)


def test_an_ear_with_more_holes_converges(light):
    """From half the everyday mesh to the everyday one; from there on by a third of that."""
    finer = fejoint.pull(light.joint, refine=2.0 * COARSE)
    for key, load in loads(light).items():
        if "stretch used up" in key[1]:
            continue  # of the mesh's scale, and told with a band
        assert loads(finer)[key] == pytest.approx(load, rel=1e-2), key


def test_a_weaker_section_towards_the_grip_hinges_first():
    """A strip narrowed to half its width near the grip, pulled sideways: Mp goes as W squared."""
    joint = fejoint.load(DEMO).replace("pull.angle", "90 deg")
    waist = Outline((
        (-25.0, -3.5, 0.0), (-20.0, -3.5, 0.0), (-20.0, -7.0, 0.0), (0.0, -7.0, 1.0),
        (0.0, 7.0, 0.0), (-20.0, 7.0, 0.0), (-20.0, 3.5, 0.0), (-25.0, 3.5, 0.0),
    ))  # fmt: skip
    ear = drawn(joint, waist).ears[0]
    full = 0.25 * ear.thickness * 7.0**2 * ear.material.rp02
    assert strip_hinge_load(ear, 90.0) == pytest.approx(full / 25.0, rel=1e-3)
    assert sum(strip_use(ear, full / 25.0, 90.0)) == pytest.approx(1.0, rel=1e-3)


def test_sections_are_those_of_the_metal():
    """Half of the metal lies on either side of a section's middle; openings count for nothing."""
    outside = contour.outside(fejoint.load(DEMO).ears[0])
    shape = Outline(outside, (circle(-10.0, 0.0, 3.5), circle(-17.0, 4.0, 1.0)))
    at = {x: (metal, middle, moment) for x, metal, middle, moment in shape.sections}
    near = min(at, key=lambda x: abs(x + 10.0))
    metal, middle, moment = at[near]
    assert metal == pytest.approx(7.0, abs=0.01)
    assert middle == pytest.approx(0.0, abs=1e-6)
    assert moment == pytest.approx(7.0**2 - 3.5**2, rel=1e-3)
    near = min(at, key=lambda x: abs(x + 17.0))
    metal, middle, _ = at[near]
    assert metal == pytest.approx(12.0, abs=0.02)
    assert middle == pytest.approx(-1.0, abs=0.01)


def test_a_hook_to_one_side_is_meshed_whole_and_mirrored_gives_the_same():
    joint = fejoint.load(OUTLINES / "hooked-ear.toml")
    shape = joint.ears[0].outline
    assert not shape.symmetric
    over = Outline(
        contours.turned_over(shape.outside), tuple(map(contours.turned_over, shape.openings))
    )
    first = over.outside
    k = next(k for k, (x, _, _) in enumerate(first) if x == min(c[0] for c in first)
             and first[k - 1][0] == x)  # fmt: skip
    over = Outline((*first[k:], *first[:k]))
    pulled = [fejoint.pull(x, refine=COARSE) for x in (joint, drawn(joint, over))]
    assert loads(pulled[0]) == pytest.approx(loads(pulled[1]), rel=2e-3)


@pytest.mark.parametrize("name", ["hooked-ear", "lightened-ear", "slotted-shank"])
def test_the_drawn_cases_are_pulled_and_pictured(name: str, tmp_path: Path):
    answer = fejoint.pull(OUTLINES / f"{name}.toml", refine=COARSE)
    assert answer.trust.finished
    assert not answer.trust.broken
    drawn_parts = [p for p in (*answer.joint.ears, answer.joint.shank) if p.outline is not None]
    assert any("drawn; by hand" in said for said in answer.warnings) is bool(drawn_parts)
    for what in ("drawing", "stress", "plastic", "limits"):
        assert pictures.picture(answer, what, tmp_path / f"{what}.png", width=120.0).exists()
    answer.save(tmp_path / "answer.json")
    assert fejoint.Answer.load(tmp_path / "answer.json").joint == answer.joint
    if name == "lightened-ear":  # at more than half the way to the grip
        assert answer.ductility[0]["mode"] == "net section"
        assert ("both ears", "ear bending, highest pull") not in loads(answer)


def test_sizes_of_a_drawn_plate_can_be_changed():
    joint = fejoint.load(OUTLINES / "lightened-ear.toml")
    own = joint.ears[0]
    assert joint.replace("ear.edge_distance", 9.0).ears[0].edge_distance == pytest.approx(9.0)
    assert joint.replace("ear.hole", 4.2).ears[0].hole == 4.2
    larger = joint.replace("ear.outline_scale", 1.1).ears[0]
    assert larger.grip_length == pytest.approx(1.1 * own.grip_length)
    assert larger.strip_width == pytest.approx(1.1 * own.strip_width)
    assert contours.area(larger.outline.openings[0]) == pytest.approx(
        1.21 * contours.area(own.outline.openings[0])
    )
    assert larger.hole == own.hole
    with pytest.raises(BadInput, match="belongs to an outline"):
        fejoint.load(DEMO).replace("ear.outline_scale", 1.1)


def test_studies_act_on_a_drawn_plate(tmp_path: Path):
    quick = {"refine": 0.25, "workers": 0}
    case = OUTLINES / "lightened-ear.toml"
    vary = {"ear.thickness": "2:2.2:2 mm", "ear.edge_distance": "8:9:2 mm"}
    table = fejoint.sweep(case, vary, folder=tmp_path, **quick).frame
    assert set(table["state"]) == {"solved"}
    load = table.set_index(["ear.thickness_mm", "ear.edge_distance_mm"])["load_N"]
    assert load[2.2, 8.0] == pytest.approx(1.1 * load[2.0, 8.0], rel=1e-2)
    assert load[2.0, 9.0] > 1.02 * load[2.0, 8.0]


@pytest.mark.stress
def test_advice_acts_on_a_drawn_plate():
    quick = {"refine": 0.25, "workers": 0}
    case = OUTLINES / "lightened-ear.toml"
    goal = 1.04 * fejoint.pull(case, refine=0.25).verdict.first.load
    (change,) = fejoint.advise(case, f"{goal} N", only=["ear.outline_scale"], **quick).single
    assert 1.01 < change.values[0] < 1.4
    assert change.row["load_N"] >= goal


def test_what_knows_no_outline_refuses_in_a_line(capsys):
    assert main(["solid", str(OUTLINES / "hooked-ear.toml")]) == 2
    assert "is not solved as a solid" in capsys.readouterr().err


def test_places_in_the_metal():
    """Stretches of an upright line, by a plate whose arcs turn back and a hole within it."""
    plate = ((-4.0, -2.0, 0.0), (0.0, -2.0, 1.0), (0.0, 2.0, 0.0), (-4.0, 2.0, 0.0))
    hole = circle(0.0, 0.0, 1.0)
    for x, wanted in {
        -3.0: [(-2.0, 2.0)],
        0.5: [(-math.sqrt(3.75), -math.sqrt(0.75)), (math.sqrt(0.75), math.sqrt(3.75))],
        1.5: [(-math.sqrt(1.75), math.sqrt(1.75))],
        5.0: [],
    }.items():
        found = contours.spans_at([plate, hole], x)
        assert np.ravel(found) == pytest.approx(np.ravel(wanted))
    assert contours.within(plate, (1.0, 1.0))
    assert not contours.within(plate, (1.9, 1.9))
    spans = contours.spans_at([plate, hole], 0.5)
    middle = contours.in_spans(spans, np.array([0.25, 0.75]), above=False)
    assert middle == pytest.approx([-0.5 * (math.sqrt(3.75) + math.sqrt(0.75)),
                                    0.5 * (math.sqrt(3.75) + math.sqrt(0.75))])  # fmt: skip
