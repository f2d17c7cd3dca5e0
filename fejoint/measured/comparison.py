"""Measured and predicted curves side by side, by the same definitions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fejoint.analysis.definitions import ENDING
from fejoint.analysis.result import Answer
from fejoint.arrays import Floats
from fejoint.kernel import load_curve
from fejoint.measured import blank_pull, log_ends, rig_compliance
from fejoint.measured.blank_pull import Blank
from fejoint.measured.log_record import Log
from fejoint.measured.rig_compliance import Curve, Rig
from fejoint.measured.statistics import Spread, spread
from fejoint.sections.axial import pull as axial
from fejoint.sections.axial.case import AxialSettings
from fejoint.sections.axial.pull import AxialHistory
from fejoint.sections.face.pull import OFFSET

LOADED = 0.01
"""First force over the largest from which a log does not begin at rest."""
UNSURE = 0.15
"""Half the spread of an offset load, over it, from which nothing is concluded of it."""


AT_MAXIMUM = 0.005
"""Share by which an interpolated load maximum may pass the largest point of the curve."""


@dataclass(frozen=True, eq=False)
class Expected:
    """What is predicted for the rig.

    Attributes
    ----------
    answer : Answer
    curve : Curve
        Load against the joint's extension, up to `most`.
    offset : OffsetPoint or None
        Read on the extension, as for a log.
    most : float
        Load that the joint cannot pass, N.
    most_mode : str
        What limits it; empty where the pull ended before.
    """

    answer: Answer
    curve: Curve
    offset: load_curve.OffsetPoint | None
    most: float
    most_mode: str

    @property
    def hole(self) -> float:
        """Diameter of the ears' hole, mm."""
        return max(ear.hole for ear in self.answer.joint.ears)

    @property
    def scale(self) -> float:
        """A load by which to judge what is early, N."""
        return self.offset.load if self.offset else self.most


@dataclass(frozen=True, eq=False)
class Matched:
    """One log beside the prediction.

    Attributes
    ----------
    log : Log
    rig : Rig or None
        None for a log without travel.
    curve : Curve or None
        The joint's own, rig removed, evenly smoothed.
    offset : OffsetPoint or None
        Measured, on the extension.
    maximum : float
        Measured largest load, N.
    rms, bias : float or None
        Of measured less predicted load over the common extension, relative to the largest
        predicted load there.
    not_a_line : str
        Why the rig is no straight line; then nothing is concluded from the extension.
    offset_band : (float, float) or None
        Between which the offset load lies with the rig's stretch two standard deviations off, N.
    raw : Log or None
        As logged, with what a blank pull then took out; None without one.
    blank : Blank or None
    """

    log: Log
    rig: Rig | None
    curve: Curve | None
    offset: load_curve.OffsetPoint | None
    maximum: float
    rms: float | None = None
    bias: float | None = None
    not_a_line: str = ""
    raw: Log | None = None
    blank: Blank | None = None
    offset_band: tuple[float, float] | None = None

    @property
    def unsure(self) -> bool:
        """Whether the rig's stretch is known too little to conclude an offset load."""
        if self.offset is None:
            return False
        band = self.offset_band
        return band is None or 0.5 * (band[1] - band[0]) > UNSURE * self.offset.load

    @property
    def begins_loaded(self) -> float:
        """First reading of a log that does not begin at rest, N: a preload or the cell's zero."""
        first = float(self.log.force[0])
        zero = 0.0 if self.rig is None else self.rig.zero
        seen = self.log.kind == "peaks" or zero != 0.0 or abs(first) <= LOADED * self.maximum
        return 0.0 if seen else first

    @property
    def broke(self) -> bool:
        """Whether the load fell away after its largest, so that this is a peak and no stop."""
        if self.log.kind == "peaks":
            return True
        return not self.clipped and log_ends.fell_away(self.log.force, self.log.travel)

    @property
    def clipped(self) -> bool:
        """Whether the load cell stood at its end while the rig went on: the peak is not seen."""
        return self.log.kind != "peaks" and log_ends.clipped(self.log.force, self.log.travel)


