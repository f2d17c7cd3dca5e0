"""A day at the rig in one call: logs read, put beside the prediction, compared, learned from."""

from __future__ import annotations

import itertools
import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from fejoint.analysis.progress import Progress, Told
from fejoint.analysis.pull import pull
from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault, shorten
from fejoint.inputs import fields
from fejoint.inputs.units import both_units
from fejoint.joint.model import CaseLike, Joint, load
from fejoint.measured import blank_pull, calibration, joint_model, log_reader
from fejoint.measured import comparison as like_for_like
from fejoint.measured.calibration_result import LearnedLaw, Pulled
from fejoint.measured.comparison import Expected, Matched
from fejoint.measured.log_record import Hints, Log
from fejoint.measured.outcome import Outcome
from fejoint.measured.rig_compliance import Curve
from fejoint.measured.statistics import compare
from fejoint.measured.surrogate import Solve
from fejoint.measured.test_plan import Plan, make
from fejoint.sections.face.pull import OFFSET

if TYPE_CHECKING:
    pass

PathLike = str | os.PathLike[str]
RIG = "12 kN/mm"
"""A stiffness as one writes it."""
TRIED = 20.0
"""Laws that a fit usually tries: half of them done counts as half."""
LEAVES_THE_LINE = 2.5
"""Extension beyond its elastic line that a log must show to be learned from, over the offset's.
Of a made log cut at 0.6 and 1.6 offsets the intervals exclude the truth, at 2.7 they hold it."""


def expectation(
    joint: Joint, refine: float = 1.0, progress: Progress | None = None, *, band: bool = False
) -> Expected:
    """Return what is predicted for a joint at the rig."""
    return like_for_like.expect(pull(joint, refine=refine, progress=progress, band=band))


def read_logs(paths: Sequence[Path], hints: Hints, expected: Expected) -> list[Log]:
    """Read logs; every unreadable one is told of at once.

    Raises
    ------
    BadInput
        With the faults of all logs.
    """
    logs: list[Log] = []
    faults: list[Fault] = []
    for path in paths:
        try:
            logs += log_reader.read_tests(path, hints, expected.most)
        except BadInput as error:
            faults += error.faults
    if faults:
        raise BadInput(*faults)
    names = [log.name for log in logs]
    if len(set(names)) < len(names):  # of one name in several folders, or one file given twice
        twice = {name for name in names if names.count(name) > 1}
        logs = [
            replace(log, name=f"{log.name} ({k})") if log.name in twice else log
            for k, log in enumerate(logs, start=1)
        ]
    return logs


def plan(
    joint: CaseLike,
    *,
    seen: Outcome | None = None,
    scatter: float | None = None,
    difference: float = 0.1,
    power: float = 0.9,
    refine: float = 1.0,
    band: bool = False,
    progress: Progress | None = None,
) -> Plan:
    """Plan a pull: what to expect, which load cell, where to stop, how many samples.

    Parameters
    ----------
    joint : Joint, path or mapping
        The joint, its case file, or the tables of one.
    seen : Outcome, optional
        Of samples pulled already: their scatter is planned with.
    scatter : float, optional
        Standard deviation of loads over their mean, which goes before all else.
    difference, power : float
        Difference between two designs to tell, over the mean, and the chance of telling it.
    refine : float
    band : bool
        Whether the prediction tells its odds, as one that is sealed should.
    progress : callable, optional
        Called with the phase in words, the share of the whole that is done (0 to 1, never falling;
        an estimate) and the pull that the joint has reached (N, or None).

    Returns
    -------
    Plan

    Raises
    ------
    BadInput
        If the joint cannot be used, or difference, scatter or power is out of range.

    Examples
    --------
    >>> made = plan("cases/demo/hard-pin.toml", scatter=0.05, refine=0.35)
    >>> made.proof < made.expected.most < made.cell
    True
    """
    expected = expectation(load(joint), refine, progress, band=band)
    spread = None if seen is None else seen.spreads.get("load maximum")
    return make(expected, seen=spread, scatter=scatter, difference=difference, power=power)


def match(
    joint: CaseLike,
    paths: PathLike | Sequence[PathLike],
    *,
    against: PathLike | Sequence[PathLike] = (),
    hints: Hints | None = None,
    stiffness: float | str | None = None,
    blank: PathLike | None = None,
    refine: float = 1.0,
    expected: Expected | None = None,
    progress: Progress | None = None,
) -> Outcome:
    """Put logs beside the prediction.

    Parameters
    ----------
    joint : Joint, path or mapping
        The joint, its case file, or the tables of one.
    paths : path or sequence of paths
        Logs of this joint.
    against : path or sequence of paths
        Logs of another design, compared with the first.
    hints : Hints, optional
        What is known of the logs' columns and units; guessed, or asked for, without it.
    stiffness : float or str, optional
        Of the rig: N/mm, or such as "12 kN/mm".
    blank : path, optional
        Log of the grip with a stiff bar in the joint's place: the rig's own stretch.
    refine : float
    expected : Expected, optional
        The prediction, if it is there already.
    progress : callable, optional
        Called with the phase in words, the share of the whole that is done (0 to 1, never falling;
        an estimate) and the pull that the joint has reached (N, or None).

    Returns
    -------
    Outcome

    Raises
    ------
    BadInput
        If a log cannot be used.

    Examples
    --------
    >>> outcome = match("cases/demo/hard-pin.toml", "cases/demo/pulls/hard-pin-1.csv")
    >>> len(outcome.frame)
    1
    """
    told = Told(progress)
    expected = expected or expectation(load(joint), refine, told.part(0.0, 0.9))
    hints = hints or Hints()
    of_rig = None if blank is None else blank_pull.read(log_reader.read(Path(blank), hints))
    rig = None if stiffness is None else fields.per("rig", stiffness, "force", "length", RIG)
    sets = []
    for group in (paths, against):
        logs = read_logs(_paths(group), hints, expected)
        sets.append([_matched(log, expected, rig, of_rig) for log in logs])
    own, other = sets
    comparison = {}
    if other:
        tops = [like_for_like.maxima([m for m in s if m.broke]) for s in sets]
        if min(map(len, tops)) >= 2:
            comparison["load maximum"] = compare(*tops)
        offsets = [[m.offset.load for m in s if m.offset and not m.unsure] for s in sets]
        if min(map(len, offsets)) >= 2:
            comparison["offset load"] = compare(*offsets)
    spreads = like_for_like.spreads(own)
    told("logs read and compared", 1.0)
    return Outcome(expected, tuple(own), spreads, comparison, blank=blank is not None)


