"""Solved plates that joints share within a process: a joint that leaves one as it was reuses it."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterator, MutableMapping
from dataclasses import replace
from typing import TYPE_CHECKING

from fejoint.joint.parts import Shank

if TYPE_CHECKING:
    from fejoint.analysis.section_cases import PlateInJoint
    from fejoint.sections.face.problem import FaceCase, FaceSettings

    Key = tuple[FaceCase, FaceSettings]


class SharedPlates(MutableMapping["Key", "PlateInJoint"]):
    """The plates last used, each with the load that bounded its first stretch.

    A plate's first stretch, from which its unloading is known, ends where it has given or at a
    load that the joint asks for (`stop_load`). One that ended before its bound is the very
    solution that any higher bound would bring. One that met its bound serves its equals and,
    where digits may depend on what was solved before, every lower bound. One whose pull was broken
    off serves nobody.

    Parameters
    ----------
    ears, shanks : int
        How many of each are kept, some MB a plate; those used longest ago go first.
    exact : bool
        Whether only the very solution that would be computed is handed out.
    tell : callable, optional
        Called with every plate that is handed out.
    """

    def __init__(
        self,
        ears: int,
        shanks: int,
        *,
        exact: bool,
        tell: Callable[[PlateInJoint], None] | None = None,
    ) -> None:
        self._most = {True: shanks, False: ears}
        self._exact = exact
        self._tell = tell
        self._kept: OrderedDict[Key, PlateInJoint] = OrderedDict()

    def __getitem__(self, key: Key) -> PlateInJoint:
        """Return a plate that serves; KeyError where there is none."""
        known = next((k for k in self._alike(key) if self._serves(k, key)), None)
        if known is None:
            raise KeyError(key)
        self._kept.move_to_end(known)
        member = self._kept[known]
        if self._tell is not None:
            self._tell(member)
        return member

    def __setitem__(self, key: Key, member: PlateInJoint) -> None:
        """Keep a plate in the place of those that it serves for, and let the oldest go."""
        case, settings = key
        if settings.stop_load is not None and _reach(member) < settings.stop_load:
            key = case, replace(settings, stop_load=None)
        self._kept[key] = member
        self._kept.move_to_end(key)
        for known in self._alike(key):
            if known != key and self._serves(key, known):
                del self._kept[known]
        shank = isinstance(member.part, Shank)
        kind = [k for k, m in self._kept.items() if isinstance(m.part, Shank) == shank]
        for oldest in kind[: -self._most[shank]]:
            del self._kept[oldest]

    def _alike(self, key: Key) -> list[Key]:
        """Return the plates that differ at most in the bound."""
        case, settings = key
        found = []
        for known_case, known in self._kept:
            if known_case == case and replace(known, stop_load=settings.stop_load) == settings:
                found.append((known_case, known))
        return found

    def _serves(self, known: Key, key: Key) -> bool:
        if self._kept[known].plate.interrupted:
            return False
        has, wants = known[1].stop_load, key[1].stop_load
        if has == wants:
            return True
        if has is None:
            # it ended by itself
            return wants is None or not self._exact or _reach(self._kept[known]) < wants
        return not self._exact and wants is not None and has >= wants

    def __delitem__(self, key: Key) -> None:
        """Forget a plate."""
        del self._kept[key]

    def __iter__(self) -> Iterator[Key]:
        """Go through sections and settings; a plate that ended by itself has no bound in its."""
        return iter(self._kept)

    def __len__(self) -> int:
        """Count the plates."""
        return len(self._kept)


def _reach(member: PlateInJoint) -> float:
    """Return the highest load of a plate's first stretch, N."""
    return float(member.plate.first.load.max())
