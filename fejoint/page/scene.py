"""What the page draws of an answer, packed: meshes, fields over the pull, and the pin's plates.

A scene is one binary message: a little-endian uint32 with the length of a JSON header, the header,
and the arrays that it lists by name, type, shape, byte offset (from the end of the header, which
is padded to 4 bytes) and scale (stored number times scale is the value).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fejoint.analysis.result import Answer
from fejoint.arrays import Floats, Ints
from fejoint.joint.model import Joint
from fejoint.output.field_snapshot import Snapshot, at, pin_at
from fejoint.output.pictures.triangulation import rings
from fejoint.sections.axial.pull import AxialHistory
from fejoint.sections.face.pull import FaceHistory

Arrays = dict[str, tuple[NDArray[Any], float]]

MOST_FRAMES = 48
"""Moments of a section that a scene holds; what lies between is interpolated."""


def pack(answer: Answer) -> bytes:
    """Return the scene of an answer.

    Parameters
    ----------
    answer : Answer
        With its solved sections.

    Returns
    -------
    bytes
    """
    arrays: Arrays = {}
    header: dict[str, Any] = {"stress_top_MPa": stress_top(answer.joint)}
    name, face = shown_ear(answer)
    axial = answer.axial
    load = answer.trace.load
    _keep(arrays, "load", load)
    _keep(arrays, "extension", answer.trace.extension)
    _keep(arrays, "elongation", answer.trace.hole_elongation)
    header["ear"] = _face(arrays, face) | {"name": name}
    if axial is None:
        _keep(arrays, "ear.moment", np.linspace(0.0, len(face.load) - 1.0, len(load)))
    else:
        _keep(arrays, "ear.moment", face_index(answer, np.arange(len(load), dtype=float)))
        header["pin"] = _pin(arrays, axial)
    thin = _thinned(len(face.load))
    moment = np.interp(arrays["ear.moment"][0], thin, np.arange(len(thin)))
    _keep(arrays, "ear.moment", moment)
    return _message(header, arrays)


def shown_ear(answer: Answer) -> tuple[str, FaceHistory]:
    """Return the ear that is drawn: the one whose hole the answer's curve tells of."""
    return answer.weaker_ear, answer.faces[answer.weaker_ear]


def face_index(answer: Answer, index: Floats) -> Floats:
    """Return where on the ear's own path its mean slice is, at places along the joint's path.

    Parameters
    ----------
    answer : Answer
        With its axial section.
    index : (n,) array
        Fractional indices of the joint's path.

    Returns
    -------
    (n,) array
        Fractional indices of the path of the ear that is shown.
    """
    travels, lengths = slice_travels(answer)
    mean = travels @ lengths / lengths.sum()
    travel = np.interp(index, np.arange(len(mean)), mean)
    return on_face(answer, travel)


def slice_travels(answer: Answer) -> tuple[Floats, Floats]:
    """Return the travels of the slices of the ear shown, (n_points, n_slices), and their lengths.

    Travels are local to the hole, in mm, one row a point of the joint's path.
    """
    axial = answer.axial
    assert axial is not None
    plate = answer.plates[answer.weaker_ear].place
    travels = np.array([axial.problem.slice_travels(p, plate) for p in axial.path.points])
    return travels, axial.problem.bedding(plate).lengths


def on_face(answer: Answer, travel: Floats) -> Floats:
    """Return the fractional indices of the shown ear's own path at local travels (mm)."""
    _, face = shown_ear(answer)
    rising = np.maximum.accumulate(face.local_travel)
    return np.asarray(np.interp(travel, rising, np.arange(len(rising))))


def stress_top(joint: Joint) -> dict[str, float]:
    """Return the upper ends of the stress scales, MPa: of the metals alone, not of this answer.

    The true stress at tensile strength, rounded up, so that a change of a dimension leaves the
    colours comparable.
    """
    ears = (ear.material for ear in joint.ears)
    tops = {"ear": max(metal.rm * (1.0 + metal.uniform_strain) for metal in ears)}
    if not joint.pin.rigid:
        pin = joint.pin.material
        tops["pin"] = pin.rm * (1.0 + pin.uniform_strain)
    return {name: 100.0 * float(np.ceil(top / 100.0)) for name, top in tops.items()}


def _thinned(n: int) -> Ints:
    """Return indices of at most MOST_FRAMES of n points, first and last among them."""
    picked = np.linspace(0, n - 1, min(n, MOST_FRAMES))
    return np.unique(np.round(picked).astype(np.intp))


