"""Before the pull: what to expect, which load cell, where to stop, how many samples."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fejoint.analysis import definitions
from fejoint.analysis.cautions import CAUTIONS
from fejoint.analysis.plotted import Plotted, from_above
from fejoint.analysis.result import Answer, Event
from fejoint.files import write_atomically
from fejoint.inputs.units import KGF
from fejoint.joint.parts import Ear, Pin, Shank
from fejoint.measured import statistics
from fejoint.measured.caliper import blank
from fejoint.measured.comparison import Expected

if TYPE_CHECKING:
    import pandas as pd

CELLS = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
"""Load cells as they are sold, kN (common practice, no source)."""
CELL_USE = 0.75
"""Share of a cell's capacity that the largest load to expect may take (common practice)."""
PROOF = 0.8
"""Where to stop a proof pull, over the least load at which a part gives (common practice)."""
SCATTER = 0.05
"""Scatter of loads taken where neither samples nor materials tell one (a judgement)."""
QUANTILE = 1.645
"""Normal quantile: 5 % of joints lie below mean - 1.645 standard deviations."""
RIG_CAUTIONS = (
    "Nobody in line with the pull while the rig is loaded; set the loads from behind a shield.",
    "Take up slack by hand and slowly; stop at the first crack, slip or noise, and unload first.",
    "Grips, pins and shackles of the rig must be stronger than the load cell is large.",
)


@dataclass(frozen=True)
class Happening:
    """Something to expect: load in N, with the extension of joint and hole in mm.

    `name` is an event's as in `answer.json`, or a limit's words; `title` is for people.
    """

    name: str
    title: str
    load: float | None
    extension: float | None
    hole: float | None
    why: str = ""


@dataclass(frozen=True)
class Plan(Plotted):
    """What to expect and to do; `str` says it, `write` makes a page to print.

    Attributes
    ----------
    expected : Expected
    happenings : tuple of Happening
        By rising load; what is not reached comes last.
    scatter : float
        Relative standard deviation of loads.
    scatter_from : str
    cell : float
        Load cell to use, N.
    proof : float
        Where to stop a proof pull, N.
    difference, power, count : float, float, int
        Samples of each design that tell a difference with that chance.
    """

    expected: Expected
    happenings: tuple[Happening, ...]
    scatter: float
    scatter_from: str
    cell: float
    proof: float
    difference: float
    power: float
    count: int
    _drawn_by = ("measured.plots", "plan_curve")

    def __str__(self) -> str:
        """Return what to expect and to do, line by line."""
        return "\n".join(from_above("measured.report_lines", "of_plan")(self))

    @property
    def frame(self) -> pd.DataFrame:
        """A row a thing to expect, by rising load: N and kgf, extension and hole in mm."""
        import pandas as pd

        return pd.DataFrame(self.to_dict()["expect"])

    def write(self, folder: str | os.PathLike[str]) -> tuple[Path, Path]:
        """Write `plan.html`, a page to print, and `caliper.toml`, an empty caliper sheet.

        Parameters
        ----------
        folder : path
            Made if it is not there.

        Returns
        -------
        (Path, Path)

        Raises
        ------
        BadInput
            If they cannot be written.
        """
        page: Path = from_above("measured.plan_page", "write_page")(self, Path(folder, "plan.html"))
        sheet = Path(folder, "caliper.toml")
        write_atomically(sheet, blank(self.answer.joint))
        return page, sheet

    @property
    def answer(self) -> Answer:
        """The prediction."""
        return self.expected.answer

    @property
    def highest(self) -> float:
        """Largest load that may come, N: the predicted one with two standard deviations."""
        return self.expected.most * (1.0 + 2.0 * self.scatter)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "title": self.answer.joint.title,
            "expect": [
                {
                    "name": h.name, "title": h.title, "load_N": h.load,
                    "load_kgf": None if h.load is None else h.load / KGF,
                    "extension_mm": h.extension, "hole_elongation_mm": h.hole, "reason": h.why,
                }
                for h in self.happenings
            ],
            "most_N": self.expected.most, "most_mode": self.expected.most_mode,
            "scatter": self.scatter, "scatter_from": self.scatter_from,
            "load_cell_N": self.cell, "proof_stop_N": self.proof,
            "difference": self.difference, "power": self.power,
            "samples_of_each_design": self.count, "cautions": [*CAUTIONS, *RIG_CAUTIONS],
        }  # fmt: skip


