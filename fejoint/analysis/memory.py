"""How much memory a pull will take, told before anything is meshed.

Meshing would tell exactly, but a mesh absurdly fine eats the memory itself. So the unknowns are
taken from the sizes that the mesher will be asked for, and bytes from measurements; a joint that
would not fit is refused, where the system would kill the process.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from fejoint.analysis.refinement import COARSEST
from fejoint.analysis.section_cases import PullSettings, along_the_pin, face_case
from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.joint.model import Joint
from fejoint.meshing.gmsh_mesher import GROWTH, LAYERS, UNGRADED
from fejoint.sections.axial.case import AxialSettings
from fejoint.sections.axial.pull import TORN_WIDTH
from fejoint.sections.damage import SQUARES
from fejoint.sections.face.problem import far_side
from fejoint.sections.face.pull import AVERAGED_THICKNESSES, FaceCase
from fejoint.system import free_memory

BYTES_FIRST = 25e6
"""Bytes that the first pull takes whatever its size: solver and mesher set themselves up."""
BYTES_UNKNOWN = 7_000.0
"""Bytes per unknown: the states of the kept steps and the factors."""
BYTES_PAIR = 34.0
"""Bytes per pair of places over which damage is averaged.

All three measured as the rise of the process's peak over the demo's pulls at refinements 0.5 to 4,
on 2,200 to 28,000 unknowns in all (36 to 306 MB), with pardiso and SuperLU alike.
"""
UNKNOWNS, POINTS = 5.2, 3.0
"""Unknowns (two nodes each, and the edges' besides) and integration points per triangle."""
FAR_SHARE = 0.8
"""Triangles that stay where the side that the pin is pulled away from is meshed coarser."""
SPARE = 1.25
"""Factor on the estimate: it may be short by so much."""
LITTLE = 5e8
"""Bytes that any machine should have: where they are lacking, it is not the joint's fault."""

Size = tuple[float, float]
"""Unknowns of a section, and pairs of places over which its damage is averaged."""


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
    free = free_memory.free_bytes()
    if free is None or needed_bytes(joint, settings) <= free:
        return
    needed = needed_bytes(joint, settings)
    allowed = (
        f"asks for about {sum(u for u, _ in sizes(joint, settings).values()):,.0f} unknowns and "
        f"{_shown(needed)} of memory, of which {_shown(free)} are free"
    )
    fitting = _fitting(joint, settings, free)
    if fitting is None and needed_bytes(joint, replace(settings, refine=COARSEST)) < LITTLE:
        mend = "end other programs, or raise the limit on memory"
    elif fitting is None:
        name = max(sizes(joint, settings).items(), key=lambda item: item[1])[0]
        mend = f"most of it lies in the {name}: make it shorter, or wider for its length"
    else:
        mend = f"a refine of {fitting:g} fits"
    raise BadInput(Fault("refine", f"{settings.refine:g}", allowed, mend))


def needed_bytes(joint: Joint, settings: PullSettings) -> float:
    """Return the memory that a pull takes beyond what the process has before it, bytes."""
    found = sizes(joint, settings).values()
    grown = sum(unknowns * BYTES_UNKNOWN + pairs * BYTES_PAIR for unknowns, pairs in found)
    return SPARE * (BYTES_FIRST + grown)


def sizes(joint: Joint, settings: PullSettings) -> dict[str, Size]:
    """Return about how large each section will be, by name: ears (equal ones once), shank, pin."""
    ears = joint.ears[:1] if joint.ears[-1] == joint.ears[0] else joint.ears
    names = ["ear"] if len(ears) == 1 else ["ear 1", "ear 2"]
    found = {
        name: _face(face_case(joint, ear, settings), settings.sides)
        for name, ear in zip(names, ears, strict=True)
    }
    found["shank"] = _face(face_case(joint, joint.shank, settings), settings.shank(1.0).sides)
    return found | {"pin": _axial(joint, settings.axial(joint))}


def _face(case: FaceCase, sides: int) -> Size:
    """Take a plate for a disc of its area about the hole, meshed by equilateral triangles.

    Their sizes are the mesher's: those asked for at the hole's edge, growing from it on, in the
    plate outwards and in the pin's disc inwards.
    """
    o, r, d = case.outline, 0.5 * case.outline.hole, case.pin_diameter
    wide = o.width * (o.grip_length + o.edge_distance)
    # close where the hole is, wide apart where the size is at its largest
    out = max(math.sqrt(wide / math.pi) - r, 0.01 * r) * np.linspace(0.0, 1.0, 200) ** 2
    share = 1.0 if far_side(case) is None else FAR_SHARE
    if case.angle % 180.0 == 0.0 and o.offset == 0.0 and o.symmetric:
        share *= 0.5

    def dense(size: float, most: float) -> Floats:
        """Triangles per area at every distance: a tenth more than equilateral ones."""
        grown = GROWTH * np.maximum(0.0, out - UNGRADED * o.hole)
        return share * 1.1 * 4.0 / math.sqrt(3.0) / np.minimum(size + grown, most) ** 2

    around = 2.0 * math.pi * (r + out)
    plate = dense(min(math.pi * o.hole / sides, o.thinnest / LAYERS), o.width / 5.0)
    triangles = plate * around
    if case.pin_metal is not None:
        pin = dense(math.pi * d / sides, d / 4.0)
        triangles = triangles + pin * 2.0 * math.pi * np.maximum(0.5 * d - out, 0.0)
    unknowns = UNKNOWNS * np.trapezoid(triangles, out)
    if case.fracture_strain is None:
        return float(unknowns), 0.0
    radius = 0.5 * AVERAGED_THICKNESSES * case.thickness
    square = (radius / SQUARES) ** 2  # what lies in one square is averaged before
    places = POINTS * plate / (1.0 + POINTS * plate * square)
    near = np.where(r + out <= 1.5 * o.hole + o.slot + radius, places, 0.0)
    count = np.trapezoid(near * around, out)
    # a triangle's own places, and others as densely strewn as here; no more than there are
    others = math.pi * radius**2 * np.trapezoid(near**2 * around, out)
    return float(unknowns), float(min(POINTS * count + others, count**2))


def _axial(joint: Joint, settings: AxialSettings) -> Size:
    """Take the pin's strip for even columns, and some more where they are short at the faces."""
    lengths = [part.thickness for part in along_the_pin(joint)] + list(joint.gaps)
    d = joint.pin.diameter
    columns = 5.0 * settings.slices * sum(lengths) / d + 4.0 * len(lengths)
    points = 2.0 * POINTS * columns * settings.rows
    disc = min(1.0, 0.25 * math.pi * TORN_WIDTH**2 * d / sum(lengths))
    pairs = 0.0 if joint.pin.rigid else points * max(1.0, disc * points)
    return 2.0 * (2.0 * columns + 1.0) * (2.0 * settings.rows + 1.0), pairs


def _fitting(joint: Joint, settings: PullSettings, free: float) -> float | None:
    """Return the largest refinement that fits, in quarters; None if even the coarsest does not."""
    quarters = int(settings.refine / COARSEST)
    low, high = 0, max(1, quarters)
    while high - low > 1:
        middle = (low + high) // 2
        asked = replace(settings, refine=COARSEST * middle)
        low, high = (middle, high) if needed_bytes(joint, asked) <= free else (low, middle)
    return COARSEST * low if low else None


def _shown(size: float) -> str:
    return f"{size / 1e9:,.1f} GB" if size >= 1e9 else f"{size / 1e6:,.0f} MB"
