"""The commands `fejoint match` and `fejoint book`: what they take."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from fejoint.cli.options import Case, Flag, Json, Refine

_Several = Annotated[tuple[Path, ...], Parameter(consume_multiple=True)]


def match(
    case: Case,
    *logs: Path,
    against: _Several = (),
    plan: Flag = False,
    learn: Flag = False,
    part: str = "ear",
    hold_out: int | None = None,
    caliper: Path | None = None,
    broke: str | None = None,
    note: str = "",
    book: Path | None = None,
    out: Path | None = None,
    rig: str | None = None,
    speed: str | None = None,
    peaks: Flag = False,
    force_column: str | None = None,
    travel_column: str | None = None,
    time_column: str | None = None,
    force_unit: str | None = None,
    travel_unit: str | None = None,
    time_unit: str | None = None,
    separator: str | None = None,
    decimal: str | None = None,
    scatter: float | None = None,
    difference: float = 0.1,
    power: float = 0.9,
    refine: Refine = 1.0,
    as_json: Json = False,
) -> int:
    """Put measured pulls beside the prediction: plan, compare, learn, and keep a record.

    Parameters
    ----------
    logs
        Logs of the rig, or lists of break loads, as CSV or the like.
    against
        Logs of another design, to compare with the first.
    plan
        Say what to expect, and write a page to print and an empty caliper sheet.
    learn
        Fit the metal's law and the friction to the logs, and write a case that uses them.
    part
        Whose metal to learn: ear, pin or shank.
    hold_out
        Last logs to judge by only; one of three or more if left out.
    caliper
        A filled caliper sheet.
    broke
        What was seen: "hole stretched", "pin bent", "pin sheared", "end torn", "net section".
    note
        Anything to keep in the book.
    book
        Results book to write the pulls into; made if it is not there.
    out
        Folder for what is written; "out/NAME/match" of the case if left out.
    rig
        Stiffness of the rig, such as "12 kN/mm"; found from the log if left out.
    speed
        Of the rig, such as "5 mm/min": makes travel of time.
    peaks
        The logs are lists of break loads.
    force_column
        Its name, or number from 1; so for the others. Guessed if left out.
    travel_column
        Of the crosshead or the joint.
    time_column
        Of the time.
    force_unit
        N, kN, kgf, kg, lbf, ...
    travel_unit
        mm, in, ...
    time_unit
        s, ms, min, h.
    separator
        tab, semicolon, comma, bar or blank.
    decimal
        Decimal mark, a point or a comma.
    scatter
        Of loads, over the mean, to plan with: 0.05.
    difference
        Between two designs, over the mean, to plan for.
    power
        Chance of telling that difference.
    """
    from fejoint.cli import match as match_command
    from fejoint.measured.log_record import Hints

    hints = Hints(
        force=force_column,
        travel=travel_column,
        time=time_column,
        force_unit=force_unit,
        travel_unit=travel_unit,
        time_unit=time_unit,
        separator=separator,
        decimal=decimal,
        peaks=peaks,
    )
    asked = match_command.Asked(
        logs=logs,
        against=against,
        plan=plan,
        learn=learn,
        part=part,
        hold_out=hold_out,
        caliper=caliper,
        broke=broke,
        note=note,
        book=book,
        out=out,
        rig=rig,
        hints=hints,
        speed=speed,
        refine=refine,
        scatter=scatter,
        difference=difference,
        power=power,
        as_json=as_json,
    )
    return match_command.run(case, asked)


def book(
    file: Path = Path("fejoint-book.sqlite"),
    /,
    *,
    parity: Path | None = None,
    strike: int | None = None,
    as_json: Json = False,
) -> int:
    """List a results book and say how predictions did.

    Parameters
    ----------
    file
        The book; `fejoint match ... --book FILE` writes into it.
    parity
        Draw measured against predicted loads into this .png, .svg or .pdf.
    strike
        Take the pull of this number out.
    """
    from fejoint.cli import book as book_command

    return book_command.run(file, parity=parity, strike=strike, as_json=as_json)
