"""The dimensions of a joint that a maker can change, and what must follow each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fejoint.joint import schema
from fejoint.joint.model import Joint
from fejoint.materials import hardness
from fejoint.studies.sweeps.variation import rounded

USUAL_REACH = 0.4
"""How far a dimension may be changed unless it is said, as a share of its value."""
STEPS = {"mm": 0.05, "HRC": 0.5, "HV": 5.0, "HB": 5.0, "": 0.01}
"""Steps in which a dimension is made, by unit."""

_TABULATED = {"HV": (80.0, 650.0), "HRC": (20.0, 57.8), "HB": (76.0, 618.0)}
"""Where hardness converts to strength (`fejoint.materials.hardness` refuses the rest)."""


@dataclass(frozen=True)
class Dimension:
    """One number of a joint that can be changed.

    Attributes
    ----------
    path : str
        Its key in the case.
    value : float
        As it is.
    unit : str
        "mm", a hardness scale, or none.
    low, high : float
        How far it may go.
    follow : mapping of str to float
        Keys that move with it, and how much larger they stay (the holes with their pin).
    """

    path: str
    value: float
    unit: str
    low: float
    high: float
    follow: tuple[tuple[str, float], ...] = ()

    @property
    def name(self) -> str:
        """What to call it."""
        return f"{self.path} (holes follow)" if self.follow else self.path

    @property
    def step(self) -> float:
        """In which it is made."""
        return STEPS[self.unit]

    def changes(self, value: float) -> list[tuple[str, Any]]:
        """Return what to change in a case to give it a value."""
        own: Any = f"{value!r} {self.unit}" if self.path.endswith("hardness") else value
        return [(self.path, own), *((path, rounded(value + more)) for path, more in self.follow)]

    def show(self, value: float) -> str:
        """Return a value for people."""
        return f"{value:.5g} {self.unit}".rstrip()


def of(joint: Joint, reach: float = USUAL_REACH) -> tuple[Dimension, ...]:
    """Return the dimensions of a joint that a maker can change.

    Parameters
    ----------
    joint : Joint
    reach : float
        Largest relative change, where the field's own range allows it.
    """
    found: list[Dimension] = []

    def length(path: str, value: float, fields: Mapping[str, Any], **more: Any) -> None:
        if value <= 0.0:
            return
        field = fields[path.rpartition(".")[2]]
        low = max(field.low, (1.0 - reach) * value)
        found.append(
            Dimension(path, value, "mm", low, min(field.high, (1 + reach) * value), **more)
        )  # fmt: skip

    alike = all(ear == joint.ears[0] for ear in joint.ears)
    ears = {"ear": joint.ears[0]} if alike else {
        f"ear.{k}": ear for k, ear in enumerate(joint.ears, start=1)
    }  # fmt: skip
    for name, ear in ears.items():
        for key in ("thickness", "width", "hole", "edge_distance"):
            if key == "width" and ear.outline is not None:
                continue  # the drawing's own
            length(f"{name}.{key}", getattr(ear, key), schema.EAR)
        if ear.outline is not None:
            scale = _scale(joint.case.get("ear"), name)
            low, high = (1.0 - reach) * scale, (1.0 + reach) * scale
            found.append(Dimension(f"{name}.outline_scale", scale, "", low, high))
    holes = [(f"{name}.hole", joint.clearance(ear)) for name, ear in ears.items()]
    holes.append(("shank.hole", joint.clearance(joint.shank)))
    length("pin.diameter", joint.pin.diameter, schema.PIN, follow=tuple(holes))
    for key in ("thickness", "hole", "edge_distance"):
        length(f"shank.{key}", getattr(joint.shank, key), schema.SHANK)
    if len(set(joint.gaps)) == 1:
        length("fit.gap", joint.gaps[0], schema.FIT)
    found += _hardness(joint, reach)
    return tuple(found)


def _scale(tables: Any, name: str) -> float:
    """Return the scale at which a case takes an ear's outline."""
    number = name.partition(".")[2]
    table = tables[int(number or 1) - 1] if isinstance(tables, (list, tuple)) else tables
    given = table.get("outline_scale", 1.0) if isinstance(table, Mapping) else 1.0
    return float(given)


def _hardness(joint: Joint, reach: float) -> list[Dimension]:
    table = joint.case.get("pin")
    given = table.get("hardness") if isinstance(table, Mapping) else None
    if given is None:
        return []
    parsed = hardness.parse(given)
    low, high = _TABULATED[parsed.scale]
    return [
        Dimension(
            "pin.hardness",
            parsed.value,
            parsed.scale,
            max(low, (1.0 - reach) * parsed.value),
            min(high, (1.0 + reach) * parsed.value),
        )
    ]
