"""The joint: ears on a pin through a shank, and how it is pulled.

Plain frozen data in mm, N and degrees, valid once made.
"""

from __future__ import annotations

import dataclasses
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeAlias

from fejoint.errors import BadInput, Fault, shorten
from fejoint.inputs import toml_syntax
from fejoint.joint import drawing, edit, reader, rules, schema, writer
from fejoint.joint.parts import Ear, Fit, Pin, Pull, Shank

CaseLike: TypeAlias = "Joint | str | os.PathLike[str] | Mapping[str, Any]"
"""What every study takes a joint as: the joint, its case file, or the tables of one as a dict."""

_OF_A_MATERIAL = re.compile(r"(ear|pin|shank), .*: ")


@dataclass(frozen=True)
class Joint:
    """One or two ears on a pin through a shank, complete and within its limits.

    Attributes
    ----------
    title, note : str
        For people.
    ears : tuple of Ear
        One (single shear) or two.
    pin : Pin
    shank : Shank
    gaps : tuple of float
        Side gap between each ear and the shank, mm.
    friction : float
        Coulomb coefficient between pin and holes.
    pull : Pull
    assumptions : tuple of str
        What was taken for granted on the way from the case to this joint.
    case : mapping
        The table that it was read from; empty for a joint made in Python.

    Raises
    ------
    BadInput
        If the parts do not fit together, with every fault.
    """

    title: str
    note: str
    ears: tuple[Ear, ...]
    pin: Pin
    shank: Shank
    gaps: tuple[float, ...]
    friction: float
    pull: Pull = field(default_factory=Pull)
    assumptions: tuple[str, ...] = ()
    case: Mapping[str, Any] = field(init=False, repr=False, compare=False, default_factory=dict)
    """The table that this joint was read from; empty for a joint made in Python."""

    def __post_init__(self) -> None:
        """Refuse what is not a joint, and gather what its materials take for granted."""
        wrong = list(_wrong_kinds(self))
        if wrong:
            raise BadInput(*wrong)
        faults = [*rules.ranges(self.ears, self.pin, self.shank, self.gaps, self.friction)]
        faults += rules.pull_faults(self.pull)
        faults += rules.relations(self.ears, self.pin, self.shank, self.gaps)
        if not 1 <= len(self.ears) <= 2:
            faults.append(Fault("ear", str(len(self.ears)), "must be one or two ears", "change it"))
        if faults:
            raise BadInput(*faults)
        object.__setattr__(self, "assumptions", self._all_assumptions())

    def _all_assumptions(self) -> tuple[str, ...]:
        """Return what was assumed, with the materials' part as of the materials now in it."""
        own = [said for said in self.assumptions if not _OF_A_MATERIAL.match(said)]
        parts: list[tuple[str, Ear | Pin | Shank]] = [("ear", ear) for ear in self.ears]
        parts += [("pin", self.pin), ("shank", self.shank)]
        told = (
            f"{name}, {part.material.name}: {said}"
            for name, part in parts
            for said in part.material.assumptions
        )
        return tuple(dict.fromkeys([*own, *told]))

    @classmethod
    def of(
        cls,
        ears: Ear | Sequence[Ear],
        pin: Pin,
        shank: Shank,
        fit: Fit,
        pull: Pull | None = None,
        *,
        title: str = "",
        note: str = "",
    ) -> Joint:
        """Build a joint of its parts.

        Parameters
        ----------
        ears : Ear or sequence of Ear
            One given alone stands for two alike, as in a case; a list of one is single shear.
        pin : Pin
        shank : Shank
        fit : Fit
        pull : Pull, optional
            Straight and to the end, if left out.
        title, note : str
            For people.

        Returns
        -------
        Joint

        Raises
        ------
        BadInput
            If the parts do not fit together, with every fault.

        Examples
        --------
        >>> joint = Joint.of(
        ...     Ear("2 mm", "14 mm", "4.1 mm", "7 mm", "25 mm", "316 strip, annealed"),
        ...     Pin("4 mm", "48 HRC"),
        ...     Shank("6 mm", "4.1 mm", "12 mm", "6 mm", "20 mm", "A4-70 bolt shank"),
        ...     Fit("0.1 mm", friction=0.15),
        ... )
        >>> len(joint.ears), joint.grip
        (2, 10.2)
        """
        own = tuple(ears) if isinstance(ears, Sequence) else (ears, ears)
        given: object = fit
        if not isinstance(given, Fit):
            allowed, mend = "must be made by fejoint.Fit", "write fejoint.Fit(0.1, friction=0.15)"
            raise BadInput(Fault("fit", shorten(repr(fit)), allowed, mend))
        gaps = fit.gap if isinstance(fit.gap, tuple) else (fit.gap,) * len(own)
        pull = Pull() if pull is None else pull
        return cls(title, note, own, pin, shank, gaps, fit.friction, pull)

    @property
    def scatter(self) -> Mapping[str, Any]:
        """The [scatter] table of the case it was read from; empty without one."""
        found: Mapping[str, Any] = self.case.get("scatter", {})
        return found

    @property
    def grip(self) -> float:
        """Length of the pin that the joint spans, mm."""
        return sum(ear.thickness for ear in self.ears) + sum(self.gaps) + self.shank.thickness

    def clearance(self, part: Ear | Shank) -> float:
        """Return how much larger than the pin the hole of a part is, mm."""
        return part.hole - self.pin.diameter

    def to_dict(self) -> dict[str, Any]:
        """Return the whole joint as plain data in mm, N, MPa and degrees, JSON-ready.

        It is a case table too: `fejoint.load` takes it, and every constant of the materials is in
        it, so that an old answer can be pulled again even if the library has changed.
        """
        table: dict[str, Any] = {
            "title": self.title,
            "note": self.note,
            "units": schema.UNITS,
            "assumptions": list(self.assumptions),
            "ear": [_plate(ear) for ear in self.ears],
            "pin": {"diameter": self.pin.diameter, "ends": self.pin.ends},
            "shank": _plate(self.shank),
            "fit": {"gap": list(self.gaps), "friction": self.friction},
            "pull": _pull(self.pull),
        }
        metals = [ear.material for ear in self.ears] + [self.shank.material]
        if self.pin.head is not None:
            table["pin"]["head"] = self.pin.head
        if self.pin.rigid:
            table["pin"]["rigid"] = True
        else:
            table["pin"]["material"] = self.pin.material.name
            metals.append(self.pin.material)
        table["material"] = {metal.name: metal.to_dict() for metal in metals}
        return table

    @classmethod
    def from_dict(cls, table: Mapping[str, Any]) -> Joint:
        """Return the joint of a case table, such as `to_dict` gives.

        Raises
        ------
        BadInput
            With every fault of the table.
        """
        return read(table)

    def to_toml(self) -> str:
        """Return the joint as a case file with units and comments; it loads as the same joint."""
        return writer.write(self.case or self.to_dict())

    def until_it_gives(self) -> Joint:
        """Return the joint pulled once, to no stop of its own: for those who ask what gives."""
        pull = dataclasses.replace(self.pull, legs=(), stop_displacement=None, stop_load=None)
        return dataclasses.replace(self, pull=pull)

    def replace(self, path: str, value: Any) -> Joint:
        """Return the joint with one value changed, checked again.

        Parameters
        ----------
        path : str
            A key of the case: "ear.hole" (every ear), "ear.2.hole", "pin.hardness", "fit.gap",
            "pull.angle", 'material.my strip.yield'.
        value : str, float, bool or list
            As in a case file; bare numbers are mm, N, MPa or degrees.

        Returns
        -------
        Joint
            Values that the case had left to follow others (a shank's width follows its hole)
            follow again.

        Raises
        ------
        BadInput
            If there is no such key, or the joint is none any more.

        Examples
        --------
        >>> load("cases/demo/hard-pin.toml").replace("pin.diameter", "3.9 mm").pin.diameter
        3.9
        """
        return read(edit.changed(self.case or self.to_dict(), path, value))


