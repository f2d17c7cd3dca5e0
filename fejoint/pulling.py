"""Pulling a joint: solve its sections, read the events, and reach a verdict."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib.metadata import PackageNotFoundError, version

import numpy as np
from numpy.typing import NDArray

from fejoint import curve as curves
from fejoint import handbook
from fejoint.answer import Answer, Cost, Curve, Event, LimitLoad, Trust
from fejoint.joint import Ear, Joint, Shank
from fejoint.kernel.elements import Solid
from fejoint.kernel.plasticity import Metal
from fejoint.kernel.stepping import Progress
from fejoint.materials import Material
from fejoint.meshing import EarOutline
from fejoint.sections import face
from fejoint.sections.face import FaceCase, FaceHistory, FaceSettings, Release
from fejoint.sections.nodal import energy_error
from fejoint.verdict import beside_handbook, tear_mode, verdict

Floats = NDArray[np.float64]

SET = 0.02
"""Permanent elongation of the event "permanent set 2 %", over the hole's diameter."""


@dataclass(frozen=True)
class PullSettings:
    """How finely a joint is solved.

    Attributes
    ----------
    refine : float
        1 is the everyday mesh (48 element sides round the hole); 2 halves the elements.
    pace : float
        1 is the everyday step; 0.5 halves the longest steps.
    solver : str
        "fastest", "pardiso" or "superlu".
    """

    refine: float = 1.0
    pace: float = 1.0
    solver: str = "fastest"

    def face(self, joint: Joint) -> FaceSettings:
        """Return the settings of the face sections."""
        sides = 4 * max(4, round(face.SIDES * self.refine / 4))
        return FaceSettings(
            sides=sides,
            pace=self.pace,
            solver=self.solver,
            stop_travel=joint.pull.stop_displacement,
            stop_load=_per_ear(joint.pull.stop_load, joint),
        )


def pull(
    joint: Joint,
    *,
    refine: float = 1.0,
    pace: float = 1.0,
    solver: str = "fastest",
    progress: Progress | None = None,
) -> Answer:
    """Pull a joint until something gives, and say what, where and at what load.

    Parameters
    ----------
    joint : Joint
    refine : float
        Mesh refinement; 2 halves the elements.
    pace : float
        Factor on the longest steps.
    solver : {"fastest", "pardiso", "superlu"}
    progress : callable, optional
        Called with the last equilibrium, the iteration and its residual.

    Returns
    -------
    Answer
        Also where the solve could not go on: `trust.finished` is then False, and
        `trust.stopped_because` says where and why.
    """
    settings = PullSettings(refine, pace, solver)
    clock = _Clock()
    cases = [ear_case(joint, ear) for ear in joint.ears]
    histories: dict[FaceCase, FaceHistory] = {}
    for case in dict.fromkeys(cases):
        with clock.phase("mesh"):
            problem = face.build(case, settings.face(joint))
        with clock.phase("face section"):
            histories[case] = face.pull(problem, settings.face(joint), progress=progress)
    ears = [histories[case] for case in cases]
    weakest = min(ears, key=lambda h: _offset_load(h) or np.inf)
    with clock.phase("release"):
        kept = permanent_set(weakest, settings.face(joint))
    return _assemble(joint, ears, weakest, kept, clock)


def ear_case(joint: Joint, part: Ear | Shank) -> FaceCase:
    """Return the face section of an ear or of the shank."""
    length = part.length if isinstance(part, Shank) else part.grip_length
    outline = EarOutline(
        part.width, part.hole, part.edge_distance, length, part.end, part.clip
    )
    return FaceCase(
        outline,
        part.thickness,
        metal(part.material),
        joint.pin.diameter,
        None if joint.pin.rigid else metal(joint.pin.material),
        joint.friction,
        joint.pull.angle,
        part.material.fracture_strain if joint.pull.ductility else None,
        joint.pull.large_strain,
    )


def metal(material: Material) -> Metal:
    """Return the kernel's view of a material."""
    return Metal(material.modulus, material.poisson, material.hardening)


