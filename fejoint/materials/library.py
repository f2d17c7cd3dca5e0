"""Materials: laws and limits of the metals that small pinned joints are made of.

The library is `materials.toml`, where each entry says where its values come from. A metal known
only by its hardness, and a law written in a case, become the same `Material`.
"""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Iterable, Mapping
from importlib.resources import files
from typing import Any

import numpy as np

from fejoint.errors import BadInput, Fault, shorten
from fejoint.inputs.fields import Field, Reading
from fejoint.materials import certificate
from fejoint.materials import hardening_laws as laws
from fejoint.materials import hardness as hardness_scales
from fejoint.materials.material import Material
from fejoint.materials.names import folded as folded
from fejoint.materials.names import known, nearest_by_meaning

FRACTURE_BAND = (0.6, 1.4)
"""Band of an unqualified fracture strain, as factors (common practice, no source)."""

FIELDS: dict[str, Field] = {
    "modulus": Field("stress", '"193 GPa"', 100.0, 2e6, needed=True, note="Young's modulus"),
    "poisson": Field(
        "number", "0.3", 0.0, 0.49, note="Poisson's ratio; 0.3 if left out", default=0.3
    ),
    "density": Field(
        "density", '"7.9 g/cm3"', 0.1, 30.0, note="7.9 g/cm3 if left out", default=7.9
    ),
    "family": Field("text", '"austenitic stainless steel"', note="kind of metal", default="metal"),
    "law": Field("choice", '"tensile"', choices=tuple(laws.LAWS), note="which hardening law"),
    **laws.FIELDS,
    "fracture_strain": Field(
        "number", "1.0", 0.005, 5.0, note="local true strain at fracture, ln(A0/Af)", default=0.5
    ),
    "fracture_band": Field("numbers", "[0.8, 1.3]", 0.001, 8.0, note="its range"),
    "strength_band": Field(
        "number", '"5 %"', 0.0, 0.5, note="standard deviation of the strength", default=0.05
    ),
    "hardness_hv": Field("number", "200", 10.0, 2000.0, note="Vickers hardness"),
    "source": Field(
        "text",
        '"own tensile test"',
        note="where the values come from",
        default="as given in the case",
        lines=True,
    ),
    "assumptions": Field("texts", '["..."]', note="what was taken for granted", default=()),
}
"""The keys of a [material."name"] table in a case."""


def names() -> tuple[str, ...]:
    """Return the names of the library's materials."""
    return tuple(_library())


def entry(name: str, field: str = "material") -> Mapping[str, Any]:
    """Return a library entry as it stands in `materials.toml`.

    Raises
    ------
    BadInput
        If no entry has this name; the nearest names are suggested.
    """
    return _library()[known_name(name, field)]


def find(
    name: str,
    *,
    diameter: float | None = None,
    field: str = "material",
    also: Iterable[str] = (),
) -> Material:
    """Return a material of the library.

    Parameters
    ----------
    name : str
        As `names` lists it, or a designation such as "1.4404" or "AISI 316L"; the case of letters
        does not matter.
    diameter : float, optional
        Diameter of the wire in mm, for materials whose strength depends on it.
    field : str
        What to call the field in an error.
    also : iterable of str
        Further names to suggest when this one is unknown.

    Raises
    ------
    BadInput
        If the name is unknown, or a wire has no diameter or one outside its table.
    """
    own = known_name(name, field, also)
    raw = dict(_library()[own])
    if "hardness" in raw:
        return from_hardness(raw["hardness"], name=own, entry=raw, field=field)
    assumptions = list(raw.get("assumptions", []))
    if "rm_by_diameter" in raw:
        raw["rm"], said = _wire_strength(own, raw, diameter, field)
        raw["rp02"] = raw["yield_ratio"] * raw["rm"]
        assumptions.append(said)
    return _made(own, raw, tuple(assumptions))


def metal(
    given: str | Mapping[str, Any] | Material,
    name: str = "own metal",
    *,
    diameter: float | None = None,
    field: str = "material",
) -> Material:
    """Return the metal of a name, of a hardness, or of values.

    Parameters
    ----------
    given : str or mapping
        A name of the library ("316 strip, annealed"), a hardness for carbon or low-alloy steel
        ("48 HRC"), or the keys of a case's [material."..."] table: tensile values ("modulus",
        "rp02", "rm", "uniform_strain"), or a table of plastic "strain" and true "stress".
    name : str
        What to call a metal of values.
    diameter : float, optional
        Of the wire in mm, for a metal whose strength depends on it.
    field : str
        What to call it in an error.

    Returns
    -------
    Material

    Raises
    ------
    BadInput
        If the library has no such name, the hardness does not convert, or a value is at fault.

    Examples
    --------
    >>> round(metal("48 HRC").rm)
    1571
    >>> lot = metal({"modulus": "193 GPa", "rp02": 290, "rm": 620, "uniform_strain": "45 %"}, "lot")
    >>> round(lot.rm)
    620
    """
    what: object = given
    if isinstance(what, Material):
        return what
    if isinstance(what, Mapping):
        return custom(what, name, field if field != "material" else None)
    if not isinstance(what, str):
        mend = 'write for example "316 strip, annealed" or "48 HRC"'
        allowed = "must be a metal's name, a hardness, or a table of its values"
        raise BadInput(Fault(field, shorten(repr(given)), allowed, mend))
    if hardness_scales.is_hardness(what):
        return from_hardness(what, field=field)
    return find(what, diameter=diameter, field=field)


