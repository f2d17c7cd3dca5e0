"""Options that several commands take, each declared once.

To give one more option to every command that takes a case, add a field to `CaseOptions`; to every
study of many joints, to `StudyOptions`. No other file is touched.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter, Token

from fejoint.errors import BadInput, Fault

if TYPE_CHECKING:
    from fejoint.cli.case_source import CaseSource


def _refine_within(_: Any, refine: float) -> None:
    from fejoint.analysis import refinement

    refinement.check(refine)


def _workers_within(_: Any, workers: int | None) -> None:
    if workers is not None and not 0 <= workers <= 1024:
        mend = "leave it out for one process a core"
        raise BadInput(Fault("--workers", str(workers), "must be 0 to 1024", mend))


def _no_option(_: Any, case: Path) -> None:
    if str(case).startswith("-") and str(case) != "-":
        raise BadInput(Fault("CASE", str(case), "is no option of this command", "see --help"))


Case = Annotated[
    Path,
    Parameter(
        allow_leading_hyphen=True,
        validator=_no_option,
        help="The file that describes the joint, or - to read it from standard input; "
        "`fejoint new` writes one to begin from.",
    ),
]


def _whole(_: Any, tokens: Sequence[Token]) -> int:
    """Read a whole number; a library's own conversion would round one that is none."""
    return int(tokens[0].value)


Whole = Annotated[int, Parameter(converter=_whole)]
WholeOrNone = Annotated[int | None, Parameter(converter=_whole)]

Json = Annotated[
    bool,
    Parameter(
        name="--json", negative="", show_default=False, help="Print JSON instead of a table."
    ),
]

Flag = Annotated[bool, Parameter(negative="", show_default=False)]
"""Off unless named; there is no word that turns it off."""

Texts = Annotated[tuple[str, ...], Parameter(negative="", show_default=False)]
"""An option that may be given several times."""


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class CaseOptions:
    """What every command that solves a case takes."""

    changes: Annotated[
        tuple[str, ...],
        Parameter(
            name="--set",
            negative="",
            show_default=False,
            help='A key of the case and the value it takes instead, such as pin.hardness="40 HRC"; '
            "it may be given several times.",
        ),
    ] = ()
    refine: Annotated[
        float,
        Parameter(
            validator=_refine_within,
            help="How fine the mesh is: 1 is for every day, 2 halves the elements, and 0.25 to 8 "
            "is allowed.",
        ),
    ] = 1.0
    as_json: Json = False

    def read(self, case: Path) -> CaseSource:
        """Return the case's joint, with what is set in it, and where its results go.

        Raises
        ------
        BadInput
            If it cannot be read, or describes no joint.
        """
        from fejoint.cli import case_source

        return case_source.read(case, self.changes)


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class StudyOptions(CaseOptions):
    """What every command that solves many joints takes."""

    workers: Annotated[
        int | None,
        Parameter(
            converter=_whole,
            validator=_workers_within,
            help="How many processes solve; one a core if left out, 0 for this process alone.",
        ),
    ] = None
    scheduler: Annotated[
        str | None,
        Parameter(
            help="The address of a dask scheduler, such as tcp://10.0.0.1:8786, whose workers "
            "solve instead of local processes."
        ),
    ] = None

    @property
    def processes(self) -> int:
        """How many processes solve."""
        from fejoint.system.processes import cores

        return cores() if self.workers is None else self.workers


CASE_DEFAULTS = CaseOptions()
STUDY_DEFAULTS = StudyOptions()