def expect(answer: Answer) -> Expected:
    """Return what an answer predicts for the rig.

    The pull ends at a load maximum, where ductility runs out, or where the pin shears by the
    handbook's strength, whichever comes first.
    """
    c = answer.trace
    highest = float(c.load.max())
    most, mode = highest, ""
    ends: list[tuple[float, str]] = []
    for part in answer.verdict.order:
        for limit in (part.first, *part.later):
            if limit.mode == "pin shear" and limit.handbook_load is not None:
                # shearing through is not solved: full plastic shear is its beginning only
                ends.append((limit.handbook_load, limit.mode))
            elif limit.cause in ENDING and limit.source != "handbook":
                ends.append((limit.load, limit.mode))
    # a load maximum is interpolated between points of the curve, and so may lie above them all
    if ends and min(ends)[0] <= highest * (1.0 + AT_MAXIMUM):
        most, mode = min(min(ends)[0], highest), min(ends)[1]
    end = int(np.argmax(c.load >= most * (1.0 - 1e-9))) + 1
    whole = Curve(c.load, c.extension)
    hole = max(ear.hole for ear in answer.joint.ears)
    offset = offset_of(whole, OFFSET * hole)
    return Expected(answer, Curve(c.load[:end], c.extension[:end]), offset, most, mode)


def offset_of(curve: Curve, offset: float) -> load_curve.OffsetPoint | None:
    """Return the offset load of a curve, read alike for measured and predicted ones.

    Both are first read at the same extensions, a quarter of the offset apart where the line is
    drawn: a log's noise would otherwise make its own steepest secant.
    """
    end = float(curve.extension.max())
    near = 0.25 * offset * np.arange(1, 25)
    far = near[-1] * np.geomspace(1.1, 40.0, 24)
    grid = np.concatenate([near, far])
    grid = grid[grid <= end]
    if len(grid) < 4:
        return None
    grid = np.concatenate([[0.0], grid])
    rising = load_curve.rising(curve.load, curve.extension)
    load = np.interp(grid, rising[1], rising[0])
    return load_curve.offset_point(load, grid, offset)


def back_compliance(history: AxialHistory, load: float) -> float | None:
    """Return the joint's mean compliance while it is let go from a load, mm/N."""
    index = load_curve.first_reach(history.load, load)
    k = len(history.load) - 1 if index is None else max(1, round(index))
    let_go = axial.release(history, k, AxialSettings())
    if let_go is None:
        return None
    recovered = float(history.extension[k]) - let_go.travel
    return recovered / float(history.load[k]) if recovered > 0.0 else None


def match(
    log: Log, expected: Expected, stiffness: float | None = None, blank: Blank | None = None
) -> Matched:
    """Put a log beside the prediction.

    Parameters
    ----------
    log : Log
    expected : Expected
    stiffness : float, optional
        Stated stiffness of the rig, N/mm.
    blank : Blank, optional
        The rig's own stretch, taken out of the travel first.

    Raises
    ------
    BadInput
        If a curve's first part holds too few rows.
    """
    raw = None
    if blank is not None:
        raw, log = log, blank_pull.taken_out(log, blank)
    travel = log.travel
    if travel is None:
        return Matched(log, None, None, None, log.peak)
    back = None
    history = expected.answer.axial
    let_go = (
        rig_compliance.unloading(log.force, travel) if stiffness is None and blank is None else None
    )
    if let_go is not None and history is not None:
        back = back_compliance(history, min(let_go.load, expected.most))
    scale = min(expected.scale, log.peak)
    rig = rig_compliance.find(
        log.force,
        travel,
        expected.curve,
        scale,
        stiffness=stiffness,
        back_compliance=back,
        blank=None if blank is None else (blank.compliance_sd, blank.name),
    )
    force = log.force - rig.zero
    why = rig_compliance.not_a_line(force, travel, expected.curve, scale, rig)
    if why:
        said = f"less the blank pull, {why}: it is of another grip" if blank else why
        return Matched(log, rig, None, None, log.peak - rig.zero, not_a_line=said)
    own = joint_curve(force, rig.joint_extension(force, travel))
    offset = offset_of(own, OFFSET * expected.hole)
    band = _offset_band(force, travel, rig, OFFSET * expected.hole) if offset else None
    rms, bias = residual(own, expected.curve)
    return Matched(
        log, rig, own, offset, log.peak - rig.zero, rms, bias, raw=raw, blank=blank,
        offset_band=band,
    )  # fmt: skip


