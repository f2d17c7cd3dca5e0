"""What goes into a fit of a metal's law to measured pulls, and what comes out of it."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.joint import model
from fejoint.joint.model import Joint
from fejoint.measured.blank_pull import Blank
from fejoint.measured.rig_compliance import Curve, Rig

if TYPE_CHECKING:
    import pandas as pd

IDENTIFIED = 0.6
"""A parameter is learned where its uncertainty falls below this share of its prior's."""


@dataclass(frozen=True)
class Prior:
    """What is held of a parameter before the logs speak.

    Attributes
    ----------
    name, unit : str
    value, deviation : float
        Deviation relative for logarithmic parameters, absolute else.
    low, high : float
        Bounds.
    logarithmic : bool
    """

    name: str
    unit: str
    value: float
    deviation: float
    low: float
    high: float
    logarithmic: bool = True

    def inward(self, value: float) -> float:
        """Return the fit's own coordinate of a value."""
        return float(np.log(value)) if self.logarithmic else value

    def outward(self, coordinate: float) -> float:
        """Return the value of a coordinate."""
        return float(np.exp(coordinate)) if self.logarithmic else coordinate


@dataclass(frozen=True, eq=False)
class Pulled:
    """One log ready for the fit: raw force less its zero (N) and travel (mm), and its rig.

    The stretch that a blank pull found is still in the travel: taken out at a noisy force it would
    carry the force's noise into the travel.
    """

    name: str
    force: Floats
    travel: Floats
    rig: Rig
    blank: Blank | None = None

    def extension(self, to: int | None = None) -> Floats:
        """Return the joint's own extension, mm, of the rows before `to`."""
        force, travel = self.force[:to], self.travel[:to]
        if self.blank is not None:
            travel = travel - self.blank.at(force)
        return self.rig.joint_extension(force, travel)


@dataclass(frozen=True)
class Learned:
    """A parameter after the fit.

    Attributes
    ----------
    prior : Prior
    value : float
    interval : (float, float)
        95 %.
    tightened : float
        Uncertainty over the prior's.
    """

    prior: Prior
    value: float
    interval: tuple[float, float]
    tightened: float

    @property
    def identified(self) -> bool:
        """Whether the logs say something of it."""
        return self.tightened < IDENTIFIED


@dataclass(frozen=True, eq=False)
class LearnedLaw:
    """What was learned from logs of a part's law and the friction.

    Attributes
    ----------
    parameters : tuple of Learned
    correlation : (p, p) array
    compliances : tuple of Learned
        Of the rig, mm/N, one a log.
    slacks : tuple of float
        One a log, mm.
    rms_before, rms_after : tuple of float
        One a fitted log: rms of measured less modelled load over its largest load.
    held_out : mapping of str to (float, float)
        The same before and after for logs that took no part.
    solves : int
    shift : float or None
        Largest move under fresh slopes, over a parameter's standard uncertainty.
    settled : bool
        Whether that is small; else nothing was learned.
    scatter : float
        Relative scatter of load between samples, in the intervals already.
    curve : Curve
        The joint's curve at the fitted parameters.
    notes : tuple of str
    material, case : str
        The learned metal as a table, and the whole case with it, as TOML; empty where nothing was
        learned.
    """

    parameters: tuple[Learned, ...]
    correlation: Floats
    compliances: tuple[Learned, ...]
    slacks: tuple[float, ...]
    rms_before: tuple[float, ...]
    rms_after: tuple[float, ...]
    held_out: Mapping[str, tuple[float, float]]
    solves: int
    shift: float | None
    settled: bool
    scatter: float
    curve: Curve
    notes: tuple[str, ...] = ()
    material: str = ""
    case: str = ""

    @property
    def joint(self) -> Joint:
        """The joint with the law learned.

        Raises
        ------
        BadInput
            If the fit has not settled.
        """
        self.check_settled()
        return model.read(tomllib.loads(self.case))

    @property
    def frame(self) -> pd.DataFrame:
        """A row a parameter: value, its 95 % (low, high), its prior, whether the logs tell."""
        import pandas as pd

        rows = self.to_dict()["parameters"]
        for row in rows:
            row["low"], row["high"] = row.pop("interval_95")
            del row["bounds"]
        return pd.DataFrame(rows)

    def check_settled(self) -> None:
        """Refuse a fit that has not settled.

        Raises
        ------
        BadInput
            If it has not.
        """
        if not self.settled:
            mend = "pull further, or give --rig or --blank"
            raise BadInput(Fault("--learn", "", "has not settled: no case is written", mend))

    def values(self) -> dict[str, float]:
        """Return the identified values, the priors for the rest."""
        return {x.prior.name: x.value if x.identified else x.prior.value for x in self.parameters}

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "parameters": [
                {
                    "name": x.prior.name, "unit": x.prior.unit, "value": x.value,
                    "interval_95": list(x.interval), "identified": x.identified,
                    "uncertainty_over_prior": x.tightened, "prior": x.prior.value,
                    "prior_deviation": x.prior.deviation,
                    "bounds": [v if np.isfinite(v) else None for v in (x.prior.low, x.prior.high)],
                }
                for x in (*self.parameters, *self.compliances)
            ],
            "correlation": self.correlation.tolist(),
            "slack_mm": list(self.slacks),
            "rms_before": list(self.rms_before),
            "rms_after": list(self.rms_after),
            "held_out": {k: list(v) for k, v in self.held_out.items()},
            "solves": self.solves,
            "settled": self.settled,
            "shift_over_uncertainty": self.shift,
            "scatter_between_samples": self.scatter,
            "notes": list(self.notes),
        }  # fmt: skip
