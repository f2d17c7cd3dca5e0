"""What `fejoint match` says, line by line."""

from __future__ import annotations

from collections.abc import Sequence

from fejoint.analysis import definitions
from fejoint.inputs.units import both_units, figures
from fejoint.measured import caliper, test_plan
from fejoint.measured.calibration_result import LearnedLaw
from fejoint.measured.comparison import Expected, Matched, sample_names
from fejoint.measured.outcome import Outcome
from fejoint.measured.statistics import Spread

_SHOWN = 5
"""Bad rows shown of a log; the rest are in the answer."""


def of_logs(outcome: Outcome) -> list[str]:
    """Say how every log was read and how it lies beside the prediction."""
    e, told = outcome.expected, []
    for m in outcome.matches:
        told += [f"{m.log.name}: {m.log.rows:,} rows read"]
        told += [f"  {said}" for said in m.log.assumed]
        for bad in m.log.bad[:_SHOWN]:
            told.append(f"  line {bad.line} left out: {bad.why}")
        if len(m.log.bad) > _SHOWN:
            told.append(f"  and {len(m.log.bad) - _SHOWN:,} more lines (see match.json)")
        if m.log.spikes:
            rows = "; ".join(f"line {x.line} ({x.force:,.0f} N)" for x in m.log.spikes[:_SHOWN])
            more = len(m.log.spikes) - _SHOWN
            told.append(f"  spikes not used: {rows}" + (f" and {more:,} more" if more > 0 else ""))
        told += [f"  {said}" for said in _say_match(m, e)]
    count = max((s.count for s in outcome.spreads.values()), default=0)
    stopped = [m.log.name for m in outcome.matches if not m.broke]
    if stopped and len(outcome.matches) > 1:
        told.append(f"not broken, and so in no mean of highest loads: {', '.join(stopped)}")
    if count > 1:
        told += [_say_spread(name, s, outcome) for name, s in outcome.spreads.items()]
    for name, c in outcome.comparison.items():
        verdict = "told apart" if c.told_apart else "not told apart by these samples"
        told.append(
            f"{name}, the other design against this: {100 * c.difference:+.1f} % "
            f"({100 * c.interval[0]:+.1f} to {100 * c.interval[1]:+.1f} %, 95 %), {verdict}"
        )
    return told


def _say_match(m: Matched, e: Expected) -> list[str]:
    told = []
    if m.rig is not None:
        told.append(f"removed: {m.rig.sentence()}")
    if m.begins_loaded:
        told.append(
            f"the log begins at {both_units(m.begins_loaded)}, a preload or the load cell's zero: "
            "the log does not tell which, and it is taken as a load"
        )
    if m.log.kind != "peaks":
        top = "broke at" if m.broke else "not broken where the log ends,"
        if m.clipped:
            top = "the load cell came to its end: more than"
        told.append(f"{top} {both_units(m.maximum)}; predicted {_most(e)}")
    if m.not_a_line:
        told.append(
            f"offset load: cannot be concluded, {m.not_a_line}; the load at the break stands. "
            + (
                "Grip it so that it cannot slip"
                if m.not_a_line.endswith("slip")
                else "A pull of a stiff bar in the same grip (--blank LOG) measures the rig"
            )
        )
    if m.curve is not None:
        if m.offset is not None and e.offset is not None:
            change = 100.0 * (m.offset.load / e.offset.load - 1.0)
            low, high = m.offset_band or (0.0, 0.0)
            within = f"{figures(low)} to {figures(high)} N" if m.offset_band else "anywhere"
            if m.unsure:
                told.append(
                    f"offset load: cannot be concluded, it may lie {within} as the rig's stretch "
                    "is known; a blank pull (--blank LOG) or a stated --rig tells more"
                )
            else:
                told.append(
                    f"offset load on the extension {both_units(m.offset.load)} ({within} by the "
                    f"rig's stretch, 19 in 20); predicted {both_units(e.offset.load)} "
                    f"({change:+.1f} %)"
                )
        elif m.offset is None:
            told.append("offset load: the log ends before it")
        if m.rms is not None and m.bias is not None:
            told.append(
                f"measured less predicted: mean {100 * m.bias:+.1f} %, rms {100 * m.rms:.1f} % "
                "of the highest pull compared"
            )
    return told


def _most(e: Expected) -> str:
    return (
        f"{both_units(e.most)}: {definitions.named(e.most_mode)}"
        if e.most_mode
        else f"more than {both_units(e.most)}"
    )


