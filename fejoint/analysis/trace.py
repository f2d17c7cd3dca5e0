"""The joint's pull as it went: load against extension and the hole's growth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fejoint.arrays import Floats

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Trace:
    """The pull as it went: (n,) arrays over the points of its path.

    Attributes
    ----------
    load : array
        Pull on the joint, N.
    extension, hole_elongation : array
        Of the joint, and of the hole (mean over its thickness), mm.
    """

    load: Floats
    extension: Floats
    hole_elongation: Floats

    def __eq__(self, other: object) -> bool:
        """Whether two traces are the same point for point."""
        if not isinstance(other, Trace):
            return NotImplemented
        return all(np.array_equal(a, getattr(other, k)) for k, a in vars(self).items())

    def __hash__(self) -> int:
        """Return a hash that equal traces share."""
        return hash((len(self.load), float(self.load[-1])))

    @property
    def frame(self) -> pd.DataFrame:
        """The trace as a table, a row a point: load_N, extension_mm, hole_elongation_mm."""
        import pandas as pd

        return pd.DataFrame(
            {
                "load_N": self.load,
                "extension_mm": self.extension,
                "hole_elongation_mm": self.hole_elongation,
            }
        )
