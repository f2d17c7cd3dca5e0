"""Who listens to the progress of which tab."""

from __future__ import annotations

import asyncio
from typing import Any

from fejoint.page.jobs import Refused

MOST = 64
"""Tabs that may listen at a time."""


class Listeners:
    """Queues of words, one a tab."""

    def __init__(self) -> None:
        self._queues: dict[str, asyncio.Queue[dict[str, Any]]] = {}

    def join(self, tab: str) -> asyncio.Queue[dict[str, Any]]:
        """Return the queue of a tab's words; an older listener of the tab hears no more."""
        if tab not in self._queues and len(self._queues) >= MOST:
            raise Refused(503, {"message": "too many pages listen"})
        queue = self._queues[tab] = asyncio.Queue(32)
        return queue

    def leave(self, tab: str, queue: asyncio.Queue[dict[str, Any]]) -> None:
        """Forget a listener."""
        if self._queues.get(tab) is queue:
            del self._queues[tab]

    def tell(self, tab: str | None, word: dict[str, Any]) -> None:
        """Say a word to a tab; one that does not keep up misses words."""
        queue = self._queues.get(tab or "")
        if queue is not None and not queue.full():
            queue.put_nowait(word)
