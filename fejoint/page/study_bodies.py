"""What the page's studies take: the options of each command that runs in the background."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from fejoint.errors import BadInput, Fault
from fejoint.inputs.fields import Field, Reading
from fejoint.page.bodies import CaseBody

MOST_JOINTS = 400
"""Joints of a sweep or a scatter on the page; the command has no such limit."""
LOG = "log.csv"

_TEXT = Field("text", longest=200)
_LOG = Field("text", lines=True, longest=8_000_000)

OPTIONS: dict[str, dict[str, Field]] = {
    "pull": {"film": Field("flag", "true")},
    "book": {},
    "pin-range": {
        "softest": Field("text", '"150 HV"', longest=40),
        "hardest": Field("text", '"600 HV"', longest=40),
        "points": Field("count", "12", low=2, high=40),
        "after": Field("text", '"400 kgf"', longest=40),
    },
    "sweep": {"vary": Field("texts", '["ear.width=10:18:5 mm"]', needed=True)},
    "advise": {
        "target": Field("text", '"900 kgf"', needed=True, longest=40),
        "margin": Field("text", '"10 %"', longest=40),
        "only": Field("texts", '["ear.width"]'),
    },
    "scatter": {"draws": Field("count", "60", low=4, high=MOST_JOINTS)},
    "used": {
        "hole": Field("text", '"0.1 mm"', longest=40),
        "bend": Field("text", '"0.05 mm"', longest=40),
        "neck": Field("text", '"0.02 mm"', longest=40),
        "within": Field("text", '"0.02 mm"', longest=40),
    },
    "directions": {"every": Field("number", "15", low=5.0, high=90.0)},
    "blow": {"angle": Field("number", "90", low=-180.0, high=180.0)},
    "solid": {
        "ear": Field("count", "1", low=1, high=2),
        "head": Field("text", '"14 mm"', longest=40),
    },
    "match": {
        "log": _LOG,
        "learn": Field("flag", "true"),
        "plan": Field("flag", "true"),
        "part": Field("choice", choices=("ear", "pin", "shank")),
        "rig": Field("text", '"12 kN/mm"', longest=40),
        "speed": Field("text", '"5 mm/min"', longest=40),
        "broke": _TEXT,
        "note": _TEXT,
        "book": Field("flag", "true"),
    },
}
"""Options of the commands that the page runs, named as there."""

CASE = "case.toml"
_WITHOUT_FILES = ("advise", "used", "blow", "book")
_AS_JSON = ("advise",)


@dataclass(frozen=True)
class StudyBody(CaseBody):
    """A study of a joint.

    Attributes
    ----------
    kind : str
        The command.
    options : dict
        Its options, by name.
    joint : str
        What the page calls the joint.
    """

    fields: ClassVar[Mapping[str, Field]] = {
        **CaseBody.fields,
        "kind": Field("choice", choices=tuple(OPTIONS), needed=True),
        "options": Field("table"),
        "joint": Field("name"),
    }

    kind: str = ""
    options: dict[str, Any] | None = None
    joint: str = ""

    def words(self, book: Path | None = None) -> list[str]:
        """Return the command's words, each whole.

        Parameters
        ----------
        book : Path, optional
            The results book, if there is one.

        Raises
        ------
        BadInput
            With every fault of the options.
        """
        if book is None and (self.kind == "book" or (self.options or {}).get("book")):
            mend = "start the page by `fejoint page --book FILE`"
            raise BadInput(Fault("book", "", "is none that this page was given", mend))
        if self.kind == "book":
            return [str(book)]
        fields = OPTIONS[self.kind]
        reading = Reading(whole="this study")
        given = {k: v for k, v in (self.options or {}).items() if v not in (None, "", [])}
        values = reading.table("", given, fields)
        if reading.faults:
            raise BadInput(*reading.faults)
        words = [CASE] if self.kind in _WITHOUT_FILES else [CASE, "--out=out"]
        words += ["--json"] if self.kind in _AS_JSON else []
        for key, value in values.items():
            if key == "log":
                words.append(LOG)
            elif key == "book":
                words += [f"--book={book}"] if value else []
            elif value is True:
                words.append(f"--{key}")
            elif value is not False:
                each = value if isinstance(value, (list, tuple)) else [value]
                words += [
                    f"--{key}={one:g}" if isinstance(one, float) else f"--{key}={one}"
                    for one in each
                ]
        if self.kind == "sweep":
            words.append(f"--most={MOST_JOINTS}")
        if self.kind == "match" and "log" not in values and not values.get("plan"):
            raise BadInput(Fault("log", "", "is missing", "choose a file, or ask for the plan"))
        return words

    @property
    def inputs(self) -> dict[str, str]:
        """Files that the command reads besides the case."""
        log = (self.options or {}).get("log")
        return {LOG: log} if isinstance(log, str) and log else {}
