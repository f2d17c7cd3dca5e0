"""Every mode of failure and every limit: what is read, when it counts, and the words for it.

Verdict, events, pictures, report and page take a mode's words and colour from here, and readings
take their thresholds. To add a mode: a `Mode` and its `Definition`s here, its reading in
`limit_loads`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from fejoint.inputs.units import both_units
from fejoint.kernel.load_curve import OFFSET
from fejoint.kernel.stop_reason import Stop, StopReason

Part = Literal["ear", "pin", "shank"]
ModeName = Literal[
    "hole elongation", "end tear-out", "net section", "end dishes", "ear bending", "strip yield",
    "pin bending", "pin shear", "pin break", "shank hole",
]  # fmt: skip
"""The keys of `MODES`, for type checkers."""

OFFSET_LOAD = "offset load"
TORN_INSIDE = "stretch used up at the inner face"
TORN_THROUGH = "stretch used up right through"
BROKEN = "stretch used up"
OWN_TOP = "highest load it carries"
HIGHEST_PULL = "highest pull"
HINGE = "hinge"
YIELDED = "whole section at Rp0.2"
BEND_LEFT = "bend left 1 % of the span"
SHEARED = "full plastic shear"
ASIDE = "bend aside left 1 % of its length"
DISHES = "highest load of a thin end, by rule"
NOTHING: Literal["nothing gave"] = "nothing gave"
NOTHING_GAVE = "largest load reached"
"""Mode and cause of the one limit of a joint that gave nowhere: it is the whole joint's."""

OFFSET_SHARE = OFFSET
"""Share of the hole's diameter that a hole keeps at its offset load."""
SET_SHARE = 0.02
"""The same of the load that leaves 2 %, read after letting go."""
BEND_SHARE = 0.01
"""Bend that a pin keeps over the span between the ears' mid-planes when it counts as bent."""
ASIDE_SHARE = 0.01
"""Bend aside that an ear keeps over its length to the grip when it counts as bent."""
EXHAUSTED = 1.0
"""Damage at which a metal's stretch is used up."""
SECTOR_DEG = 60.0
"""Angle from the pull within which torn metal is the end and not the net section, degrees; and from
the grip within which a pull is a push that has no end ahead of it."""
GRIP_SHARE = 0.5
"""Share of its length to the grip behind which an ear tears by bending there, not at its hole."""
CROWDED = 1.15
"""Largest bearing along a plate over the mean, from which on it is told to bear unevenly."""
FLAT = 5e-3
"""Share of its highest load within which a member's curve is flat: there a mesh or a step may put
the highest anywhere, and the joint's pull meanwhile goes on. An ear's own highest moved by 0.6 %
from refine 1/2 to 1.5 and pace 1/4 to 1, and the joint's pull at it by 3 %."""
TIE = 0.01
"""Loads that lie no further apart are told as one: no mesh tells them apart."""

EARS_ALIKE = "both ears"
"""The member that two ears are whose limits are the same by symmetry."""


@dataclass(frozen=True)
class Mode:
    """A way in which a part fails.

    Attributes
    ----------
    name : str
        As in `answer.json`.
    part : str
        "ear", "pin" or "shank".
    title : str
        For tables and pictures.
    colour, dash : str
        Role of the theme's colour, and the line, in plots of many joints.
    seen : tuple of str
        What a maker who sees it says.
    ends : bool
        Whether no joint is left after it.
    """

    name: str
    part: Part
    title: str
    colour: str
    dash: str
    seen: tuple[str, ...] = ()
    ends: bool = False


@dataclass(frozen=True)
class Definition:
    """One limit: a mode counted in one way.

    Attributes
    ----------
    mode, cause : str
        The cause is what the limit is counted as.
    read : str
        What is read off the solved joint.
    threshold : str
        The value at which it counts.
    source : str
    says : str
        In a sentence; {s} is "the hole in ear 1" or whatever of the member the mode concerns.
    by_hand : str
        Quantity of the closed form that may stand beside it; "" for none.
    """

    mode: str
    cause: str
    read: str
    threshold: str
    source: str
    says: str
    by_hand: str = ""


MODES: Mapping[str, Mode] = {
    mode.name: mode
    for mode in (
        Mode("hole elongation", "ear", "hole stretches", "ink", "solid",
             ("hole stretched", "hole oval")),
        Mode("end tear-out", "ear", "end tears out", "ink", "dashed",
             ("end torn", "tear-out"), ends=True),
        Mode("net section", "ear", "net section tears", "ink", "dotted",
             ("ear torn across",), ends=True),
        Mode("end dishes", "ear", "end dishes", "ink", "longdashdot",
             ("end dished", "end curled")),
        Mode("ear bending", "ear", "ear bends aside", "ink", "dashdot",
             ("ear bent", "ear bent aside")),
        Mode("strip yield", "ear", "strip yields", "ink", "longdash",
             ("strip stretched", "ear longer")),
        Mode("pin bending", "pin", "pin bends", "second", "solid", ("pin bent",)),
        Mode("pin shear", "pin", "pin shears", "second", "dashed", ("pin sheared",), ends=True),
        Mode("pin break", "pin", "pin breaks", "second", "dotted", ("pin broke",), ends=True),
        Mode("shank hole", "shank", "hole stretches", "quiet", "solid", ("shank stretched",)),
    )
}  # fmt: skip
"""Every mode, in the order of the parts along a pull's way."""

