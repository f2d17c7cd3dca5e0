"""Case tables to the parts of a joint: every fault of a case in one report."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, cast

from fejoint.errors import BadInput
from fejoint.inputs.fields import Field, Reading
from fejoint.joint import outline, rules, scatter, schema
from fejoint.joint.parts import Ear, Leg, LegKind, Pin, Pull, Shank
from fejoint.materials import library
from fejoint.materials.hardness import STEEL
from fejoint.materials.material import Material

_MOST_LEGS = 100

# Stands in for a rigid pin's material (stiffer and stronger than anything that is real) and for
# one that could not be read.
RIGID = library.custom(
    {
        "modulus": 2e6,
        "law": "linear",
        "yield": 20000.0,
        "fracture_strain": 5.0,
        "fracture_band": [5.0, 5.0],
        "strength_band": 0.0,
        "source": "the case says that the pin is rigid",
    },
    "rigid",
)


def parts_of(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a case table says of a joint, by the names of the joint's attributes.

    Raises
    ------
    BadInput
        With every fault of the table.
    """
    return _Case(table).parts()


class _Case:
    """A case table while it is read: the faults and the assumptions met so far."""

    def __init__(self, table: Mapping[str, Any]) -> None:
        self.table = table
        self.reading = Reading()
        self.said: list[str] = []
        self.metals: dict[str, Material | None] = {}

    def parts(self) -> dict[str, Any]:
        """Read everything, then refuse or return."""
        top = self._top()
        self._own_materials()
        pin = self._pin()
        ears = self._ears()
        shank = self._shank()
        gaps, friction = self._fit(len(ears))
        pull = self._pull()
        scatter.read(self.table.get("scatter", {}), schema.PARTS, self.reading)
        self.reading.faults += rules.relations(ears, pin, shank, gaps)
        if self.reading.faults:
            raise BadInput(*self.reading.faults)
        return dict(
            title=top.get("title", ""),
            note=top.get("note", ""),
            ears=ears,
            pin=pin,
            shank=shank,
            gaps=gaps,
            friction=friction,
            pull=pull,
            assumptions=tuple(dict.fromkeys([*top.get("assumptions", ()), *self.said])),
        )

    def _top(self) -> dict[str, Any]:
        known = (*schema.TOP, *schema.PARTS, "material", "scatter")
        strange = {key: value for key, value in self.table.items() if key not in known}
        for name, keys in schema.PARTS.items():
            for key in keys:
                if key in strange:
                    value = strange.pop(key)
                    self.reading.fault(key, value, "stands in no table", f"put it below [{name}]")
        self.reading.unknown("", strange, known)
        for key in ("ear", "pin", "shank"):
            if key not in self.table:
                self.reading.fault(key, "", "is missing", f"write [{key}] and its keys below it")
        own = {key: value for key, value in self.table.items() if key in schema.TOP}
        return self.reading.table("", own, schema.TOP)

    def _own_materials(self) -> None:
        tables = self.table.get("material", {})
        if not isinstance(tables, Mapping):
            mend = 'write [material."my metal"] and its keys below it'
            self.reading.fault("material", tables, "must be a table of materials", mend)
            return
        for name, table in tables.items():
            try:
                self.metals[name] = library.custom(table, name)
            except BadInput as bad:
                self.metals[name] = None
                self.reading.faults += bad.faults

    def _part(self, where: str, fields: Mapping[str, Field], table: object) -> dict[str, Any]:
        """Read a part's table; needed numbers that are missing become nan."""
        if isinstance(table, Mapping) and "outline" in table:
            return self._drawn(where, fields, table)
        got = self.reading.table(where, table, fields) if table is not None else {}
        if "outline_scale" in got:
            allowed = "belongs to an outline, and there is none"
            scale = got.pop("outline_scale")
            self.reading.fault(f"{where}.outline_scale", scale, allowed, "take it out")
        missing = {key: math.nan for key, field in fields.items() if field.needed}
        return missing | got

    def _drawn(
        self, where: str, fields: Mapping[str, Field], table: Mapping[str, Any]
    ) -> dict[str, Any]:
        """Read the table of a part whose outline was drawn."""
        length = "length" if where == "shank" else "grip_length"
        own = {key: table[key] for key in table if key not in ("outline", *schema.OF_OUTLINE)}
        for key in schema.OF_OUTLINE:
            if key in table and key in fields:
                allowed = "cannot stand beside an outline, which says it"
                self.reading.fault(f"{where}.{key}", table[key], allowed, "take it out")
        missing = {key: math.nan for key, field in fields.items() if field.needed}
        try:
            shape = outline.read(table["outline"], f"{where}.outline")
            scale = fields["outline_scale"]
            size = self.reading.quantity(
                f"{where}.outline_scale", own.pop("outline_scale", 1.0), "number", scale.low,
                scale.high,
            )  # fmt: skip
            shape = shape.scaled(size) if math.isfinite(size) else shape
            if "edge_distance" in own:
                field = fields["edge_distance"]
                end = self.reading.quantity(
                    f"{where}.edge_distance", own.pop("edge_distance"), "length", field.low,
                    field.high,
                )  # fmt: skip
                if math.isfinite(end):
                    shape = shape.ending_at(end, f"{where}.edge_distance")
        except BadInput as bad:
            self.reading.faults += bad.faults
            wanted = {k: v for k, v in fields.items() if not v.needed or k in own}
            return missing | self.reading.table(where, own, wanted)
        measured = dict(shape.measures)
        measured[length] = measured.pop("grip_length")
        told = {k: v for k, v in measured.items() if k in fields}
        wanted = {k: v for k, v in fields.items() if k not in told}
        got = self.reading.table(where, own, wanted)
        hole, slot = got.get("hole", math.nan), got.get("hole_slot", 0.0)
        if math.isfinite(hole) and math.isfinite(slot):
            self.reading.faults += shape.faults(f"{where}.outline", hole, slot)
        return missing | told | got | {"outline": shape}

    def _metal(self, where: str, got: Mapping[str, Any], diameter: float | None = None) -> Material:
        name, hardness = got.get("material"), got.get("hardness")
        if "material" not in got and "hardness" not in got:
            or_rigid = ", or rigid = true" if where == "pin" else ""
            self.reading.fault(
                f"{where}.material",
                "",
                "is missing",
                f'write material = "..." (see `fejoint materials`), or hardness = "48 HRC" for '
                f"{STEEL}{or_rigid}",
            )
        if name is None and hardness is None:
            return RIGID
        own = self._own(name)
        if own is not None and hardness is None:
            return self._in_place_of_the_library_s(self.metals[own], diameter) or RIGID
        try:
            if hardness is None:
                return self._library(where, name, diameter)
            entry = self._entry(where, name) if "material" in got else None
            title = f"{name} at {hardness}" if entry else None
            return library.from_hardness(
                hardness, name=title, entry=entry, field=f"{where}.hardness"
            )
        except BadInput as bad:
            self.reading.faults += bad.faults
            return RIGID

    def _own(self, name: object) -> str | None:
        """Return the name of the case's own metal that is meant: letter case does not matter."""
        if name in self.metals or not isinstance(name, str):
            return name if isinstance(name, str) else None
        meant = library.folded(name)
        return next((own for own in self.metals if library.folded(own) == meant), None)

    def _in_place_of_the_library_s(
        self, metal: Material | None, diameter: float | None
    ) -> Material | None:
        """Say so where the library has another metal of the same name."""
        if metal is not None and library.folded(metal.name) in map(library.folded, library.names()):
            try:
                same = library.find(metal.name, diameter=diameter) == metal
            except BadInput:  # a wire of another diameter
                same = False
            if not same:
                self.said.append(
                    f'{schema.OWN_METAL} "{metal.name}" is the case\'s own, with its own values: '
                    "the library's metal of that name is not used"
                )
        return metal

    def _library(self, where: str, name: Any, diameter: float | None) -> Material:
        field = f"{where}.material"
        if diameter is not None and math.isnan(diameter):  # a fault already: only the name is left
            library.known_name(name, field)
            return RIGID
        found = library.find(name, diameter=diameter, field=field, also=self.metals)
        if library.folded(found.name) != library.folded(str(name)):
            self.said.append(f'{where}: "{name}" is taken as "{found.name}"')
        return found

    def _entry(self, where: str, name: Any) -> Mapping[str, Any]:
        """Return what a named metal brings to a law by hardness; its family decides if it may."""
        own = self._own(name)
        metal = self.metals[own] if own is not None else None
        raw = metal.to_dict() if metal else library.entry(name, f"{where}.material")
        kept = ("family", "modulus", "poisson", "density", "fracture_strain", "fracture_band")
        return {key: raw[key] for key in kept if key in raw}

    def _pin(self) -> Pin:
        got = self._part("pin", schema.PIN, self.table.get("pin"))
        rigid = got.get("rigid") is True
        if rigid:
            for key in ("material", "hardness"):
                if key in got:
                    mend = f"take out {key}, or rigid"
                    self.reading.fault(f"pin.{key}", got[key], "cannot go with rigid = true", mend)
        no_table = not isinstance(self.table.get("pin"), Mapping)
        metal = RIGID if rigid or no_table else self._metal("pin", got, got["diameter"])
        return Pin(material=metal, **_own_keys(got))

    def _ears(self) -> tuple[Ear, ...]:
        tables = self.table.get("ear")
        if not isinstance(tables, Sequence) or isinstance(tables, str):
            got = self._part("ear", schema.EAR, tables)
            ear = self._ear("ear", got, isinstance(tables, Mapping))
            count: int = got.get("count") or schema.EAR["count"].default
            return (ear,) * count
        if not 1 <= len(tables) <= 2:
            mend = "write [ear] once, or [[ear]] once or twice"
            self.reading.fault("ear", f"{len(tables)} tables", "must be one or two ears", mend)
        ears = []
        for number, table in enumerate(tables[:2], start=1):
            where = f"ear.{number}"
            got = self._part(where, schema.EAR, table)
            if "count" in got:
                mend = "take it out, or write one [ear]"
                self.reading.fault(f"{where}.count", got["count"], "belongs to one [ear]", mend)
            ears.append(self._ear(where, got, isinstance(table, Mapping)))
        return tuple(ears)

    def _ear(self, where: str, got: Mapping[str, Any], there: bool) -> Ear:
        return Ear(material=self._metal(where, got) if there else RIGID, **_own_keys(got))

    def _shank(self) -> Shank:
        table = self.table.get("shank")
        got = self._part("shank", schema.SHANK, table)
        for key, holes in schema.SHANK_HOLES.items():
            if key not in got:
                got[key] = holes * got["hole"]
                self.said.append(
                    f"shank: {key.replace('_', ' ')} not given, {holes:g} hole diameters taken "
                    f"({got[key]:.4g} mm)"
                )
        metal = self._metal("shank", got) if isinstance(table, Mapping) else RIGID
        return Shank(material=metal, **_own_keys(got))

    def _fit(self, ears: int) -> tuple[tuple[float, ...], float]:
        table = self.table.get("fit", {})
        gap = table.get("gap", 0.0) if isinstance(table, Mapping) else 0.0
        if isinstance(gap, (list, tuple)):
            wanted = schema.FIT["gap"]
            gaps = tuple(
                self.reading.quantity(f"fit.gap.{place}", each, "length", wanted.low, wanted.high)
                for place, each in enumerate(gap[:10], start=1)
            )
            if len(gap) != ears:
                allowed = f"must be one gap, or a list of one for each ear ({ears})"
                self.reading.fault("fit.gap", gap, allowed, "write one gap for all")
                gaps = (math.nan,) * ears
            table = {key: value for key, value in table.items() if key != "gap"}
            got = self.reading.table("fit", table, schema.FIT)
        else:
            got = self.reading.table("fit", table, schema.FIT)
            gaps = (got.get("gap", schema.FIT["gap"].default),) * ears
            if "gap" not in got:
                self.said.append("fit: gap not given, none taken")
        usual: float = schema.FIT["friction"].default
        if "friction" not in got:
            self.said.append(
                f"fit: friction not given, {usual:g} taken (dry metal, common practice)"
            )
        return gaps, got.get("friction", usual)

    def _pull(self) -> Pull:
        table = self.table.get("pull", {})
        keys = schema.PULL | {"leg": schema.LEG_LIST}
        legs = table.get("leg") if isinstance(table, Mapping) else None
        if isinstance(table, Mapping):
            table = {key: value for key, value in table.items() if key != "leg"}
        got = self.reading.table("pull", table, keys)
        return Pull(legs=self._legs(legs) if legs is not None else (), **_own_keys(got))

    def _legs(self, tables: Any) -> tuple[Leg, ...]:
        if not isinstance(tables, (list, tuple)) or len(tables) > _MOST_LEGS:
            allowed = f"must be at most {_MOST_LEGS} [[pull.leg]] tables"
            self.reading.fault("pull.leg", tables, allowed, 'write [[pull.leg]] load = "200 kgf"')
            return ()
        legs = []
        for number, table in enumerate(tables, start=1):
            where = f"pull.leg.{number}"
            got = self.reading.table(where, table, schema.LEG)
            if len(got) != 1 or got.get("release") is False:
                allowed = f"must hold exactly one of {', '.join(schema.LEGS)}"
                self.reading.fault(where, "", allowed, 'write for example load = "200 kgf"')
                continue
            kind, target = next(iter(got.items()))
            legs.append(Leg(cast(LegKind, kind), 0.0 if kind == "release" else target))
        return tuple(legs)


def _own_keys(got: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a part takes as it is read; what a part does not say it leaves to its default."""
    apart = ("count", "material", "hardness")
    return {key: value for key, value in got.items() if key not in apart}