def permanent_set(
    history: FaceHistory, settings: FaceSettings
) -> tuple[float, list[Release]] | str:
    """Find the load on a plate that leaves 2 % of the hole's diameter for good.

    Parameters
    ----------
    history : FaceHistory
    settings : FaceSettings

    Returns
    -------
    (float, list of Release), or str
        The load, N, and the releases that bracket it; or why it was not found.

    Notes
    -----
    The plate is let go from solved points below the offset load until two bracket the set; the
    load is interpolated between them.
    """
    target = SET * history.problem.case.outline.hole
    offset = _offset(history)
    if offset is None:
        return "the offset load was not reached"
    index = history.point_at_load(offset.load)
    above: tuple[float, float] | None = None
    done: list[Release] = []
    for k in range(index, max(index - 6, 0), -1):
        let_go = face.release(history, k, settings)
        if let_go is None:
            return "an unloading path could not be followed"
        done.append(let_go)
        here = (let_go.set, float(history.load[k]))
        if here[0] <= target:
            if above is None:
                return "the set at the offset load lies below 2 %"
            share = (target - here[0]) / (above[0] - here[0])
            return here[1] + share * (above[1] - here[1]), done
        above = here
    return "no load below the offset load leaves less than 2 %"


def _assemble(
    joint: Joint,
    ears: Sequence[FaceHistory],
    weakest: FaceHistory,
    kept: tuple[float, list[Release]] | str,
    clock: _Clock,
) -> Answer:
    n = len(joint.ears)
    curve = Curve(n * weakest.load, weakest.travel, weakest.elongation)
    found = handbook.limits(joint)
    limits = [*_ear_limits(weakest, n), *_handbook_only(found, ("pin", "shank"))]
    if not any(x.part == "ear" for x in limits):
        limits.append(_reached_only(weakest, n))
    return Answer(
        joint,
        verdict(beside_handbook(x, found) for x in limits),
        tuple(_events(weakest, n, kept)),
        curve,
        {},
        _trust(ears, weakest),
        _cost(ears, clock),
        tuple(_warnings(joint, weakest)),
        versions(),
        {"ear": ears[0]} if len(set(map(id, ears))) == 1 else dict(
            zip((f"ear {k + 1}" for k in range(n)), ears, strict=True)
        ),
    )


def _ear_limits(history: FaceHistory, n: int) -> list[LimitLoad]:
    limits = []
    offset = _offset(history)
    if offset is not None:
        limits.append(LimitLoad("hole elongation", "ear", n * offset.load, "offset load"))
    mode = tear_mode(history)
    top = curves.maximum(history.load, history.travel)
    if top is not None:
        limits.append(LimitLoad(mode, "ear", n * top[0], "load maximum"))
    torn = curves.first_reach(history.damage, 1.0)
    if torn is not None:
        load = n * curves.at_index(history.load, torn)
        limits.append(LimitLoad(mode, "ear", load, "ductility exhausted"))
    return limits


def _reached_only(history: FaceHistory, n: int) -> LimitLoad:
    return LimitLoad(
        "hole elongation", "ear", n * float(history.load.max()), "largest load reached"
    )


def _handbook_only(
    found: Sequence[handbook.HandbookLimit], parts: tuple[str, ...]
) -> list[LimitLoad]:
    first: dict[tuple[str, str], handbook.HandbookLimit] = {}
    for line in found:
        if line.part in parts:
            first.setdefault((line.part, line.mode), line)
    return [
        LimitLoad(
            x.mode, x.part, x.load, "handbook value", "handbook", x.load, f"{x.source}: {x.formula}"
        )
        for x in first.values()
    ]


def _events(
    history: FaceHistory, n: int, kept: tuple[float, list[Release]] | str
) -> list[Event]:
    why = f"the pull ended before it: {history.path.stopped_because}"

    def at(name: str, load: float | None, reason: str = "") -> Event:
        if load is None:
            return Event(name, None, reason=reason or why)
        index = curves.first_reach(history.load, load)
        index = len(history.load) - 1.0 if index is None else index
        return Event(
            name,
            n * load,
            curves.at_index(history.travel, index),
            curves.at_index(history.elongation, index),
        )

    offset = _offset(history)
    top = curves.maximum(history.load, history.travel)
    torn = curves.first_reach(history.damage, 1.0)
    rigid = history.problem.case.pin_metal is None
    not_computed = "the pin's axial section was not solved"
    return [
        at("first yield ear", history.first_yield_plate),
        at("first yield pin", history.first_yield_pin, "the pin is rigid" if rigid else ""),
        at("offset load", offset.load if offset else None),
        at(
            "permanent set 2 %",
            None if isinstance(kept, str) else kept[0],
            kept if isinstance(kept, str) else "",
        ),
        at("load maximum", top[0] if top else None, "the load still rose at the end: " + why),
        at(
            "ductility exhausted",
            None if torn is None else curves.at_index(history.load, torn),
            f"largest damage {history.damage.max():.2f} at the end: " + why,
        ),
        Event("pin hinge", None, reason=not_computed),
        Event("pin shear", None, reason=not_computed),
    ]


