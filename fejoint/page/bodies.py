"""What the HTTP interface takes: bodies with their limits, and what a joint of the page may be."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator

from fejoint.errors import BadInput, Fault
from fejoint.inputs import toml_syntax
from fejoint.joint import model
from fejoint.joint.model import Joint
from fejoint.output.pictures import table

MOST_WIDE, MOST_LONG = 40.0, 80.0
"""Width, and length to the grip, in hole diameters: beyond them meshes grow large."""
MOST_LEGS = 10

Name = Annotated[str, Field(min_length=1, max_length=64, pattern=r"^[\w-]+$")]


class _Body(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class CaseBody(_Body):
    """A joint: a case table, or the text of a case file.

    Attributes
    ----------
    case : dict, optional
        The tables of a case file as JSON; bare numbers are mm, N, MPa and degrees.
    text : str, optional
        A case file as text (TOML).
    """

    case: dict[str, Any] | None = None
    text: Annotated[str, Field(max_length=200_000)] | None = None

    def table(self) -> dict[str, Any]:
        """Return the case table.

        Raises
        ------
        BadInput
            If there is none, or the text is no TOML.
        """
        if (self.case is None) == (self.text is None):
            raise BadInput(Fault("case", "", "must be given once", "send either case or text"))
        if self.case is not None:
            return self.case
        try:
            return toml_syntax.parse_text(self.text or "", "case file")
        except BadInput as bad:
            told = f"cannot be read as TOML ({bad.faults[0].field}: {bad.faults[0].allowed})"
            raise BadInput(Fault("case file", "", told, bad.faults[0].mend)) from bad


class PullBody(CaseBody):
    """A joint to pull.

    Attributes
    ----------
    detail : {"coarse", "fine"}
        Coarse: both sections on a coarse mesh, for an answer at once.
    tab, place : str
        A newer pull with the same tab and place takes the place of an older one.
    """

    detail: Literal["coarse", "fine"] = "fine"
    tab: Name | None = None
    place: Name = "a"


class DropBody(_Body):
    """A pull that is not wanted any more, by its tab and place."""

    tab: Name
    place: Name = "a"


class ProofBody(_Body):
    """A proof pull, N."""

    load_N: Annotated[float, Field(gt=0.0, le=1e9)]


class PictureQuery(_Body):
    """How a picture is wanted."""

    what: str
    suffix: Literal["png", "svg", "pdf"]
    theme: Literal["print", "screen", "dark"] = "print"
    width: Annotated[int, Field(ge=200, le=4000)] | None = None
    height: Annotated[int, Field(ge=200, le=4000)] | None = None

    @field_validator("what")
    @classmethod
    def _is_offered(cls, what: str) -> str:
        offered = [p.name for p in table().values() if p.label]
        if what not in offered:
            message = f"must be one of {', '.join(offered)}"
            raise ValueError(message)
        return what


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
