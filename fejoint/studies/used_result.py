"""What a used joint has seen and still bears: the study's result, its words and its plain data."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis.definitions import sentence_words
from fejoint.analysis.plotted import Plotted
from fejoint.analysis.result import Answer, LimitLoad
from fejoint.inputs.units import both_units

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Mark:
    """What a pull has left, and the pulls that would leave it.

    Attributes
    ----------
    name : str
        "hole", "pin bend" or "neck".
    measured : float
        mm.
    load, low, high : float
        Pull that leaves just that, and those that leave it less and more what the tool may miss, N;
        `high` is inf where no pull of the joint leaves so much.
    """

    name: str
    measured: float
    load: float
    low: float
    high: float


@dataclass(frozen=True)
class Refit:
    """What gives first in a joint put together of used and new parts.

    None where nothing does, or where they do not go together: `jams` then says why.
    """

    name: str
    gives: LimitLoad | None = None
    jams: str = ""


@dataclass(frozen=True, eq=False)
class UsedJoint(Plotted):
    """What a used joint has seen and still bears; loads in N.

    Attributes
    ----------
    marks : tuple of Mark
    agree : bool
        Whether one pull can have left all marks. If not, what follows is None.
    seen, low, high : float or None
        Pull that it has most likely seen, and its band of 95 %.
    moves_again : float or None
        Pull at which its holes begin to stretch further.
    gives : LimitLoad or None
        What gives first when it is pulled on: its holes counted from the shape that they have now.
    new : LimitLoad or None
        What gives first in the joint when new.
    answer : Answer or None
        The joint pulled to what it has seen, let go, and pulled on to its end.
    refits : tuple of Refit
        The same with a new pin in the used holes, and with the used pin in new ears.
    passed : tuple of LimitLoad
        What else had given by the pull that it has seen.
    """

    marks: tuple[Mark, ...]
    new: LimitLoad | None
    agree: bool = False
    seen: float | None = None
    low: float | None = None
    high: float | None = None
    moves_again: float | None = None
    gives: LimitLoad | None = None
    answer: Answer | None = None
    refits: tuple[Refit, ...] = ()
    passed: tuple[LimitLoad, ...] = ()
    _drawn_by = ("studies.used_plot", "draw")

    @property
    def frame(self) -> pd.DataFrame:
        """A row a mark: what was measured, mm, and the pulls that leave it, N."""
        import pandas as pd

        return pd.DataFrame(self.to_dict()["marks"])

    @property
    def sentence(self) -> str:
        """What it has seen and still bears, in words."""
        if self.seen is None or self.low is None or self.high is None:
            each = ", ".join(f"the {m.name} says {both_units(m.load)}" for m in self.marks)
            return (
                f"The marks contradict one another ({each}): one straight pull of this joint has "
                "not left them, so what it still bears is not known."
            )
        said = (
            f"It has most likely seen a pull of {both_units(self.seen)}, "
            f"{both_units(self.low)} to {both_units(self.high)} by what the tool may miss."
        )
        passed = [
            f"{sentence_words(x.mode, x.cause, x.member)} (at {both_units(x.load)})"
            for x in self.passed[:3]
        ]
        if passed:
            said += f" On the way there {', '.join(passed)}."
        if self.moves_again is not None:
            said += f" Its holes move again at {both_units(self.moves_again)}."
        if self.gives is None:
            return f"{said} Pulled on, nothing more of it was found to give."
        what = sentence_words(self.gives.mode, self.gives.cause, self.gives.member)
        return f"{said} Next {what}, at {both_units(self.gives.load)}{self.of_new(self.gives)}."

    def of_new(self, gives: LimitLoad) -> str:
        """Say a pull as a share of that at which the joint gave first when new."""
        return "" if self.new is None else f": {100.0 * gives.load / self.new.load:.0f} % of new"

    def refit_lines(self) -> Iterator[str]:
        """Say what gives first with some parts new."""
        for refit in self.refits:
            if refit.gives is None:
                yield f"{refit.name}: {refit.jams or 'nothing was found to give'}"
                continue
            what = sentence_words(refit.gives.mode, refit.gives.cause, refit.gives.member)
            of_new = self.of_new(refit.gives)
            yield f"{refit.name}: {what} first, at {both_units(refit.gives.load)}{of_new}"

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, with units in the names."""
        plain = {
            f"{name}_N": getattr(self, name) for name in ("seen", "low", "high", "moves_again")
        }
        return {
            "sentence": self.sentence,
            "marks": [
                {
                    "name": m.name,
                    "measured_mm": m.measured,
                    "load_N": m.load,
                    "low_N": m.low,
                    "high_N": m.high if np.isfinite(m.high) else None,
                }
                for m in self.marks
            ],
            "agree": self.agree,
            **plain,
            "gives": None if self.gives is None else asdict(self.gives),
            "new": None if self.new is None else asdict(self.new),
            "refits": [asdict(refit) for refit in self.refits],
            "passed": [asdict(limit) for limit in self.passed],
            "answer": None if self.answer is None else self.answer.to_dict(),
        }
