"""A used joint: the pull that it has most likely seen, and what it still bears.

A joint that was pulled and let go keeps marks: its holes are longer, its pin is bent, its ears are
narrower beside the holes. The joint is pulled as it was when new; every mark is a curve k_i(s) over
the points s of that pull, what would stay if it were let go there. With marks m_i found by a tool
good to +-w, taken as two standard deviations, the pull seen is where

    chi^2(s) = sum_i ((k_i(s) - m_i) / (w/2))^2

is least, and its 95 % band is where chi^2 lies within 3.84 of that (one unknown). Marks that leave
a least chi^2 above its 95 % point for so many marks contradict one another: one straight pull of
this joint has not made them, and nothing more is concluded.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from fejoint.analysis.definitions import (
    BEND_LEFT,
    MODES,
    NOTHING_GAVE,
    OFFSET_LOAD,
    OFFSET_SHARE,
    ModeName,
)
from fejoint.analysis.limit_loads import JointReading
from fejoint.analysis.progress import Progress, Told
from fejoint.analysis.pull import Shared, pull, pull_axial, solve_members, watching
from fejoint.analysis.result import LimitLoad
from fejoint.analysis.section_cases import PullSettings
from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.inputs import fields
from fejoint.joint import model
from fejoint.joint.model import CaseLike, Joint
from fejoint.joint.parts import Leg
from fejoint.kernel import load_curve
from fejoint.kernel.newton import EquilibriumPoint
from fejoint.sections.axial.problem import AxialProblem
from fejoint.sections.axial.pull import PIN
from fejoint.sections.axial.refit import refitted
from fejoint.sections.face.plate_response import GrowingBearingLaw
from fejoint.studies.used_result import Mark, Refit, UsedJoint

WITHIN = 0.02
"""How well a workshop's caliper finds a length, mm."""
NOT_COUNTED = (
    "the band holds what the tool may miss, not what the metals' scatter and the model leave open; "
    "a used joint may have been pulled askew, struck or worn"
)
_REFITS = {
    "new pin in the used holes": {"new_pin": True, "new_ears": False},
    "used pin in new ears": {"new_pin": False, "new_ears": True},
}
_NEAR = (3.84, 3.84, 5.99)
"""95 % points of chi^2 with one, one and two degrees of freedom: for one, two and three marks."""
FITS = 0.005
"""Bend beyond its play with which a pin still goes in, mm: what pushes it by hand."""
_FINE = 20
"""Places looked at between two points of the pull."""


