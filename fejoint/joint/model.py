"""The joint: ears on a pin through a shank, and how it is pulled.

Plain frozen data in mm, N and degrees, valid once made. Case files are read and written by
`fejoint.joint.reader`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from fejoint.errors import BadInput, Fault
from fejoint.joint import rules
from fejoint.materials.library import Material

End = Literal["round", "square", "clipped"]
PinEnds = Literal["free", "headed", "held"]
LegKind = Literal["load", "displacement", "release"]

UNITS = "mm N MPa deg"

_OF_A_MATERIAL = re.compile(r"(ear|pin|shank), .*: ")


@dataclass(frozen=True)
class Ear:
    """A flat strip with a hole near its end.

    Attributes
    ----------
    thickness, width : float
        Of the strip, mm.
    hole : float
        Diameter of the hole, mm.
    edge_distance : float
        Hole centre to the end, mm.
    grip_length : float
        Hole centre to where the strip is held, mm.
    material : Material
    end : {"round", "square", "clipped"}
        Round: an arc of half the width, which touches the end on the axis.
    clip : float
        Leg of the 45 degree cut of a clipped end, mm; 0 otherwise.
    hole_slot : float
        How much longer than round the hole is, towards the end (worn, or a slot), mm.
    hole_offset : float
        How far off the ear's axis the hole lies, to the side that a pull at +90 degrees goes, mm.
    flare_depth, flare_angle : float
        Conical mouth of the hole on the ear's outer face: depth (mm) and whole angle (degrees).
    """

    thickness: float
    width: float
    hole: float
    edge_distance: float
    grip_length: float
    material: Material
    end: End = "round"
    clip: float = 0.0
    hole_slot: float = 0.0
    hole_offset: float = 0.0
    flare_depth: float = 0.0
    flare_angle: float = 90.0


@dataclass(frozen=True)
class Pin:
    """A round pin.

    Attributes
    ----------
    diameter : float
        In mm.
    material : Material
        For a rigid pin a stand-in whose strength never governs.
    rigid : bool
        True for a pin that never gives.
    ends : {"free", "headed", "held"}
        Held: fixed in the first ear.
    """

    diameter: float
    material: Material
    rigid: bool = False
    ends: PinEnds = "free"


@dataclass(frozen=True)
class Shank:
    """The middle member, a plate with a hole; lengths in mm, measured as an ear's."""

    thickness: float
    hole: float
    width: float
    edge_distance: float
    length: float
    material: Material
    end: End = "round"
    clip: float = 0.0


@dataclass(frozen=True)
class Leg:
    """One part of a path of pulls: to a load in N, to a displacement in mm, or back to zero."""

    kind: LegKind
    target: float = 0.0


@dataclass(frozen=True)
class Pull:
    """How the joint is pulled.

    Attributes
    ----------
    angle : float
        Direction against the ear's axis, degrees; 90 is sideways.
    stop_displacement : float or None
        Where to stop, mm.
    stop_load : float or None
        Where to stop, N on the whole joint.
    large_strain : bool
        False for the small-strain theory of the textbooks.
    ductility : bool
        False for metal that never tears.
    legs : tuple of Leg
        The path, in order; empty for one pull to the end.
    """

    angle: float = 0.0
    stop_displacement: float | None = None
    stop_load: float | None = None
    large_strain: bool = True
    ductility: bool = True
    legs: tuple[Leg, ...] = ()


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
        faults = [*rules.ranges(self)]
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
            "units": UNITS,
            "assumptions": list(self.assumptions),
            "ear": [_plate(ear) for ear in self.ears],
            "pin": {"diameter": self.pin.diameter, "ends": self.pin.ends},
            "shank": _plate(self.shank),
            "fit": {"gap": list(self.gaps), "friction": self.friction},
            "pull": _pull(self.pull),
        }
        metals = [ear.material for ear in self.ears] + [self.shank.material]
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
        from fejoint.joint import reader

        return reader.read(table)

    def to_toml(self) -> str:
        """Return the joint as a case file with units and comments; it loads as the same joint."""
        from fejoint.joint import writer

        return writer.write(self.case or self.to_dict())

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
        """
        from fejoint.joint import edit, reader

        return reader.read(edit.changed(self.case or self.to_dict(), path, value))


def _plate(part: Ear | Shank) -> dict[str, Any]:
    keys = rules.EAR if isinstance(part, Ear) else rules.SHANK
    table = {key: getattr(part, key) for key in keys if hasattr(part, key) and key != "material"}
    if part.end != "clipped":
        del table["clip"]
    return table | {"material": part.material.name}


def _pull(pull: Pull) -> dict[str, Any]:
    table = {key: getattr(pull, key) for key in rules.PULL if getattr(pull, key) is not None}
    if pull.legs:
        table["leg"] = [
            {leg.kind: True if leg.kind == "release" else leg.target} for leg in pull.legs
        ]
    return table
