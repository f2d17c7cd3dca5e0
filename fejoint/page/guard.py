"""What every request must pass: the right host, the page's own origin, a body of bounded size."""

from __future__ import annotations

import ipaddress
import socket
from typing import Any
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_BODY = 256 * 1024
"""Bytes; no case is as long."""
LARGEST_LOG = 8 * 1024 * 1024
"""The same for a study, which may carry a measured log."""

POLICY = "; ".join(
    [
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob: data:",
        "connect-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    ]
)

HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
}


class _TooLarge(Exception):
    """The body goes past what is allowed."""


class Guard:
    """ASGI middleware that lets through only what comes from the page itself, or from a script.

    A page of another site can make a browser send requests here; its name in Host (DNS rebinding)
    or in Origin gives it away. Scripts send no Origin.

    Parameters
    ----------
    app : ASGIApp
    host : str
        Address that the server is bound to.
    """

    def __init__(self, app: ASGIApp, host: str = "127.0.0.1") -> None:
        self.app = app
        self.anywhere = not is_loopback(host)
        self.names = {"localhost", "127.0.0.1", "::1", host.lower()}
        if self.anywhere:
            self.names.add(socket.gethostname().lower())

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        most = LARGEST_LOG if scope["path"] == "/api/studies" else LARGEST_BODY
        refusal = self._refusal(scope["method"], headers, most)
        if refusal is not None:
            await refusal(scope, receive, _marked(send))
            return
        read = 0

        async def bounded() -> Message:
            nonlocal read
            message = await receive()
            read += len(message.get("body", b""))
            if read > most:
                raise _TooLarge
            return message

        try:
            await self.app(scope, bounded, _marked(send))
        except _TooLarge:
            await _too_large(most)(scope, receive, _marked(send))

    def _refusal(self, method: str, headers: Headers, most: int) -> JSONResponse | None:
        if not self._is_ours(headers.get("host", "")):
            return _no(421, "not a name of this server")
        origin = headers.get("origin")
        if origin is not None and _place(origin) != headers.get("host"):
            return _no(403, "asked for by a page of another site")
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return _no(403, "asked for by a page of another site")
        kind = headers.get("content-type", "").partition(";")[0].strip()
        if method == "POST" and kind != "application/json":
            return _no(415, "send JSON, with content-type: application/json")
        length = headers.get("content-length", "0")
        if not (length.isdecimal() and len(length) < 10 and int(length) <= most):
            return _too_large(most)
        return None

    def _is_ours(self, host: str) -> bool:
        try:
            name = urlsplit(f"//{host}").hostname or ""
        except ValueError:
            return False
        if name in self.names:
            return True
        return self.anywhere and _is_address(name)


def _place(origin: str) -> str | None:
    try:
        return urlsplit(origin).netloc
    except ValueError:
        return None


def is_loopback(host: str) -> bool:
    """Whether an address can be reached from this machine alone."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _no(status: int, message: str) -> JSONResponse:
    return JSONResponse({"message": message}, status)


def _too_large(most: int) -> JSONResponse:
    return _no(413, f"more than {most // 1024} kB, which no case or log is")


def _marked(send: Send) -> Any:
    """Add the headers that tell a browser to load nothing from elsewhere."""

    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("cache-control", "no-cache")
        await send(message)

    return sent
