"""The joint's own law in a fit: its priors, its real solve, and the case that it is written to."""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from fejoint.analysis.pull import pull_axial, solve_members
from fejoint.analysis.section_cases import PullSettings
from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.joint import writer
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear
from fejoint.materials import hardening_laws as laws
from fejoint.materials import library
from fejoint.materials.material import Material
from fejoint.measured.calibration_result import LearnedLaw, Prior
from fejoint.measured.rig_compliance import Curve
from fejoint.measured.surrogate import Solve

PARTS = ("ear", "pin", "shank")


def material_of(joint: Joint, part: str) -> Material:
    """Return the material of a part.

    Raises
    ------
    BadInput
        If there is no such part, or nothing to learn of it.
    """
    if part not in PARTS:
        raise BadInput(Fault("--part", part, f"must be one of {', '.join(PARTS)}", "change it"))
    if part == "pin" and joint.pin.rigid:
        raise BadInput(Fault("--part", part, "is rigid in this case", "learn the ear's metal"))
    found: Ear | Any = joint.ears[0] if part == "ear" else getattr(joint, part)
    metal: Material = found.material
    return metal


def priors(joint: Joint, part: str = "ear") -> tuple[Prior, ...]:
    """Return what the case holds of the metal and of the friction, with bounds.

    Widths are judgements, wide enough for a strip of another heat: no source.
    """
    metal = material_of(joint, part)
    band = max(2.0 * metal.strength_band, 0.2)
    ag = min(max(metal.uniform_strain, 0.01), 1.5)
    return (
        Prior("rp02", "MPa", metal.rp02, 1.5 * band, 0.4 * metal.rp02, 2.5 * metal.rp02),
        Prior("rm", "MPa", metal.rm, band, 0.5 * metal.rm, 2.0 * metal.rm),
        Prior("uniform_strain", "", ag, 0.3, 0.3 * ag, 2.5 * ag),
        Prior("friction", "", joint.friction, 0.1, 0.0, 0.6, logarithmic=False),
    )


def with_law(joint: Joint, part: str, values: Mapping[str, float]) -> Joint:
    """Return the joint with a part's law through tensile points, and its friction.

    Raises
    ------
    ValueError
        If no hardening curve passes the points.
    """
    metal = material_of(joint, part)
    shape = metal.shape if metal.shape in ("swift", "voce") else None
    rp02, rm, ag = values["rp02"], values["rm"], values["uniform_strain"]
    hardening, shape = laws.through_tensile_points(metal.modulus, rp02, rm, ag, shape)
    law = (("law", "tensile"), ("rp02", rp02), ("rm", rm), ("uniform_strain", ag), ("shape", shape))
    new = replace(
        metal, hardening=hardening, rp02=rp02, rm=rm, uniform_strain=ag, shape=shape, law=law
    )
    friction = max(values["friction"], 0.0)
    if part == "ear":
        ears = tuple(replace(e, material=new) if e.material == metal else e for e in joint.ears)
        return replace(joint, ears=ears, friction=friction)
    if part == "pin":
        return replace(joint, pin=replace(joint.pin, material=new), friction=friction)
    return replace(joint, shank=replace(joint.shank, material=new), friction=friction)


def real_solve(
    joint: Joint, part: str, known: Sequence[Prior], reach: float, refine: float = 0.5
) -> Solve:
    """Return the solve for a fit: the joint pulled to an extension (mm).

    Parameters
    ----------
    joint : Joint
    part : str
    known : sequence of Prior
        Order and coordinates of the parameters.
    reach : float
    refine : float
    """
    settings = PullSettings(refine)

    def solve(at: Floats) -> Curve:
        values = {p.name: p.outward(float(v)) for p, v in zip(known, at, strict=True)}
        changed = with_law(joint, part, values)
        changed = replace(changed, pull=replace(changed.pull, stop_displacement=reach))
        history = pull_axial(changed, solve_members(changed, settings), settings)
        keep = np.concatenate([[True], np.diff(np.maximum.accumulate(history.extension)) > 0.0])
        load, extension = history.load[keep], history.extension[keep]
        if len(load) < 5:
            message = "the solve found no curve"
            raise ValueError(message)
        return Curve(load, extension)

    return solve


def learned_case(joint: Joint, part: str, fit: LearnedLaw, logs: Sequence[str]) -> tuple[str, str]:
    """Return the material's table alone, and the whole case with it, as TOML.

    Only what the logs identify is changed; the table says what was learned from what.
    """
    import tomlkit

    metal = material_of(joint, part)
    name = f"{metal.name.removesuffix(', learned')}, learned"
    values = fit.values()
    ids = [x for x in fit.parameters if x.identified]
    said = [
        f"{x.prior.name} {x.value:.4g} {x.prior.unit}".rstrip()
        + f" ({x.interval[0]:.4g} to {x.interval[1]:.4g}, 95 %)"
        for x in ids
        if x.prior.name != "friction"
    ]
    kept = [
        f"{x.prior.name} kept as it was: the logs do not identify it"
        for x in fit.parameters
        if not x.identified
    ]
    new = material_of(with_law(joint, part, values), part).to_dict()
    new["source"] = (
        f"learned from {len(logs)} measured pull{'s' if len(logs) > 1 else ''} "
        f"({', '.join(logs)}): {'; '.join(said)}"
    )
    new["assumptions"] = [*kept, f"fracture strain as of {metal.name}"]
    for key in ("rp02", "rm", "uniform_strain", "fracture_strain"):
        if isinstance(new.get(key), float):
            new[key] = float(f"{new[key]:.5g}")
    new.pop("hardness_hv", None)
    table = copy.deepcopy(dict(joint.case) or joint.to_dict())
    table.setdefault("material", {})[name] = new
    for each in _tables(table, part):
        for other in ("hardness", "rigid"):
            each.pop(other, None)
        each["material"] = name
    if any(x.prior.name == "friction" for x in ids):
        table.setdefault("fit", {})["friction"] = float(f"{values['friction']:.3g}")
    whole = writer.write(table)
    library.custom(new, name)
    return tomlkit.dumps({"material": {name: new}}), whole


def _tables(table: dict[str, Any], part: str) -> list[dict[str, Any]]:
    found = table[part]
    return found if isinstance(found, list) else [found]