def known_name(name: Any, field: str, also: Iterable[str] = ()) -> str:
    """Return the library's spelling of a name; `find` says what is raised."""
    library = _library()
    found = known(name, library) if isinstance(name, str) else None
    if found is not None:
        return found
    like = nearest_by_meaning(str(name), library, also)
    mend = f'did you mean "{like}"?' if like else "`fejoint materials` lists them all"
    raise BadInput(Fault(field, shorten(name) or "''", "is not a known material", mend))


def from_hardness(
    hardness: str | hardness_scales.Hardness,
    *,
    name: str | None = None,
    entry: Mapping[str, Any] | None = None,
    field: str = "hardness",
) -> Material:
    """Return a law for carbon or low-alloy steel known by its hardness alone.

    Parameters
    ----------
    hardness : str or Hardness
        For example "48 HRC".
    name : str, optional
        Name of the material; "steel at 48 HRC" if left out.
    entry : mapping, optional
        A library entry whose modulus, ductility and source go before the assumptions made here.
    field : str
        What to call the field in an error.

    Raises
    ------
    BadInput
        If it is no hardness, lies outside the table, or the metal is not carbon or low-alloy steel.
    """
    given = hardness_scales.parse(hardness, field)
    own = dict(entry or {})
    family = own.get("family", hardness_scales.STEEL)
    strength = hardness_scales.to_strength(given, family, field)
    ratio, uniform, fracture = (
        float(np.interp(strength.rm, _BY_STRENGTH[:, 0], _BY_STRENGTH[:, column]))
        for column in (1, 2, 3)
    )
    said: tuple[str, ...] = (
        f"Rm {strength.rm:.0f} MPa ({strength.low:.0f} to {strength.high:.0f}) converted from "
        f"{given} by ISO 18265 Table A.1, which holds for {hardness_scales.STEEL} only",
        f"Rp0.2/Rm taken as {ratio:.2f} (band {ratio - 0.08:.2f} to {min(ratio + 0.08, 0.97):.2f})",
        f"uniform strain taken as {100 * uniform:.1f} % (band half to double)",
    )
    if "fracture_strain" not in own:
        low, high = (fracture * factor for factor in FRACTURE_BAND)
        said += (f"local fracture strain taken as {fracture:.2f} (band {low:.2f} to {high:.2f})",)
    raw = {
        "modulus": 206000.0,
        "poisson": 0.3,
        "density": 7.85,
        "fracture_strain": round(fracture, 4),
        "source": f"strength: {strength.source}; the rest: common practice, no source",
        "strength_band": strength.scatter,
        "shape": "voce",  # Swift's has no curve above 150 HV: one family for every hardness
        **own,
        "family": family,
        "rm": strength.rm,
        "rp02": ratio * strength.rm,
        "uniform_strain": uniform,
        "hardness_hv": hardness_scales.to_hv(given, field),
    }
    return _made(name or f"steel at {given}", raw, (*own.get("assumptions", ()), *said))


def custom(table: Any, name: str = "custom", field: str | None = None) -> Material:
    """Return the material of a [material."name"] table.

    Parameters
    ----------
    table : mapping
        Keys of `FIELDS`; quantities as text with a unit, or numbers in MPa and g/cm3.
    name : str
        What to call it.
    field : str, optional
        What to call the table in an error; material.<name> if left out.

    Raises
    ------
    BadInput
        With every fault of the table.
    """
    where = field or f"material.{name}"
    reading = Reading()
    got = reading.table(where, table, FIELDS)
    law = laws.read_law(reading, where, got) if isinstance(table, Mapping) else None
    low, high = _fracture_band(reading, where, got)
    if reading.faults or law is None:
        raise BadInput(*reading.faults)
    said = tuple(got.get("assumptions", ()))
    if law["law"] == "certificate":
        law, more = certificate.tensile(law, where)
        if "fracture_strain" in got:
            more = {key: value for key, value in more.items() if not key.startswith("fracture")}
            more["assumptions"] = more["assumptions"][:1]
        else:
            low, high = more["fracture_band"]
        said = (*said, *more.pop("assumptions"))
        printed = {key: value for key, value in got.items() if key in table}
        got = more | printed
    if "fracture_strain" not in got:
        sentence = "local fracture strain not given: 0.5 taken (band 0.3 to 0.7)"
        said = said if sentence in said else (*said, sentence)
    raw = {
        **{key: field.default for key, field in FIELDS.items() if field.default is not None},
        **got,
        "fracture_band": (low, high),
    }
    try:
        return _made(name, raw, said, law)
    except ValueError as error:
        keys = ", ".join(key for key in law if key != "law")
        raise BadInput(
            Fault(where, law["law"], f"gives no hardening curve ({error})", f"change {keys}")
        ) from error


