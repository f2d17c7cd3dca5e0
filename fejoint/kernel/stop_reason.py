"""Why a path of equilibria ended: a kind that code compares, and a sentence that people read."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Any


class StopReason(Enum):
    """Kinds of ends of a path; the value is the sentence where nothing more exact is known."""

    REQUESTED = "asked stop reached"
    FAR_ENOUGH = "followed as far as it is of use"
    TURNED_TOO_FAR = "turned too far"
    LOAD_MAXIMUM = "load maximum passed"
    DUCTILITY_EXHAUSTED = "ductility exhausted"
    LAW_ENDED = "a law ended"
    NO_EQUILIBRIUM = "no equilibrium was found"
    TOO_MANY_STEPS = "crept"
    INTERRUPTED = "interrupted"

    @property
    def finished(self) -> bool:
        """Whether the path came as far as it should."""
        return self not in (
            StopReason.NO_EQUILIBRIUM, StopReason.TOO_MANY_STEPS, StopReason.INTERRUPTED,
        )  # fmt: skip


@dataclass(frozen=True)
class Stop:
    """The end of a path; as an observer's request: make this point permanent and end here.

    Attributes
    ----------
    reason : StopReason
    sentence : str
        The reason with its place and numbers, for people; the reason's own without it.
    cause : Stop or None
        The end of another path (a plate's) that ended this one.
    member : str
        Whose path ended with the cause, such as "ear 1".
    """

    reason: StopReason
    sentence: str = ""
    cause: Stop | None = None
    member: str = ""

    def __str__(self) -> str:
        """Return the sentence."""
        return self.sentence or self.reason.value

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, the causes within."""
        return {
            "reason": self.reason.name,
            "sentence": self.sentence,
            "member": self.member,
            "cause": None if self.cause is None else self.cause.to_dict(),
        }

    @property
    def root(self) -> Stop:
        """The end at which the chain of causes begins."""
        return self if self.cause is None else self.cause.root

    @property
    def finished(self) -> bool:
        """Whether everything that led to this end came as far as it should."""
        return self.root.reason.finished


REQUESTED = Stop(StopReason.REQUESTED)
"""The end that somebody asked for."""
