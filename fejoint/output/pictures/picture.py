"""What a picture of an answer is: every picture's module holds its own as PICTURES."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from fejoint.analysis.definitions import EARS_ALIKE
from fejoint.analysis.result import Answer
from fejoint.joint.model import Joint

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fejoint.output.pictures.theme import Theme

Size = tuple[int, int]


@dataclass(frozen=True)
class Picture:
    """A picture of an answer, and where it appears.

    Attributes
    ----------
    name : str
        As the command and the page's address name it.
    label : str
        As the page's list names it; empty for one that it does not offer.
    caption : str
        What it shows, beside it in a report; empty for one that reports leave out.
    size : (int, int)
        Pixels where none are asked for.
    needs : {"joint", "data", "sections"}
        What `draw` takes: a `Joint`, the plain data of `answer.json`, or an `Answer` with its
        solved sections.
    draw : callable
        (figure, what it needs, theme) onto an empty figure.
    file : str
        Its file beside every answer; empty for one drawn on request only.
    rank : int
        Order in lists and reports.
    vector : bool
        Whether a report holds it as SVG: lines, not fields of thousands of triangles.
    shows : callable, optional
        Whether an answer has what it shows; every answer has it without.
    tall : callable, optional
        (what it needs, width) to the height of a picture whose height follows what it shows and
        how wide it is, inches; `size` gives it without.
    """

    name: str
    label: str
    caption: str
    size: Size
    needs: Literal["joint", "data", "sections"]
    draw: Callable[[Figure, Any, Theme], None]
    file: str = ""
    rank: int = 0
    vector: bool = False
    shows: Callable[[Answer], bool] | None = None
    tall: Callable[[Any, float], float] | None = None

    def is_of(self, answer: Answer) -> bool:
        """Whether an answer has what the picture shows."""
        return self.shows is None or self.shows(answer)


def has_pin(answer: Answer) -> bool:
    """Whether the answer has a pin to draw: one that was solved along its axis and can bend."""
    return answer.axial is not None and not answer.joint.pin.rigid


def joint_of(answer: Answer | Mapping[str, Any]) -> Joint:
    """Return the joint of an answer or of its plain data."""
    return answer.joint if isinstance(answer, Answer) else Joint.from_dict(answer["case"])


def data_of(answer: Answer | Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the plain data of an answer, as in `answer.json`."""
    return answer.to_dict() if isinstance(answer, Answer) else answer


def weakest_ear(answer: Answer) -> str:
    """Return the ear that is shown: the one whose first limit comes first, as in the events."""
    return answer.weaker_ear


def member_of(answer: Answer, name: str) -> str:
    """Return what a face section's plate is called: "each ear", "ear 1", "the ear", "the shank"."""
    if name != "ear":
        return f"the {name}" if name == "shank" else name
    limits = (row.first for row in answer.verdict.order)
    member = next((x.member for x in limits if x.part == "ear"), EARS_ALIKE)
    if len(answer.joint.ears) == 1:
        return "the ear"
    return "each ear" if member == EARS_ALIKE else member
