"""What the HTTP interface takes: bodies with their limits, and what a joint of the page may be."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Literal, TypeVar

from fejoint.errors import BadInput, Fault, shorten
from fejoint.inputs import toml_syntax
from fejoint.inputs.fields import Field, Reading
from fejoint.joint import edit, model
from fejoint.joint.model import Joint
from fejoint.output.pictures import table

MOST_WIDE, MOST_LONG = 40.0, 80.0
"""Width, and length to the grip, in hole diameters: beyond them meshes grow large."""
MOST_LEGS = 10

_MOST_FAULTS = 20
_TAB = Field("name", '"a"')
_PIXELS = Field("count", "1200", low=200, high=4000)


@dataclass(frozen=True)
class CaseBody:
    """A joint: a case table, or the text of a case file.

    Attributes
    ----------
    case : dict, optional
        The tables of a case file as JSON; bare numbers are mm, N, MPa and degrees.
    text : str, optional
        A case file as text (TOML).
    """

    fields: ClassVar[Mapping[str, Field]] = {
        "case": Field("table"),
        "text": Field("text", lines=True, longest=200_000),
    }

    case: dict[str, Any] | None = None
    text: str | None = None

    def table(self) -> dict[str, Any]:
        """Return the case table.

        Raises
        ------
        BadInput
            If there is none, or the text is no TOML.
        """
        if (self.case is None) == (self.text is None):
            raise BadInput(Fault("case", "", "must be given once", "send either case or text"))
        table = self._parsed() if self.case is None else self.case
        faults = tuple(_drawings(table))
        if faults:
            raise BadInput(*faults)
        return table

    def _parsed(self) -> dict[str, Any]:
        try:
            return toml_syntax.parse_text(self.text or "", "case file")
        except BadInput as bad:
            told = f"cannot be read as TOML ({bad.faults[0].field}: {bad.faults[0].allowed})"
            raise BadInput(Fault("case file", "", told, bad.faults[0].mend)) from bad


@dataclass(frozen=True)
class JointBody(CaseBody):
    """A joint, with values that are to be changed in it.

    Attributes
    ----------
    changes : dict, optional
        New values by path, as a study changes them; "ear.hole" is that of every ear.
    """

    fields: ClassVar[Mapping[str, Field]] = {**CaseBody.fields, "changes": Field("table")}

    changes: dict[str, Any] | None = None

    def table(self) -> dict[str, Any]:
        """Return the case table, changed as sweeps change theirs."""
        table = super().table()
        if self.changes:
            model.read(table)  # what is no joint cannot be changed
        for path, value in (self.changes or {}).items():
            table = edit.changed(table, path, value)
        return table


@dataclass(frozen=True)
class PullBody(CaseBody):
    """A joint to pull.

    Attributes
    ----------
    detail : {"coarse", "fine"}
        Coarse: both sections on a coarse mesh, for an answer at once.
    tab, place : str
        A newer pull with the same tab and place takes the place of an older one.
    """

    fields: ClassVar[Mapping[str, Field]] = {
        **CaseBody.fields,
        "detail": Field("choice", choices=("coarse", "fine")),
        "tab": _TAB,
        "place": _TAB,
    }

    detail: Literal["coarse", "fine"] = "fine"
    tab: str | None = None
    place: str = "a"


@dataclass(frozen=True)
class DropBody:
    """A pull that is not wanted any more, by its tab and place."""

    fields: ClassVar[Mapping[str, Field]] = {
        "tab": Field("name", '"a"', needed=True),
        "place": _TAB,
    }

    tab: str
    place: str = "a"


@dataclass(frozen=True)
class ProofBody:
    """A proof pull, N."""

    fields: ClassVar[Mapping[str, Field]] = {
        "load_N": Field("force", "1000", low=1e-3, high=1e9, needed=True)
    }

    load_N: float


@dataclass(frozen=True)
class PictureQuery:
    """How a picture is wanted."""

    fields: ClassVar[Mapping[str, Field]] = {
        "what": Field("choice", choices=tuple(p.name for p in table().values() if p.label)),
        "suffix": Field("choice", choices=("png", "svg", "pdf")),
        "theme": Field("choice", choices=("print", "screen", "dark")),
        "width": _PIXELS,
        "height": _PIXELS,
    }

    what: str
    suffix: Literal["png", "svg", "pdf"]
    theme: Literal["print", "screen", "dark"] = "print"
    width: int | None = None
    height: int | None = None


def _drawings(table: Mapping[str, Any]) -> Iterator[Fault]:
    """Tell of drawings that a case names: the page is given the case alone."""
    for part in ("ear", "shank"):
        plates = table.get(part)
        for plate in plates if isinstance(plates, list) else [plates]:
            drawn = plate.get("outline") if isinstance(plate, Mapping) else None
            file = drawn.get("file") if isinstance(drawn, Mapping) else drawn
            if isinstance(file, str):
                allowed = "names a drawing, and the page has no access to it"
                mend = "use `fejoint pull`, which reads it from beside the case"
                yield Fault(f"{part}.outline", shorten(file), allowed, mend)


Body = TypeVar("Body", bound="CaseBody | DropBody | ProofBody | PictureQuery")


def read_body(kind: type[Body], sent: bytes | Mapping[str, Any]) -> Body:
    """Return a body as one of the kinds above, from its JSON or a call's parameters.

    Raises
    ------
    BadInput
        With what is wrong, the first twenty faults; keys that hold null count as left out.
    """
    try:
        body = sent if isinstance(sent, Mapping) else json.loads(sent)
    except (ValueError, RecursionError):
        raise BadInput(Fault("body", "", "is no JSON", "send a JSON object")) from None
    if not isinstance(body, Mapping):
        raise BadInput(Fault("body", "", "must be a JSON object", "send a JSON object"))
    reading = Reading(whole="this call")
    given = {key: value for key, value in body.items() if value is not None}
    values = reading.table("", given, kind.fields)
    if reading.faults:
        raise BadInput(*reading.faults[:_MOST_FAULTS])
    return kind(**values)


def read_joint(table: dict[str, Any]) -> Joint:
    """Return the joint of a case table, if the page can solve it.

    Raises
    ------
    BadInput
        With every fault.
    """
    joint = model.read(table)
    faults = tuple(_too_much(joint))
    if faults:
        raise BadInput(*faults)
    return joint


def _too_much(joint: Joint) -> Iterator[Fault]:
    shapes = (*(("ear", ear.outline) for ear in joint.ears), ("shank", joint.shank.outline))
    for name in dict.fromkeys(name for name, shape in shapes if shape is not None):
        mend = "use `fejoint pull`, `fejoint picture` and `fejoint report`"
        yield Fault(f"{name}.outline", "", "is not shown on the page", mend)
    mend = "make it smaller, or use `fejoint pull`, which has no such limit"
    alike = len(set(joint.ears)) == 1
    plates = [
        ("ear" if alike else f"ear.{k}", ear, ear.grip_length, "grip_length")
        for k, ear in enumerate(joint.ears[:1] if alike else joint.ears, start=1)
    ]
    plates.append(("shank", joint.shank, joint.shank.length, "length"))  # type: ignore[arg-type]
    for name, part, length, key in plates:
        for field, value, most in (
            (key, length, MOST_LONG),
            ("width", part.width, MOST_WIDE),
            ("edge_distance", part.edge_distance, MOST_WIDE),
        ):
            if value > most * part.hole:
                allowed = f"must be at most {most:g} hole diameters on the page"
                yield Fault(f"{name}.{field}", f"{value:g} mm", allowed, mend)
    if joint.grip > MOST_WIDE * joint.pin.diameter:
        allowed = f"must leave a pin of at most {MOST_WIDE:g} diameters on the page"
        yield Fault("shank.thickness", f"{joint.shank.thickness:g} mm", allowed, mend)
    if len(joint.pull.legs) > MOST_LEGS:
        allowed = f"must be at most {MOST_LEGS} on the page"
        yield Fault("pull.leg", str(len(joint.pull.legs)), allowed, mend)
