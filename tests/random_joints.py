"""Random valid joints: geometry, metals, fit, friction, angle and path across what is allowed."""

from __future__ import annotations

from typing import Any

import numpy as np

import fejoint
from fejoint import materials
from fejoint.errors import BadInput
from fejoint.joint import Joint

TO_THE_END = 0.25
"""Share of the joints that are pulled until something ends the pull."""


def draw(rng: np.random.Generator) -> Joint:
    """Return a joint that is within its limits."""
    while True:
        case = _case(rng)
        try:
            return fejoint.load(case)
        except BadInput:
            continue


def _case(rng: np.random.Generator) -> dict[str, Any]:
    d = float(np.exp(rng.uniform(np.log(1.0), np.log(40.0))))
    metals = materials.names()

    def one_of(*values: Any) -> Any:
        return values[rng.integers(len(values))]

    def plate() -> dict[str, Any]:
        hole = d * (1.0 + one_of(0.0, rng.uniform(0.001, 0.1), rng.uniform(0.0, 1.0)))
        width = hole * rng.uniform(1.3, 6.0)
        found = {
            "thickness": hole * float(np.exp(rng.uniform(np.log(0.1), np.log(2.0)))),
            "width": width,
            "hole": hole,
            "edge_distance": hole * rng.uniform(0.65, 4.0),
            "end": one_of("round", "square", "clipped"),
            "material": one_of(*metals),
        }
        if found["end"] == "clipped":
            found["clip"] = width * rng.uniform(0.05, 0.45)
        return found

    def ear() -> dict[str, Any]:
        found = plate()
        found["grip_length"] = found["width"] * rng.uniform(1.0, 4.0)
        if rng.random() < 0.3:
            key = one_of("hole_slot", "hole_offset", "flare_depth")
            size = found["thickness"] if key == "flare_depth" else found["hole"]
            found[key] = size * rng.uniform(0.0, 0.5)
        return found

    shank = plate()
    shank["length"] = shank["width"] * rng.uniform(1.0, 2.0)
    pin = {"diameter": d, "ends": one_of("free", "headed", "held")}
    pin |= one_of({"rigid": True}, {"material": one_of(*metals)}, {"material": one_of(*metals)})
    pull: dict[str, Any] = {"angle": one_of(0.0, rng.uniform(-180.0, 180.0))}
    if rng.random() > TO_THE_END:
        pull["stop_displacement"] = d * float(np.exp(rng.uniform(np.log(0.005), np.log(0.06))))
    if rng.random() < 0.3:
        stop = pull.get("stop_displacement", 0.05 * d)
        first = {"displacement": stop * rng.uniform(0.2, 0.9)}
        pull["leg"] = [first, {"release": True}, {"load": rng.uniform(1.0, 1e3) * d * d / 16.0}]
    return {
        "title": "drawn",
        "ear": [ear()] if rng.random() < 0.3 else [ear(), ear()] if rng.random() < 0.2 else ear(),
        "pin": pin,
        "shank": shank,
        "fit": {"gap": d * rng.uniform(0.0, 0.5), "friction": one_of(0.0, rng.uniform(0.0, 0.8))},
        "pull": pull,
    }
