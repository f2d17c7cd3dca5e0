"""Random joints of a wider kind than `random_joints`: 1 to 200 mm, most metals from the library.

Half of them in single shear, many pins held, ears unequal, holes slotted, flared or off the axis,
pulled at any angle, with gaps up to the pin's diameter and loose holes; a quarter to the end.
"""

from __future__ import annotations

from typing import Any

import numpy as np

import fejoint
from fejoint.errors import BadInput
from fejoint.joint.model import Joint
from fejoint.materials import library

TO_THE_END = 0.25
"""Share of the joints that are pulled until something ends the pull."""
SINGLE = 0.5
"""Share of the joints in single shear."""
FROM_LIBRARY = 0.7
"""Share of the metals that are of the library; the others are linear laws."""


def draw(rng: np.random.Generator) -> Joint:
    """Return a joint that is within its limits."""
    while True:
        try:
            return fejoint.load(_case(rng))
        except BadInput:
            continue


def _case(rng: np.random.Generator) -> dict[str, Any]:
    d = float(np.exp(rng.uniform(np.log(1.0), np.log(200.0))))
    own: dict[str, Any] = {}

    def metal() -> str:
        if rng.random() < FROM_LIBRARY:
            names = library.names()
            return str(names[rng.integers(len(names))])
        name = f"drawn {len(own)}"
        low = float(np.exp(rng.uniform(np.log(100.0), np.log(1500.0))))
        own[name] = {
            "law": "linear", "yield": low, "slope": low * rng.uniform(0.05, 2.0),
            "modulus": rng.uniform(6e4, 2.2e5), "poisson": rng.uniform(0.25, 0.36),
            "fracture_strain": float(np.exp(rng.uniform(np.log(0.1), np.log(1.5)))),
        }  # fmt: skip
        return name

    def plate() -> dict[str, Any]:
        hole = d * (1.0 + rng.uniform(0.0, 0.25) * rng.integers(2) + rng.uniform(0.0, 0.03))
        width = hole * rng.uniform(1.4, 5.0)
        end = ("round", "square", "clipped")[rng.integers(3)]
        found = {
            "thickness": hole * float(np.exp(rng.uniform(np.log(0.15), np.log(1.5)))),
            "width": width, "hole": hole, "edge_distance": hole * rng.uniform(0.8, 3.0),
            "end": end, "material": metal(),
        }  # fmt: skip
        return found | ({"clip": width * rng.uniform(0.05, 0.4)} if end == "clipped" else {})

    def ear() -> dict[str, Any]:
        found = plate()
        found["grip_length"] = found["width"] * rng.uniform(1.0, 4.0)
        if rng.random() < 0.4:
            key = ("hole_slot", "hole_offset", "flare_depth")[rng.integers(3)]
            size = found["thickness"] if key == "flare_depth" else found["hole"]
            found[key] = size * rng.uniform(0.0, 0.4)
        return found

    shank = plate()
    shank["length"] = shank["width"] * rng.uniform(1.0, 2.0)
    ends = ("free", "headed", "held")[rng.integers(3)]
    single = rng.random() < SINGLE
    ears: Any = [ear()] if single else [ear(), ear()] if rng.random() < 0.5 else ear()
    gaps = d * rng.uniform(0.0, 1.0)
    two = isinstance(ears, list) and len(ears) == 2 and rng.random() < 0.5
    pull: dict[str, Any] = {"angle": 0.0 if rng.random() < 0.4 else rng.uniform(-180.0, 180.0)}
    if rng.random() > TO_THE_END:
        pull["stop_displacement"] = d * float(np.exp(rng.uniform(np.log(0.02), np.log(0.3))))
    rigid = rng.random() < 0.1
    return {
        "title": "drawn",
        "ear": ears,
        "pin": {"diameter": d, "ends": ends}
        | ({"rigid": True} if rigid else {"material": metal()}),
        "shank": shank,
        "fit": {
            "gap": [gaps, d * rng.uniform(0.0, 1.0)] if two else gaps,
            "friction": 0.0 if rng.random() < 0.3 else rng.uniform(0.0, 0.6),
        },
        "pull": pull,
        "material": own,
    }
