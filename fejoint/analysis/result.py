"""What a pull answers: verdict, events, curve, trust and cost, and the files they go to."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from fejoint.analysis.cautions import CAUTIONS, LIMITS
from fejoint.analysis.definitions import (
    EVENT_TITLES,
    NOTHING,
    NOTHING_GAVE,
    ModeName,
    Part,
    end_words,
    title,
)
from fejoint.analysis.leg_answer import LegAnswer
from fejoint.analysis.odds import Odds
from fejoint.analysis.plate_curve import PlateCurve
from fejoint.analysis.shown import Shown
from fejoint.analysis.trace import Trace
from fejoint.inputs.units import KGF
from fejoint.joint.model import Joint
from fejoint.kernel.stop_reason import Stop

if TYPE_CHECKING:
    from fejoint.sections.axial.pull import AxialHistory
    from fejoint.sections.face.pull import FaceHistory

SCHEMA = "fejoint.answer/1"

EVENTS = tuple(EVENT_TITLES)


@dataclass(frozen=True)
class Event:
    """Something that happens on the way; loads are pulls on the whole joint.

    Attributes
    ----------
    name : str
        One of EVENTS.
    load : float or None
        N; None where it was not reached, and `reason` says why.
    extension, hole_elongation : float or None
        At the event, mm; the hole's of the member, or of the weaker ear.
    reason : str
    member : str
        "ear 1", "pin", ... to which it happens; "" for the joint's own.
    band : (float, float) or None
        Range within which finer meshes are expected, where the event is of the mesh's scale, N.
    """

    name: str
    load: float | None
    extension: float | None = None
    hole_elongation: float | None = None
    reason: str = ""
    member: str = ""
    band: tuple[float, float] | None = None


@dataclass(frozen=True)
class LimitLoad:
    """A pull at which a part stops being what it was.

    Attributes
    ----------
    mode, part : str
        Of a joint that gave nowhere "nothing gave" and "joint".
    load : float
        Pull on the whole joint, N.
    cause : str
        What it is counted as: one of `definitions.DEFINITIONS`.
    source : str
        "computed"; "rule" for a rule read off solves of other joints; "handbook".
    handbook_load : float or None
        Closed form beside it, N.
    handbook_source : str
    handbook_note : str
        Where the closed form is used beyond its bounds, and which.
    handbook_apart : str
        Why the two lie apart by a factor; "" where they do not.
    band : (float, float) or None
        Range that the scatter of the fracture strain, the mesh's scale or a rule's error give, N.
    member : str
        "ear 1", "ear 2", "both ears", "ear" (the only one), "pin" or "shank"; the part without it.
    past_top : bool
        Whether it was met only behind the joint's highest pull, where loads fall.
    share : float or None
        Share of the pull that the ear bears there; None for other members.
    """

    mode: ModeName | Literal["nothing gave"]
    part: Part | Literal["joint"]
    load: float
    cause: str
    source: str = "computed"
    handbook_load: float | None = None
    handbook_source: str = ""
    handbook_note: str = ""
    band: tuple[float, float] | None = None
    member: str = ""
    past_top: bool = False
    share: float | None = None
    handbook_apart: str = ""

    def __post_init__(self) -> None:
        """Name the only member of a part by the part."""
        if not self.member:
            object.__setattr__(self, "member", self.part)

    @property
    def order(self) -> tuple[bool, float]:
        """What limits are sorted by: as the pull meets them, behind its highest by falling load."""
        return self.past_top, -self.load if self.past_top else self.load


def nothing_gave(load: float) -> LimitLoad:
    """Return what stands for the limits of a joint that gave nowhere up to a load (N)."""
    return LimitLoad(NOTHING, "joint", load, NOTHING_GAVE)


@dataclass(frozen=True)
class PartLimits:
    """One member's first limit and its further ones, as the pull meets them."""

    first: LimitLoad
    later: tuple[LimitLoad, ...] = ()


