"""How long and how many connections may wait: half-open ones do not shut the page out."""

from __future__ import annotations

import asyncio
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

SECONDS = 20.0
"""Within which a connection must have sent a whole request, head and body."""
MOST_WAITING = 64
"""Connections without a whole request; one more, and the oldest is closed. Browsers open a few
ahead."""
MOST = 256
"""Connections and requests at once, beyond which a request is answered by 503."""


class BoundedConnection(H11Protocol):
    """A connection that may not wait for ever, nor in any number, to send its request."""

    _since: float | None = None
    _clock: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for a request; where too many wait, close the oldest."""
        super().connection_made(transport)
        self._wait()
        # in the set of all connections, which belongs to this server
        waiting: list[Any] = [c for c in self.connections if getattr(c, "_since", None) is not None]
        if len(waiting) > MOST_WAITING:
            min(waiting, key=lambda c: c._since)._close()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no more."""
        self._done()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Wait until the request is whole; another one on this connection has as long."""
        super().data_received(data)
        self._look()

    def on_response_complete(self) -> None:
        """Wait for the next request."""
        super().on_response_complete()
        self._look()

    def _look(self) -> None:
        whole = self.conn.their_state not in (h11.IDLE, h11.SEND_BODY)
        if whole:
            self._done()
        elif self._since is None and not self.transport.is_closing():
            self._wait()

    def _wait(self) -> None:
        self._since = self.loop.time()
        self._clock = self.loop.call_later(SECONDS, self._close)

    def _done(self) -> None:
        self._since = None
        if self._clock is not None:
            self._clock.cancel()

    def _close(self) -> None:
        self._done()
        self.transport.abort()