RULE = "rule"
"""Source of a limit that a rule of this project gives, read off solves that are not the joint's."""

_E238 = "ASTM E238, bearing yield strength"
_STRETCH = "local fracture strain of the metal, averaged over its thickness"
_FULL = "full plastic section of a round bar, textbook"
_OWN = "this project"

DEFINITIONS: tuple[Definition, ...] = (
    Definition("hole elongation", OFFSET_LOAD, "mean elongation of the hole over the thickness",
               "2 % of the hole off the elastic line", _E238,
               "the hole in {m} stretches|the holes in {m} stretch", "bearing yield"),
    # of an ear that is pushed towards its grip, where no end lies ahead of the pin
    Definition("hole elongation", TORN_INSIDE, "damage of the innermost slice", "1", _STRETCH,
               "{m} tears ahead of the pin at its inner face|"
               "{m} tear ahead of the pin at their inner faces"),
    Definition("hole elongation", TORN_THROUGH, "mean damage over the thickness", "1", _STRETCH,
               "{m} tears ahead of the pin|{m} tear ahead of the pin"),
    Definition("hole elongation", OWN_TOP, "load on the ear", "its highest", _OWN,
               "{m} gives way ahead of the pin|{m} give way ahead of the pin"),
    Definition("hole elongation", HIGHEST_PULL, "pull on the joint", "its highest", _OWN,
               "{m} gives way ahead of the pin|{m} give way ahead of the pin"),
    Definition("end tear-out", TORN_INSIDE, "damage of the innermost slice", "1", _STRETCH,
               "the end of {m} tears at its inner face|the ends of {m} tear at their inner faces",
               "breaking"),
    Definition("end tear-out", TORN_THROUGH, "mean damage over the thickness", "1", _STRETCH,
               "the end of {m} tears out|the ends of {m} tear out", "breaking"),
    Definition("end tear-out", OWN_TOP, "load on the ear", "its highest", _OWN,
               "the end of {m} gives way|the ends of {m} give way", "breaking"),
    Definition("end tear-out", HIGHEST_PULL, "pull on the joint", "its highest", _OWN,
               "the end of {m} gives way|the ends of {m} give way", "breaking"),
    Definition("net section", TORN_INSIDE, "damage of the innermost slice", "1", _STRETCH,
               "{m} tears across at its inner face|{m} tear across at their inner faces",
               "breaking"),
    Definition("net section", TORN_THROUGH, "mean damage over the thickness", "1", _STRETCH,
               "{m} tears across|{m} tear across", "breaking"),
    Definition("net section", OWN_TOP, "load on the ear", "its highest", _OWN,
               "{m} necks beside the hole|{m} neck beside their holes", "breaking"),
    Definition("net section", HIGHEST_PULL, "pull on the joint", "its highest", _OWN,
               "{m} necks beside the hole|{m} neck beside their holes", "breaking"),
    Definition("end dishes", DISHES, "load on the ear",
               "4.95 fu t^2 (D/t)^0.337 (fy/fu)^0.289 (E/(250 fu))^0.146",
               "own rule, read off solid solves (handbook.dishing)",
               "the end of {m} dishes behind the pin|the ends of {m} dish behind the pin",
               "thin sheet"),
    Definition("ear bending", HINGE, "bending moment and pull in the strip at the grip",
               "M/Mp + (N/Np)^2 = 1 at Rp0.2", "full plastic section of a rectangle, textbook",
               "{m} bends aside at its grip|{m} bend aside at their grips", "strip hinge"),
    Definition("ear bending", ASIDE, "movement of the ear behind its hole",
               "1 % of its length off the elastic line", _OWN,
               "{m} stays bent aside|{m} stay bent aside"),
    Definition("ear bending", TORN_INSIDE, "damage of the innermost slice", "1", _STRETCH,
               "{m} tears at its grip|{m} tear at their grips"),
    Definition("ear bending", TORN_THROUGH, "mean damage over the thickness", "1", _STRETCH,
               "{m} tears off at its grip|{m} tear off at their grips"),
    Definition("ear bending", OWN_TOP, "load on the ear", "its highest", _OWN,
               "{m} folds at its grip|{m} fold at their grips"),
    Definition("ear bending", HIGHEST_PULL, "pull on the joint", "its highest", _OWN,
               "{m} folds at its grip|{m} fold at their grips"),
    Definition("strip yield", YIELDED, "pull and bending moment in the strip at the grip",
               "M/Mp + (N/Np)^2 = 1 at Rp0.2, more of it by the pull",
               "full plastic section of a rectangle, textbook",
               "the strip of {m} yields right through|the strips of {m} yield right through",
               "gross yield"),
    Definition("pin bending", HINGE, "largest bending moment in the pin", "d^3/6 Rp0.2", _FULL,
               "the pin reaches its plastic hinge", "pin hinge"),
    Definition("pin bending", BEND_LEFT, "bend of the pin after letting go",
               "1 % of the span between the ears' mid-planes", _OWN,
               "the pin stays bent by 1 % of its span"),
    Definition("pin bending", HIGHEST_PULL, "pull on the joint", "its highest", _OWN,
               "the pin bends through"),
    Definition("pin shear", SHEARED, "largest shear force in the pin", "A Rp0.2/sqrt(3)", _FULL,
               "the pin yields in shear right through", "shear yield"),
    Definition("pin shear", HIGHEST_PULL, "pull on the joint", "its highest", _OWN,
               "the pin shears through", "shear breaking"),
    Definition("pin break", BROKEN, "damage of the pin in bending and shear", "1", _STRETCH,
               "the pin breaks", "breaking"),
    Definition("shank hole", OFFSET_LOAD, "mean elongation of the hole over the thickness",
               "2 % of the hole off the elastic line", _E238,
               "the hole in the shank stretches", "bearing yield"),
    Definition("shank hole", TORN_INSIDE, "damage of the outermost slice", "1", _STRETCH,
               "the shank tears at its face", "breaking"),
    Definition("shank hole", TORN_THROUGH, "mean damage over the thickness", "1", _STRETCH,
               "the shank tears at its hole", "breaking"),
    Definition("shank hole", OWN_TOP, "load on the shank", "its highest", _OWN,
               "the shank gives way at its hole", "breaking"),
    Definition("shank hole", HIGHEST_PULL, "pull on the joint", "its highest", _OWN,
               "the shank gives way at its hole", "breaking"),
)  # fmt: skip
"""Every limit a joint may have."""