# Assumptions for steel known by hardness alone: Rm in MPa, Rp0.2/Rm, uniform strain, local fracture
# strain. The ratios follow MMPDS-01 (2003) Table 2.3.1.0(g2), quenched and tempered low-alloy
# steel: 0.80 at 862 MPa, 0.88 at 1034, 0.91 at 1241, 0.88 at 1379, 0.84 at 1517 MPa; below it
# normalised, above it fully hard steel. Those and the strains: common practice, no source.
_BY_STRENGTH = np.array(
    [
        (255.0, 0.60, 0.20, 1.10),
        (500.0, 0.62, 0.15, 0.95),
        (750.0, 0.72, 0.10, 0.85),
        (1000.0, 0.86, 0.06, 0.75),
        (1250.0, 0.89, 0.05, 0.65),
        (1500.0, 0.86, 0.04, 0.50),
        (1750.0, 0.84, 0.035, 0.40),
        (2000.0, 0.82, 0.03, 0.25),
        (2200.0, 0.80, 0.025, 0.15),
    ]
)


@functools.cache
def _library() -> dict[str, Mapping[str, Any]]:
    text = files("fejoint.materials").joinpath("materials.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def _wire_strength(
    name: str, raw: Mapping[str, Any], diameter: float | None, field: str
) -> tuple[float, str]:
    rows = raw["rm_by_diameter"]
    if diameter is None:
        raise BadInput(
            Fault(
                field,
                name,
                "is a wire whose strength depends on its diameter, so only a pin can be of it",
                "take a strip or bar material here",
            )
        )
    least = raw["above_diameter"]
    strength = next((rm for up_to, rm in rows if diameter <= up_to), None)
    if strength is None or diameter <= least:
        allowed = f"is tabulated for wire above {least:g} and up to {rows[-1][0]:g} mm"
        mend = f"the pin is {diameter:g} mm: take another diameter or another material"
        raise BadInput(Fault(field, name, allowed, mend))
    kept = raw.get("straightening", 1.0)
    lost = f", less {100 * (1 - kept):.0f} % for straightening" if kept < 1.0 else ""
    rm = kept * strength
    return rm, f"Rm {rm:.0f} MPa: the table's {strength:.0f} MPa at {diameter:g} mm{lost}"


def _made(
    name: str,
    raw: Mapping[str, Any],
    assumptions: tuple[str, ...],
    law: Mapping[str, Any] | None = None,
) -> Material:
    modulus = float(raw["modulus"])
    if law is None:
        law = {"law": "tensile"} | {key: float(raw[key]) for key in ("rp02", "rm")}
        law |= {"uniform_strain": float(raw["uniform_strain"])}
        law |= {"shape": raw["shape"]} if "shape" in raw else {}
    hardening, shape = laws.build(law, modulus)
    if law["law"] == "tensile":
        law = {**law, "shape": shape}
        points = laws.TensilePoints(law["rp02"], law["rm"], law["uniform_strain"])
    else:
        points = laws.tensile_points(hardening, modulus)
    fracture = float(raw["fracture_strain"])
    low, high = raw.get("fracture_band", [fracture * factor for factor in FRACTURE_BAND])
    return Material(
        name=name,
        modulus=modulus,
        poisson=float(raw["poisson"]),
        density=float(raw["density"]),
        hardening=hardening,
        rp02=points.rp02,
        rm=points.rm,
        uniform_strain=points.uniform_strain,
        fracture_strain=fracture,
        fracture_band=(float(low), float(high)),
        strength_band=float(raw["strength_band"]),
        shape=shape,
        hardness_hv=raw.get("hardness_hv"),
        source=raw["source"],
        assumptions=assumptions,
        family=raw.get("family", "metal"),
        law=tuple((key, tuple(v) if isinstance(v, list) else v) for key, v in law.items()),
    )


def _fracture_band(reading: Reading, where: str, got: Mapping[str, Any]) -> tuple[float, float]:
    middle = got.get("fracture_strain", FIELDS["fracture_strain"].default)
    band = got.get("fracture_band")
    if band is None:
        return FRACTURE_BAND[0] * middle, FRACTURE_BAND[1] * middle
    if len(band) != 2 or not band[0] <= middle <= band[1]:
        allowed = f"must be two numbers with the fracture strain {middle:g} between them"
        reading.fault(f"{where}.fracture_band", list(band), allowed, "write [low, high]")
        return 0.0, 0.0
    return band[0], band[1]
