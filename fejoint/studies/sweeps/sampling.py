"""Joints drawn from a case's scatter by Latin hypercube."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from fejoint.errors import BadInput, Fault
from fejoint.inputs.fields import Reading
from fejoint.joint import model, scatter, schema
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear, Pin, Shank
from fejoint.joint.scatter import Spread
from fejoint.materials import hardness
from fejoint.materials import library as materials
from fejoint.materials.material import Material
from fejoint.studies.sweeps.plan import Row, joint_with, told
from fejoint.studies.sweeps.variation import rounded

CUT = 3.0
"""Deviations beyond which nothing is drawn."""
_STRESSES = ("yield", "slope", "rise", "rp02", "rm", "stress")


@dataclass(frozen=True)
class Draws:
    """Joints drawn from the scatter of one.

    Attributes
    ----------
    base : Joint
    spreads : tuple of Spread
    count : int
    seed : int
    columns : tuple of str
    """

    base: Joint
    spreads: tuple[Spread, ...]
    count: int
    seed: int = 1
    columns: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        if not 1 <= self.count <= 1_000_000:
            fault = Fault("--draws", str(self.count), "must be from 1 to 1,000,000", "take 60")
            raise BadInput(fault)
        if not self.spreads:
            mend = 'write [scatter] and below it "ear.hole" = { within = "0.05 mm" }'
            raise BadInput(Fault("scatter", "", "is missing, and no metal scatters", mend))
        object.__setattr__(self, "columns", tuple(s.path for s in self.spreads))
        for spread in self.spreads:
            self.drawn(spread, 0.5)

    @functools.cached_property
    def _table(self) -> dict[str, Any]:
        table = self.base.case or self.base.to_dict()
        return {key: value for key, value in table.items() if key != "scatter"}

    @functools.cached_property
    def _shares(self) -> Any:
        """Points of the unit cube, (count, spreads)."""
        from scipy.stats import qmc

        return qmc.LatinHypercube(len(self.spreads), seed=self.seed).random(self.count)

    def __len__(self) -> int:
        """Return the number of joints."""
        return self.count

    def drawn(self, spread: Spread, share: float) -> float | str:
        """Return the value below which a share of all values lies."""
        if spread.law == "among":
            return spread.words[min(int(share * len(spread.words)), len(spread.words) - 1)]
        if spread.law == "between":
            low, high = spread.ends
            return rounded(low + share * (high - low))
        middle = self._middle(spread)
        size = spread.size * middle if spread.relative else spread.size
        if spread.law == "within":
            return rounded(middle + (2.0 * share - 1.0) * size)
        from scipy.stats import truncnorm

        return rounded(middle + size * float(truncnorm.ppf(share, -CUT, CUT)))

    def _middle(self, spread: Spread) -> float:
        if spread.key == "strength":
            return 1.0
        part = self._part(spread)
        if spread.key == "fracture_strain":
            return float(part.material.fracture_strain)
        if spread.key == "hardness":
            return self._hardness(spread)
        if spread.part == "fit":
            return self.base.friction if spread.key == "friction" else self.base.gaps[0]
        return float(getattr(part, spread.key))

    def _part(self, spread: Spread) -> Any:
        """Return the ear, pin or shank that a spread speaks of (the first of two equal ears)."""
        name, _, number = spread.part.partition(".")
        if name != "ear":
            return getattr(self.base, name, None)
        place = int(number) - 1 if number.isdigit() else 0
        if place >= len(self.base.ears):
            fault = Fault(spread.path, "", "names no ear of this joint", "write ear.1 or ear.2")
            raise BadInput(fault)
        return self.base.ears[place]

    def _hardness(self, spread: Spread) -> float:
        table = self._table.get(spread.part, {})
        given = table.get("hardness") if isinstance(table, Mapping) else None
        parsed = hardness.parse(given) if given is not None else None
        if parsed is None or (spread.unit and parsed.scale != spread.unit):
            allowed = "scatters only where the case gives the hardness, on the same scale"
            raise BadInput(Fault(f"scatter.{spread.path}", "", allowed, "scatter the strength"))
        return parsed.value

    def row(self, number: int) -> Row:
        """Return one joint."""
        inputs = {
            s.path: self.drawn(s, float(u))
            for s, u in zip(self.spreads, self._shares[number], strict=True)
        }
        changes: list[tuple[str, Any]] = []
        for s in self.spreads:
            if s.key == "hardness":
                scale = s.unit or hardness.parse(self._table[s.part]["hardness"]).scale
                changes.append((s.path, f"{inputs[s.path]:.10g} {scale}"))
            elif not s.of_metal:
                changes.append((s.path, inputs[s.path]))
        try:
            joint = joint_with(self._table, changes)
            table = _with_metals(joint, {s: inputs[s.path] for s in self.spreads if s.of_metal})
            return Row(number, inputs, model.read(table).to_dict())
        except BadInput as bad:
            return Row(number, inputs, None, told(bad))

    def describe(self) -> dict[str, Any]:
        """Return plain data from which the same rows come again."""
        spreads = [[s.path, s.law, s.size, s.relative, s.ends, s.words] for s in self.spreads]
        return {
            "case": self.base.to_dict(), "scatter": spreads, "count": self.count, "seed": self.seed,
        }  # fmt: skip


def spreads_of(joint: Joint, known_metals: bool = True) -> tuple[Spread, ...]:
    """Return what scatters: the case's [scatter] table, and what is known of the metals.

    Parameters
    ----------
    joint : Joint
    known_metals : bool
        Whether a metal's strength (a hardness conversion's scatter is in it), fracture strain and
        curve shape scatter by their known bands where the table does not say how.
    """
    # faults of this table were refused when the case was read
    own = scatter.read(joint.scatter, schema.PARTS, Reading())
    said = {s.path for s in own}
    metals = _known(joint) if known_metals else ()
    return (*own, *(s for s in metals if s.path not in said))


def _known(joint: Joint) -> tuple[Spread, ...]:
    parts: dict[str, Ear | Pin | Shank] = {"ear": joint.ears[0], "shank": joint.shank}
    if not joint.pin.rigid:
        parts["pin"] = joint.pin
    # a shape is drawn for all ears: one that each of their metals can have
    families = [_shapes(ear.material) for ear in joint.ears]
    shapes = tuple(s for s in families[0] if all(s in each for each in families))
    found: list[Spread] = []
    for name, part in parts.items():
        metal = part.material
        if metal.strength_band > 0.0:
            size = metal.strength_band
            found.append(Spread(f"{name}.strength", "deviation", size, relative=True))
        low, high = metal.fracture_band
        if name == "ear" and high > low:
            found.append(Spread(f"{name}.fracture_strain", "between", ends=(low, high)))
        if name == "ear" and len(shapes) > 1:
            found.append(Spread("ear.shape", "among", words=shapes))
    return tuple(found)


def _shapes(metal: Material) -> tuple[str, ...]:
    """Return the families of curves that pass through a metal's tensile points."""
    table = metal.to_dict()
    if table["law"] != "tensile":
        return ()
    fit = []
    for shape in scatter.OF_METAL["shape"].choices:
        try:
            materials.custom(table | {"shape": shape}, metal.name)
        except BadInput:
            continue
        fit.append(shape)
    return tuple(fit)


