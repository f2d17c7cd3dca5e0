"""What `fejoint match` does and prints."""

from __future__ import annotations

import json
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from fejoint.analysis.cautions import CAUTIONS
from fejoint.analysis.result import write_atomically
from fejoint.errors import BadInput, Fault
from fejoint.inputs import units
from fejoint.joint import reader
from fejoint.joint.model import Joint
from fejoint.measured import (
    caliper,
    evaluate,
    failure_modes,
    joint_model,
    plots,
    report_lines,
    results_book,
    test_plan,
)
from fejoint.measured.comparison import Expected
from fejoint.measured.log_record import Hints
from fejoint.measured.results_book import Entry


@dataclass(frozen=True)
class Asked:
    """What the command line asks for; quantities still as text."""

    logs: tuple[Path, ...] = ()
    against: tuple[Path, ...] = ()
    plan: bool = False
    learn: bool = False
    part: str = "ear"
    hold_out: int | None = None
    caliper: Path | None = None
    broke: str | None = None
    note: str = ""
    book: Path | None = None
    out: Path | None = None
    rig: str | None = None
    hints: Hints = field(default_factory=Hints)
    speed: str | None = None
    refine: float = 1.0
    scatter: float | None = None
    difference: float = 0.1
    power: float = 0.9
    as_json: bool = False


def run(case: Path, asked: Asked) -> int:
    """Do what is asked, write what comes of it, and print it.

    Raises
    ------
    BadInput
        If the case, a log or an option is bad.
    """
    joint = reader.load(case)
    if not (asked.logs or asked.plan or asked.caliper):
        allowed = "needs logs, --plan or --caliper"
        raise BadInput(Fault("match", "", allowed, f"fejoint match {case} --plan"))
    if not 0.25 <= asked.refine <= 4.0:
        raise BadInput(Fault("--refine", f"{asked.refine:g}", "must be 0.25 to 4", "leave it out"))
    mode = failure_modes.seen(asked.broke) if asked.broke else ""
    hints = _with_speed(asked)
    stiffness = (
        None if asked.rig is None else per(asked.rig, "--rig", "force", "length", "12 kN/mm")
    )
    if stiffness is not None and stiffness <= 0.0:
        raise BadInput(Fault("--rig", str(asked.rig), "must be above 0", "write 12 kN/mm"))
    sheet = caliper.load(asked.caliper) if asked.caliper else None
    folder = asked.out or Path("out") / case.stem / "match"
    expected = evaluate.expectation(joint, asked.refine)
    told: list[str] = []
    written: list[Path] = []
    data: dict[str, Any] = {}
    outcome = None
    if asked.logs:
        outcome = evaluate.match(
            joint, asked.logs, against=asked.against, hints=hints, stiffness=stiffness,
            expected=expected,
        )  # fmt: skip
        told += report_lines.of_logs(outcome)
        refused = None
        if asked.learn:
            try:
                fit = evaluate.learned(joint, outcome, part=asked.part, hold_out=asked.hold_out)
            except BadInput as error:
                refused = error
            else:
                outcome = evaluate.Outcome(
                    outcome.expected, outcome.matches, outcome.spreads, outcome.comparison, fit
                )
                names = [m.log.name for m in outcome.matches if m.log.name not in fit.held_out]
                told += report_lines.of_fit(fit)
                if not fit.settled:
                    raise_later = "the fit has not settled: no case is written"
                    refused = BadInput(Fault("--learn", "", raise_later, "see the notes above"))
                alone, whole = joint_model.learned_case(joint, asked.part, fit, names)
                told += report_lines.of_fit(fit)
                for name, text in (("learned-material.toml", alone), ("learned-case.toml", whole)):
                    write_atomically(folder / name, text)
                    written.append(folder / name)
        best = outcome.fit.curve if outcome.fit else None
        picture = folder / "overlay.png"
        written.append(plots.overlay(expected, outcome.matches, picture, learned=best))
        data |= outcome.to_dict()
    if asked.plan:
        seen = outcome.spreads.get("load maximum") if outcome else None
        made = test_plan.make(
            expected, seen=seen, scatter=asked.scatter, difference=asked.difference,
            power=asked.power,
        )  # fmt: skip
        told += report_lines.of_plan(made)
        written.append(test_plan.write_page(made, folder / "plan.html"))
        write_atomically(folder / "caliper.toml", caliper.blank(joint))
        written.append(folder / "caliper.toml")
        data["plan"] = made.to_dict()
    if sheet is not None:
        rows = caliper.beside(joint, sheet, asked.refine)
        told += report_lines.of_caliper(sheet, rows, expected)
        mode = mode or (
            failure_modes.seen(sheet.broke) if sheet.broke not in ("", "nothing") else ""
        )
        data["caliper"] = [
            {"what": r.what, "measured_mm": r.measured, "predicted_mm": r.predicted,
             "reason": r.why} for r in rows
        ]  # fmt: skip
    if mode:
        told.append(failure_modes.judged(mode, expected.answer))
        data["seen"] = {"mode": mode, "judged": failure_modes.judged(mode, expected.answer)}
    text = json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False, default=float)
    write_atomically(folder / "match.json", text)
    written.append(folder / "match.json")
    if asked.book is not None:
        # last: a command that failed before and is given again enters nothing twice
        new = _entries(joint, expected, outcome, sheet, mode, asked.note)
        results_book.add(asked.book, joint, new)
        told.append(f"{len(new)} rows written into {asked.book}")
    if asked.as_json:
        print(text)
    else:
        print("\n".join([joint.title, expected.answer.verdict.sentence, "", *told, ""]))
        print("\n".join([*(f"caution: {c}" for c in CAUTIONS), ""]))
        print("\n".join(f"wrote {path}" for path in written))
    if asked.logs and refused is not None:
        raise refused
    return 0