def make(
    expected: Expected,
    *,
    seen: statistics.Spread | None = None,
    scatter: float | None = None,
    difference: float = 0.1,
    power: float = 0.9,
) -> Plan:
    """Plan a pull.

    Parameters
    ----------
    expected : Expected
    seen : Spread, optional
        Of samples pulled already: their scatter is planned with.
    scatter : float, optional
        Stated scatter, which goes before all else.
    difference, power : float
        Difference between two designs to tell, over the mean, and the chance of telling it.

    Raises
    ------
    BadInput
        If difference, scatter or power is out of range.
    """
    answer = expected.answer
    first = answer.verdict.order[0].first if answer.verdict.order else None
    part = first.part if first is not None else "ear"
    if scatter is not None:
        spread, told = scatter, "as stated"
    elif seen is not None and seen.count >= 3 and seen.relative:
        spread, told = seen.relative, f"seen in {seen.count} samples"
    else:
        band = _strength_band(answer, part)
        spread = max(band, SCATTER)
        told = (
            f"the strength of the {part}'s metal" if band > SCATTER else "a judgement: no samples"
        )
    count = statistics.samples_needed(difference, spread, power)
    happenings = [_of(e.name, _title(e), e.load, answer, e.reason) for e in answer.events]
    known = [e.load for e in answer.events if e.load is not None]
    for each in answer.verdict.order:
        for limit in (each.first, *each.later):
            name = f"{definitions.named(limit.mode, limit.member)}, {limit.cause}"
            told_already = any(abs(limit.load - load) < 1e-3 * load for load in known)
            if limit.source == "computed" and not told_already:
                happenings.append(_of(name, name, limit.load, answer, ""))
    happenings.sort(key=lambda h: math.inf if h.load is None else h.load)
    least = first.load if first is not None else expected.most
    proof = PROOF * least * max(1.0 - QUANTILE * spread, 0.2)
    highest = expected.most * (1.0 + 2.0 * spread)
    least_cell = highest / CELL_USE
    cell = next((1e3 * c for c in CELLS if 1e3 * c >= least_cell), rounded_up(least_cell))
    return Plan(expected, tuple(happenings), spread, told, cell, proof, difference, power, count)


def _title(event: Event) -> str:
    """Name an event as tables and pictures do, and whose it is."""
    title = definitions.EVENT_TITLES[event.name]
    whose = event.member or definitions.EVENT_PARTS.get(event.name, "")
    return f"{whose}: {title}" if whose else title


def rounded_up(load: float) -> float:
    """Return a load in one figure, no smaller than it was."""
    power = 10.0 ** math.floor(math.log10(load))
    return math.ceil(load / power - 1e-9) * power


def _strength_band(answer: Answer, part: str) -> float:
    joint = answer.joint
    whole: Ear | Pin | Shank
    whole = joint.pin if part == "pin" else joint.shank if part == "shank" else joint.ears[0]
    return whole.material.strength_band


def _of(name: str, title: str, load: float | None, answer: Answer, why: str) -> Happening:
    if load is None:
        return Happening(name, title, None, None, None, why)
    import numpy as np

    c = answer.trace
    end = int(np.argmax(c.load)) + 1
    return Happening(
        name,
        title,
        load,
        float(np.interp(load, c.load[:end], c.extension[:end])),
        float(np.interp(load, c.load[:end], c.hole_elongation[:end])),
    )