def _say_spread(name: str, s: Spread, outcome: Outcome) -> str:
    said = f"{name}, {s.count} samples: mean {both_units(s.mean)}"
    if s.interval is not None and s.deviation is not None:
        said += (
            f", standard deviation {s.deviation:,.0f} N ({100 * s.deviation / s.mean:.1f} %), "
            f"mean within {s.interval[0]:,.0f} to {s.interval[1]:,.0f} N (95 %)"
        )
    if s.outliers:
        names = sample_names([m for m in outcome.matches if m.broke])
        if name == "offset load":
            names = [m.log.name for m in outcome.matches if m.offset is not None and not m.unsure]
        listed = "; ".join(names[k] for k in s.outliers)
        said += f"; outlier by Grubbs' test at 5 %, counted all the same: {listed}"
    return said


def of_fit(fit: LearnedLaw) -> list[str]:
    """Say what was learned."""
    told = [f"learned ({fit.solves} solves):"]
    for x in fit.parameters:
        unit = f" {x.prior.unit}" if x.prior.unit else ""
        if x.identified:
            told.append(
                f"  {x.prior.name} {x.value:.4g}{unit} ({x.interval[0]:.4g} to "
                f"{x.interval[1]:.4g}, 95 %); held before {x.prior.value:.4g}"
            )
        else:
            told.append(
                f"  {x.prior.name}: the logs do not tell ({x.value:.4g}{unit} fits, so does "
                f"{x.interval[0]:.4g} to {x.interval[1]:.4g}); {x.prior.value:.4g} kept"
            )
    for k, c in enumerate(fit.compliances, start=1):
        told.append(
            f"  rig compliance in log {k} {1e3 * c.value:.4f} mm/kN ({1e3 * c.interval[0]:.4f} to "
            f"{1e3 * c.interval[1]:.4f}, 95 %)"
        )
    told.append(f"  scatter between samples {100 * fit.scatter:.1f} %, in the intervals already")
    names = [x.prior.name for x in fit.parameters]
    pairs = [
        f"{a} with {b} {fit.correlation[i, k]:+.2f}"
        for i, a in enumerate(names) for k, b in enumerate(names) if i < k
    ]  # fmt: skip
    told.append(f"  correlation: {', '.join(pairs)}")
    told.append(
        "  the 95 % intervals are proven on made logs that run to the break, of straight rigs and "
        "of stiffening ones with a blank pull"
    )
    before, after = max(fit.rms_before), max(fit.rms_after)
    told.append(f"  misfit of the fitted logs {100 * before:.2f} % -> {100 * after:.2f} % of load")
    for name, (b, a) in fit.held_out.items():
        told.append(f"  {held_out_words(name, b, a)}")
    return [*told, *(f"  note: {note}" for note in fit.notes)]


def held_out_words(name: str, before: float, after: float) -> str:
    """Say whether a log that took no part is met better by what was learned.

    Parameters
    ----------
    name : str
    before, after : float
        Misfit over the largest load.
    """
    change = f"misfit {100 * before:.2f} % -> {100 * after:.2f} % of load"
    if after > 1.1 * before:
        return f"{name}, held out, is met WORSE by what was learned: {change}; do not rely on it"
    if after > 0.9 * before:
        return f"{name}, held out, is met no better by what was learned: {change}"
    return f"{name}, held out, is met better by what was learned: {change}"


def of_plan(made: test_plan.Plan) -> list[str]:
    """Say what to expect and to do."""
    told = ["what to expect:"]
    for h in made.happenings:
        if h.load is not None:
            load = definitions.load_words(h.name, h.load)
            told.append(f"  {h.title}: {load}, joint {h.extension:.2f} mm longer")
        else:
            told.append(f"  {h.title}: not reached ({h.why})")
    return [
        *told,
        f"load cell: {both_units(made.cell)} or the next larger; highest pull to expect: "
        f"{both_units(made.highest)}",
        f"proof pull: stop at {both_units(made.proof)}",
        f"samples: pull {made.count} of each design to see a {100 * made.difference:.0f} % "
        f"difference ({10 * made.power:.0f} times in 10), at a scatter of "
        f"{100 * made.scatter:.1f} % ({made.scatter_from})",
        *(f"caution: {c}" for c in test_plan.RIG_CAUTIONS),
    ]


def of_caliper(sheet: caliper.Sheet, rows: Sequence[caliper.Beside], e: Expected) -> list[str]:
    """Say what the caliper found, beside what was predicted."""
    told = [f"by caliper, after a peak of {both_units(sheet.peak)} (predicted: {_most(e)}):"]
    for r in rows:
        found = f"predicted {r.predicted:.3f} mm" if r.predicted is not None else r.why
        told.append(f"  {r.what} {r.measured:.3f} mm; {found}")
    return told
