"""The files of an answer: `answer.json`, and the fields as `fields.vtu` for any VTK reader."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint import files
from fejoint.analysis.result import SCHEMA, Answer, digest
from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault, shorten
from fejoint.files import unwritable, write_atomically
from fejoint.joint.model import Joint
from fejoint.output.field_snapshot import Snapshot, of_part

if TYPE_CHECKING:
    import meshio

ANSWER = "answer.json"
_LARGEST = 50_000_000


def write_all(answer: Answer, folder: Path) -> list[Path]:
    """Write the answer and the fields of its solved face sections.

    Parameters
    ----------
    answer : Answer
    folder : Path
        Made if it is not there.

    Returns
    -------
    list of Path
        Every file written: `answer.json`, `fields.vtu` for the first face section, and
        `fields-NAME.vtu` for any further one.

    Raises
    ------
    BadInput
        If a file cannot be written.
    """
    return list(write_each(answer, folder))


def write_each(answer: Answer, folder: Path) -> Iterator[Path]:
    """Write the files of `write_all` one after another, and tell each as it is there."""
    yield write_answer(answer, folder / ANSWER)
    for k, name in enumerate(answer.faces):
        file = "fields.vtu" if k == 0 else f"fields-{name.replace(' ', '-')}.vtu"
        yield write_fields(of_part(answer, name), folder / file)


def write_answer(answer: Answer, path: Path) -> Path:
    """Write the answer as JSON, whole or not at all."""
    write_atomically(path, answer.to_json() + "\n")
    return path


def read_answer(path: Path) -> dict[str, Any]:
    """Read an `answer.json` back as plain data.

    Parameters
    ----------
    path : Path
        Of the file, or of the folder that holds it.

    Raises
    ------
    BadInput
        If it cannot be read, or is no answer of this program.
    """
    file, again = path / ANSWER if path.is_dir() else path, "pull the case again"
    large = Fault(str(file), "", "is over 50 MB, which no answer is", "name an answer.json")
    try:
        data = json.loads(files.read(file, _LARGEST, large, "name an answer.json"))
    except OSError as error:
        reason = f"cannot be read ({error.strerror})"
        raise BadInput(Fault(str(file), "", reason, "name an answer.json")) from error
    except (ValueError, RecursionError) as error:
        reason = f"is no JSON text ({error})"
        raise BadInput(Fault(str(file), "", reason, again)) from error
    schema = data.get("schema") if isinstance(data, dict) else None
    if schema != SCHEMA:
        reason = f"must be an answer with schema {SCHEMA}"
        raise BadInput(Fault(str(file), shorten(schema), reason, again))
    if "digest" not in data:
        raise BadInput(Fault(str(file), "", "was written by an older fejoint", again))
    if data["digest"] != digest(data):
        reason = "was changed after fejoint wrote it: its digest is that of other content"
        raise BadInput(Fault(str(file), "", reason, again))
    return dict(data)


def solve_again(stored: Mapping[str, Any]) -> Answer:
    """Pull the case of a stored answer again, for the fields that the file does not hold.

    The same case gives the same answer: the solve has no chance in it.
    """
    from fejoint.analysis.pull import pull

    return pull(Joint.from_dict(stored["case"]), **stored.get("settings", {}))


def write_fields(shots: Sequence[Snapshot], path: Path) -> Path:
    """Write snapshots of one section as a VTK unstructured grid of quadratic triangles.

    Parameters
    ----------
    shots : sequence of Snapshot
        Of the same mesh; the moment's name ends the name of every field.
    path : Path

    Returns
    -------
    Path

    Raises
    ------
    BadInput
        If the file cannot be written.
    """
    return write_grid(as_grid(shots), path)


def write_grid(grid: meshio.Mesh, path: Path) -> Path:
    """Write a grid as VTU, whole or not at all.

    Raises
    ------
    BadInput
        If the file cannot be written.
    """
    import meshio

    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        # beside the file, not where the system keeps its own: that may be full or locked
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=f".{path.name}.") as folder:
            whole = Path(folder) / "fields.vtu"
            meshio.vtu.write(str(whole), grid)
            write_atomically(path, whole.read_bytes())
    except OSError as error:
        raise unwritable(path, error) from error
    return path


def as_grid(shots: Sequence[Snapshot]) -> meshio.Mesh:
    """Return snapshots of one section as a grid: the part at rest, with displacement vectors."""
    import meshio

    mesh = shots[0].mesh
    flat = np.zeros(len(mesh.points))
    point_data: dict[str, Floats] = {}
    for shot in shots:
        moment = shot.moment.replace(" ", "_")
        point_data |= {
            f"displacement_mm_{moment}": np.column_stack([shot.displacement, flat]),
            f"von_mises_MPa_{moment}": shot.von_mises,
            f"plastic_strain_{moment}": shot.plastic_strain,
            f"damage_{moment}": shot.damage,
            f"thickness_ratio_{moment}": shot.thickness_ratio,
        }
    body = np.zeros(len(mesh.triangles), np.int32)
    if "pin" in mesh.regions:
        body[mesh.regions["pin"]] = 1
    return meshio.Mesh(
        np.column_stack([mesh.points, flat]),
        [("triangle6", mesh.triangles)],
        point_data=point_data,
        cell_data={"body_0_ear_1_pin": [body]},
    )