def _offset(history: FaceHistory) -> curves.OffsetPoint | None:
    hole = history.problem.case.outline.hole
    return curves.offset_point(history.load, history.elongation, face.OFFSET * hole)


def _offset_load(history: FaceHistory) -> float | None:
    offset = _offset(history)
    return None if offset is None else offset.load


def _per_ear(load: float | None, joint: Joint) -> float | None:
    return None if load is None else load / len(joint.ears)


def energy_balance(history: FaceHistory) -> float:
    """Return the energy that a pulled face section cannot account for, over the work put in.

    External work by the trapezoid rule, less the energy stored (elastic and contact), the plastic
    work as the integral of the yield stress, and friction's heat: each computed on its own.
    """
    points = history.path.points
    load, travel = (np.array([getattr(p, k) for p in points]) for k in ("load", "travel"))
    work = float(np.trapezoid(load, travel))
    end = points[-1]
    plastic = 0.0
    for term, state in zip(history.problem.system.terms, end.states, strict=True):
        if isinstance(term, Solid) and term.metal.hardening is not None:
            density = term.metal.hardening.plastic_work(state.equivalent)
            plastic += float(density @ term.volumes.ravel())
    if work <= 0.0:
        return 0.0
    return (work - end.stored - plastic - end.lost) / work


def _trust(ears: Sequence[FaceHistory], weakest: FaceHistory) -> Trust:
    offset = _offset_load(weakest)
    index = weakest.point_at_load(offset) if offset is not None else -1
    point = weakest.path.points[index]
    plate = weakest.problem.system.terms[face.PLATE]
    assert isinstance(plate, Solid)
    hole = weakest.problem.case.outline.hole
    return Trust(
        energy_error(
            plate, point.states[face.PLATE].stress, len(weakest.problem.mesh.points)
        ),
        max(p.residual for h in ears for p in h.path.points),
        max((energy_balance(h) for h in ears), key=abs),
        max(h.problem.penetration(h.path.points[-1]) for h in ears) / hole,
        weakest.path.stopped_because,
        all(h.path.finished for h in ears),
    )


def _cost(ears: Sequence[FaceHistory], clock: _Clock) -> Cost:
    solved = list({id(h): h for h in ears}.values())
    return Cost(
        sum(clock.seconds.values()),
        sum(h.problem.system.n_unknowns for h in solved),
        sum(len(h.path.points) - 1 for h in solved),
        sum(h.tally.numeric for h in solved),
        sum(h.tally.seconds for h in solved),
        dict(clock.seconds),
    )


def _warnings(joint: Joint, weakest: FaceHistory) -> list[str]:
    said = list(joint.assumptions)
    for k, ear in enumerate(joint.ears):
        slender = ear.width / ear.thickness, ear.edge_distance / ear.thickness
        if k == 0 or ear != joint.ears[0]:
            if slender[0] > 10.0 or slender[1] > 6.0:
                said.append(
                    f"ear: width {slender[0]:.1f} and end {slender[1]:.1f} thicknesses; so thin "
                    "an end may dish or curl behind the pin, which plane stress leaves out"
                )
    if weakest.damage.max() >= 1.0:
        said.append(
            "the ear's end load rests on the fracture strain: "
            f"{joint.ears[0].material.fracture_strain:g} in a band of "
            f"{joint.ears[0].material.fracture_band[0]:g} to "
            f"{joint.ears[0].material.fracture_band[1]:g}"
        )
    return said


def versions() -> dict[str, str]:
    """Return the versions of this package and of what it computes with."""
    found = {}
    for name in ("fejoint", "numpy", "scipy", "scikit-fem", "gmsh", "pypardiso"):
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found


class _Clock:
    """CPU seconds by phase."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}

    def phase(self, name: str) -> _Phase:
        return _Phase(self, name)


class _Phase:
    def __init__(self, clock: _Clock, name: str) -> None:
        self._clock, self._name = clock, name

    def __enter__(self) -> None:
        self._start = time.process_time()

    def __exit__(self, *_: object) -> None:
        spent = time.process_time() - self._start
        self._clock.seconds[self._name] = self._clock.seconds.get(self._name, 0.0) + spent