def used(
    joint: CaseLike,
    *,
    hole: float | str | None = None,
    bend: float | str | None = None,
    neck: float | str | None = None,
    within: float | str = WITHIN,
    refine: float = 1.0,
    solver: str = "fastest",
    progress: Progress | None = None,
) -> UsedJoint:
    """Say which pull a used joint has seen, and what it still bears.

    Parameters
    ----------
    joint : Joint, path or mapping
        The joint as it was when new, its case file, or the tables of one; its own path is left
        aside.
    hole : float or str, optional
        How much longer the hole of the weaker ear is than when new, mean over its thickness, mm.
    bend : float or str, optional
        Sag of the pin between the ears' mid-planes, mm.
    neck : float or str, optional
        Width that the weaker ear has lost beside its hole, mm; for straight pulls.
    within : float or str
        How far each of them may be off, mm.
    refine : float
    solver : {"fastest", "pardiso", "superlu"}
    progress : callable, optional
        Called with the phase in words, the share of the whole that is done (0 to 1, never falling;
        an estimate) and the pull that the joint has reached (N, or None).

    Returns
    -------
    UsedJoint

    Raises
    ------
    BadInput
        If no mark is given, or no pull of the joint leaves one.

    Examples
    --------
    >>> found = used("cases/demo/hard-pin.toml", hole="0.1 mm", refine=0.35)
    >>> found.low < found.seen < found.high
    True
    """
    joint = model.load(joint)
    found = {"hole": hole, "pin bend": bend, "neck": neck}
    measured = {
        name: fields.quantity(name, value, "length", 0.0, 500.0)
        for name, value in found.items()
        if value is not None
    }
    within = fields.quantity("within", within, "length", 1e-3, 10.0)
    if not measured:
        mend = "give the hole's growth, the pin's bend or the ear's loss of width"
        raise BadInput(Fault("marks", "", "are missing", mend))
    _refuse_unreadable(joint, measured)
    settings = PullSettings(refine, solver=solver)
    new = joint.until_it_gives()  # what a joint has seen stops at no rig's stop
    shared: Shared = {}
    told = Told(progress)
    watch = watching(new, settings, told.part(0.0, 0.5))
    members = solve_members(new, settings, progress=watch, shared=shared)
    history = pull_axial(new, members, settings, watch)
    reading = JointReading(new, members, history, settings.axial(new))
    points = np.arange(len(history.load))
    place = np.linspace(0.0, points[-1], _FINE * points[-1] + 1)
    # behind the highest pull a mark says how far the joint went, not how hard it was pulled
    load = np.maximum.accumulate(np.interp(place, points, history.load))
    stays = {name: np.interp(place, points, _stays(reading, name)) for name in measured}
    marks = tuple(_mark(name, m, within, stays[name], load) for name, m in measured.items())
    first = min(reading.limits(), key=lambda x: x.order, default=None)
    off = np.sum([((stays[n] - m) / (0.5 * within)) ** 2 for n, m in measured.items()], axis=0)
    best = int(np.argmin(off))
    if len(marks) > 1 and off[best] > _NEAR[len(marks) - 1]:
        return UsedJoint(marks, first)
    near = load[off <= off[best] + _NEAR[0]]
    to = Leg("displacement", float(np.interp(place[best], points, history.extension)))
    again = replace(new, pull=replace(new.pull, legs=(to, Leg("release"))))
    answer = pull(again, refine=refine, solver=solver, shared=shared, progress=told.part(0.5, 0.8))
    gives: LimitLoad | None = None
    refits: tuple[Refit, ...] = ()
    passed: tuple[LimitLoad, ...] = ()
    if answer.axial is not None and len(answer.axial.path.legs) > 1:
        members = solve_members(again, settings, shared=shared)
        let_go = JointReading(again, members, answer.axial, settings.axial(again))
        listed = [x for part in answer.verdict.order for x in (part.first, *part.later)]
        seen, begin = answer.axial.path.legs[:2]
        ahead = [x for x in listed if x.load > answer.axial.load[seen]]
        gives = _gives_next(let_go, begin, ahead)
        passed = tuple(
            x
            for x in listed
            if x.load <= answer.axial.load[seen] and x.cause not in (OFFSET_LOAD, NOTHING_GAVE)
        )
        if not joint.pin.rigid:
            found_of = []
            for k, name in enumerate(_REFITS):
                told(name, 0.8 + 0.1 * k)
                found_of.append(_refit(let_go, begin, new, settings, name))
            refits = tuple(found_of)
    told("done", 1.0)
    return UsedJoint(
        marks,
        first,
        True,
        float(load[best]),
        float(near.min()),
        float(near.max()),
        answer.path[-1].moves_again,
        gives,
        answer,
        refits,
        passed,
    )


def _refuse_unreadable(joint: Joint, measured: Mapping[str, float]) -> None:
    """Refuse marks that say nothing of this joint."""
    if "pin bend" in measured and joint.pin.rigid:
        shown = f"{measured['pin bend']:g} mm"
        raise BadInput(Fault("bend", shown, "cannot be kept by a rigid pin", "leave it out"))
    if "neck" in measured and joint.pull.angle != 0.0:
        allowed = "is read for straight pulls only"
        raise BadInput(Fault("neck", f"{measured['neck']:g} mm", allowed, "give the hole's growth"))


