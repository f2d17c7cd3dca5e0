"""Hardening laws as they are written in a case: their keys, and the curve they give."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from fejoint.inputs.fields import Field, Reading
from fejoint.kernel.hardening import Hardening
from fejoint.materials import certificate

FIELDS: dict[str, Field] = {
    "yield": Field("stress", '"290 MPa"', 0.1, 20000.0, note="stress at which yielding begins"),
    "slope": Field("stress", '"1 GPa"', 0.0, 1e6, note="constant hardening modulus", default=0.0),
    "strain0": Field("number", "0.022", 1e-6, 100.0, note="reference strain of Swift's law"),
    "exponent": Field("number", "0.39", 1e-3, 500.0, note="exponent of the law"),
    "rise": Field("stress", '"300 MPa"', 0.0, 20000.0, note="rise to saturation of Voce's law"),
    "rate": Field("number", "12", 1e-3, 1e5, note="rate of saturation of Voce's law"),
    "rp02": Field("stress", '"290 MPa"', 0.1, 20000.0, note="0.2 % proof stress"),
    "rm": Field("stress", '"620 MPa"', 0.1, 20000.0, note="tensile strength"),
    "uniform_strain": Field(
        "number", "0.45", 0.0, 3.0, note="plastic extension at maximum force, engineering (Ag)"
    ),
    "shape": Field(
        "choice",
        '"swift"',
        choices=("swift", "voce"),
        note="family of the curve between yield and Rm",
    ),
    **certificate.FIELDS,
    "strain": Field("numbers", "[0.0, 0.1, 0.4]", 0.0, 10.0, note="plastic strain, from 0"),
    "stress": Field("stresses", "[290, 500, 800]", 0.1, 50000.0, note="true stress there"),
}

LAWS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "linear": (("yield",), ("slope",)),
    "swift": (("yield", "strain0", "exponent"), ()),
    "voce": (("yield", "rise", "rate"), ("slope",)),
    "ramberg-osgood": (("rp02", "exponent"), ()),
    "table": (("strain", "stress"), ()),
    "tensile": (("rp02", "rm", "uniform_strain"), ("shape",)),
    "certificate": (("rp02", "rm"), ("shape", *certificate.FIELDS)),
}
"""Law: the keys it needs, the keys it may have. A certificate's becomes a tensile one."""


@dataclass(frozen=True)
class TensilePoints:
    """What a tensile test of the law would read: Rp0.2 and Rm in MPa, Ag engineering."""

    rp02: float
    rm: float
    uniform_strain: float


def build(law: Mapping[str, Any], modulus: float) -> tuple[Hardening, str]:
    """Return the hardening curve of a law, and its shape in one word.

    Parameters
    ----------
    law : mapping
        "law" and the keys that `LAWS` names for it, in MPa.
    modulus : float
        Young's modulus, MPa.

    Raises
    ------
    ValueError
        If the numbers give no curve.
    """
    kind = law["law"]
    if kind == "linear":
        return Hardening.linear(law["yield"], law.get("slope", FIELDS["slope"].default)), kind
    if kind == "swift":
        return Hardening.swift(law["yield"], law["strain0"], law["exponent"]), kind
    if kind == "voce":
        slope = law.get("slope", FIELDS["slope"].default)
        return Hardening.voce(law["yield"], law["rise"], law["rate"], slope), kind
    if kind == "ramberg-osgood":
        return Hardening.ramberg_osgood(law["rp02"], law["exponent"]), kind
    if kind == "table":
        if np.any(np.diff(np.array(law["stress"])) < 0.0):
            # softening gathers in one row of elements: the answer would be the mesh's
            message = "the true stresses of a hardening table must not fall: end it at its highest"
            raise ValueError(message)
        return Hardening.table(np.array(law["strain"]), np.array(law["stress"])), kind
    return through_tensile_points(
        modulus, law["rp02"], law["rm"], law["uniform_strain"], law.get("shape")
    )