@dataclass(frozen=True)
class Verdict:
    """Which member gives first.

    Attributes
    ----------
    order : tuple of PartLimits
        One entry a member, as the pull meets them.
    sentence : str
        For a maker.
    """

    order: tuple[PartLimits, ...]
    sentence: str

    @property
    def first(self) -> LimitLoad:
        """The limit that comes first of all."""
        return self.order[0].first

    @property
    def margin(self) -> float | None:
        """Next member's load over the first's, less 1.

        None where no other member gives before the highest pull: behind it loads fall.
        """
        if len(self.order) < 2 or self.order[1].first.past_top:
            return None
        return self.order[1].first.load / self.order[0].first.load - 1.0


@dataclass(frozen=True)
class Trust:
    """What an answer says of itself.

    Attributes
    ----------
    refinement_change : float
        Relative error of the energy at the offset load that the mesh leaves (stress smoothing).
    equilibrium : float
        Largest out-of-balance force over the load, over all accepted steps.
    energy : float
        Missing energy over the external work, over the whole pull.
    penetration_over_D : float
        Deepest penetration of pin and hole, over the hole's diameter.
    stopped_because : Stop
    broken : tuple of str
        Invariants of `audit` that the answer breaks: none in a sound one.
    """

    refinement_change: float
    equilibrium: float
    energy: float
    penetration_over_D: float
    stopped_because: Stop
    broken: tuple[str, ...] = ()

    @property
    def finished(self) -> bool:
        """False where no equilibrium could be found or the user interrupted."""
        return self.stopped_because.finished

    def to_dict(self) -> dict[str, Any]:
        """Return the block of `answer.json`."""
        why = str(self.stopped_because)
        said = {
            "stopped_because": why,
            "ended": end_words(self.stopped_because),
            "finished": self.finished,
            "stop": self.stopped_because.to_dict(),
        }
        lists = {"broken": list(self.broken), "refinement_change_of": "offset load"}
        return asdict(self) | said | lists


@dataclass(frozen=True)
class Cost:
    """What an answer cost: CPU seconds, unknowns, steps and factorisations."""

    solve_cpu_s: float
    dofs: int
    steps: int
    factorisations: int
    floor_cpu_s: float
    phases_cpu_s: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, eq=False, repr=False)