def _stays(reading: JointReading, name: str) -> Floats:
    """Return what stays of a mark after letting go from each point, (n_points,), mm."""
    if name == "hole":
        return reading.kept_elongation(reading.weaker_ear)
    if name == "neck":
        return reading.kept_neck(reading.weaker_ear)
    points = reading.history.path.points
    stays = np.zeros(len(points))
    for k, point in enumerate(points):
        if point.states[PIN].equivalent.max() > 0.0:
            bend = reading.bend_after(k)
            stays[k] = np.nan if bend is None else bend[0]
    known = np.isfinite(stays)
    return np.interp(np.arange(len(points)), np.flatnonzero(known), stays[known])


def _refit(
    used_up: JointReading, begin: int, new: Joint, settings: PullSettings, name: str
) -> Refit:
    """Pull a joint put together of used and new parts, from a point of no load of the used one."""
    released = used_up.history.path.points[begin]
    members = used_up.members
    deepest = {k: released.states[1 + k][0] for k in range(len(members))}
    touch = {k: m - members[k].law.spring_back(m) for k, m in deepest.items()}

    if not _REFITS[name]["new_pin"]:
        bows = [used_up.history.problem.slice_travels(released, k) for k in used_up.ears]
        bow = float(np.ptp(np.concatenate(bows)))
        play = min(members[k].history.problem.case.clearance for k in used_up.ears)
        if bow > play + FITS:
            jams = f"it does not go in: bent by {bow:.2f} mm in the ears, play {play:.2f} mm"
            return Refit(name, jams=jams)

    def start(problem: AxialProblem) -> EquilibriumPoint:
        for k, law in enumerate(problem.laws):
            assert isinstance(law, GrowingBearingLaw)
            law.reach(float(deepest[k].max()))
        return refitted(problem, released, touch=touch, **_REFITS[name])

    history = pull_axial(new, members, settings, start=start)
    reading = JointReading(new, members, history, settings.axial(new))
    # the bend that a used pin brought along is none that this pull has left
    limits = [x for x in reading.limits() if x.cause != BEND_LEFT or _REFITS[name]["new_pin"]]
    return Refit(name, _gives_next(reading, 0, limits))


def _mark(name: str, measured: float, within: float, stays: Floats, load: Floats) -> Mark:
    """Return the pulls that leave a mark; refuse one that no pull leaves."""
    rising = np.maximum.accumulate(stays)
    straight = measured == 0.0 and name == "pin bend"  # what a light pull leaves of a pin
    if rising[-1] <= 0.0 or not (straight or 0.0 < measured <= rising[-1] + within):
        most = f"between 0 and {rising[-1]:.3g} mm, the most that a pull of it leaves"
        allowed = f"must lie {most}" if rising[-1] > 0.0 else "is left by no pull of this joint"
        mend = "give what the pull has changed: new and used size apart, in mm"
        raise BadInput(Fault(name, f"{measured:g} mm", allowed, mend))

    def pull_for(kept: float) -> float:
        if kept <= 0.0:
            return 0.0
        return float(np.interp(kept, rising, load, right=np.inf))

    return Mark(
        name,
        measured,
        min(pull_for(measured), float(load[-1])),
        pull_for(measured - within),
        pull_for(measured + within),
    )


def _gives_next(reading: JointReading, begin: int, others: Iterable[LimitLoad]) -> LimitLoad | None:
    """Return what gives first when a used joint is pulled on from a point of its path.

    Holes by the offset from the shape that they have there; everything else as told by others.
    """
    history, members = reading.history, reading.members
    found = [x for x in others if x.cause not in (OFFSET_LOAD, NOTHING_GAVE) and not x.past_top]
    holes: list[tuple[int, ModeName]] = [(k, "hole elongation") for k in reading.different_ears]
    for k, mode in [*holes, (1, "shank hole")]:
        grown = reading.elongation(k)[begin:]
        # a release ends a little above no load: the first secant must not begin below it
        least, load = history.load[begin], history.load[begin:] - history.load[begin]
        limit = OFFSET_SHARE * members[k].part.hole
        at = load_curve.offset_point(load, grown - grown[0], limit)
        if at is not None:
            pull, part, member = at.load + least, MODES[mode].part, reading.member(k)
            found.append(LimitLoad(mode, part, pull, OFFSET_LOAD, member=member))
    return min(found, key=lambda x: x.load, default=None)