def _with_metals(joint: Joint, drawn: Mapping[Spread, Any]) -> dict[str, Any]:
    """Return the joint's case with what was drawn for its metals; every part has its own metal."""
    table = joint.to_dict()
    library = dict(table["material"])
    ears = table["ear"]
    for s, value in drawn.items():
        name, _, number = s.part.partition(".")
        if name == "ear":
            parts = [ears[int(number) - 1]] if number.isdigit() else ears
        else:
            parts = [table[name]]
        for part in parts:
            own = f"{part['material']} [{s.part}]"
            if not part["material"].endswith("]"):
                library.setdefault(own, dict(library[part["material"]]))
                part["material"] = own
        for metal in {part["material"] for part in parts}:
            library[metal] = _changed(library[metal], s.key, value)
    used = {
        part["material"] for part in (*ears, table["shank"], table["pin"]) if "material" in part
    }
    table["material"] = {name: metal for name, metal in library.items() if name in used}
    return table


def _changed(metal: Mapping[str, Any], key: str, value: Any) -> dict[str, Any]:
    changed = dict(metal)
    if key == "strength":
        for name in _STRESSES:
            if name in metal:
                given = metal[name]
                many = isinstance(given, (list, tuple))
                changed[name] = [value * x for x in given] if many else value * given
    elif key == "shape":
        changed["shape"] = value
    else:
        low, high = metal.get("fracture_band", (value, value))
        changed["fracture_strain"] = value
        changed["fracture_band"] = [min(low, value), max(high, value)]
    return changed


def as_numbers(values: Any) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Return a column as numbers; words by their order."""
    column = list(values)
    if all(isinstance(x, (int, float)) for x in column):
        return np.asarray(column, float)
    words = sorted({str(x) for x in column})
    return np.array([words.index(str(x)) for x in column], float)
