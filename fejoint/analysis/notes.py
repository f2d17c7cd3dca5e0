"""What an answer says beside its numbers: what was assumed, left out, and what it rests on."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fejoint.analysis import audit, dishing, load_path
from fejoint.analysis.definitions import EXHAUSTED
from fejoint.analysis.limit_loads import JointReading, beside_an_opening
from fejoint.analysis.trace import Trace
from fejoint.joint.model import Joint
from fejoint.kernel.stop_reason import StopReason


def told(joint: Joint, reading: JointReading, trace: Trace) -> list[str]:
    """Return what was assumed, and what an answer leaves out or rests on."""
    said = list(joint.assumptions)
    asked, load = joint.pull.stop_load, float(trace.load[-1])
    ended = reading.stop.reason is StopReason.REQUESTED
    if asked is not None and ended and load > (1.0 + audit.STOPPED) * asked:
        said.append(
            f"asked to stop at {asked:g} N, which the shortest step goes past: it ended at "
            f"{load:.2g} N"
        )
    for k in reading.different_ears:
        borne = float(np.abs(reading.history.shares[:, k]).max())
        head_said = joint.pin.head is not None
        said += dishing.cautions(reading.member(k), reading.dishing(k), borne, head_said=head_said)
    said += _of_drawn(reading)
    if abs(joint.pull.angle) > 90.0:
        said.append("pushed towards the grip: that the strip may buckle aside is not followed")
    if len(joint.ears) == 1:
        said.append("single shear: ear and shank are taken as guided, so that they stay parallel")
    said += load_path.limits_of(joint)
    if reading.flattens:
        said.append(
            "the pin yields under the holes' edges before the first part gives: it is taken in "
            "plane stress there and flattens too easily; `fejoint pin-range` tells plane strain too"
        )
    if joint.pin.ends == "headed":
        said.append("headed pin: what the head resists by turning is not counted")
        if len(joint.ears) == 2:
            said.append(
                "headed pin: its heads are taken to keep the ears from sliding out along it"
            )
    for k in (*reading.different_ears, 1):
        if reading.damage(k).max() >= EXHAUSTED:
            metal = reading.members[k].part.material
            said.append(
                f"{reading.member(k)}: where it tears rests on the fracture strain "
                f"{metal.fracture_strain:g}, which may lie from {metal.fracture_band[0]:g} to "
                f"{metal.fracture_band[1]:g}"
            )
    return said


def _of_drawn(reading: JointReading) -> Iterator[str]:
    """Say what is taken of plates whose outline was drawn."""
    for k in (*reading.different_ears, 1):
        part, history = reading.members[k].part, reading.members[k].history
        if part.outline is None:
            continue
        yield (
            f"{reading.member(k)}: drawn; by hand, and in the rule for dishing ends, it is a strip "
            f"{part.width:.4g} mm wide with {part.edge_distance:.4g} mm behind the hole, its "
            f"nearest edges; its least section towards the grip is {part.strip_width:.4g} mm, its "
            f"thinnest metal at the hole {history.problem.case.outline.thinnest:.3g} mm"
        )
        if beside_an_opening(history):
            x, y = history.torn_at
            yield (
                f"{reading.member(k)}: its stretch is used most beside an opening, {x:.1f}, "
                f"{y:.1f} mm from the pin hole's centre, not at the pin's hole"
            )