def through_tensile_points(
    modulus: float, rp02: float, rm: float, uniform_strain: float, shape: str | None = None
) -> tuple[Hardening, str]:
    """Return the curve through Rp0.2 and the Considere point, and the shape taken.

    Swift's law is tried first; metal with a high yield ratio for its uniform strain has no Swift
    curve and gets Voce's.

    Raises
    ------
    ValueError
        If neither family (or not the one asked for) passes through the points.
    """
    if shape is not None:
        return Hardening.from_tensile(modulus, rp02, rm, uniform_strain, shape), shape
    try:
        return Hardening.from_tensile(modulus, rp02, rm, uniform_strain, "swift"), "swift"
    except ValueError:
        return Hardening.from_tensile(modulus, rp02, rm, uniform_strain, "voce"), "voce"


def tensile_points(hardening: Hardening, modulus: float) -> TensilePoints:
    """Read Rp0.2, Rm and Ag off a hardening curve.

    Rm is the largest engineering stress, where the true stress falls to the hardening modulus
    (Considere 1885); Rp0.2 the engineering stress at 0.2 % plastic extension.
    """
    strain = np.concatenate([[0.0], np.geomspace(1e-5, 5.0, 4000)])
    stress, _ = hardening(strain)
    stretch = np.exp(strain + stress / modulus)
    engineering = stress / stretch
    extension = stretch - 1.0 - engineering / modulus
    peak = int(np.argmax(engineering))
    rm = float(engineering[peak])
    proof = float(np.interp(0.002, extension, engineering))
    return TensilePoints(min(proof, rm), rm, float(max(extension[peak], 0.0)))


def read_law(reading: Reading, where: str, got: Mapping[str, Any]) -> dict[str, Any] | None:
    """Pick a law's own keys out of a material's table that has been read.

    Parameters
    ----------
    reading : Reading
        Takes the faults: no law, a key that the law needs or has no use for.
    where : str
        The table's name.
    got : mapping
        Its values.

    Returns
    -------
    dict or None
        For `build`; None when the table names no law.
    """
    kind = got["law"] if "law" in got else _implied_law(got)
    if kind is None:
        if "law" not in got:
            choices = ", ".join(LAWS)
            reading.fault(f"{where}.law", "", f"is missing: one of {choices}", 'law = "tensile"')
        return None
    needed, optional = LAWS[kind]
    for key in needed:
        if key not in got:
            mend = f"write for example {key} = {FIELDS[key].example}"
            reading.fault(f"{where}.{key}", "", f'is missing: law "{kind}" needs it', mend)
    for key in FIELDS:
        if key in got and key not in needed + optional:
            mend = f"take it out; the law's keys are {', '.join(needed + optional)}"
            reading.fault(f"{where}.{key}", got[key], f'does not belong to law "{kind}"', mend)
    if kind == "ramberg-osgood" and got.get("exponent", 2.0) <= 1.0:
        allowed = "must exceed 1 in the Ramberg-Osgood law"
        reading.fault(f"{where}.exponent", got["exponent"], allowed, "usual values are 5 to 40")
    if kind == "swift" and got.get("exponent", 0.5) >= 2.0:
        allowed = "must be less than 2 in Swift's law"
        reading.fault(f"{where}.exponent", got["exponent"], allowed, "usual values: 0.05 to 0.6")
    present = [key for key in needed + optional if got.get(key) is not None]
    return {"law": kind} | {key: got[key] for key in present}


def sampled(hardening: Hardening) -> dict[str, Any]:
    """Return a curve whose law is not known as a table of points."""
    kept = np.unique([*range(0, len(hardening.strain), 4), len(hardening.strain) - 1])
    strain, stress = hardening.strain[kept], hardening.stress[kept]
    return {"law": "table", "strain": strain.tolist(), "stress": stress.tolist()}


def _implied_law(got: Mapping[str, Any]) -> str | None:
    """Return the law that a data sheet's or a certificate's numbers are of; None for others."""
    if "rp02" not in got or "rm" not in got:
        return None
    printed = any(key in got for key in certificate.FIELDS)
    return "certificate" if printed and "uniform_strain" not in got else "tensile"
