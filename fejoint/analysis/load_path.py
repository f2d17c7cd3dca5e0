"""A joint pulled more than once: what every leg of its path leaves behind.

One driver walks the path: the axial section, through the bearing laws of its plates, whose slices
unload and load again along one line (so holes show no friction loop here). After the listed legs
the joint is pulled on to its end, as a joint without legs is, and that gives the verdict. Beside
it the face section of the weaker ear walks the same path at its share of the load: it has the
friction, so the heat that friction makes, the damage, and the loop between release and reload are
read there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis.definitions import end_words
from fejoint.analysis.leg_answer import LegAnswer
from fejoint.arrays import Floats
from fejoint.joint.model import Joint
from fejoint.joint.parts import Leg
from fejoint.kernel import load_curve
from fejoint.kernel.continuation import Path
from fejoint.kernel.newton import StepControl
from fejoint.kernel.pchip import Monotone
from fejoint.sections.axial.pull import FOLLOWED, AxialHistory
from fejoint.sections.face import pull as face
from fejoint.sections.face.pull import FaceHistory, FaceSettings
from fejoint.sections.face.unloading import SMALL_LOAD
from fejoint.sections.observers import LoadMaximum, Reached, ReloadStepLimit

if TYPE_CHECKING:
    from fejoint.analysis.limit_loads import JointReading

RELEASED = 0.01
"""Share of the load at which a release ends; what stays at no load is on its last secant."""
MOVES_AGAIN = 0.001
"""Offset from the reload line, over the hole's diameter, at which a used joint moves again."""
TO_THE_END = "to the end"


ISOTROPIC = (
    "path: metals harden alike in all directions (isotropic hardening), so yielding on the way "
    "back comes later than in truth, and holes unload and load again along one line"
)
UNSURE = "path of pulls: its loads have no bands and no odds; a single pull has"
CLAMPED = "oblique pull: the ear is clamped at its grip, so that a sideways pull bends it there"
FLARED = (
    "flared hole: the pin bears on what is left of the thickness, and the cone's metal helps in "
    "its plane only; by hand, the thickness less half the flare's depth"
)


def limits_of(joint: Joint) -> list[str]:
    """Return what an answer must say of a joint's path, direction and holes."""
    said = {
        ISOTROPIC: bool(joint.pull.legs),
        UNSURE: bool(joint.pull.legs),
        CLAMPED: joint.pull.angle % 180.0 != 0.0,
        FLARED: any(ear.flare_depth > 0.0 for ear in joint.ears),
    }
    return [text for text, applies in said.items() if applies]


def targets(joint: Joint, farthest: float) -> list[StepControl]:
    """Return the legs of a joint as its axial section walks them, then on to a far travel (mm)."""
    found: list[StepControl] = []
    for leg in joint.pull.legs:
        if leg.kind == "release" or leg.target == 0.0:
            found.append(StepControl("release", RELEASED))
        else:
            found.append(
                StepControl("travel" if leg.kind == "displacement" else "load", leg.target)
            )
    beyond = max((leg.target for leg in joint.pull.legs if leg.kind == "displacement"), default=0.0)
    return [*found, StepControl("travel", beyond + farthest, stop=FOLLOWED)]


def observers(joint: Joint, hole: float, pace: float) -> list[ReloadStepLimit | Reached]:
    """Return what looks after a path: short steps, and an end at the asked displacement."""
    found: list[ReloadStepLimit | Reached] = [ReloadStepLimit(2.0 * face.CLOSE_AGAIN * hole * pace)]
    stop = joint.pull.stop_displacement
    if stop is not None:
        found.append(Reached(lambda p: p.travel, stop))
    return found


def first_pull(history: AxialHistory) -> AxialHistory:
    """Return the points of a path that lie ahead of all before: the curve of one long pull."""
    x = history.extension
    ahead = np.flatnonzero(x > np.maximum.accumulate(np.concatenate([[-1.0], x[:-1]])))
    if len(ahead) == len(x):
        return history
    p = history.path
    path = Path([p.points[k] for k in ahead], p.stopped_because)
    arrays = {
        name: getattr(history, name)[ahead]
        for name in ("load", "extension", "shares", "moment", "shear", "damage")
    }
    return replace(history, path=path, **arrays)


def walked(
    joint: Joint, reading: JointReading, ear: int, settings: FaceSettings
) -> tuple[LegAnswer, ...]:
    """Read every leg of a joint's path, and walk the weaker ear's face section along it.

    Parameters
    ----------
    joint : Joint
        With legs.
    reading : JointReading
        Of the whole path, not of its first pull alone.
    ear : int
        Place of the weaker ear along the pin.
    settings : FaceSettings
        Of the ears' face sections.
    """
    history = reading.history
    ends = history.path.legs
    rows, begin = [], 0
    names = [*(_name(leg) for leg in joint.pull.legs), TO_THE_END]
    hole = joint.ears[0].hole
    for k, end in enumerate(ends):
        asked = joint.pull.legs[k : k + 1]
        reached = _reached(asked[0], history, begin, end) if asked else history.path.finished
        row = _row(reading, ear, names[k], reached, begin, end)
        if k > 0 and history.load[end] > history.load[begin]:
            back = _release_before(history, ends, k)
            if back is not None:
                row = replace(
                    row,
                    follows_within=apart(history.extension, history.load, back, (begin, end)),
                    moves_again=moves_again(history, begin, end, MOVES_AGAIN * hole),
                )
        rows.append(row)
        begin = end
    return _with_friction(rows, joint.pull.legs, reading, ear, settings)


