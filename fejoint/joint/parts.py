"""The parts of a joint and how it is pulled: plain frozen data in mm, N and degrees.

What is given as text is read as in a case: `Pin("4 mm", "48 HRC")`.
"""

from __future__ import annotations

import math
import numbers
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args

from fejoint.errors import BadInput
from fejoint.inputs.fields import Field, Reading
from fejoint.inputs.units import Kind
from fejoint.joint import schema
from fejoint.joint.outline import Outline
from fejoint.materials import library
from fejoint.materials.material import Material

End = Literal["round", "square", "clipped"]
PinEnds = Literal["free", "headed", "held"]
LegKind = Literal["load", "displacement", "release"]


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
        Or what `fejoint.metal` makes one of.
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
    outline : Outline or None
        Of an ear that is no plain strip. Width, edge distance, grip length and hole offset are
        then its own, as measured beside and behind the hole.

    Raises
    ------
    BadInput
        If a value is none of its kind; whether the parts fit is for `Joint` to say.

    Examples
    --------
    >>> ear = Ear("2 mm", 14, "4.1 mm", 7, 25, "316 strip, annealed")
    >>> ear.hole, ear.material.rm
    (4.1, 620.0)
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
    outline: Outline | None = None

    def __post_init__(self) -> None:
        """Read what was given as text."""
        _read(self, "ear", schema.EAR)

    @property
    def strip_width(self) -> float:
        """Least metal across the ear between the hole and where it is held, mm."""
        return self.width if self.outline is None else self.outline.strip_width


@dataclass(frozen=True)
class Pin:
    """A round pin.

    Attributes
    ----------
    diameter : float
        In mm.
    material : Material
        Or what `fejoint.metal` makes one of, such as "48 HRC". For a rigid pin a stand-in whose
        strength never governs.
    rigid : bool
        True for a pin that never gives.
    ends : {"free", "headed", "held"}
        Held: fixed in the first ear.
    head : float or None
        Diameter of the heads or washers on the outer faces of a headed pin, mm; None where it is
        not said. It decides whether a thin ear's end is kept in its plane.

    Raises
    ------
    BadInput
        If a value is none of its kind.

    Examples
    --------
    >>> round(Pin("4 mm", "48 HRC").material.hardness_hv)
    484
    """

    diameter: float
    material: Material
    rigid: bool = False
    ends: PinEnds = "free"
    head: float | None = None

    def __post_init__(self) -> None:
        """Read what was given as text."""
        _read(self, "pin", schema.PIN)


@dataclass(frozen=True)
class Shank:
    """The middle member, a plate with a hole.

    Attributes
    ----------
    thickness, hole, width, edge_distance, length : float
        Measured as an ear's, mm; the length from the hole's centre to where it is held.
    material : Material
        Or what `fejoint.metal` makes one of.
    end, clip, outline
        As an ear's.

    Raises
    ------
    BadInput
        If a value is none of its kind.

    Examples
    --------
    >>> Shank("6 mm", "4.1 mm", 12, 6, 20, "A4-70 bolt shank").width
    12.0
    """

    thickness: float
    hole: float
    width: float
    edge_distance: float
    length: float
    material: Material
    end: End = "round"
    clip: float = 0.0
    outline: Outline | None = None

    def __post_init__(self) -> None:
        """Read what was given as text."""
        _read(self, "shank", schema.SHANK)

    @property
    def strip_width(self) -> float:
        """Least metal across the shank between the hole and where it is held, mm."""
        return self.width if self.outline is None else self.outline.strip_width


@dataclass(frozen=True)
class Fit:
    """How the parts go together.

    Attributes
    ----------
    gap : float, or one for each ear
        Side gap between each ear and the shank, mm.
    friction : float
        Coulomb coefficient between pin and holes.

    Raises
    ------
    BadInput
        If a value is none of its kind.

    Examples
    --------
    >>> Fit("0.1 mm", 0.15)
    Fit(gap=0.1, friction=0.15)
    """

    gap: float | tuple[float, ...]
    friction: float

    def __post_init__(self) -> None:
        """Read what was given as text."""
        gaps: Any = self.gap
        if isinstance(gaps, Sequence) and not isinstance(gaps, str):
            read = tuple(_number(f"fit.gap.{k}", g, "length") for k, g in enumerate(gaps, start=1))
            object.__setattr__(self, "gap", read)
        else:
            object.__setattr__(self, "gap", _number("fit.gap", gaps, "length"))
        object.__setattr__(self, "friction", _number("fit.friction", self.friction, "number"))


@dataclass(frozen=True)
class Leg:
    """One part of a path of pulls: to a load in N, to a displacement in mm, or back to zero.

    Attributes
    ----------
    kind : {"load", "displacement", "release"}
    target : float
        N or mm; nothing for a release.

    Raises
    ------
    BadInput
        If the target is none of its kind.

    Examples
    --------
    >>> Leg("load", "200 kgf").target
    1961.33
    """

    kind: LegKind
    target: float = 0.0

    def __post_init__(self) -> None:
        """Read what was given as text."""
        kind: Kind = "force" if self.kind == "load" else "length"
        object.__setattr__(self, "target", _number(f"pull.leg.{self.kind}", self.target, kind))


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

    Raises
    ------
    BadInput
        If a value is none of its kind.

    Examples
    --------
    >>> Pull(stop_load="200 kgf").stop_load
    1961.33
    """

    angle: float = 0.0
    stop_displacement: float | None = None
    stop_load: float | None = None
    large_strain: bool = True
    ductility: bool = True
    legs: tuple[Leg, ...] = ()

    def __post_init__(self) -> None:
        """Read what was given as text."""
        _read(self, "pull", schema.PULL)


_QUANTITIES = get_args(Kind)


def _read(part: Any, where: str, fields: Mapping[str, Field]) -> None:
    """Turn what a part was given as text, or as another library's number, into what it holds."""
    reading = Reading()
    for key, field in fields.items():
        if not hasattr(part, key):
            continue
        value = given = getattr(part, key)
        if key == "material":
            if not isinstance(given, Material):
                diameter = getattr(part, "diameter", None)
                try:
                    value = library.metal(given, diameter=diameter, field=f"{where}.material")
                except BadInput as bad:
                    reading.faults += bad.faults
        elif field.kind in _QUANTITIES:
            # what a reader found at fault is nan, and told already; what may be left out is None
            may_lack = given is None and type(part).__dataclass_fields__[key].default is None
            if type(given) is not float and not may_lack:
                value = _quantity(reading, f"{where}.{key}", given, field.kind)
        elif field.kind == "flag" and given is not None:
            reading.value(f"{where}.{key}", given, field)
        if value is not given:
            object.__setattr__(part, key, value)
    if reading.faults:
        raise BadInput(*reading.faults)


def _number(where: str, value: Any, kind: Kind) -> float:
    reading = Reading()
    number = value if type(value) is float else _quantity(reading, where, value, kind)
    if reading.faults:
        raise BadInput(*reading.faults)
    return number


def _quantity(reading: Reading, where: str, value: Any, kind: Any) -> float:
    if not isinstance(value, bool) and isinstance(value, numbers.Real):
        value = float(value)
        if not math.isfinite(value):  # for the joint to refuse
            return float(value)
    return reading.quantity(where, value, kind)
