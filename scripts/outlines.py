"""Draw the plates of cases/outlines/ as DXF: invented parts of folding fluke anchors.

Run by the environment's Python: .venv/bin/python scripts/outlines.py [FOLDER]
"""

from __future__ import annotations

import math
import sys
from pathlib import Path
from typing import Any

from ezdxf.filemanagement import new

FOLDER = Path(__file__).parent.parent / "cases" / "outlines"
QUARTER = math.tan(math.radians(90.0) / 4.0)
"""Bulge of a quarter of a circle."""


def sheet() -> tuple[Any, Any]:
    """Return an empty drawing in mm, and its space."""
    made = new("R2000", units=4)
    return made, made.modelspace()


def hooked(space: Any) -> None:
    """Draw a fluke's ear whose end is drawn down to a hook, with fillets where it widens."""
    fillet = -math.tan(math.radians(45.0) / 4.0)
    space.add_lwpolyline(
        [
            (0.0, 0.0, 0.0), (18.0, 0.0, fillet), (22.0, -1.65685, 0.0), (26.0, -5.65685, 0.2),
            (31.0, -8.0, 0.0), (37.0, -8.0, QUARTER), (41.0, -4.0, 0.15), (39.0, 8.0, 0.3),
            (30.0, 15.0, 0.12), (20.0, 14.0, 0.0), (0.0, 14.0, 0.0),
        ],
        format="xyb", close=True,
    )  # fmt: skip
    space.add_circle((31.0, 6.0), 2.05)


def lightened(space: Any) -> None:
    """Draw an ear with a round end and two more holes."""
    space.add_line((0.0, -8.0), (32.0, -8.0))
    space.add_arc((32.0, 0.0), 8.0, -90.0, 90.0)
    space.add_line((32.0, 8.0), (0.0, 8.0))
    space.add_line((0.0, 8.0), (0.0, -8.0))
    space.add_circle((32.0, 0.0), 2.05)
    for y in (-3.6, 3.6):
        space.add_circle((16.0, y), 2.0)


def slotted(space: Any) -> None:
    """Draw a shank with a slot along it, for a lashing."""
    space.add_lwpolyline(
        [(0.0, -8.0, 0.0), (34.0, -8.0, QUARTER), (42.0, 0.0, QUARTER), (34.0, 8.0, 0.0),
         (0.0, 8.0, 0.0)],
        format="xyb", close=True,
    )  # fmt: skip
    space.add_circle((34.0, 0.0), 2.05)
    space.add_lwpolyline(
        [(10.0, -2.0, 0.0), (22.0, -2.0, 1.0), (22.0, 2.0, 0.0), (10.0, 2.0, 1.0)],
        format="xyb", close=True,
    )  # fmt: skip


SHAPES = {"hooked-ear": hooked, "lightened-ear": lightened, "slotted-shank": slotted}


def main(folder: Path) -> None:
    """Write every drawing."""
    for name, draw in SHAPES.items():
        made, space = sheet()
        draw(space)
        made.saveas(folder / f"{name}.dxf")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
