"""A joint pulled once for every test that only looks at an answer."""

from __future__ import annotations

import functools

import fejoint
from fejoint.analysis.result import Answer
from support import DEMO


@functools.cache
def quick_answer() -> Answer:
    """Pull the demo joint a little past its offset load, on a coarse mesh."""
    joint = fejoint.load(DEMO).replace("pull.stop_displacement", "0.6 mm")
    return fejoint.pull(joint, refine=0.5)
