"""A side blow on one ear, taken as a load that grows slowly.

Across the pin: the blow pushes the first ear alone, at right angles to its axis, while the shank is
held and the other ear only rides along on the pin, which is bent as a cantilever out of the shank.
The axial section solves it with the ear's bearing law of a sideways pull. Along the pin: the ear
is a strip clamped at its grip and bent out of its plane, and the pin is a bar; closed forms, as
the two plane sections know nothing of that direction. A blow's speed and mass are left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fejoint.analysis.definitions import end_words, sentence_words
from fejoint.analysis.limit_loads import JointReading
from fejoint.analysis.progress import Progress
from fejoint.analysis.pull import pull_axial, solve_members, watching
from fejoint.analysis.result import LimitLoad
from fejoint.analysis.section_cases import PullSettings, axial_case
from fejoint.inputs import fields
from fejoint.inputs.units import both_units
from fejoint.joint.model import CaseLike, load

if TYPE_CHECKING:
    import pandas as pd

RIDES = 1.0
"""Stiffness of what holds the other ear, N/mm: it moves with the pin."""


@dataclass(frozen=True)
class SideBlow:
    """What a side blow on the first ear does; loads in N.

    Attributes
    ----------
    pin_yields, pin_hinges, pin_keeps_bend : float or None
        Load across the pin at its first yield, at its plastic hinge, and that leaves it bent by 1 %
        of the span; None where that was not reached.
    hole_gives : float or None
        Offset load of the struck ear's hole.
    ear_bends_across : float or None
        Load across the pin at which the struck ear's strip is fully plastic at its grip.
    largest : float
        Largest load across the pin that was reached.
    ended : str
        Why that pull ended.
    finished : bool
        False where it broke off.
    ear_bends : float
        Load along the pin that bends the ear at its grip: full plastic moment of the strip,
        W t^2/4 Rp0.2, over its length. Own statics, no published source.
    pin_pulls_apart : float or None
        Load along the pin at its yield: area times Rp0.2; needs a head to act. None if rigid.
    first : LimitLoad or None
        What gives first across the pin: pin, struck ear or shank.
    shank_gives : float or None
        Load across the pin at the shank's first limit.
    """

    pin_yields: float | None
    pin_hinges: float | None
    pin_keeps_bend: float | None
    hole_gives: float | None
    ear_bends_across: float | None
    largest: float
    ended: str
    finished: bool
    ear_bends: float
    pin_pulls_apart: float | None
    first: LimitLoad | None = None
    shank_gives: float | None = None

    @property
    def frame(self) -> pd.DataFrame:
        """A row a thing that the blow does: its words, and its load in N (NaN: not reached)."""
        import pandas as pd

        return pd.DataFrame(self.lines, columns=["what", "load_N"]).astype({"load_N": float})

    @property
    def lines(self) -> tuple[tuple[str, float | None], ...]:
        """What the blow does, and at which load, N; None where it was not reached."""
        return (
            ("across the pin: the pin yields", self.pin_yields),
            ("across the pin: the pin hinges", self.pin_hinges),
            ("across the pin: bend left in the pin 1 % of its span", self.pin_keeps_bend),
            ("across the pin: the ear's hole stretches by 2 %", self.hole_gives),
            ("across the pin: the ear bends aside at its grip", self.ear_bends_across),
            ("across the pin: the shank gives", self.shank_gives),
            (f"across the pin: highest load, where {self.ended}", self.largest),
            ("along the pin, by hand: the ear bends at its grip", self.ear_bends),
            ("along the pin, by hand: the pin yields between its heads", self.pin_pulls_apart),
        )

    @property
    def sentence(self) -> str:
        """What a blow across the pin, and one along it, does first."""
        along = f"Along the pin it bends at its grip at {both_units(self.ear_bends)}, by hand."
        if self.first is None:
            return f"Nothing gave across the pin up to {both_units(self.largest)}. {along}"
        struck = self.first.member if self.first.part != "ear" else "the struck ear"
        said = sentence_words(self.first.mode, self.first.cause, struck)
        return f"Struck across the pin, {said} first, at {both_units(self.first.load)}. {along}"


def side_blow(
    joint: CaseLike,
    *,
    angle: float | str = 90.0,
    refine: float = 1.0,
    solver: str = "fastest",
    progress: Progress | None = None,
) -> SideBlow:
    """Push the first ear of a joint sideways, across and along the pin.

    Parameters
    ----------
    joint : Joint, path or mapping
        The joint, its case file, or the tables of one; its own angle, path and stops are left
        aside.
    angle : float or str
        Of the blow across the pin against the ear's axis, degrees.
    refine, solver
        As for `fejoint.pull`.
    progress : callable, optional
        Called with the phase in words, the share of the whole that is done (0 to 1, never falling;
        an estimate) and the pull that the joint has reached (N, or None).

    Returns
    -------
    SideBlow

    Raises
    ------
    BadInput
        If the angle lies outside its range.

    Examples
    --------
    >>> blow = side_blow("cases/demo/hard-pin.toml", refine=0.35)
    >>> blow.finished
    True
    """
    joint = load(joint)
    angle = fields.quantity("angle", angle, "angle", -180.0, 180.0)
    joint = joint.until_it_gives()
    struck = replace(joint, pull=replace(joint.pull, angle=angle))
    settings = PullSettings(refine, solver=solver)
    watch = watching(struck, settings, progress)
    members = solve_members(struck, settings, progress=watch)
    whole = axial_case(struck, members)
    first, shank, *others = whole.plates
    plates = (first, shank, *(replace(p, spring=RIDES) for p in others))
    history = pull_axial(struck, members, settings, watch, replace(whole, plates=plates))
    reading = JointReading(struck, members, history, settings.axial(struck))
    # the other ear only rides along
    limits = [x for x in reading.limits() if x.member != "ear 2" and not x.past_top]
    offset, bends = reading.offset(0), reading.strip_hinge_place(0)
    if progress is not None:
        progress("done", 1.0, float(history.load.max()))
    ear, pin, rigid = joint.ears[0], joint.pin, joint.pin.rigid
    moment = 0.25 * ear.strip_width * ear.thickness**2 * ear.material.rp02
    area = 0.25 * math.pi * pin.diameter**2
    return SideBlow(
        None if rigid else history.first_yield,
        None if rigid else reading.hinge_load,
        None if rigid else reading.bend_limit_load,
        offset.load if offset is not None else None,
        None if bends is None else reading.load_at(bends),
        float(history.load.max()),
        end_words(history.path.stopped_because),
        history.path.finished,
        moment / ear.grip_length,
        None if rigid else area * pin.material.rp02,
        min(limits, key=lambda x: x.load, default=None),
        min((x.load for x in limits if x.part == "shank"), default=None),
    )
