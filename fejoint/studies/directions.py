"""One joint pulled in many directions, from straight through sideways to back-thrust.

The ear is clamped at its grip at every angle, so a sideways pull bends a long ear there. The load
at which the joint leaves its elastic line counts that in, the hole's offset load does not.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis import definitions
from fejoint.analysis.plotted import Plotted, RowsOf
from fejoint.analysis.progress import Progress, Told
from fejoint.analysis.pull import Shared, pull
from fejoint.analysis.result import Answer
from fejoint.errors import BadInput, Fault, shorten
from fejoint.handbook.limit_loads import oblique_load
from fejoint.inputs import fields
from fejoint.inputs.units import both_units
from fejoint.joint.model import CaseLike, Joint, load
from fejoint.kernel import load_curve
from fejoint.sections.face.pull import OFFSET

if TYPE_CHECKING:
    import pandas as pd

EVERY = tuple(float(a) for a in range(0, 181, 15))
"""Directions pulled where none are asked for, degrees."""
ALIKE = 2.0
"""Per cent within which a direction is as strong as another: what the solve leaves."""
INTERACTION = "Melcon and Hoblit 1953, exponent 1.6, through the computed 0 and 90 degrees"


@dataclass(frozen=True)
class Direction:
    """What a joint bears in one direction; loads are pulls on the whole joint, N.

    Attributes
    ----------
    angle : float
        Of the pull against the ear's axis, degrees.
    hole_load : float or None
        Offset load of the weaker ear's hole (2 % of its diameter, along the pull).
    joint_load : float or None
        Load at which the whole joint's extension leaves its elastic line by as much.
    interaction_load : float or None
        What the handbook's oblique-load interaction makes of the joint's loads at 0 and 90
        degrees; up to 90 degrees only.
    first_mode : str
        What gives first.
    first_member : str
        And of which part: "both ears", "ear 1", "shank", "pin".
    first_load : float
    largest_load : float
        Largest load reached.
    ended : str
        Why the pull ended.
    finished : bool
        False where it broke off.
    """

    angle: float
    hole_load: float | None
    joint_load: float | None
    interaction_load: float | None
    first_mode: str
    first_load: float
    largest_load: float
    ended: str
    finished: bool
    first_member: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Return the row with units in the names."""
        return {
            {"angle": "angle_deg"}.get(k, f"{k}_N" if k.endswith("load") else k): v
            for k, v in asdict(self).items()
        }


@dataclass(frozen=True, eq=False)
class Directions(Plotted, RowsOf[Direction]):
    """What a joint bears over the direction of the pull.

    Attributes
    ----------
    joint : Joint
    rows : tuple of Direction
        By rising angle; the study is the sequence of them.
    """

    joint: Joint
    rows: tuple[Direction, ...]
    _drawn_by = ("studies.directions_plot", "draw")

    @property
    def frame(self) -> pd.DataFrame:
        """A row a direction: angle_deg, loads in N, what gives first."""
        import pandas as pd

        return pd.DataFrame([row.to_dict() for row in self.rows])

    @property
    def lowest(self) -> Direction | None:
        """The direction in which something gives at the lowest pull."""
        gave = (row for row in self.rows if row.first_mode != definitions.NOTHING)
        return min(gave, key=lambda row: row.first_load, default=None)

    @property
    def sentence(self) -> str:
        """In which direction the joint gives first, what does, and what it bears straight."""
        low = self.lowest
        if low is None:
            most = both_units(max(row.largest_load for row in self.rows))
            return f"Nothing gave in any direction, up to {most}."
        what = definitions.named(low.first_mode, low.first_member)
        said = f"Lowest at {low.angle:g} degrees: {what} at {both_units(low.first_load)}"
        straight = next((row for row in self.rows if row.angle == 0.0), None)
        if straight is None or straight is low or straight.first_mode == definitions.NOTHING:
            return f"{said}."
        share = 100.0 * (1.0 - low.first_load / straight.first_load)
        if share < ALIKE:
            return f"{said}, as straight ({both_units(straight.first_load)}) within {ALIKE:g} %."
        return f"{said}, {share:.0f} % less than straight ({both_units(straight.first_load)})."


def directions(
    joint: CaseLike,
    angles: Iterable[float | str] = EVERY,
    *,
    refine: float = 1.0,
    solver: str = "fastest",
    progress: Progress | None = None,
) -> Directions:
    """Pull a joint in many directions.

    Parameters
    ----------
    joint : Joint, path or mapping
        The joint, its case file, or the tables of one; its own angle, path and stops are
        left aside.
    angles : iterable of float or str
        Degrees, -180 to 180.
    refine, solver
        As for `fejoint.pull`.
    progress : callable, optional
        Called with the phase in words, the share of the whole that is done (0 to 1, never falling;
        an estimate) and the pull that the joint has reached (N, or None).

    Returns
    -------
    Directions
        By rising angle; one a direction.

    Raises
    ------
    BadInput
        If an angle lies outside its range.

    Examples
    --------
    >>> rows = directions("cases/demo/hard-pin.toml", [0, "90 deg"], refine=0.35)
    >>> [row.angle for row in rows]
    [0.0, 90.0]
    """
    joint = load(joint).until_it_gives()
    if isinstance(angles, str) or not isinstance(angles, Iterable):
        mend = "write for example [0, 45, 90]"
        raise BadInput(Fault("angles", shorten(repr(angles)), "must be a list of angles", mend))
    asked = sorted({fields.quantity("angle", a, "angle", -180.0, 180.0) for a in angles})
    shared: Shared = {}

    def turned(angle: float) -> Answer:
        pulled = replace(joint, pull=replace(joint.pull, angle=angle))
        return pull(pulled, refine=refine, solver=solver, shared=shared)

    told, rows = Told(progress), {}
    for k, angle in enumerate(asked, start=1):
        rows[angle] = _row(angle, turned(angle))
        told(f"pulled at {angle:g} degrees", k / len(asked), rows[angle].largest_load)
    # the ends of the interaction, pulled for it where they were not asked for
    sides = {math.copysign(90.0, a) for a in asked if abs(a) <= 90.0}
    ends = {a: rows[a] if a in rows else _row(a, turned(a)) for a in (0.0, *sorted(sides)) if sides}
    whole = [
        replace(
            row,
            interaction_load=_interaction(row.angle, ends[0.0], ends[math.copysign(90.0, angle)])
            if abs(angle) <= 90.0 else None,
        )
        for angle, row in rows.items()
    ]  # fmt: skip
    return Directions(joint, tuple(whole))


def _row(angle: float, answer: Answer) -> Direction:
    curve, first = answer.trace, answer.verdict.first
    hole = max(ear.hole for ear in answer.joint.ears)
    moved = load_curve.offset_point(curve.load, curve.extension, OFFSET * hole)
    return Direction(
        angle,
        answer.event("offset load").load,
        moved.load if moved is not None else None,
        None,
        first.mode,
        first.load,
        float(np.max(curve.load)),
        str(answer.trust.stopped_because),
        answer.trust.finished,
        first.member,
    )


def _interaction(angle: float, straight: Direction, sideways: Direction) -> float | None:
    along, across = straight.joint_load, sideways.joint_load
    # a joint that is never loaded has no interaction
    if not along or not across or abs(angle) > 90.0:
        return None
    return oblique_load(along, across, abs(angle))
