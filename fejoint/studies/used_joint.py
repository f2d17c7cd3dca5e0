"""A used joint: what one whose holes have already given still offers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fejoint.analysis.limit_loads import JointReading
from fejoint.analysis.pull import Shared, pull, pull_axial, solve_members
from fejoint.analysis.result import Answer
from fejoint.analysis.section_cases import PullSettings
from fejoint.errors import BadInput, Fault
from fejoint.joint.model import Joint
from fejoint.joint.parts import Leg


def used(joint: Joint, kept: float, *, refine: float = 1.0, solver: str = "fastest") -> Answer:
    """Pull a joint whose holes are already longer by a given amount.

    The joint is pulled until the hole of its weaker ear keeps that much, let go, and pulled to its
    end: `Answer.path` says at what load it moves again.

    Parameters
    ----------
    joint : Joint
        As it was when new; its own path is left aside.
    kept : float
        Permanent elongation of the hole, mean over the ear's thickness, mm.
    refine : float
    solver : str

    Returns
    -------
    Answer

    Raises
    ------
    BadInput
        If no pull leaves that much.
    """
    settings = PullSettings(refine, solver=solver)
    new = replace(joint, pull=replace(joint.pull, legs=()))
    shared: Shared = {}
    members = solve_members(new, settings, shared=shared)
    history = pull_axial(new, members, settings)
    reading = JointReading(new, members, history, settings.axial(new))
    stays = reading.kept_elongation(reading.weaker_ear)
    if not 0.0 < kept < stays.max():
        allowed = f"must lie between 0 and {stays.max():.3g} mm, the most that a pull leaves"
        raise BadInput(Fault("kept", f"{kept:g} mm", allowed, "give the hole's own growth"))
    at = float(np.interp(kept, stays, history.extension))
    legs = (Leg("displacement", at), Leg("release"))
    again = replace(joint, pull=replace(joint.pull, legs=legs))
    return pull(again, refine=refine, solver=solver, shared=shared)
