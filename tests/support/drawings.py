"""Drawings made for tests: a plate as DXF, in the ways that drawing programs write one."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import ezdxf

PLATE = ((-25.0, -7.0), (0.0, -7.0), (0.0, 7.0), (-25.0, 7.0))
"""Corners of the demo's ear, whose end is the half circle between the second and the third."""


def document(version: str = "R2000", units: int = 4) -> tuple[Any, Any]:
    made = ezdxf.new(version)
    made.header["$INSUNITS"] = units
    return made, made.modelspace()


def ear(space: Any, scale: float = 1.0, *, hole: float = 4.1, gap: float = 0.0) -> None:
    """Draw the demo's ear of lines, an arc and a circle; a gap in its lower edge."""
    (a, b, c, d) = ((x * scale, y * scale) for x, y in PLATE)
    space.add_line(a, (b[0] - gap, b[1]))
    space.add_arc((0.0, 0.0), 7.0 * scale, -90.0, 90.0)
    space.add_line(c, d)
    space.add_line(d, a)
    space.add_circle((0.0, 0.0), 0.5 * hole * scale)


def saved(made: Any, path: Path) -> Path:
    made.saveas(path)
    return path


def ellipse_points(rx: float, ry: float, count: int) -> list[tuple[float, float]]:
    turns = (2.0 * math.pi * k / count for k in range(count))
    return [(rx * math.cos(t), ry * math.sin(t)) for t in turns]
