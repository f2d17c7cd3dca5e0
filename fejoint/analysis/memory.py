"""How much memory a pull will take, told before anything is meshed, and what there is.

An estimate of the unknowns from the mesher's own size rule, and of bytes per unknown from
measurements; a joint that would not fit is refused, where the system would kill the process.
"""

from __future__ import annotations

import math
import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fejoint.analysis.refinement import COARSEST
from fejoint.analysis.section_cases import PullSettings, along_the_pin, face_case
from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.joint.model import Joint
from fejoint.meshing.gmsh_mesher import GROWTH, LAYERS, UNGRADED
from fejoint.sections.axial.pull import TORN_WIDTH, AxialSettings
from fejoint.sections.damage import SQUARES
from fejoint.sections.face.problem import far_side
from fejoint.sections.face.pull import AVERAGED_THICKNESSES, FaceCase

BYTES_FIRST = 25e6
"""Bytes that the first pull takes whatever its size: solver and mesher set themselves up."""
BYTES_UNKNOWN = 7_000.0
"""Bytes per unknown: the states of the kept steps and the factors."""
BYTES_PAIR = 34.0
"""Bytes per pair of integration points over which ductility is averaged.

All three measured as the rise of the process's peak over the demo's pulls at refinements 0.5 to 4,
on 2,200 to 28,000 unknowns in all (36 to 306 MB), with pardiso and SuperLU alike.
"""
UNKNOWNS = 5.2
"""Unknowns per quadratic triangle: two nodes each, and the edges' besides."""
POINTS = 3.0
"""Integration points per triangle."""
_ROUND = np.linspace(0.0, np.pi, 25)[:, None]
"""Angles about the hole at which sizes are looked at."""
SPARE = 1.25
"""Factor on the estimate: it may be short by so much."""
LITTLE = 5e8
"""Bytes that any machine should have: where they are lacking, it is not the joint's fault."""

_LIMIT_FILES = (
    ("memory.max", "memory.current"),
    ("memory/memory.limit_in_bytes", "memory/memory.usage_in_bytes"),
)
"""A container's limit and use, under the folder of control groups: version 2, then 1."""


def refuse_too_large(joint: Joint, settings: PullSettings) -> None:
    """Refuse a pull that the memory free now cannot hold.

    Parameters
    ----------
    joint : Joint
    settings : PullSettings

    Raises
    ------
    BadInput
        With the estimate, what is free, and the refinement that would fit.
    """
    free = free_bytes()
    if free is None or needed_bytes(joint, settings) <= free:
        return
    needed = needed_bytes(joint, settings)
    allowed = (
        f"asks for about {sum(unknowns(joint, settings).values()):,.0f} unknowns and "
        f"{_shown(needed)} of memory, of which {_shown(free)} are free"
    )
    fitting = _fitting(joint, settings, free)
    if fitting is None and needed_bytes(joint, replace(settings, refine=COARSEST)) < LITTLE:
        mend = "end other programs, or raise the limit on memory"
    elif fitting is None:
        name = max(unknowns(joint, settings).items(), key=lambda item: item[1])[0]
        mend = f"most of it lies in the {name}: make it shorter, or wider for its length"
    else:
        mend = f"a refine of {fitting:g} fits"
    raise BadInput(Fault("refine", f"{settings.refine:g}", allowed, mend))


def needed_bytes(joint: Joint, settings: PullSettings) -> float:
    """Return the memory that a pull takes beyond what the process has before it, bytes."""
    sizes = _sizes(joint, settings).values()
    grown = sum(s.unknowns * BYTES_UNKNOWN + s.pairs * BYTES_PAIR for s in sizes)
    return SPARE * (BYTES_FIRST + grown)


def unknowns(joint: Joint, settings: PullSettings) -> dict[str, float]:
    """Return about how many unknowns each section will have, by name; equal ears once.

    Parameters
    ----------
    joint : Joint
    settings : PullSettings

    Returns
    -------
    dict
        "ear" (or "ear 1" and "ear 2"), "shank" and "pin".
    """
    return {name: size.unknowns for name, size in _sizes(joint, settings).items()}


