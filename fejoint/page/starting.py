"""The two joints that a fresh page begins with."""

from __future__ import annotations

from typing import Any

from fejoint.joint import writer


def starting_cases() -> list[dict[str, Any]]:
    """Return the two cases that a fresh page begins with: a hard pin, and the same with a soft."""
    hard = dict(writer.STARTER) | {
        "title": "Fluke anchor, hard pin",
        "note": "Invented data: a folding fluke anchor for a small boat.",
        "pin": {"diameter": "4 mm", "hardness": "48 HRC", "ends": "headed"},
        "shank": {
            "thickness": "6 mm",
            "hole": "4.1 mm",
            "width": "16 mm",
            "edge_distance": "8 mm",
            "length": "30 mm",
            "material": "A4-70 bolt shank",
        },
    }
    soft = hard | {
        "title": "Fluke anchor, soft pin",
        "pin": {"diameter": "4 mm", "material": "soft stainless wire", "ends": "headed"},
    }
    return [hard, soft]
