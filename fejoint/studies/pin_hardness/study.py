"""The study: points over a range of hardness, crossings by further solves, in two processes."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, as_completed
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from fejoint.analysis import definitions
from fejoint.analysis.plotted import Plotted
from fejoint.analysis.progress import Progress, Told
from fejoint.analysis.section_cases import PullSettings
from fejoint.errors import BadInput, Fault
from fejoint.inputs import fields
from fejoint.inputs.units import both_units
from fejoint.joint.model import CaseLike, Joint, load
from fejoint.materials.hardness import STEEL, to_hv
from fejoint.studies.pin_hardness.crossings import Crossing, crossings, next_hardnesses
from fejoint.studies.pin_hardness.point import (
    Asked,
    Faces,
    Finesse,
    PinPoint,
    solve_faces,
    solve_point,
    with_hardness,
)
from fejoint.system.processes import pool

if TYPE_CHECKING:
    import pandas as pd

SCHEMA = "fejoint.pin-range/1"
SOFTEST, HARDEST = 80.0, 650.0
"""Range of the hardness table, HV."""
MOST_POINTS = 200
AGREED = 0.005
"""Largest change of a load that lent face sections may make where that is checked."""

ENOUGH = 1.3
"""Pull at which a soft pin's joint may end, over that at which the hardest pin's first gives."""

_ROUNDS = 8

Tell = Callable[[str, int, int], None]
"""Called with what is being done, how many solves are done, and how many are known of."""
T = TypeVar("T")


@dataclass(frozen=True)
class PinRange(Plotted):
    """Joint loads and failure modes over the pin's hardness.

    Attributes
    ----------
    joint : Joint
    points : tuple of PinPoint
        The evenly spaced ones and those solved to find crossings, by rising hardness.
    crossings : tuple of Crossing
        Every hardness found at which the first part to give changes.
    after : float
        Pull on the joint after which the pin's kept bend is told, N.
    held_disc : PinPoint or None
        The softest pin again with its disc in plane strain instead of plane stress: it flattens
        under the holes' edges, and the truth lies between the two. None where it stays elastic.
    lending_error : float or None
        Change of first limit and offset load when the softest pin that was lent face sections
        gets its own; None where none was lent.
    notes : tuple of str
    seconds : float
        Wall time.
    """

    joint: Joint
    points: tuple[PinPoint, ...]
    crossings: tuple[Crossing, ...]
    after: float
    held_disc: PinPoint | None
    lending_error: float | None
    notes: tuple[str, ...]
    seconds: float
    _drawn_by = ("studies.pin_hardness.plot", "draw")

    @property
    def frame(self) -> pd.DataFrame:
        """A row a hardness: what gives first at which load (N), the pin's strength (MPa), ..."""
        import pandas as pd

        rows = [{k: v for k, v in p.to_dict().items() if k != "limits"} for p in self.points]
        return pd.DataFrame(rows)

    @property
    def sentences(self) -> tuple[str, ...]:
        """Which part gives first over the range, and where that changes."""
        low, high = self.points[0], self.points[-1]
        span = f"From {low.hardness:.0f} to {high.hardness:.0f} HV"
        if not self.crossings and low.first.mode == high.first.mode == definitions.NOTHING:
            return (f"{span} nothing gave.",)
        if not self.crossings:
            return (f"{span} this always comes first: {definitions.named(low.first.mode)}.",)
        return tuple(
            f"Below {c.hardness:.0f} HV {definitions.named(*c.softer)} comes first, above it "
            f"{definitions.named(*c.harder)}: there at {both_units(c.load)}."
            for c in self.crossings
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, JSON-ready."""
        return {
            "schema": SCHEMA,
            "case": self.joint.to_dict(),
            "crossings": [c.to_dict() for c in self.crossings],
            "points": [p.to_dict() for p in self.points],
            "kept_bend_after_N": self.after,
            "softest_with_disc_in_plane_strain": self.held_disc and self.held_disc.to_dict(),
            "lending_error": self.lending_error,
            "notes": list(self.notes),
            "cost": {"wall_s": self.seconds, "solve_cpu_s": sum(p.cpu_s for p in self.points)},
        }


def pin_range(
    joint: CaseLike,
    *,
    softest: float | str = 150.0,
    hardest: float | str = 600.0,
    points: int = 12,
    after: float | str | None = None,
    refine: float = 1.0,
    pin_refine: float | None = None,
    processes: int = 2,
    progress: Progress | None = None,
    tell: Tell | None = None,
) -> PinRange:
    """Pull a joint with steel pins from soft to hard and find where the first part to give changes.

    Parameters
    ----------
    joint : Joint, path or mapping
        The joint, its case file, or the tables of one; its own pin material is not used.
    softest, hardest : float or str
        HV, or such as "30 HRC".
    points : int
        Evenly spaced hardnesses; crossings take further solves.
    after : float or str, optional
        Pull after which the pin's kept bend is told, N or such as "300 kgf"; that at which the
        joint with the hardest pin first gives, if left out.
    refine, pin_refine : float
        Mesh refinement of the face sections, and of the pin (the same if left out).
    processes : int
        1 solves in this process.
    progress : callable, optional
        Called with the phase in words, the share of the whole that is done (0 to 1, never falling;
        an estimate) and the pull that the joint has reached (N, or None).
    tell : callable, optional
        Called with what is being done, how many solves are done, and how many are known of.

    Returns
    -------
    PinRange

    Raises
    ------
    BadInput
        If the range or the number of points is bad.
    SolveStopped
        If a solve was lost with its process, twice, or no process could be started.

    Examples
    --------
    >>> found = pin_range("cases/demo/hard-pin.toml", softest="150 HV", points=2, refine=0.25)
    >>> len(found.points) >= 2
    True
    """
    joint = load(joint)
    softest, hardest = _vickers("softest", softest), _vickers("hardest", hardest)
    after = None if after is None else fields.quantity("after", after, "force", 1e-3, 1e9)
    _check(softest, hardest, points)
    start = time.perf_counter()
    finesse = Finesse(
        PullSettings(refine), PullSettings(refine if pin_refine is None else pin_refine)
    )
    grid = [float(h) for h in np.linspace(softest, hardest, points)]
    done: dict[float, PinPoint] = {}
    with pool(processes if processes > 1 else 0) as submit:
        told = _Told(Told(progress), tell, points + 1)
        soft = submit(solve_faces, joint, grid[0], finesse)
        lent: Faces = submit(solve_faces, joint, grid[-1], finesse).result()
        last = submit(solve_point, joint, grid[-1], finesse, lent, Asked(after))
        hard = next(iter(told.each("points", [last])))
        done[hard.hardness] = hard
        after = hard.first.load if after is None else after
        asked = Asked(after, ENOUGH * max(after, hard.first.load))

        def at(hardness: float) -> Future[PinPoint]:
            return submit(solve_point, joint, hardness, finesse, lent, asked)

        begun = [submit(solve_point, joint, grid[0], finesse, soft.result(), asked)]
        begun += [at(h) for h in grid[1:-1]]
        for point in told.each("points", begun):
            done[point.hardness] = point
        borrowed = [p.hardness for p in done.values() if not p.own_faces]
        check = None
        if borrowed:
            check = submit(solve_point, joint, min(borrowed), finesse, None, asked)
        held = None
        if borrowed and not lent.may_serve(with_hardness(joint, grid[0])):
            disc = replace(finesse, faces=replace(finesse.faces, disc_plane_strain=True))
            told.known += 1
            held = submit(solve_point, joint, grid[0], disc, None, asked)
        for _ in range(_ROUNDS):
            wanted = next_hardnesses(_sorted(done))
            if not wanted:
                break
            told.known += len(wanted)
            for point in told.each("crossings", [at(h) for h in wanted]):
                done[point.hardness] = point
        held_disc = None if held is None else next(iter(told.each("check", [held])))
        error = None
        if check is not None:
            own = next(iter(told.each("check", [check])))
            error = _change(own, done[own.hardness])
    found = _sorted(done)
    return PinRange(
        joint,
        tuple(found),
        crossings(found),
        after,
        held_disc,
        error,
        _notes(found, error, points) + _flattening(found[0], held_disc),
        time.perf_counter() - start,
    )


def _sorted(done: dict[float, PinPoint]) -> list[PinPoint]:
    return [done[h] for h in sorted(done)]


def _change(own: PinPoint, lent: PinPoint) -> float:
    """Largest relative change of the first limit and the offset load."""
    pairs = [(own.first.load, lent.first.load), (own.offset_load, lent.offset_load)]
    return max(abs(a / b - 1.0) for a, b in pairs if a is not None and b is not None)


def _flattening(free: PinPoint, held: PinPoint | None) -> tuple[str, ...]:
    """Say what the disc's plane stress, or plane strain, does to the softest pin's loads."""
    if held is None:
        return ()
    first = held.lowest(free.first.mode, free.first.part)
    told = [
        f"{name} {a:,.0f} N ({b / a - 1.0:+.1%}: {b:,.0f} N)"
        for name, a, b in (
            ("first limit", free.first.load, first),
            ("hole offset", free.offset_load, held.offset_load),
        )
        if a is not None and b is not None
    ]
    return (
        f"at {free.hardness:.0f} HV the pin flattens under the holes' edges; taken in plane strain "
        f"instead of plane stress: {', '.join(told)}; the truth lies between",
    )


def _notes(found: Sequence[PinPoint], error: float | None, points: int) -> tuple[str, ...]:
    step = (found[-1].hardness - found[0].hardness) / (points - 1)
    own = sum(p.own_faces for p in found)
    said = [
        f"strength from hardness by tables that hold for {STEEL} only; yield and ductility "
        "assumed from the strength",
        f"face sections of ear and shank solved for {own} of {len(found)} hardnesses; the other "
        "pins stay elastic under the holes' edges up to first limit, hole offset and kept bend, so "
        "those of the hardest pin are theirs; later limits of the softer ones lean on it",
        f"a change that comes and goes within {step:.0f} HV, "
        "between two of the evenly spaced points, is not seen",
    ]
    if error is not None:
        said.append(f"checked on the softest of those: its own face sections change {error:.2%}")
        if error > AGREED:
            said.append("that is more than 0.5 %: refine before trusting the crossings")
    return tuple(said)


def _vickers(where: str, hardness: float | str) -> float:
    """Return a hardness in HV, as which a bare number is taken."""
    bare = isinstance(hardness, int | float) and not isinstance(hardness, bool)
    return float(hardness) if bare else to_hv(str(hardness), where)


def _check(softest: float, hardest: float, points: int) -> None:
    faults = []
    if not SOFTEST <= softest < hardest <= HARDEST:
        allowed = f"must rise within {SOFTEST:g} to {HARDEST:g} HV, the table's range"
        faults.append(Fault("hardness", f"{softest:g} to {hardest:g} HV", allowed, "change it"))
    if not 2 <= points <= MOST_POINTS:
        allowed = f"must be 2 to {MOST_POINTS}"
        faults.append(Fault("points", str(points), allowed, "12 is for every day"))
    if faults:
        raise BadInput(*faults)


class _Told:
    """Counts solves and tells them."""

    def __init__(self, told: Told, tell: Tell | None, known: int) -> None:
        self.told, self.tell, self.known, self.done = told, tell, known, 0

    def each(self, what: str, futures: Sequence[Future[T]]) -> Iterator[T]:
        for future in as_completed(futures):
            self.done += 1
            known = max(self.known, self.done)
            self.told(what, self.done / known)
            if self.tell is not None:
                self.tell(what, self.done, known)
            yield future.result()