@dataclass(frozen=True)
class _Size:
    unknowns: float
    pairs: float


def _sizes(joint: Joint, settings: PullSettings) -> dict[str, _Size]:
    found = {}
    different = len(joint.ears) > 1 and joint.ears[1] != joint.ears[0]
    for k, ear in enumerate(joint.ears if different else joint.ears[:1]):
        name = f"ear {k + 1}" if different else "ear"
        found[name] = _face_size(face_case(joint, ear, settings), settings.sides)
    shank = settings.shank(1.0)
    found["shank"] = _face_size(face_case(joint, joint.shank, settings), shank.sides)
    found["pin"] = _axial_size(joint, settings.axial(joint))
    return found


def _face_size(case: FaceCase, sides: int) -> _Size:
    """Return the size of a face section.

    The plate is taken as a disc of its own area about the hole, and the mesher's triangles as
    equilateral ones of the size that it is asked for.
    """
    o = case.outline
    r, d = 0.5 * o.hole, case.pin_diameter
    flat, wide = UNGRADED * o.hole, o.width * (o.grip_length + o.edge_distance)
    reach = max(math.sqrt(wide / math.pi), 1.01 * r)
    # close where the hole is, wide apart where the size is at its largest
    out = (reach - r) * np.linspace(0.0, 1.0, 200) ** 2
    size = min(math.pi * o.hole / sides, o.thinnest / LAYERS)
    straight = case.angle % 180.0 == 0.0 and o.offset == 0.0
    # the side that the pin is pulled away from is coarser, the more the nearer to the axis
    away = 0.0 if far_side(case) is None else np.maximum(0.0, -np.cos(_ROUND))
    grown = GROWTH * np.maximum(0.0, out - flat)
    h = np.minimum(size * (1.0 + away * (r + out) / r) + grown, o.width / 5.0)
    dense = np.atleast_2d(_density(h))
    triangles = _total(dense.mean(axis=0) * 2.0 * np.pi * (r + out), out)
    if case.pin_metal is not None:
        into = np.linspace(0.0, 0.5 * d, 60)
        grown = GROWTH * np.maximum(0.0, into - flat)
        edge = math.pi * d / sides * (1.0 + away * (0.5 * d - into) / (0.5 * d))
        h = np.minimum(edge + grown, 0.25 * d)
        inner = np.atleast_2d(_density(h)).mean(axis=0)
        triangles += _total(inner * 2.0 * np.pi * (0.5 * d - into), into)
    share = 0.5 if straight else 1.0
    pairs = 0.0
    if case.fracture_strain is not None:
        radius = 0.5 * AVERAGED_THICKNESSES * case.thickness
        together = np.sqrt((dense**2).mean(axis=0))  # dense places have most of the pairs
        square = (radius / SQUARES) ** 2
        # squares that hold a point: between points in rank and file and points strewn at random
        each = POINTS * together * square
        alone = each / np.sqrt(1.0 + each**2) / square
        pairs = _pairs(r + out, alone, radius, 1.5 * o.hole + o.slot + radius)
    return _Size(share * UNKNOWNS * triangles, share * pairs)


def _pairs(along: Floats, dense: Floats, radius: float, reach: float) -> float:
    """Return the pairs of points that lie within a radius of each other about a hole.

    Parameters
    ----------
    along : (n,) array
        Distances from the hole's centre, from its edge on, mm.
    dense : (n,) array
        Points per area there.
    radius : float
        mm.
    reach : float
        Distance from the hole's centre beyond which a point stands alone, mm.
    """
    inside = along <= reach
    r, counted = along[inside], (dense * 2.0 * np.pi * along)[inside]
    # the share of a circle of one radius that lies close enough to a point at another
    cosine = (r[:, None] ** 2 + r**2 - radius**2) / (2.0 * r[:, None] * r)
    share = np.arccos(np.clip(cosine, -1.0, 1.0)) / np.pi
    return _total(counted * np.trapezoid(share * counted, r, axis=1), r)


