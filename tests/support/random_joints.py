"""Random valid joints: geometry, metals, fit, friction, angle and path across what is allowed."""

from __future__ import annotations

from typing import Any

import numpy as np

import fejoint
from fejoint.errors import BadInput
from fejoint.joint.model import Joint
from fejoint.materials import library

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
    metals = library.names()

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
    case = {
        "title": "drawn",
        "ear": [ear()] if rng.random() < 0.3 else [ear(), ear()] if rng.random() < 0.2 else ear(),
        "pin": pin,
        "shank": shank,
        "fit": {"gap": d * rng.uniform(0.0, 0.5), "friction": one_of(0.0, rng.uniform(0.0, 0.8))},
        "pull": pull,
    }
    _vary(case, rng)
    return case


def _vary(case: dict[str, Any], rng: np.random.Generator) -> None:
    """Change a few joints in what is rarer: unequal gaps, own laws, hardness, how it is pulled."""
    d, pull = case["pin"]["diameter"], case["pull"]
    if len(case["ear"]) == 2 and isinstance(case["ear"], list) and rng.random() < 0.5:
        case["fit"]["gap"] = [d * rng.uniform(0.0, 0.5) for _ in range(2)]
    if rng.random() < 0.3:
        name = f"drawn {rng.integers(1000)}"
        case["material"] = {name: _own_metal(rng)}
        plate = case["shank"] if rng.random() < 0.5 else case["ear"]
        for part in plate if isinstance(plate, list) else [plate]:
            part["material"] = name
    if "material" in case["pin"] and rng.random() < 0.3:
        del case["pin"]["material"]
        case["pin"]["hardness"] = f"{rng.uniform(90.0, 690.0):.0f} HV"
    if rng.random() < 0.1:
        pull["stop_load"] = d * d * float(np.exp(rng.uniform(np.log(1.0), np.log(500.0))))
    pull["ductility"] = bool(rng.random() > 0.1)
    pull["large_strain"] = bool(rng.random() > 0.1)


def _own_metal(rng: np.random.Generator) -> dict[str, Any]:
    """Return a metal that is in no library, by any of the hardening laws."""
    low = float(np.exp(rng.uniform(np.log(80.0), np.log(1600.0))))
    strain = np.concatenate([[0.0], np.cumsum(rng.uniform(0.002, 0.2, 5))])
    stress = low * (1.0 + np.concatenate([[0.0], np.cumsum(rng.uniform(0.01, 0.2, 5))]))
    laws: tuple[dict[str, Any], ...] = (
        {"law": "linear", "yield": low, "slope": low * rng.uniform(0.0, 2.0)},
        {
            "law": "swift",
            "yield": low,
            "strain0": rng.uniform(0.002, 0.1),
            "exponent": rng.uniform(0.03, 0.5),
        },
        {
            "law": "voce",
            "yield": low,
            "rise": low * rng.uniform(0.0, 1.5),
            "rate": rng.uniform(2, 40),
        },
        {"law": "ramberg-osgood", "rp02": low, "exponent": rng.uniform(4.0, 40.0)},
        {"law": "table", "strain": strain.tolist(), "stress": stress.tolist()},
    )
    own = laws[rng.integers(len(laws))]
    return own | {
        "modulus": rng.uniform(4.5e4, 2.2e5),
        "poisson": rng.uniform(0.25, 0.36),
        "fracture_strain": float(np.exp(rng.uniform(np.log(0.08), np.log(2.0)))),
    }
