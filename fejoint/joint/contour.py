"""The contours of a joint's plates, from their dimensions or from the drawing they came from."""

from __future__ import annotations

from fejoint.joint.parts import Ear, Shank
from fejoint.meshing.contours import HALF_TURN, Contour


def outside(part: Ear | Shank) -> Contour:
    """Return the contour of a plate from where it is held to its end; its last side is held."""
    if part.outline is not None:
        return part.outline.outside
    length = part.length if isinstance(part, Shank) else part.grip_length
    axis = 0.0 if isinstance(part, Shank) else -part.hole_offset
    half, end, clip = 0.5 * part.width, part.edge_distance, part.clip
    low, high = axis - half, axis + half
    if part.end == "round":
        back = end - half
        tip: Contour = ((back, low, HALF_TURN), (back, high, 0.0))
    elif part.end == "clipped":
        tip = (
            (end - clip, low, 0.0), (end, low + clip, 0.0),
            (end, high - clip, 0.0), (end - clip, high, 0.0),
        )  # fmt: skip
    else:
        tip = ((end, low, 0.0), (end, high, 0.0))
    return ((-length, low, 0.0), *tip, (-length, high, 0.0))


def hole(part: Ear | Shank, wider: float = 0.0) -> Contour:
    """Return the contour of a plate's hole: two half circles, drawn apart by a slot.

    Parameters
    ----------
    part : Ear or Shank
    wider : float
        Added to its radius, mm.
    """
    r, slot = 0.5 * part.hole + wider, 0.0 if isinstance(part, Shank) else part.hole_slot
    if slot == 0.0:
        return ((r, 0.0, HALF_TURN), (-r, 0.0, HALF_TURN))
    return ((slot, -r, HALF_TURN), (slot, r, 0.0), (0.0, r, HALF_TURN), (0.0, -r, 0.0))


def openings(part: Ear | Shank) -> tuple[Contour, ...]:
    """Return the contours of a plate's further holes."""
    return () if part.outline is None else part.outline.openings
