"""What each plate does along the joint's curve: what it bears, and how much longer its hole is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fejoint.arrays import Floats

if TYPE_CHECKING:
    from fejoint.analysis.solved_joint import SolvedJoint
    from fejoint.sections.face.pull import FaceHistory


@dataclass(frozen=True, eq=False)
class PlateCurve:
    """What one plate does along the joint's curve.

    Attributes
    ----------
    place : int
        Of the plate along the pin; of two ears with one face section that of the weaker.
    load : (n,) array
        On the plate, N.
    hole_elongation : (n,) array
        Mean over the thickness, mm.
    """

    place: int
    load: Floats
    hole_elongation: Floats


def plate_curves(
    path: SolvedJoint, faces: Mapping[str, FaceHistory], weaker: int
) -> dict[str, PlateCurve]:
    """Return each face section's plate along the joint's path.

    Parameters
    ----------
    path : SolvedJoint
    faces : mapping of str to FaceHistory
        By name, as in an answer.
    weaker : int
        Place along the pin of the ear whose first limit comes first.
    """
    found = {}
    for name, face in faces.items():
        alike = [k for k, m in enumerate(path.members) if m.history is face]
        place = weaker if weaker in alike else alike[0]
        load = np.abs(path.history.shares[:, place])
        found[name] = PlateCurve(place, load, path.elongation(place))
    return found