def _density(h: Floats) -> Floats:
    """Return triangles per area for a size `h`: a tenth more than equilateral ones."""
    return np.asarray(1.1 * 4.0 / math.sqrt(3.0) / h**2)


def _total(values: Floats, along: Floats) -> float:
    return float(np.trapezoid(values, along))


def _axial_size(joint: Joint, settings: AxialSettings) -> _Size:
    """Return the size of the pin's strip: columns short at the plates' faces, then long."""
    lengths = [part.thickness for part in along_the_pin(joint)] + list(joint.gaps)
    d = joint.pin.diameter
    columns = sum(2.0 * _graded(0.5 * x * settings.slices / d) for x in lengths if x > 0.0)
    points = 2.0 * POINTS * columns * settings.rows
    share = min(1.0, 0.25 * math.pi * (TORN_WIDTH * d) ** 2 / (d * sum(lengths)))
    pairs = 0.0 if joint.pin.rigid else points * max(1.0, share * points)
    return _Size(2.0 * (2.0 * columns + 1.0) * (2.0 * settings.rows + 1.0), pairs)


def _graded(length: float) -> float:
    """Return the columns over half a plate so many columns' scales long: 1/16, growing to 1/5."""
    growth = math.log(1.0 + 0.35 * 16.0 * length) / math.log(1.35)
    until = math.log(16.0 / 5.0) / math.log(1.35)
    graded = (16.0 / 5.0 - 1.0) / (0.35 * 16.0)
    return growth + 1.0 if growth <= until else until + 1.0 + (length - graded) * 5.0


def _fitting(joint: Joint, settings: PullSettings, free: float) -> float | None:
    """Return the largest refinement that fits, in quarters; None if even the coarsest does not."""
    quarters = int(settings.refine / COARSEST)
    low, high = 0, max(1, quarters)
    while high - low > 1:
        middle = (low + high) // 2
        asked = replace(settings, refine=COARSEST * middle)
        low, high = (middle, high) if needed_bytes(joint, asked) <= free else (low, middle)
    return COARSEST * low if low else None


def free_bytes() -> float | None:
    """Return the memory that this process may still take, bytes; None where nothing tells.

    The least of what the system has, what the process's own limit leaves, and what a container's
    does.
    """
    known = [*_system_free(), *_own_limit(), *_container_free()]
    return min(known) if known else None


def _system_free(proc: Path = Path("/proc")) -> Iterator[float]:
    try:
        lines = (proc / "meminfo").read_text(encoding="ascii").splitlines()
        table = dict(line.split(":", 1) for line in lines)
        yield 1024.0 * float(table["MemAvailable"].split()[0])
    except (OSError, ValueError, KeyError):
        try:
            yield float(os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE"))
        except (AttributeError, OSError, ValueError):
            return


def _own_limit(proc: Path = Path("/proc")) -> Iterator[float]:
    if sys.platform == "win32":
        return  # pragma: no cover - Windows sets no such limit
    import resource

    soft, _ = resource.getrlimit(resource.RLIMIT_AS)
    if soft == resource.RLIM_INFINITY:
        return
    try:
        pages = int((proc / "self/statm").read_text(encoding="ascii").split()[0])
    except (OSError, ValueError, IndexError):
        pages = 0
    yield max(0.0, float(soft) - pages * resource.getpagesize())


def _container_free(groups: Path = Path("/sys/fs/cgroup")) -> Iterator[float]:
    for most, used in _LIMIT_FILES:
        try:
            limit = float((groups / most).read_text(encoding="ascii"))
            now = float((groups / used).read_text(encoding="ascii"))
        except (OSError, ValueError):
            continue
        yield max(0.0, limit - now)


def _shown(size: float) -> str:
    return f"{size / 1e9:,.1f} GB" if size >= 1e9 else f"{size / 1e6:,.0f} MB"
