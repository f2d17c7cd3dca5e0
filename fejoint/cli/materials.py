"""What the command line prints of materials and hardness."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from fejoint.cli import console as terminal
from fejoint.inputs.fields import quantity
from fejoint.materials import hardness as scales
from fejoint.materials import library
from fejoint.materials.library import Material

_PIPE_WIDTH = 150


def list_materials(*, as_json: bool) -> None:
    """Print every material of the library, one a line."""
    metals = {
        name: None if "rm_by_diameter" in library.entry(name) else library.find(name)
        for name in library.names()
    }
    if as_json:
        _print_json(
            [
                {"name": name, **library.entry(name)} if metal is None else _all_numbers(metal)
                for name, metal in metals.items()
            ]
        )
        return
    table = terminal.table()
    table.add_column("material", no_wrap=True)
    for title in ("E GPa", "Rp0.2 MPa", "Rm MPa", "Ag %", "fracture strain"):
        table.add_column(title, justify="right", no_wrap=True)
    table.add_column("kind")
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
        table.add_row(
            name,
            f"{modulus / 1000:.0f}",
            rp02,
            rm,
            f"{100 * uniform:.1f}",
            f"{fracture:.2f} ({band[0]:.2f} to {band[1]:.2f})",
            family,
        )
    _print(table)
    print("`fejoint materials NAME` shows one in full, with where its values come from.")


def show_material(name: str, diameter: str | None, *, as_json: bool) -> None:
    """Print one material in full.

    Parameters
    ----------
    name : str
        Its name in the library.
    diameter : str or None
        Diameter of a wire, with its unit.
    as_json : bool
        Whether to print JSON.
    """
    wire = None if diameter is None else quantity("diameter", diameter, "length", 0.01, 1000.0)
    known = library.known_name(name, "material")
    entry = library.entry(known)
    if "rm_by_diameter" in entry and wire is None:
        if as_json:
            _print_json({"name": known, **entry})
        else:
            _print_pairs(known, _wire_rows(entry))
        return
    metal = library.find(known, diameter=wire)
    if as_json:
        _print_json(_all_numbers(metal))
    else:
        _print_pairs(metal.name, _metal_rows(metal))


def show_hardness(value: str, of: str | None, *, as_json: bool) -> None:
    """Print a hardness on every scale, and the strength of steel that has it.

    Parameters
    ----------
    value : str
        For example "48 HRC".
    of : str or None
        The library's material that it was measured on.
    as_json : bool
        Whether to print JSON.
    """
    given = scales.parse(value)
    family = scales.STEEL if of is None else library.entry(of, "of").get("family", "metal")
    estimate = scales.to_strength(given, family)
    on = {scale: scales.convert(given, scale) for scale in ("HV", "HB", "HRC")}
    if as_json:
        _print_json(
            {
                **{
                    scale: None if number is None else round(number, 1)
                    for scale, number in on.items()
                },
                "rm_MPa": round(estimate.rm),
                "rm_low_MPa": round(estimate.low),
                "rm_high_MPa": round(estimate.high),
                "scatter": estimate.scatter,
                "valid": estimate.valid,
                "holds_for": scales.STEEL,
                "source": estimate.source,
                "second_rm_MPa": None if estimate.second_rm is None else round(estimate.second_rm),
                "second_source": estimate.second_source or None,
            }
        )
        return
    rows = [
        (scale, "below the table (softer than 20 HRC)" if number is None else f"{number:.4g}")
        for scale, number in on.items()
    ]
    rows += [
        ("Rm", f"{estimate.rm:.0f} MPa, {estimate.low:.0f} to {estimate.high:.0f} MPa"),
        ("source", estimate.source),
    ]
    if estimate.second_rm is not None:
        rows += [("second table", f"{estimate.second_rm:.0f} MPa, {estimate.second_source}")]
    rows += [
        ("range", estimate.valid),
        (
            "scatter",
            f"standard deviation {100 * estimate.scatter:.0f} % (common practice, no source); of "
            "all conversions, strength is the least reliable",
        ),
        ("holds for", f"{scales.STEEL}; never for austenitic or cold-drawn metal"),
    ]
    _print_pairs(str(given), rows)


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


def _print_pairs(title: str, rows: Sequence[tuple[str, str]]) -> None:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, show_header=False)
    table.add_column(no_wrap=True, style="dim")
    table.add_column(overflow="fold")
    for key, value in rows:
        table.add_row(Text(key), Text(value))
    _print(Text(title, style="bold"), table)


def _print(*items: Any) -> None:
    """Print for a terminal, or wide and plain into a pipe; no line ends in spaces."""
    from rich.console import Console

    console = Console(highlight=False)
    if not console.is_terminal:
        console = Console(highlight=False, width=_PIPE_WIDTH)
    with console.capture() as captured:
        for item in items:
            console.print(item)
    print("\n".join(line.rstrip() for line in captured.get().splitlines()))


def _print_json(data: Any) -> None:
    print(json.dumps(data, indent=2, ensure_ascii=False))