def per(text: str, where: str, above: Any, below: Any, example: str) -> float:
    """Read a quantity over another: "12 kN/mm", "5 mm/min".

    Raises
    ------
    BadInput
        If it is none.
    """
    top, _, bottom = text.partition("/")
    try:
        if below == "time":
            seconds = {"s": 1.0, "min": 60.0, "h": 3600.0}[bottom.strip()]
            return units.read(top.strip(), above) / seconds
        return units.read(top.strip(), above) / units.read(f"1 {bottom.strip()}", below)
    except (units.Misread, KeyError) as error:
        allowed = f"must be such as {example}"
        raise BadInput(Fault(where, text, allowed, f"write {example}")) from error


def _with_speed(asked: Asked) -> Hints:
    if asked.speed is None:
        return asked.hints
    speed = per(asked.speed, "--speed", "length", "time", "5 mm/min")
    if speed <= 0.0:
        raise BadInput(Fault("--speed", asked.speed, "must be above 0", "write 5 mm/min"))
    return replace(asked.hints, speed=speed)


def _entries(
    joint: Joint,
    e: Expected,
    outcome: evaluate.Outcome | None,
    sheet: caliper.Sheet | None,
    mode: str,
    note: str,
) -> list[Entry]:
    order = e.answer.verdict.order
    first = order[0].first.mode if order else ""
    most = e.most if e.most_mode else None
    title = " ".join(joint.title.split())
    new = []
    for m in outcome.matches if outcome else ():
        loads = m.log.force.tolist() if m.log.kind == "peaks" else [m.maximum]
        for k, load in enumerate(loads if m.broke else [], start=1):
            name = m.log.name if len(loads) == 1 else f"{m.log.name}, {k}"
            new.append(Entry(title, name, "peak", load, most, first, mode, note))
        if m.offset is not None and e.offset is not None:
            new.append(
                Entry(title, m.log.name, "offset load", m.offset.load, e.offset.load, first, mode,
                      note)
            )  # fmt: skip
    if sheet is not None and mode in failure_modes.ENDING:
        new.append(
            Entry(title, "caliper", "peak", sheet.peak, most, first, mode, sheet.note or note)
        )
    return new
