"""A day at the rig in one call: logs read, put beside the prediction, compared, learned from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fejoint.analysis.pull import pull
from fejoint.errors import BadInput, Fault
from fejoint.inputs.units import KGF
from fejoint.joint.model import CaseLike, Joint, load
from fejoint.measured import blank_pull, calibration, joint_model, log_reader
from fejoint.measured import comparison as like_for_like
from fejoint.measured.calibration_result import Fit, Pulled
from fejoint.measured.comparison import Expected, Matched
from fejoint.measured.log_record import Hints, Log
from fejoint.measured.statistics import Comparison, Spread, compare
from fejoint.sections.face.pull import OFFSET

if TYPE_CHECKING:
    import pandas as pd

LEAVES_THE_LINE = 2.5
"""Extension beyond its elastic line that a log must show to be learned from, over the offset's.
Of a made log cut at 0.6 and 1.6 offsets the intervals exclude the truth, at 2.7 they hold it."""


@dataclass(frozen=True, eq=False)
class Outcome:
    """Logs beside the prediction.

    Attributes
    ----------
    expected : Expected
    matches : tuple of Matched
    spreads : dict of str to Spread
    comparison : dict of str to Comparison
        With the logs of another design.
    fit : Fit or None
    blank : bool
        Whether a blank pull was taken out of the logs.
    """

    expected: Expected
    matches: tuple[Matched, ...]
    spreads: dict[str, Spread]
    comparison: dict[str, Comparison] = field(default_factory=dict)
    fit: Fit | None = None
    blank: bool = False

    def table(self) -> pd.DataFrame:
        """Return one row a log: loads in N, slack in mm, the rig's compliance in mm/N."""
        import pandas as pd

        e = self.expected
        rows = [
            {
                "log": m.log.name, "kind": m.log.kind, "broke": m.broke, "highest_N": m.maximum,
                "predicted_highest_N": e.most if e.most_mode else None,
                "offset_N": m.offset.load if m.offset else None,
                "predicted_offset_N": e.offset.load if e.offset else None,
                "slack_mm": m.rig.slack if m.rig else None,
                "compliance_mm_per_N": m.rig.compliance if m.rig else None,
                "rms_over_largest": m.rms, "rig_not_a_line": m.not_a_line,
            }
            for m in self.matches
        ]  # fmt: skip
        return pd.DataFrame(rows)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, units in the names."""
        e = self.expected
        return {
            "schema": "fejoint.match/1",
            "case": e.answer.joint.to_dict(),
            "predicted": {
                "offset_load_on_extension_N": e.offset.load if e.offset else None,
                "most_N": e.most,
                "most_mode": e.most_mode,
                "verdict": e.answer.verdict.sentence,
            },
            "logs": [_log(m) for m in self.matches],
            "samples": {k: _spread(v, self.matches) for k, v in self.spreads.items()},
            "against": {
                k: {"difference": c.difference, "interval_95": list(c.interval),
                    "p_value": c.p_value, "told_apart": c.told_apart}
                for k, c in self.comparison.items()
            },
            "learned": self.fit.to_dict() if self.fit else None,
        }  # fmt: skip


def _log(m: Matched) -> dict[str, Any]:
    return {
        "name": m.log.name,
        "kind": m.log.kind,
        "rows": m.log.rows,
        "bad_rows": [{"line": b.line, "why": b.why} for b in m.log.bad[:1000]],
        "bad_rows_in_all": len(m.log.bad),
        "assumed": list(m.log.assumed),
        "maximum_N": m.maximum,
        "maximum_kgf": m.maximum / KGF,
        "peaks_N": m.log.force.tolist() if m.log.kind == "peaks" else None,
        "offset_load_on_extension_N": m.offset.load if m.offset else None,
        "rig": None if m.rig is None else {
            "slack_mm": m.rig.slack, "slack_sd_mm": m.rig.slack_sd,
            "compliance_mm_per_N": m.rig.compliance,
            "compliance_sd_mm_per_N": m.rig.compliance_sd,
            "zero_N": m.rig.zero, "from": m.rig.how,
        },
        "rms_over_largest": m.rms,
        "bias_over_largest": m.bias,
        "rig_not_a_line": m.not_a_line or None,
        "spikes": [{"line": x.line, "force_N": x.force, "travel_mm": x.travel}
                   for x in m.log.spikes[:1000]],
    }  # fmt: skip


def _spread(s: Spread, matches: Sequence[Matched]) -> dict[str, Any]:
    return {
        "count": s.count, "mean_N": s.mean, "deviation_N": s.deviation,
        "interval_95_N": list(s.interval) if s.interval else None,
        "outliers": [k + 1 for k in s.outliers],
    }  # fmt: skip


def expectation(joint: Joint, refine: float = 1.0) -> Expected:
    """Return what is predicted for a joint at the rig."""
    return like_for_like.expect(pull(joint, refine=refine))


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
    return logs


def match(
    joint: CaseLike,
    paths: Sequence[Path],
    *,
    against: Sequence[Path] = (),
    hints: Hints | None = None,
    stiffness: float | None = None,
    blank: Path | None = None,
    refine: float = 1.0,
    expected: Expected | None = None,
) -> Outcome:
    """Put logs beside the prediction.

    Parameters
    ----------
    joint : Joint, path or mapping
        The joint, its case file, or the tables of one.
    paths : sequence of Path
        Logs of this joint.
    against : sequence of Path
        Logs of another design, compared with the first.
    hints : Hints, optional
    stiffness : float, optional
        Of the rig, N/mm.
    blank : Path, optional
        Log of the grip with a stiff bar in the joint's place: the rig's own stretch.
    refine : float
    expected : Expected, optional
        The prediction, if it is there already.

    Returns
    -------
    Outcome

    Raises
    ------
    BadInput
        If a log cannot be used.

    Examples
    --------
    >>> outcome = match("cases/demo/hard-pin.toml", [Path("cases/demo/pulls/hard-pin-1.csv")])
    >>> len(outcome.table())
    1
    """
    expected = expected or expectation(load(joint), refine)
    hints = hints or Hints()
    of_rig = None if blank is None else blank_pull.read(log_reader.read(blank, hints))
    sets = []
    for group in (paths, against):
        logs = read_logs(group, hints, expected)
        sets.append([_matched(log, expected, stiffness, of_rig) for log in logs])
    own, other = sets
    comparison = {}
    if other:
        comparison["load maximum"] = compare(like_for_like.maxima(own), like_for_like.maxima(other))
        offsets = [[m.offset.load for m in s if m.offset] for s in sets]
        if min(map(len, offsets)) >= 2:
            comparison["offset load"] = compare(*offsets)
    spreads = like_for_like.spreads(own)
    return Outcome(expected, tuple(own), spreads, comparison, blank=blank is not None)


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
) -> Fit:
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

    Returns
    -------
    Fit

    Raises
    ------
    BadInput
        If no log has travel, or they say nothing of the law.

    Examples
    --------
    >>> logs = [Path("cases/demo/pulls/hard-pin-1.csv")]
    >>> outcome = match("cases/demo/hard-pin.toml", logs)
    >>> fit = learned("cases/demo/hard-pin.toml", outcome)
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
    reach = min(1.15 * reach, float(outcome.expected.answer.curve.extension.max()))
    known = joint_model.priors(joint, part)
    return calibration.fit(
        used,
        joint_model.real_solve(joint, part, known, reach, refine),
        known,
        finer=joint_model.real_solve(joint, part, known, reach, 2.0 * refine),
        held_out=judged,
        elastic_until=LEAVES_THE_LINE * OFFSET * outcome.expected.hole,
    )
