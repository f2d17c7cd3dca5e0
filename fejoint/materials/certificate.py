"""A metal by what a mill certificate prints: Rp0.2, Rm, elongation after fracture, perhaps Z.

A certificate's elongation holds the neck: A = Ag + b sqrt(S0)/L0 (Barba 1880, from memory), S0 the
test piece's section and L0 its gauge. Two gauges tell Ag and b; with one, b is taken.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from fejoint.errors import BadInput, Fault
from fejoint.inputs.fields import Field

PROPORTIONAL = 5.65
"""L0 over sqrt(S0) of A5 (ISO 6892-1, written A alone there)."""
FLAT: Mapping[str, tuple[float, float]] = {"a50": (50.0, 12.5), "a80": (80.0, 20.0)}
"""Gauge and width of the flat test pieces, mm (ISO 6892-1 Annex B, types 1 and 2, from memory)."""
NECK, NECK_BAND = 0.5, (0.3, 0.8)
"""b where one gauge is printed, and its range (common practice, no source)."""
LEAST = 0.3
"""Least share of the elongation that is uniform."""
LOCAL, LOCAL_BAND = 0.5, (0.2, 0.9)
"""Local strain that the neck adds to the uniform strain up to fracture, where Z is not printed, and
its range (common practice, no source; the library's metals with a Z have 0.3 to 0.9)."""
OWN_LOT = 0.03
"""Standard deviation of the strength within the lot that a certificate speaks of (common practice,
no source)."""

FIELDS: dict[str, Field] = {
    "a5": Field("number", '"45 %"', 0.001, 1.5, note="certificate: elongation A (A5)"),
    "a50": Field("number", '"48 %"', 0.001, 1.5, note="certificate: elongation A50"),
    "a80": Field("number", '"42 %"', 0.001, 1.5, note="certificate: elongation A80"),
    "thickness": Field(
        "length", '"2 mm"', 0.05, 200.0, note="of the certificate's strip, with a50 or a80"
    ),
    "reduction_of_area": Field("number", '"65 %"', 0.01, 0.95, note="certificate: Z"),
}
"""Keys of a [material."name"] table that only a certificate has."""
ELONGATIONS = ("a5", "a50", "a80")


def neck_shares(law: Mapping[str, Any]) -> dict[str, float]:
    """Return sqrt(S0)/L0 of every elongation printed, by its key.

    Raises
    ------
    ValueError
        If a flat test piece's thickness is not given.
    """
    found = {}
    for key in ELONGATIONS:
        if key not in law:
            continue
        if key == "a5":
            found[key] = 1.0 / PROPORTIONAL
            continue
        if "thickness" not in law:
            message = f'{key} needs the strip\'s thickness: write thickness = "2 mm"'
            raise ValueError(message)
        gauge, width = FLAT[key]
        found[key] = math.sqrt(law["thickness"] * width) / gauge
    return found


def uniform_strain(law: Mapping[str, Any]) -> tuple[float, tuple[float, float], str]:
    """Return the uniform strain Ag, its range, and how it was found.

    Raises
    ------
    ValueError
        If no elongation is printed, or a thickness is missing.
    """
    shares = neck_shares(law)
    if not shares:
        message = "a certificate needs an elongation: a5, a50 or a80"
        raise ValueError(message)
    least = LEAST * min(law[key] for key in shares)
    names = " and ".join(key.upper() for key in shares)
    if len(set(shares.values())) > 1:
        x, a = (np.array([source[key] for key in shares]) for source in (shares, law))
        neck = float(np.polyfit(x, a, 1)[0])
        if NECK_BAND[0] * 0.5 <= neck <= 2.0 * NECK_BAND[1]:
            taken = max(float(np.mean(a - neck * x)), least)
            return taken, (0.9 * taken, 1.1 * taken), f"from {names} by Barba's law"
    key = min(shares, key=lambda k: shares[k])
    low, taken, high = (
        max(law[key] - neck * shares[key], least) for neck in (NECK_BAND[1], NECK, NECK_BAND[0])
    )
    return taken, (low, high), f"{key.upper()} less the neck's part, {NECK:g} sqrt(S0)/L0"


def fracture_strain(law: Mapping[str, Any], uniform: float) -> tuple[float, tuple[float, float]]:
    """Return the local fracture strain ln(A0/Af) and its range: from Z, or from the neck's usual.

    Z of a sheet's test piece is hard to measure: 0.05 either way.
    """
    if "reduction_of_area" in law:
        z = law["reduction_of_area"]
        low, middle, high = (-math.log1p(-min(max(z + d, 0.005), 0.97)) for d in (-0.05, 0.0, 0.05))
        return max(middle, math.log1p(uniform) * 1.05), (min(low, middle), high)
    start = math.log1p(uniform)
    return start + LOCAL, (start + LOCAL_BAND[0], start + LOCAL_BAND[1])


def tensile(law: Mapping[str, Any], where: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the tensile law of a certificate, and what else a material's table takes from it.

    Parameters
    ----------
    law : mapping
        Keys of the law "certificate": rp02 and rm (MPa), elongations, thickness (mm), Z, shape.
    where : str
        The table's name in an error.

    Raises
    ------
    BadInput
        If the certificate's numbers tell no uniform strain, or Rm does not exceed Rp0.2.
    """
    if law["rm"] <= law["rp02"]:
        mend = "take both from one line of the certificate"
        raise BadInput(Fault(f"{where}.rm", f"{law['rm']:g} MPa", "must exceed rp02", mend))
    try:
        uniform, (low, high), how = uniform_strain(law)
    except ValueError as error:
        raise BadInput(Fault(where, "certificate", "tells no stretch", str(error))) from error
    fracture, band = fracture_strain(law, uniform)
    from_z = "from Z" if "reduction_of_area" in law else "not printed: the uniform strain and 0.5"
    said = (
        f"uniform strain taken as {100 * uniform:.1f} % ({100 * low:.1f} to {100 * high:.1f} %): "
        f"{how}",
        f"local fracture strain taken as {fracture:.2f} ({band[0]:.2f} to {band[1]:.2f}), {from_z}",
    )
    made = {"law": "tensile", "rp02": law["rp02"], "rm": law["rm"], "uniform_strain": uniform}
    made |= {"shape": law["shape"]} if "shape" in law else {}
    more = {
        "fracture_strain": fracture, "fracture_band": list(band), "strength_band": OWN_LOT,
        "source": "mill certificate, as given in the case", "assumptions": said,
    }  # fmt: skip
    return made, more
