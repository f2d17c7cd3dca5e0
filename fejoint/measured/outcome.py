"""Logs beside the prediction: what `match` found, as objects, a table and plain data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from fejoint.analysis.plotted import Plotted, from_above
from fejoint.inputs.units import KGF
from fejoint.measured.calibration_result import LearnedLaw
from fejoint.measured.comparison import Expected, Matched
from fejoint.measured.statistics import Comparison, Spread

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Outcome(Plotted):
    """Logs beside the prediction; `str` says all of it, `plot` draws the curves.

    Attributes
    ----------
    expected : Expected
    matches : tuple of Matched
    spreads : dict of str to Spread
    comparison : dict of str to Comparison
        With the logs of another design.
    fit : LearnedLaw or None
    blank : bool
        Whether a blank pull was taken out of the logs.
    """

    expected: Expected
    matches: tuple[Matched, ...]
    spreads: dict[str, Spread]
    comparison: dict[str, Comparison] = field(default_factory=dict)
    fit: LearnedLaw | None = None
    blank: bool = False
    _drawn_by = ("measured.plots", "overlay")

    def __str__(self) -> str:
        """Return how every log was read and how it lies beside the prediction."""
        return "\n".join(from_above("measured.report_lines", "of_logs")(self))

    @property
    def frame(self) -> pd.DataFrame:
        """A row a log: loads in N, slack in mm, the rig's compliance in mm/N."""
        import pandas as pd

        e = self.expected
        rows = [
            {
                "log": m.log.name, "kind": m.log.kind, "broke": m.broke, "highest_N": m.maximum,
                "predicted_highest_N": e.most if e.most_mode else None,
                "offset_N": m.offset.load if m.offset and not m.unsure else None,
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
        "offset_load_on_extension_N": m.offset.load if m.offset and not m.unsure else None,
        "offset_load_band_N": list(m.offset_band) if m.offset_band else None,
        "broke": m.broke,
        "load_cell_at_its_end": m.clipped,
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
