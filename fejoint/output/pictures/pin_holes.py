"""Holes of ears and shank round a bent pin, and where the plates' names have room beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fejoint.analysis.result import Answer
from fejoint.analysis.section_cases import along_the_pin, names_along
from fejoint.arrays import Floats
from fejoint.joint.parts import Ear, Shank
from fejoint.output.pictures import theme as look
from fejoint.sections.axial.pull import AxialHistory

if TYPE_CHECKING:
    from matplotlib.axes import Axes

NAME = 7.5
"""Type of a plate's name."""
Box = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Hole:
    """A plate's bore as far as the pin has pressed it, and its wall behind the pin, mm."""

    name: str
    ear: bool
    high: float
    low: float
    bore: Floats
    far: float


def turned(points: Floats) -> Floats:
    """Turn the section so that the pull goes right and the first ear lies on top."""
    return np.column_stack([points[:, 1], -points[:, 0]])


def holes(answer: Answer, history: AxialHistory, index: float) -> list[Hole]:
    """Return the holes at a moment, where the plates are then."""
    problem, joint = history.problem, answer.joint
    radius = 0.5 * problem.case.diameter
    points = history.path.points[: round(index) + 1]
    middles = 0.5 * (problem.cuts[1:] + problem.cuts[:-1])
    n = len(problem.mesh.points)
    plates = zip(along_the_pin(joint), names_along(joint), problem.case.faces, strict=True)
    found = []
    for k, (part, name, face) in enumerate(plates):
        ear = isinstance(part, Ear)
        sense = 1.0 if ear else -1.0
        moved = float(points[-1].z[2 * n + k])
        pressed = np.max([np.maximum(problem.slice_travels(p, k), 0.0) for p in points], axis=0)
        along = np.concatenate([[face[0]], middles[problem.columns[k]], [face[1]]])
        depth = np.concatenate([pressed[:1], pressed, pressed[-1:]])
        bore = turned(np.column_stack([along, moved + sense * (radius + depth)]))
        far = moved + sense * (radius - 0.5 * part.hole - behind(part, joint.pull.angle))
        found.append(Hole(name, ear, -face[0], -face[1], bore, far))
    return found


def behind(part: Ear | Shank, angle: float) -> float:
    """Return how far a hole's wall lies behind the middle of the round that is pulled into, mm."""
    radius, slot = 0.5 * part.hole, part.hole_slot if isinstance(part, Ear) else 0.0
    along, across = abs(np.cos(np.deg2rad(angle))), abs(np.sin(np.deg2rad(angle)))
    if radius * along < slot * across:
        return float(radius / across)
    return float(slot * along + np.sqrt(radius**2 - (slot * across) ** 2))


def draw(axes: Axes, found: Sequence[Hole], theme: look.Theme, box: Box) -> None:
    """Draw the plates on both sides of their holes as far as they are shown."""
    from matplotlib.patches import Polygon

    for hole in found:
        outer, back = (box[1], box[0]) if hole.ear else (box[0], box[1])
        bore, far, high, low = hole.bore, hole.far, hole.high, hole.low
        near_piece = np.vstack([bore, [[outer, low], [outer, high]]])
        far_piece = np.array([[far, high], [far, low], [back, low], [back, high]])
        for piece in (near_piece, far_piece):
            axes.add_patch(Polygon(piece, facecolor=theme.metal, edgecolor="none", zorder=2))
            hatch = Polygon(piece, fill=False, edgecolor=theme.faint, lw=0.0, zorder=2.5)
            hatch.set_hatch("////")
            axes.add_patch(hatch)
        edge = np.vstack([[[outer, high]], bore, [[outer, low]]])
        axes.plot(*edge.T, color=theme.ink, lw=0.8, zorder=3)
        axes.plot([back, far, far, back], [high, high, low, low], color=theme.ink, lw=0.8,
                  zorder=3)  # fmt: skip


@dataclass(frozen=True)
class Name:
    """Where a plate's name stands, mm, and how much more room than it needs is there."""

    text: str
    x: float
    y: float
    side: str
    spare: float


def names(found: Sequence[Hole], pin: Floats, box: Box, per_inch: float) -> list[Name]:
    """Return every plate's name beside the pin, where it can on the side that the pin leaves free.

    Parameters
    ----------
    found : sequence of Hole
    pin : (n, 2) array
        Its points where they are now, mm.
    box : tuple
        What is shown: left, right, low, high, mm.
    per_inch : float
        Millimetres of the joint to one inch of the paper.
    """
    free_right = float(pin[:, 0].mean()) < 0.5 * (box[0] + box[1])
    inset, line = 0.02 * (box[1] - box[0]), 0.5 * NAME / 72.0 * per_inch
    placed = []
    for hole in found:
        middle = 0.5 * (hole.high + hole.low)
        beside = np.abs(pin[:, 1] - middle) < max(line, 0.5 * (hole.high - hole.low))
        met = np.concatenate([pin[beside, 0], hole.bore[:, 0], [hole.far]])
        rooms = {True: box[1] - float(met.max()), False: float(met.min()) - box[0]}
        need = look.text_width(hole.name, NAME) * per_inch + 2.0 * inset
        right = free_right if rooms[free_right] > need else rooms[True] > rooms[False]
        spare = rooms[right] - need
        x, side = (box[1] - inset, "right") if right else (box[0] + inset, "left")
        placed.append(Name(hole.name, x, middle, side, spare))
    return placed
