"""Solved plates that joints share: one pulled further serves wherever less is asked."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, MutableMapping
from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fejoint.from_joint import Member
    from fejoint.sections.face_model import FaceCase, FaceSettings

    Key = tuple[FaceCase, FaceSettings]
    Plates = MutableMapping[Key, Member]
else:
    Plates = MutableMapping


class SolvedPlates(Plates):
    """The latest plates by section and settings, each with how far it was pulled.

    A change of the ear leaves the shank as it is, but moves the load up to which the shank is
    wanted; a plate that was pulled to a higher load is found all the same.

    Parameters
    ----------
    most : int
        Plates that are kept; the oldest goes first.
    """

    def __init__(self, most: int) -> None:
        self.most = most
        self._kept: OrderedDict[Key, tuple[float | None, Member]] = OrderedDict()

    def __getitem__(self, key: Key) -> Member:
        """Return a plate pulled at least as far as asked; KeyError where there is none."""
        bare, load = _parted(key)
        known, member = self._kept[bare]
        if known is not None and (load is None or load > known):
            raise KeyError(key)
        self._kept.move_to_end(bare)
        return member

    def __setitem__(self, key: Key, member: Member) -> None:
        """Keep a plate, in the place of one that was pulled less far."""
        bare, load = _parted(key)
        self._kept[bare] = (load, member)
        self._kept.move_to_end(bare)
        while len(self._kept) > self.most:
            self._kept.popitem(last=False)

    def __delitem__(self, key: Key) -> None:
        """Forget a plate."""
        del self._kept[_parted(key)[0]]

    def __iter__(self) -> Iterator[Key]:
        """Go through the sections and settings that are known, without their loads."""
        return iter(self._kept)

    def __len__(self) -> int:
        """Count the plates."""
        return len(self._kept)


def _parted(key: Key) -> tuple[Key, float | None]:
    """Part the load up to which a plate is pulled from all else."""
    case, settings = key
    return (case, replace(settings, stop_load=None)), settings.stop_load
