"""How pulls and studies tell what they are doing: one callback for all of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fejoint.kernel.newton import EquilibriumPoint

Progress = Callable[[str, float, float | None], None]
"""Called with the phase in words, the share of the whole that is done (0 to 1, never falling; an
estimate where the end is not known), and the pull that the joint has reached (N; None where it is
not the joint that is pulled, but its plates)."""

Watch = Callable[[str, EquilibriumPoint | None, int, float], None]
"""Called with the section's name, its last equilibrium, the iteration and its residual."""


@dataclass
class Told:
    """What was told last, so that the share never falls.

    Attributes
    ----------
    progress : callable or None
    share : float
    """

    progress: Progress | None
    share: float = 0.0

    def __call__(self, phase: str, share: float, load: float | None = None) -> None:
        """Tell a phase."""
        if self.progress is not None:
            self.share = min(max(self.share, share), 1.0)
            self.progress(phase, self.share, load)

    def part(self, begin: float, end: float) -> Progress | None:
        """Return what a part of the work may tell, from one share of the whole to another."""
        if self.progress is None:
            return None
        return lambda phase, share, load: self(phase, begin + (end - begin) * share, load)


def watched(sections: Sequence[str], end: float, told: Told, watch: Watch | None) -> Watch:
    """Return what makes phases and shares of a pull's iterations.

    Sections count alike; within one the share is that of a load which the joint can hardly carry:
    an estimate, since where a pull ends is what is being found out.

    Parameters
    ----------
    sections : sequence of str
        In the order in which they are solved, the pin last.
    end : float
        That load, N.
    told : Told
    watch : callable, optional
        Hears every iteration too.
    """
    begun: list[str] = []

    def heard(section: str, point: EquilibriumPoint | None, iteration: int, error: float) -> None:
        new = not begun or section != begun[-1]
        if new and sections[-1] not in begun and len(begun) < len(sections):
            begun.append(section)
        # plates go on as the pin asks: that is part of the pin's pull
        if section == begun[-1]:
            load = 0.0 if point is None else point.load
            share = (len(begun) - 1.0 + min(load / end, 1.0)) / len(sections)
            told(section, share, load if section == sections[-1] else None)
        if watch is not None:
            watch(section, point, iteration, error)

    return heard