def apart(x: Floats, load: Floats, back: tuple[int, int], again: tuple[int, int]) -> float | None:
    """Return the largest distance of two stretches of a path over the first's largest load.

    Parameters
    ----------
    x, load : (n,) arrays
        The path.
    back, again : (int, int)
        First and last point of the release and of the reload.
    """
    down, up = slice(back[0], back[1] + 1), slice(again[0], again[1] + 1)
    order = np.argsort(x[down])
    inside = (x[up] >= x[down].min()) & (x[up] <= x[down].max())
    if inside.sum() < 2:
        return None
    # by a smooth curve: a chord of the bent release would count as a loop
    released = Monotone(x[down][order], load[down][order])(x[up][inside])
    return float(np.abs(load[up][inside] - released).max() / load[down].max())


def moves_again(history: AxialHistory, begin: int, end: int, offset: float) -> float | None:
    """Return the load at which a reload leaves its steepest line by an offset (mm), or None."""
    load, x = history.load[begin : end + 1], history.extension[begin : end + 1]
    up, out = load - load[0], x - x[0]
    if len(up) < 3:
        return None
    secant = up[1:] / np.maximum(out[1:], 1e-300)
    steepest = 1 + int(secant.argmax())
    # contact makes the reload's first part soft: only what lies beyond the steepest secant counts
    behind = out[steepest:] - up[steepest:] / secant.max()
    index = load_curve.first_reach(behind, offset)
    return None if index is None else load_curve.at_index(load[steepest:], index)


def _name(leg: Leg) -> str:
    if leg.kind == "release" or leg.target == 0.0:
        return "release"
    unit = "N" if leg.kind == "load" else "mm"
    return f"to {leg.target:,.4g} {unit}"


def _reached(leg: Leg, history: AxialHistory, begin: int, end: int) -> bool:
    """Whether a leg came to its end; the path may have ended before."""
    load, x = float(history.load[end]), float(history.extension[end])
    if leg.kind == "release" or leg.target == 0.0:
        return load <= 2.0 * RELEASED * float(history.load[begin])
    is_at, wanted = (load if leg.kind == "load" else x), leg.target
    return abs(is_at - wanted) <= 1e-3 * wanted


def _release_before(history: AxialHistory, ends: Sequence[int], k: int) -> tuple[int, int] | None:
    """Return first and last point of the leg before, if it let go: a push back is no release."""
    first, last = (ends[k - 2] if k > 1 else 0), ends[k - 1]
    begin, end = history.load[first], history.load[last]
    return (first, last) if begin > end >= -RELEASED * begin else None


def _row(
    reading: JointReading, ear: int, name: str, reached: bool, begin: int, end: int
) -> LegAnswer:
    history = reading.history
    bends = [history.problem.bend(history.path.points[k]) for k in (max(end - 1, 0), end)]
    values = {
        "load": history.load, "extension": history.extension,
        "hole_mean": reading.elongation(ear), "hole_inner": reading.worst_elongation(ear),
    }  # fmt: skip
    pairs = {name: (float(v[max(end - 1, 0)]), float(v[end])) for name, v in values.items()}
    pairs |= {"pin_bend": (bends[0][0], bends[1][0]), "pin_turn": (bends[0][1], bends[1][1])}
    before, last = pairs["load"]
    # a release ends a little above no load: what stays is on the line of its last two points
    rate = last / (before - last) if name == "release" and end > begin and before > last else 0.0
    stays: dict[str, Any] = {n: b + rate * (b - a) for n, (a, b) in pairs.items()}
    return LegAnswer(name, reached, **stays)


def _with_friction(
    rows: list[LegAnswer],
    legs: Sequence[Leg],
    reading: JointReading,
    ear: int,
    settings: FaceSettings,
) -> tuple[LegAnswer, ...]:
    """Walk the weaker ear's face section along the legs and add what it tells.

    It goes as far as the path only lets go: a hole pushed back on its far side it does not follow.
    """
    ends = reading.history.path.legs[: len(legs)]
    shares = reading.history.shares[ends, ear]
    pushed = shares < -RELEASED * float(np.abs(reading.history.shares[:, ear]).max())
    why = "it was pushed back, to the far side of its hole"
    shares = np.maximum(shares[: int(np.argmax(pushed))] if pushed.any() else shares, 0.0)
    member = reading.members[ear]
    asked = [
        StepControl("release", SMALL_LOAD) if row.leg == "release" else StepControl("load", share)
        for row, share in zip(rows, shares, strict=False)
    ]
    how = replace(settings, stop_load=None, stop_travel=None, stop_at_maximum=False)
    walk = face.pull(member.history.problem, how, asked, [LoadMaximum()])
    done = len(walk.path.legs)
    if done < len(shares) or not walk.path.finished:
        why = end_words(walk.path.stopped_because)
        done -= not walk.path.finished
    return tuple(
        replace(row, **_friction(walk, k))
        if k < done
        else replace(row, unread=why)
        if k < len(legs)
        else row
        for k, row in enumerate(rows)
    )


def _friction(walk: FaceHistory, k: int) -> dict[str, Any]:
    ends, share = walk.path.legs, walk.problem.share
    loop = None
    if k > 1 and walk.load[ends[k]] > walk.load[ends[k - 1]] < walk.load[ends[k - 2]]:
        back, again = (ends[k - 2], ends[k - 1]), (ends[k - 1], ends[k])
        loop = apart(walk.travel, walk.load, back, again)
    return {
        "friction_heat": share * walk.path.points[ends[k]].lost,
        "friction_loop": loop,
        "ear_damage": float(walk.damage[ends[k]]),
    }
