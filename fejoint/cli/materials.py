"""`fejoint materials`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from fejoint.cli import console
from fejoint.cli.options import Json

if TYPE_CHECKING:
    from fejoint.materials.material import Material

_PIPE_WIDTH = 150


def materials(*name: str, diameter: str | None = None, as_json: Json = False) -> None:
    """List the materials, or show one in full.

    Parameters
    ----------
    name
        The material to show, by its name here or by a designation such as 1.4404 or "AISI 304";
        all of them if left out.
    diameter
        The diameter of a wire, for example "4 mm": the strength of spring wire depends on it.
    """
    if name:
        _show(" ".join(name), diameter, as_json=as_json)
    else:
        _list(as_json=as_json)


def _list(*, as_json: bool) -> None:
    from fejoint.materials import library

    metals = {
        name: None if "rm_by_diameter" in library.entry(name) else library.find(name)
        for name in library.names()
    }
    if as_json:
        console.say_json(
            [
                {"name": name, **library.entry(name)} if metal is None else _all_numbers(metal)
                for name, metal in metals.items()
            ],
            indent=2,
        )
        return
    rows = []
    for name, metal in metals.items():
        if metal is None:
            entry = library.entry(name)
            strengths = [rm for _, rm in entry["rm_by_diameter"]]
            kept = entry.get("straightening", 1.0)
            low, high = (f"{kept * rm:.0f}" for rm in (strengths[-1], strengths[0]))
            modulus, uniform, fracture = (
                entry[key] for key in ("modulus", "uniform_strain", "fracture_strain")
            )
            band, family = entry["fracture_band"], entry["family"]
            rp02, rm = "by diameter", f"{low} to {high}"
        else:
            modulus, uniform, fracture = metal.modulus, metal.uniform_strain, metal.fracture_strain
            band, family = metal.fracture_band, metal.family
            rp02, rm = f"{metal.rp02:.0f}", f"{metal.rm:.0f}"
        rows.append(
            (
                name,
                f"{modulus / 1000:.0f}",
                rp02,
                rm,
                f"{100 * uniform:.1f}",
                f"{fracture:.2f} ({band[0]:.2f} to {band[1]:.2f})",
                family,
            )
        )
    heads = ("material", "E GPa", "Rp0.2 MPa", "Rm MPa", "Ag %", "fracture strain", "kind")
    left = ("material", "kind")
    console.say_table(heads, rows, left=left, whole=heads[:-1], pipe_width=_PIPE_WIDTH)
    console.say("`fejoint materials NAME` shows one in full, with where its values come from.")


def _show(name: str, diameter: str | None, *, as_json: bool) -> None:
    from fejoint.inputs.fields import quantity
    from fejoint.materials import library

    wire = None if diameter is None else quantity("diameter", diameter, "length", 0.01, 1000.0)
    known = library.known_name(name, "material")
    entry = library.entry(known)
    if "rm_by_diameter" in entry and wire is None:
        if as_json:
            console.say_json({"name": known, **entry}, indent=2)
        else:
            console.say_pairs(known, [*_also(entry), *_wire_rows(entry)])
        return
    metal = library.find(known, diameter=wire)
    if as_json:
        console.say_json(_all_numbers(metal) | {"also": entry.get("also", [])}, indent=2)
    else:
        console.say_pairs(metal.name, [*_also(entry), *_metal_rows(metal)])


def _also(entry: Mapping[str, Any]) -> list[tuple[str, str]]:
    return [("also called", ", ".join(entry["also"]))] if "also" in entry else []


def _metal_rows(metal: Material) -> list[tuple[str, str]]:
    low, high = metal.fracture_band
    rows = [
        ("kind", metal.family),
        ("E, Poisson", f"{metal.modulus / 1000:.4g} GPa, {metal.poisson:g}"),
        ("density", f"{metal.density:g} g/cm3"),
        ("Rp0.2", f"{metal.rp02:.0f} MPa"),
        ("Rm", f"{metal.rm:.0f} MPa, standard deviation {100 * metal.strength_band:.0f} %"),
        ("uniform strain", f"{100 * metal.uniform_strain:.1f} % (engineering, Ag)"),
        (
            "fracture strain",
            f"{metal.fracture_strain:.2f}, {low:.2f} to {high:.2f} (local true strain, ln(A0/Af))",
        ),
        ("curve", f"{metal.shape}: {metal.hardening.name}"),
    ]
    if metal.hardness_hv is not None:
        rows.append(("hardness", f"{metal.hardness_hv:.0f} HV"))
    rows.append(("source", metal.source))
    return rows + [("assumed", said) for said in metal.assumptions]


def _wire_rows(entry: Mapping[str, Any]) -> list[tuple[str, str]]:
    kept = entry.get("straightening", 1.0)
    least = entry["above_diameter"]
    rows = [("kind", entry["family"]), ("E, Poisson", f"{entry['modulus'] / 1000:.4g} GPa, 0.3")]
    for up_to, rm in entry["rm_by_diameter"]:
        rows.append((f"{least:g} to {up_to:g} mm", f"Rm {kept * rm:.0f} MPa"))
        least = up_to
    rows += [
        ("Rp0.2", f"{entry['yield_ratio']:.2f} Rm"),
        ("uniform strain", f"{100 * entry['uniform_strain']:.1f} %"),
        ("source", entry["source"]),
    ]
    rows += [("assumed", said) for said in entry.get("assumptions", ())]
    return [*rows, ("in full", 'add --diameter "4 mm"')]


def _all_numbers(metal: Material) -> dict[str, Any]:
    """Return a metal as `custom` takes it, with what follows from its law."""
    derived = {key: getattr(metal, key) for key in ("rp02", "rm", "uniform_strain", "shape")}
    return {"name": metal.name, **metal.to_dict(), **derived}