_BY_NAME = {(d.mode, d.cause): d for d in DEFINITIONS}

ENDING = (TORN_THROUGH, BROKEN, OWN_TOP, HIGHEST_PULL, DISHES)
"""Causes behind which a joint carries no more."""

EVENT_TITLES: Mapping[str, str] = {
    "first yield ear": "first yield",
    "first yield pin": "first yield in bending",
    "offset load": "offset load (2 % of the hole)",
    "permanent set 2 %": "load that leaves 2 %",
    "load maximum": "highest pull",
    "ductility exhausted": "stretch used up",
    "pin hinge": "hinge",
    "pin shear": "full plastic shear",
}
"""The events of an answer, and what each is called."""

EVENT_PARTS = {
    "first yield ear": "ears", "first yield pin": "pin", "offset load": "ears",
    "permanent set 2 %": "ears", "pin hinge": "pin", "pin shear": "pin",
}  # fmt: skip
"""Whose an event is, where no member has met it yet; others may be anyone's."""

MESH_SCALE = ("first yield ear", "first yield pin")
"""Events that happen in a spot no larger than an element: two figures, with "about"."""


def load_words(event: str, load: float, figures: int = 3) -> str:
    """Write an event's load (N) to as many figures as are known of it."""
    return f"about {both_units(load, 2)}" if event in MESH_SCALE else both_units(load, figures)


def definition(mode: str, cause: str) -> Definition | None:
    """Return the definition of a limit; None for a value from elsewhere, such as a handbook's."""
    return _BY_NAME.get((mode, cause))


def title(mode: str) -> str:
    """Return what tables and pictures call a mode."""
    return MODES[mode].title if mode in MODES else mode


def named(mode: str, member: str | None = None) -> str:
    """Return a mode's title with the member whose it is before it, unless the title names it.

    Without a member it is that of the mode's part, where all of one kind are meant.
    """
    what = title(mode)
    if member is None:
        member = MODES[mode].part if mode in MODES else ""
    alone = not member or mode == NOTHING or what.startswith(member)
    return what if alone else f"{member}: {what}"


def sentence_words(mode: str, cause: str, member: str) -> str:
    """Say in plain words what a limit means for its member."""
    found = definition(mode, cause)
    if found is None:
        return f"{member}: {title(mode)}"
    one, _, several = found.says.partition("|")
    if member == EARS_ALIKE:
        return (several or one).format(m=member)
    return one.format(m="the ear" if member == "ear" else member)


_ENDS: Mapping[StopReason, tuple[str, str]] = {
    StopReason.REQUESTED: ("it was asked to stop", "it was asked to stop"),
    StopReason.FAR_ENOUGH: (
        "it had been pulled as far as a joint is followed",
        "{m} had been pulled as far as a plate is followed",
    ),
    StopReason.DUCTILITY_EXHAUSTED: (
        "the pin had broken: its stretch was used up", "{m} had torn: the stretch was used up",
    ),
    StopReason.LOAD_MAXIMUM: (
        "the joint was past its highest load",
        "{m} had been pulled beyond the place of the highest load",
    ),
}  # fmt: skip
"""What a pull's end means where the joint's own path ended so, and where a plate's did."""


def end_words(stop: Stop | None) -> str:
    """Say in plain words why a pull ended."""
    if stop is None:
        return "its path goes on"
    member = f"the {stop.member}" if stop.member in ("ear", "shank") else stop.member
    own, of_plate = _ENDS.get(stop.root.reason, (str(stop), str(stop)))
    return of_plate.replace("{m}", member) if member else own
