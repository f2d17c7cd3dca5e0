"""An answer's files say what the answer says, and any VTK reader opens the fields."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import meshio
import numpy as np
import pytest
from support.pulled import quick_answer

import fejoint
from fejoint.analysis.result import Answer, _finite
from fejoint.errors import BadInput
from fejoint.files import write_atomically
from fejoint.output import result_files
from fejoint.output.field_snapshot import FIELDS, at, moments, of_part


@pytest.fixture(name="quick_answer", scope="module")
def _quick_answer() -> Answer:
    return quick_answer()


def test_answer_file_holds_the_answer(quick_answer: Answer, tmp_path: Path):
    path = result_files.write_answer(quick_answer, tmp_path / "out" / "answer.json")
    stored = result_files.read_answer(path)
    assert stored == json.loads(quick_answer.to_json())
    assert stored == result_files.read_answer(tmp_path / "out")


def test_an_answer_holds_the_scatter_of_its_case(quick_answer: Answer):
    table = {"ear.hole": {"within": "0.05 mm"}, "ear.strength": {"deviation": "5 %"}}
    joint = fejoint.load({**quick_answer.joint.case, "scatter": table})
    case = json.loads(replace(quick_answer, joint=joint).to_json())["case"]
    assert case["scatter"] == table
    # and is a case again, with the same joint and scatter
    again = fejoint.load(case)
    assert again.scatter == table
    assert again.to_dict() == joint.to_dict()
    assert "scatter" not in quick_answer.to_dict()["case"]


@pytest.mark.parametrize(
    ("text", "told"),
    [("{", "JSON"), ("[]", "schema"), ('{"schema": "other/1"}', "schema")],
)
def test_a_file_that_is_no_answer_is_refused(text: str, told: str, tmp_path: Path):
    file = tmp_path / "answer.json"
    file.write_text(text)
    with pytest.raises(BadInput, match=told):
        result_files.read_answer(file)


def test_a_missing_answer_is_refused(tmp_path: Path):
    with pytest.raises(BadInput, match="cannot be read"):
        result_files.read_answer(tmp_path / "none.json")


def test_fields_read_back_whole(quick_answer: Answer, tmp_path: Path):
    written = result_files.write_all(quick_answer, tmp_path)
    assert [p.name for p in written[:2]] == ["answer.json", "fields.vtu"]
    shots = of_part(quick_answer, "ear")
    grid = meshio.read(tmp_path / "fields.vtu")
    assert list(grid.cells_dict) == ["triangle6"]
    np.testing.assert_array_equal(grid.cells_dict["triangle6"], shots[0].mesh.triangles)
    np.testing.assert_allclose(grid.points[:, :2], shots[0].mesh.points)
    assert len(grid.point_data) == len(shots) * (1 + len(FIELDS))
    end = shots[-1]
    np.testing.assert_allclose(grid.point_data["von_mises_MPa_end"], end.von_mises)
    np.testing.assert_allclose(grid.point_data["displacement_mm_end"][:, :2], end.displacement)


def test_fields_open_in_vtk(quick_answer: Answer, tmp_path: Path):
    pyvista = pytest.importorskip("pyvista")
    path = result_files.write_fields(moments(quick_answer.faces["ear"]), tmp_path / "fields.vtu")
    grid = pyvista.read(path)
    assert grid.n_cells == len(moments(quick_answer.faces["ear"])[0].mesh.triangles)
    assert set(np.unique(grid.celltypes)) == {22}  # VTK_QUADRATIC_TRIANGLE
    assert grid.area > 0.0


def test_snapshot_of_a_half_model_is_symmetric(quick_answer: Answer):
    history = quick_answer.faces["ear"]
    assert history.problem.half
    shot = moments(history)[-1]
    where = {tuple(p): k for k, p in enumerate(np.round(shot.mesh.points, 9) + 0.0)}
    image = [where[x, 0.0 - y if y else 0.0] for x, y in where]
    own = list(where.values())
    np.testing.assert_array_equal(shot.plastic_strain[own], shot.plastic_strain[image])
    np.testing.assert_array_equal(
        shot.displacement[own], shot.displacement[image] * np.array([1.0, -1.0])
    )


def test_the_part_at_rest_shows_nothing(quick_answer: Answer):
    shot = at(quick_answer.faces["ear"], 0.0, "rest")
    assert shot.load == 0.0
    for name in ("von_mises", "plastic_strain", "damage"):
        assert np.all(getattr(shot, name) == 0.0)
    np.testing.assert_allclose(shot.thickness_ratio, 1.0)


def test_plastic_metal_keeps_its_volume(quick_answer: Answer):
    """Thinning times stretching in the plane is 1 up to the elastic part, on the whole ear."""
    shot = moments(quick_answer.faces["ear"])[-1]
    ear = shot.mesh.triangles[shot.mesh.regions["ear"]][:, :3]

    def areas(points: np.ndarray) -> np.ndarray:
        a, b, c = (points[ear[:, k]] for k in range(3))
        u, v = b - a, c - a
        return 0.5 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])

    before, after = areas(shot.mesh.points), areas(shot.deformed)
    volume = (after * shot.thickness_ratio[ear].mean(axis=1)).sum()
    assert volume == pytest.approx(before.sum(), rel=5e-3)
    assert shot.thickness_ratio.min() < 0.97


def test_a_file_that_cannot_be_encoded_leaves_nothing_behind(tmp_path: Path):
    with pytest.raises(UnicodeEncodeError):
        write_atomically(tmp_path / "it.json", "half a character: \ud800")
    assert list(tmp_path.iterdir()) == []


def test_whole_numbers_stay_whole_in_an_answer_and_an_unknown_event_is_none(quick_answer: Answer):
    assert quick_answer.event("offset load").load > 0.0
    with pytest.raises(KeyError, match="applause"):
        quick_answer.event("applause")
    told = _finite({"n": np.int64(3), "x": np.float64(2.5), "none": [np.inf, (np.nan,)]})
    assert told == {"n": 3, "x": 2.5, "none": [None, [None]]}
    assert type(told["n"]) is int
