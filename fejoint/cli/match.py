"""`fejoint match`."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from fejoint.cli import console
from fejoint.cli.options import CASE_DEFAULTS, Case, CaseOptions, Flag, WholeOrNone
from fejoint.errors import BadInput, Fault
from fejoint.files import write_atomically

if TYPE_CHECKING:
    pass

_Several = Annotated[tuple[Path, ...], Parameter(consume_multiple=True, show_default=False)]


def match(
    case: Case,
    /,
    *logs: Path,
    against: _Several = (),
    plan: Flag = False,
    learn: Flag = False,
    part: str = "ear",
    hold_out: WholeOrNone = None,
    caliper: Path | None = None,
    broke: str | None = None,
    note: str = "",
    book: Path | None = None,
    out: Path | None = None,
    rig: str | None = None,
    blank: Path | None = None,
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
    given: CaseOptions = CASE_DEFAULTS,
) -> None:
    """Put measured pulls beside the prediction: plan, compare, learn, and keep a record.

    Parameters
    ----------
    logs
        Logs of the rig, or lists of break loads, as CSV or the like.
    against
        Logs of another design, to compare with the first.
    plan
        Say what to expect, and write a page to print and an empty caliper sheet; with --book,
        the prediction is sealed there, and the joint's pulls judge that one.
    learn
        Fit the metal's law and the friction to the logs, and write a case that uses them.
    part
        The part whose metal is learned: ear, pin or shank.
    hold_out
        How many of the last logs only judge the fit; one of three or more if left out.
    caliper
        A filled caliper sheet.
    broke
        What was seen: "hole stretched", "pin bent", "pin sheared", "end torn", "net section".
    note
        Anything to keep in the book.
    book
        The results book to write the pulls into; made if it is not there.
    out
        The folder for what is written; "out/NAME/match" of the case if left out.
    rig
        The stiffness of the rig, such as "12 kN/mm"; found from the log if left out.
    blank
        A log of the grip with a stiff bar in the joint's place: the rig's own stretch, taken out.
    speed
        The speed of the rig, such as "5 mm/min", which makes travel of time.
    peaks
        The logs are lists of break loads.
    force_column
        The column of the force, by name or number from 1; guessed if left out.
    travel_column
        The column of the travel of the crosshead or the joint, likewise.
    time_column
        The column of the time, likewise.
    force_unit
        The unit of the force: N, kN, kgf, kg, lbf or another.
    travel_unit
        The unit of the travel: mm, in or another.
    time_unit
        The unit of the time: s, ms, min or h.
    separator
        What stands between columns: tab, semicolon, comma, bar or blank.
    decimal
        The decimal mark, a point or a comma.
    scatter
        The standard deviation of loads over their mean to plan with, for example 0.05.
    difference
        The difference between two designs, over the mean, to plan for.
    power
        The chance with which the plan shows that difference.
    """
    from fejoint.analysis.cautions import IN_A_LINE
    from fejoint.analysis.joint_odds import surer
    from fejoint.inputs import fields
    from fejoint.measured import caliper as sheets
    from fejoint.measured import (
        evaluate,
        failure_modes,
        report_lines,
        results_book,
        sealed,
        test_plan,
    )
    from fejoint.measured.book import entries_of
    from fejoint.measured.log_record import Hints
    from fejoint.output.pictures import theme as look

    source = given.read(case)
    joint = source.joint
    if not (logs or plan or caliper):
        allowed = "needs logs, --plan or --caliper"
        raise BadInput(Fault("match", "", allowed, f"fejoint match {case} --plan"))
    mode = failure_modes.seen(broke) if broke else ""
    hints = Hints(
        force=force_column, travel=travel_column, time=time_column, force_unit=force_unit,
        travel_unit=travel_unit, time_unit=time_unit, separator=separator, decimal=decimal,
        peaks=peaks,
    )  # fmt: skip
    if speed is not None:
        hints = replace(hints, speed=fields.per("--speed", speed, "length", "time", "5 mm/min"))
    stiffness = None if rig is None else fields.per("--rig", rig, "force", "length", evaluate.RIG)
    sheet = sheets.load(caliper) if caliper else None
    record = _Record(source.folder(out, "/match"))
    with console.progress_share("prediction", quiet=given.as_json) as progress:
        expected = evaluate.expectation(joint, given.refine, progress)
    if plan and book is not None:
        expected = replace(expected, answer=surer(expected.answer))
    outcome, refused = None, None
    if logs:
        outcome = evaluate.match(
            joint, logs, against=against, hints=hints, stiffness=stiffness, blank=blank,
            expected=expected,
        )  # fmt: skip
        record.lines += report_lines.of_logs(outcome)
        if learn:
            try:
                with console.progress_share("learning", quiet=given.as_json) as progress:
                    fit = evaluate.learned(
                        joint, outcome, part=part, hold_out=hold_out, progress=progress
                    )
                outcome = replace(outcome, fit=fit)
                record.lines += report_lines.of_fit(fit)
                fit.check_settled()
                record.write("learned-material.toml", fit.material)
                record.write("learned-case.toml", fit.case)
            except BadInput as error:  # told at the end: what does not rest on the fit is kept
                refused = error
        record.written.append(look.save(outcome.plot(), record.folder / "overlay.png"))
        record.data |= outcome.to_dict()
    if plan:
        spread = outcome.spreads.get("load maximum") if outcome else None
        made = test_plan.make(
            expected, seen=spread, scatter=scatter, difference=difference, power=power
        )
        record.lines += report_lines.of_plan(made)
        record.written += made.write(record.folder)
        record.data["plan"] = made.to_dict()
    if sheet is not None:
        with console.progress_share("caliper", quiet=given.as_json) as progress:
            rows = sheets.by_caliper(joint, sheet, refine=given.refine, progress=progress)
        record.lines += report_lines.of_caliper(sheet, rows, expected)
        if not mode and sheet.broke not in ("", "nothing"):
            mode = failure_modes.seen(sheet.broke)
        record.data["caliper"] = rows.to_dicts()
    if mode:
        record.lines.append(failure_modes.judged(mode, expected.answer))
        record.data["seen"] = {"mode": mode, "judged": record.lines[-1]}
    source.claim(record.folder)
    of_book = None
    if book is not None:
        if plan and logs:
            record.lines.append("nothing sealed: a prediction is sealed before its logs are read")
        if plan and not logs:
            of_book, is_new = sealed.seal(book, expected)
            record.lines.append(
                f"{book}: {of_book.sentence()}" if is_new
                else f"{book}: this joint's first prediction stands, {of_book.sentence()}"
            )  # fmt: skip
        else:
            of_book = sealed.of_joint(book, results_book.digest_of(joint))
            if of_book is not None:
                record.lines.append(f"judged by {of_book.sentence()}")
        record.data["sealed"] = of_book and {"digest": of_book.digest} | dict(of_book.content)
    text = console.json_text(record.data)
    record.write("match.json", text)
    if book is not None:
        # last: a command that failed before leaves the book as it was
        new = entries_of(expected, outcome, sheet, mode, note, of_book)
        again = results_book.add(book, joint, new)
        replaced = f", {again} of them in place of an earlier entry" if again else ""
        if new or not plan:
            record.lines.append(f"{len(new)} rows written into {book}{replaced}")
    if given.as_json:
        console.say_json_text(text)
    else:
        console.say(joint.title, bold=True)
        console.say(expected.answer.verdict.sentence, "", *record.lines, "")
        console.say(IN_A_LINE, "")
        console.wrote(*record.written)
    if refused is not None:
        raise refused


@dataclass
class _Record:
    """What one run finds: lines to print, data to keep, and the files written."""

    folder: Path
    lines: list[str] = field(default_factory=list)
    written: list[Path] = field(default_factory=list)
    data: dict[str, Any] = field(default_factory=dict)

    def write(self, name: str, text: str) -> None:
        """Write a file into the folder."""
        write_atomically(self.folder / name, text)
        self.written.append(self.folder / name)