class Answer(Shown):
    """The answer to a pull.

    Attributes
    ----------
    joint : Joint
    verdict : Verdict
    events : tuple of Event
    trace : Trace
    pin : mapping of str to float, str, list or None
        Permanent bend, hinge and shear load and what else is known of the pin.
    trust : Trust
    cost : Cost
    warnings : tuple of str
    versions : mapping of str to str
    faces : dict of str to FaceHistory
        Solved face sections: "ear" (or "ear 1", "ear 2") and "shank"; not written to the file.
    axial : AxialHistory or None
        The solved axial section; not written to the file.
    path : tuple of LegAnswer
        What every leg of the path came to; empty for one pull.
    ductility : tuple of mappings
        Where each plate's ductility is used up most, how much by the end of the joint's pull, and
        how it would tear there.
    by_hand : tuple of mappings
        Every closed form of the joint, with its source and its bounds.
    weaker_ear : str
        Face section of the ear whose first limit comes first.
    odds : Odds or None
        How sure it is; None where that was not asked for, or nothing gave.
    plates : dict of str to PlateCurve
        By the names of `faces`; empty where the joint itself was not solved; not in the file.
    settings : mapping of str to float or str
        How finely it was solved: refine and pace.
    """

    joint: Joint
    verdict: Verdict
    events: tuple[Event, ...]
    trace: Trace
    pin: Mapping[str, Any]
    trust: Trust
    cost: Cost
    warnings: tuple[str, ...]
    versions: Mapping[str, str]
    faces: dict[str, FaceHistory] = field(default_factory=dict, repr=False)
    axial: AxialHistory | None = field(default=None, repr=False)
    path: tuple[LegAnswer, ...] = ()
    settings: Mapping[str, float] = field(default_factory=dict)
    ductility: tuple[Mapping[str, Any], ...] = ()
    by_hand: tuple[Mapping[str, Any], ...] = ()
    weaker_ear: str = "ear"
    odds: Odds | None = None
    plates: dict[str, PlateCurve] = field(default_factory=dict, repr=False)

    def event(self, name: str) -> Event:
        """Return the event of a name.

        Raises
        ------
        KeyError
            If the name is not one of EVENTS.
        """
        for e in self.events:
            if e.name == name:
                return e
        raise KeyError(name)

    def to_dict(self) -> dict[str, Any]:
        """Return the answer as the plain data of `answer.json`."""
        v = self.verdict
        plain = {
            "schema": SCHEMA,
            "case": self._case(),
            "settings": dict(self.settings),
            "verdict": {
                "first_to_give": v.first.mode,
                "member": v.first.member,
                "load_N": v.first.load,
                "load_kgf": v.first.load / KGF,
                "margin_to_next": v.margin,
                "sentence": v.sentence,
                "order": [
                    _limit(p.first) | {"later": [_limit(x) for x in p.later]} for p in v.order
                ],
            },
            "events": [_event(e) for e in self.events],
            "curve": {
                "load_N": self.trace.load.tolist(),
                "extension_mm": self.trace.extension.tolist(),
                "hole_elongation_mm": self.trace.hole_elongation.tolist(),
            },
            "pin": dict(self.pin),
            "path": [leg.to_dict() for leg in self.path],
            "ductility": [dict(row) for row in self.ductility],
            "by_hand": [dict(row) for row in self.by_hand],
            "weaker_ear": self.weaker_ear,
            "trust": self.trust.to_dict() | ({} if self.odds is None else self.odds.to_dict()),
            "cost": asdict(self.cost),
            "warnings": list(self.warnings),
            "limits": list(LIMITS),
            "cautions": list(CAUTIONS),
            "versions": dict(self.versions),
        }
        finite: dict[str, Any] = _finite(plain)
        return finite | {"digest": digest(finite)}

    def _case(self) -> dict[str, Any]:
        """Return the whole case that was answered, with what no pull reads of it."""
        scatter = self.joint.scatter
        return self.joint.to_dict() | ({"scatter": dict(scatter)} if scatter else {})

    def to_json(self) -> str:
        """Return `to_dict` as JSON text."""
        return json.dumps(self.to_dict(), indent=1, ensure_ascii=False)


def digest(plain: Mapping[str, Any]) -> str:
    """Return the SHA-256 of an answer's plain data but for its own digest, in hexadecimal.

    It is that of the data read back from a file as long as nobody has changed them.
    """
    content = {key: value for key, value in plain.items() if key != "digest"}
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def _limit(limit: LimitLoad) -> dict[str, Any]:
    row: dict[str, Any] = {
        "mode": limit.mode,
        "part": limit.part,
        "member": limit.member,
        "title": title(limit.mode),
        "load_N": limit.load,
        "load_kgf": limit.load / KGF,
        "cause": limit.cause,
        "source": limit.source,
        "handbook_load_N": limit.handbook_load,
        "handbook_source": limit.handbook_source,
        "handbook_note": limit.handbook_note,
        "handbook_apart": limit.handbook_apart,
        "past_highest_pull": limit.past_top,
        "share_of_pull": limit.share,
    }
    if limit.band is not None:
        row["band_N"] = list(limit.band)
    return row


def _event(event: Event) -> dict[str, Any]:
    row: dict[str, Any] = {
        "name": event.name,
        "title": EVENT_TITLES[event.name],
        "load_N": event.load,
        "extension_mm": event.extension,
        "hole_elongation_mm": event.hole_elongation,
        "member": event.member,
    }
    if event.band is not None:
        row["band_N"] = list(event.band)
    if event.load is None:
        row["reason"] = event.reason
    return row


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _finite(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(v) for v in value]
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.integer):
        return int(value)
    return value