def _face(arrays: Arrays, face: FaceHistory) -> dict[str, Any]:
    shots = [at(face, float(k), "") for k in _thinned(len(face.load))]
    mesh = shots[0].mesh
    plate = mesh.triangles[mesh.regions["ear"]]
    bodies = [plate]
    if "pin" in mesh.regions:
        bodies.append(mesh.triangles[mesh.regions["pin"]])
    _mesh(arrays, "ear", mesh.points, bodies)
    _fields(arrays, "ear", shots)
    outline = face.problem.case.outline
    told: dict[str, Any] = {
        "plate_triangles": 4 * len(plate),
        "rings": _rings(arrays, "ear", bodies),
        "hole": outline.hole,
        "width": outline.width,
        "edge_distance": outline.edge_distance,
        "direction": face.problem.direction.tolist(),
    }
    circles = [s.pin_circle for s in shots if s.pin_circle is not None]
    if circles:
        _keep(arrays, "ear.pin_circle", np.array(circles))
    return told


def _pin(arrays: Arrays, axial: AxialHistory) -> dict[str, Any]:
    problem = axial.problem
    kept = _thinned(len(axial.load))
    shots = [pin_at(axial, float(k), "") for k in kept]
    mesh = shots[0].mesh
    _mesh(arrays, "pin", mesh.points, [mesh.triangles])
    _fields(arrays, "pin", shots)
    where = np.interp(np.arange(len(axial.load)), kept, np.arange(len(kept)))
    _keep(arrays, "pin.moment", where)
    points = [axial.path.points[k] for k in kept]
    _keep(arrays, "pin.sag", np.array([problem.bend(p)[0] for p in points]))
    n = len(mesh.points)
    plates = []
    for k, columns in enumerate(problem.columns):
        travel = np.array([problem.slice_travels(p, k) for p in axial.path.points])
        pressed = np.maximum.accumulate(np.maximum(travel, 0.0), axis=0)[kept]
        length = np.diff(problem.cuts)[columns]
        force = np.array([problem.slice_forces(p, k) for p in points]) / length
        sense = -1.0 if k == problem.case.shank else 1.0
        _keep(arrays, f"plate{k}.pressed", pressed)
        _keep(arrays, f"plate{k}.bearing", sense * force)
        _keep(arrays, f"plate{k}.moved", np.array([float(p.z[2 * n + k]) for p in points]))
        _keep(arrays, f"plate{k}.cuts", problem.cuts[np.append(columns, columns[-1] + 1)])
        faces = [float(f) for f in problem.case.faces[k]]
        plates.append({"shank": k == problem.case.shank, "faces": faces})
    return {
        "rings": _rings(arrays, "pin", [mesh.triangles]),
        "diameter": problem.case.diameter,
        "plates": plates,
    }


def _mesh(arrays: Arrays, name: str, points: Floats, bodies: list[Ints]) -> None:
    """Keep nodes, and every quadratic triangle as four straight ones."""
    t = np.concatenate(bodies)
    small = np.stack([t[:, c] for c in ([0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5])], axis=1)
    kind = np.uint16 if len(points) < 65536 else np.uint32
    arrays[f"{name}.triangles"] = (small.reshape(-1, 3).astype(kind), 1.0)
    _keep(arrays, f"{name}.rest", points)


def _rings(arrays: Arrays, name: str, bodies: list[Ints]) -> int:
    """Keep the closed boundaries of the bodies, longest first, body by body."""
    found = [ring for body in bodies for ring in rings(body)]
    for k, ring in enumerate(found):
        arrays[f"{name}.ring{k}"] = (ring.astype(np.uint32), 1.0)
    return len(found)


def _fields(arrays: Arrays, name: str, shots: list[Snapshot]) -> None:
    _shrink(arrays, f"{name}.moved", np.array([s.displacement for s in shots]), np.int16)
    _shrink(arrays, f"{name}.stress", np.array([s.von_mises for s in shots]), np.uint16)
    _shrink(arrays, f"{name}.plastic", np.array([s.plastic_strain for s in shots]), np.uint16)


def _keep(arrays: Arrays, name: str, values: Floats) -> None:
    arrays[name] = (np.ascontiguousarray(values, np.float32), 1.0)


def _shrink(arrays: Arrays, name: str, values: Floats, kind: type[np.integer[Any]]) -> None:
    """Keep values as 16 bit integers, with the scale that brings them back."""
    scale = max(float(np.abs(values).max()), 1e-12) / np.iinfo(kind).max
    arrays[name] = (np.round(values / scale).astype(kind), scale)


def _message(header: Mapping[str, Any], arrays: Arrays) -> bytes:
    table, parts, place = {}, [], 0
    for name, (values, scale) in arrays.items():
        raw = values.astype(values.dtype.newbyteorder("<")).tobytes()
        table[name] = {
            "type": values.dtype.name,
            "shape": list(values.shape),
            "offset": place,
            "scale": scale,
        }
        raw += b"\0" * (-len(raw) % 4)
        parts.append(raw)
        place += len(raw)
    text = json.dumps({**header, "arrays": table}).encode()
    text += b" " * (-len(text) % 4)
    return b"".join([len(text).to_bytes(4, "little"), text, *parts])