def _offset_band(
    force: Floats, travel: Floats, rig: Rig, offset: float
) -> tuple[float, float] | None:
    """Return between which loads the offset lies with the rig's stretch two deviations off, N."""
    loads = []
    for sign in (-2.0, 2.0):
        other = rig.with_compliance(max(rig.compliance + sign * rig.compliance_sd, 0.0))
        at = offset_of(joint_curve(force, other.joint_extension(force, travel)), offset)
        if at is None:
            return None
        loads.append(at.load)
    return min(loads), max(loads)


def joint_curve(force: Floats, extension: Floats, points: int = 240) -> Curve:
    """Return the envelope of a measured curve, averaged in even steps of extension.

    Rows below the largest load so far (an unloading) are left out. What follows the largest load is
    kept as it fell, down to `log_ends.BROKEN` of it: below, the rig's recoil says more.
    """
    top = int(np.argmax(force))
    noise = 3.0 * float(np.median(np.abs(np.diff(force)))) if len(force) > 3 else 0.0
    highest = np.maximum.accumulate(force)
    envelope = np.ones(len(force), bool)
    envelope[: top + 1] = force[: top + 1] >= highest[: top + 1] - max(noise, 0.02 * force[top])
    f, x = force[envelope], extension[envelope]
    after = np.flatnonzero(f[int(np.argmax(f)) :] < log_ends.BROKEN * float(f.max()))
    if len(after):
        end = int(np.argmax(f)) + int(after[0])
        f, x = f[:end], x[:end]
    inside = x > 0.0
    f, x = f[inside], x[inside]
    if len(x) < 3:
        return Curve(np.zeros(1), np.zeros(1))
    edges = np.linspace(0.0, float(x.max()) * (1.0 + 1e-9), points + 1)
    place = np.digitize(x, edges) - 1
    count = np.bincount(place, minlength=points)[:points]
    full = count > 0
    load = np.bincount(place, f, points)[:points][full] / count[full]
    at = np.bincount(place, x, points)[:points][full] / count[full]
    return Curve(np.concatenate([[0.0], load]), np.concatenate([[0.0], at]))


def residual(measured: Curve, predicted: Curve) -> tuple[float | None, float | None]:
    """Return rms and mean of measured less predicted load, over the largest predicted there.

    Up to the measured largest load: what follows it is a break.
    """
    top = float(measured.extension[int(np.argmax(measured.load))])
    end = min(top, float(predicted.extension.max()))
    if end <= 0.0:
        return None, None
    grid = np.linspace(0.02 * end, end, 200)
    difference = difference_at(grid, measured, predicted)
    scale = float(np.interp(end, predicted.extension, predicted.load))
    return float(np.sqrt(np.mean(difference**2))) / scale, float(np.mean(difference)) / scale


def difference_at(extension: Floats, measured: Curve, predicted: Curve) -> Floats:
    """Return measured less predicted load at extensions, N."""
    return np.asarray(
        np.interp(extension, measured.extension, measured.load)
        - np.interp(extension, predicted.extension, predicted.load)
    )


def maxima(matches: Sequence[Matched]) -> list[float]:
    """Return the largest load of every sample; a list of break loads has several."""
    found: list[float] = []
    for m in matches:
        found += m.log.force.tolist() if m.log.kind == "peaks" else [m.maximum]
    return found


def sample_names(matches: Sequence[Matched]) -> list[str]:
    """Return what to call the samples of `maxima`."""
    found: list[str] = []
    for m in matches:
        if m.log.kind == "peaks":
            found += [f"{m.log.name}, {k}" for k in range(1, len(m.log.force) + 1)]
        else:
            found.append(m.log.name)
    return found


def spreads(matches: Sequence[Matched]) -> dict[str, Spread]:
    """Return the spread of the largest load and of the offset load over the samples."""
    ended = [m for m in matches if m.broke]
    found = {"load maximum": spread(maxima(ended))} if ended else {}
    offsets = [m.offset.load for m in matches if m.offset is not None and not m.unsure]
    if offsets:
        found["offset load"] = spread(offsets)
    return found