def _paths(given: PathLike | Sequence[PathLike]) -> list[Path]:
    if isinstance(given, str | os.PathLike):
        given = [given]
    try:
        return [Path(each) for each in given]
    except TypeError as error:
        mend = 'write for example ["pull-1.csv", "pull-2.csv"]'
        raise BadInput(Fault("logs", shorten(repr(given)), "must be paths", mend)) from error


def _matched(
    log: Log, expected: Expected, stiffness: float | None, blank: blank_pull.Blank | None
) -> Matched:
    try:
        return like_for_like.match(log, expected, stiffness, blank)
    except BadInput as error:
        named = [Fault(log.name, f.value, f.allowed, f.mend) for f in error.faults]
        raise BadInput(*named) from error


def learned(
    joint: CaseLike,
    outcome: Outcome,
    *,
    part: str = "ear",
    hold_out: int | None = None,
    refine: float = 0.5,
    progress: Progress | None = None,
) -> LearnedLaw:
    """Learn the law of a part from the outcome's logs.

    Parameters
    ----------
    joint : Joint, path or mapping
        The joint, its case file, or the tables of one.
    outcome : Outcome
    part : {"ear", "pin", "shank"}
    hold_out : int, optional
        Last logs to judge by only; one of three or more if left out.
    refine : float
        Of the fit's many solves; one finer solve corrects them.
    progress : callable, optional
        Called with the phase in words, the share of the whole that is done (0 to 1, never falling;
        an estimate) and the pull that the joint has reached (N, or None).

    Returns
    -------
    LearnedLaw

    Raises
    ------
    BadInput
        If no log has travel, or they say nothing of the law.

    Examples
    --------
    >>> outcome = match("cases/demo/hard-pin.toml", "cases/demo/pulls/hard-pin-1.csv")
    >>> law = learned("cases/demo/hard-pin.toml", outcome)
    """
    joint = load(joint)
    for m in outcome.matches:
        if m.not_a_line:
            mend = "pull in a grip that does not stiffen"
            allowed = f"teaches nothing: {m.not_a_line}"
            raise BadInput(Fault("--learn", m.log.name, allowed, mend))
    curves = [m for m in outcome.matches if m.log.kind == "curve" and m.rig is not None]
    if not curves:
        mend = "log travel too, or give --speed"
        raise BadInput(Fault("--learn", "", "needs a log with travel", mend))
    held = hold_out if hold_out is not None else int(len(curves) >= 3)
    if not 0 <= held < len(curves):
        allowed = f"must be 0 to {len(curves) - 1} of {len(curves)} logs with travel"
        raise BadInput(Fault("--hold-out", str(held), allowed, "leave logs to learn from"))
    pulls = []
    for m in curves:
        assert m.rig is not None
        assert m.log.travel is not None
        travel = m.log.travel if m.raw is None or m.raw.travel is None else m.raw.travel
        pulls.append(Pulled(m.log.name, m.log.force - m.rig.zero, travel, m.rig, m.blank))
    used, judged = pulls[: len(pulls) - held], pulls[len(pulls) - held :]
    reach = max(float(p.extension(int(p.force.argmax()) + 1).max()) for p in used)
    reach = min(1.15 * reach, float(outcome.expected.answer.trace.extension.max()))
    known = joint_model.priors(joint, part)
    count, told = itertools.count(1), Told(progress)

    def solved(finesse: float) -> Solve:
        solve = joint_model.real_solve(joint, part, known, reach, finesse)

        def one_more(at: Floats) -> Curve:
            k = next(count)
            told(f"law tried {k}", k / (k + TRIED))
            return solve(at)

        return one_more

    law = calibration.fit(
        used,
        solved(refine),
        known,
        finer=solved(2.0 * refine),
        held_out=judged,
        elastic_until=LEAVES_THE_LINE * OFFSET * outcome.expected.hole,
    )
    told("done", 1.0)
    loaded = [
        f"{m.log.name} begins at {both_units(m.begins_loaded)}, taken as a preload: were it the "
        "load cell's zero, the law would be off by it"
        for m in curves if m.begins_loaded
    ]  # fmt: skip
    if loaded:
        law = replace(law, notes=(*law.notes, *loaded))
    if not law.settled:
        return law
    names = [m.log.name for m in outcome.matches if m.log.name not in law.held_out]
    material, case = joint_model.learned_case(joint, part, law, names)
    return replace(law, material=material, case=case)