def load(case: CaseLike) -> Joint:
    """Read a joint from a case file, or from the same thing as a dict.

    Parameters
    ----------
    case : path, mapping or Joint
        A TOML file, or its tables; bare numbers are mm, N, MPa and degrees. A joint is returned
        as it is.

    Returns
    -------
    Joint

    Raises
    ------
    BadInput
        With every fault of the case.

    Examples
    --------
    >>> load("cases/demo/hard-pin.toml").pin.diameter
    4.0
    """
    if isinstance(case, Joint):
        return case
    if isinstance(case, Mapping):
        return read(drawing.embedded(toml_syntax.plain(case), Path()))
    try:
        path = Path(os.fsdecode(case))
    except TypeError as error:
        allowed = "must be a joint, the path of a case file, or its tables as a dict"
        mend = 'write for example "joint.toml"'
        raise BadInput(Fault("case", shorten(case) or "''", allowed, mend)) from error
    return read(drawing.embedded(toml_syntax.parse(path), path.parent))


def read(table: Mapping[str, Any]) -> Joint:
    """Return the joint of a case table.

    Raises
    ------
    BadInput
        With every fault of the table.
    """
    own = toml_syntax.plain(table)
    joint = Joint(**reader.parts_of(own))
    object.__setattr__(joint, "case", own)
    return joint


def _wrong_kinds(joint: Joint) -> Iterator[Fault]:
    """Find parts that are no parts, before anything is looked up in them."""
    ears: object = joint.ears
    wanted: list[tuple[str, object, type]] = [
        ("ear", ear, Ear) for ear in (ears if isinstance(ears, tuple) else (ears,))
    ]
    wanted += [("pin", joint.pin, Pin), ("shank", joint.shank, Shank), ("pull", joint.pull, Pull)]
    for where, part, kind in wanted:
        if not isinstance(part, kind):
            allowed = f"must be made by fejoint.{kind.__name__}"
            mend = "a case's tables as a dict go to fejoint.load"
            yield Fault(where, shorten(repr(part)), allowed, mend)


def _plate(part: Ear | Shank) -> dict[str, Any]:
    keys = schema.EAR if isinstance(part, Ear) else schema.SHANK
    table = {key: getattr(part, key) for key in keys if hasattr(part, key) and key != "material"}
    if part.end != "clipped":
        del table["clip"]
    if part.outline is None:
        del table["outline"]
    else:
        told = {k: v for k, v in table.items() if k not in (*schema.OF_OUTLINE, "edge_distance")}
        table = told | {"outline": part.outline.to_dict()}
    return table | {"material": part.material.name}


def _pull(pull: Pull) -> dict[str, Any]:
    table = {key: getattr(pull, key) for key in schema.PULL if getattr(pull, key) is not None}
    if pull.legs:
        table["leg"] = [
            {leg.kind: True if leg.kind == "release" else leg.target} for leg in pull.legs
        ]
    return table
