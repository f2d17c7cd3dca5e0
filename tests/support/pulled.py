"""A joint pulled once for every test that only looks at an answer."""

from __future__ import annotations

import functools
from dataclasses import replace

import fejoint
from fejoint.analysis.result import Answer
from fejoint.joint.parts import Leg
from support import DEMO

THIN = {"ear.thickness": "0.7 mm", "ear.width": "24 mm", "ear.edge_distance": "12 mm"}
"""Ears whose ends dish."""


@functools.cache
def thin_answer(head: str | None = None) -> Answer:
    """Pull the demo joint with thin ears, under a head or none, to the end on a coarse mesh."""
    joint = fejoint.load(DEMO)
    for key, value in THIN.items():
        joint = joint.replace(key, value)
    return fejoint.pull(joint if head is None else joint.replace("pin.head", head), refine=0.35)


@functools.cache
def released_answer() -> Answer:
    """Pull the demo joint to two thirds of its offset load and let it go, on a coarse mesh."""
    joint = fejoint.load(DEMO)
    legs = (Leg("load", 5500.0), Leg("release"))
    return fejoint.pull(replace(joint, pull=replace(joint.pull, legs=legs)), refine=0.35)


@functools.cache
def quick_answer() -> Answer:
    """Pull the demo joint a little past its offset load, on a coarse mesh."""
    joint = fejoint.load(DEMO).replace("pull.stop_displacement", "0.6 mm")
    return fejoint.pull(joint, refine=0.5)
