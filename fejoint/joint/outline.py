"""The outline of a plate that is no plain strip, as a cutter's drawing has it.

Contours as in `fejoint.meshing.contours`, the pin hole's centre at the origin. The plate is held
along the last side of its outside, which is straight and stands upright at x < 0; a pull at 0
degrees goes towards positive x, away from it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from fejoint.errors import BadInput, Fault
from fejoint.meshing.contours import (
    Contour,
    box,
    crossings,
    dense,
    in_spans,
    nearest,
    spans_at,
    whole_sides,
    within,
)

STRAIGHT = 1e-9
"""What a side may leave its line by, over its length."""
_ROUND_THE_HOLE = "must hold the pin's hole in its metal"
_SECTIONS = 240
"""Sections looked at between hole and grip for the least one."""
_LEAST = 0.1
"""Least metal between two edges, in diameters of the pin's hole."""


@dataclass(frozen=True)
class Outline:
    """Where a plate ends, and where it is held.

    Attributes
    ----------
    outside : Contour
        Its last side is held.
    openings : tuple of Contour
        Every further hole or slot of the plate; they weaken it.
    source : str
        The file that it was read from.
    """

    outside: Contour
    openings: tuple[Contour, ...] = ()
    source: str = ""

    @cached_property
    def measures(self) -> dict[str, float]:
        """Return what a strip of the same metal beside and behind the hole would measure, mm.

        "width" beside the hole, "edge_distance" behind it, each to the nearest edge, "grip_length"
        and "hole_offset" (negative to the side of a pull at -90 degrees).
        """
        contours = (self.outside, *self.openings)
        beside = [y for c in contours for y in crossings(c, 0.0)]
        # turned a quarter, so that the axis stands upright
        ahead = [-y for c in contours for y in crossings([(y, -x, b) for x, y, b in c], 0.0)]
        up = min((y for y in beside if y > 0.0), default=math.nan)
        down = min((-y for y in beside if y < 0.0), default=math.nan)
        return {
            "width": up + down,
            "edge_distance": min((x for x in ahead if x > 0.0), default=math.nan),
            "grip_length": -self.outside[0][0],
            "hole_offset": 0.5 * (down - up),
        }

    @cached_property
    def sections(self) -> tuple[tuple[float, float, float, float], ...]:
        """Sections across the plate between the hole and where it is held.

        Each is its place x, its metal (mm), the height at which half of the metal lies on either
        side (mm), and the first moment of both halves about it (mm2): times thickness and yield
        stress the full plastic pull and moment.
        """
        contours = (self.outside, *self.openings)
        # not at the very edge, which belongs to both sides of it
        places = np.linspace(self.outside[0][0] * (1.0 - 1e-9), 0.0, _SECTIONS)
        found = []
        for x in places:
            spans = spans_at(contours, float(x))
            metal = sum(b - a for a, b in spans)
            # half way across an opening where the metal parts there
            middle = float(in_spans(spans, np.array([0.5 - 1e-9, 0.5 + 1e-9]), above=False).mean())
            found.append((float(x), metal, middle, sum(_moment(a, b, middle) for a, b in spans)))
        return tuple(found)

    @property
    def strip_width(self) -> float:
        """The least metal across the plate between the hole and where it is held, mm."""
        return min(metal for _, metal, _, _ in self.sections)

    @property
    def symmetric(self) -> bool:
        """Whether the plate is its own mirror image, with no opening on its axis."""
        size = max(abs(v) for v in box(self.outside))
        if any(low < 1e-9 * size < high for _, low, _, high in map(box, self.openings)):
            return False
        return _mirrored(self.outside, (self.outside,), size) and all(
            _mirrored(opening, self.openings, size) for opening in self.openings
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, mm."""
        return {
            "source": self.source,
            "outside": [list(corner) for corner in self.outside],
            "openings": [[list(corner) for corner in opening] for opening in self.openings],
        }

    def scaled(self, by: float) -> Outline:
        """Return the outline larger or smaller about the pin hole's centre."""
        if by == 1.0:
            return self

        def larger(contour: Contour) -> Contour:
            return tuple((x * by, y * by, b) for x, y, b in contour)

        return replace(
            self, outside=larger(self.outside), openings=tuple(map(larger, self.openings))
        )

    def ending_at(self, edge_distance: float, where: str) -> Outline:
        """Return the outline with its end moved along the pull.

        Parameters
        ----------
        edge_distance : float
            mm.
        where : str
            The field, for messages.

        Raises
        ------
        BadInput
            If no straight sides along the pull lead to the end on both sides of the hole.
        """
        by = edge_distance - self.measures["edge_distance"]
        if abs(by) < 1e-9:
            return self
        along = [
            k for k, ((x0, y0), (x1, y1), b) in enumerate(whole_sides(self.outside))
            if not b and abs(y1 - y0) <= STRAIGHT * abs(x1 - x0)
        ]  # fmt: skip
        below = [k for k in along if self.outside[k][1] < 0.0]
        above = [k for k in along if self.outside[k][1] > 0.0]
        if not below or not above:
            allowed = "cannot move an end to which no straight sides along the pull lead"
            mend = "leave edge_distance out, or draw the end elsewhere"
            raise BadInput(Fault(where, f"{edge_distance:g} mm", allowed, mend))
        first, last = below[-1], above[0]
        outside = tuple(
            (x + by, y, b) if first < k <= last else (x, y, b)
            for k, (x, y, b) in enumerate(self.outside)
        )
        openings = tuple(
            tuple((x + by, y, b) for x, y, b in c) if box(c)[0] > 0.0 else c for c in self.openings
        )
        return replace(self, outside=outside, openings=openings)

    def faults(self, where: str, hole: float, slot: float) -> Iterator[Fault]:
        """Find where too little metal is left between two edges."""
        round_hole = 0.5 * hole
        if not within(self.outside, (0.0, 0.0)) or any(
            within(c, (0.0, 0.0)) for c in self.openings
        ):
            yield Fault(where, self.source, _ROUND_THE_HOLE, "say which hole is the pin's")
            return
        least = _LEAST * hole
        named = [("the outside", self.outside), *(("an opening", c) for c in self.openings)]
        for name, contour in named:
            row = dense(contour)
            off = np.hypot(row[:, 0] - np.clip(row[:, 0], 0.0, slot), row[:, 1]) - round_hole
            if off.min() < least:
                yield self._too_near(where, row[int(off.argmin())], f"the hole and {name}", least)
        for k, opening in enumerate(self.openings):
            apart, place = nearest(opening, [self.outside, *self.openings[:k]])
            if apart < least or not within(self.outside, (opening[0][0], opening[0][1])):
                yield self._too_near(where, place, "an opening and another edge", least)

    def _too_near(self, where: str, place: Any, what: str, least: float) -> Fault:
        x, y = place
        return Fault(
            where, self.source or "outline",
            f"must leave {least:.3g} mm of metal between {what}, and does not at {x:.3g}, {y:.3g} "
            "mm from the hole's centre", "move them apart",
        )  # fmt: skip


def read(table: Mapping[str, Any], where: str) -> Outline:
    """Return the outline that a case holds.

    Raises
    ------
    BadInput
        If it holds no contours.
    """
    try:
        outside = _contour(table["outside"])
        openings = tuple(_contour(each) for each in table.get("openings", ()))
        source = str(table.get("source", ""))[:200]
        strange = set(table) - {"outside", "openings", "source"}
    except (LookupError, TypeError, ValueError, AttributeError) as error:
        raise BadInput(_no_contours(where)) from error
    (x0, y0, _), (x1, y1, bulge) = outside[0], outside[-1]
    upright = abs(x1 - x0) <= 1e-6 * abs(y1 - y0) and y0 < y1 and x0 < 0.0 and not bulge
    if strange or not upright:
        raise BadInput(_no_contours(where))
    return Outline(outside, openings, source)


def _no_contours(where: str) -> Fault:
    return Fault(
        where, "", "must be a drawing's file, or the contours that were read from one",
        'write for example outline = "ear.dxf"',
    )  # fmt: skip


_MOST_CORNERS = 20_000


def _contour(rows: Any) -> Contour:
    if not 2 <= len(rows) <= _MOST_CORNERS:
        raise ValueError
    made = []
    for x, y, bulge in rows:
        corner = (float(x), float(y), float(bulge))
        if not all(map(math.isfinite, corner)) or max(map(abs, corner)) > 1e5:
            raise ValueError
        made.append(corner)
    return tuple(made)


def _moment(low: float, high: float, middle: float) -> float:
    """Return the first moment of a stretch about a height, both sides counted up, mm2."""
    if low >= middle or high <= middle:
        return abs(0.5 * (low + high) - middle) * (high - low)
    return 0.5 * ((middle - low) ** 2 + (high - middle) ** 2)


def _mirrored(contour: Contour, among: tuple[Contour, ...], size: float) -> bool:
    """Whether the mirror image of a contour is one of some."""
    image = {_key((x0, -y0), (x1, -y1), b, size) for (x1, y1), (x0, y0), b in whole_sides(contour)}
    return any(
        image == {_key(a, b, bulge, size) for a, b, bulge in whole_sides(other)} for other in among
    )


def _key(a: Any, b: Any, bulge: float, size: float) -> tuple[int, ...]:
    return tuple(round(v / size * 1e8) for v in (*a, *b, bulge * size))
