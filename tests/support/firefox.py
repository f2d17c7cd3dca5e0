"""Firefox driven by WebDriver BiDi (W3C), as far as the page's tests need it.

Debian's Firefox lacks a command that playwright sends to every page it opens, so this speaks for
itself: one socket, JSON messages, text frames of RFC 6455.
"""

from __future__ import annotations

import base64
import json
import os
import re
import shutil
import socket
import subprocess
import tempfile
import time
from typing import Any

NAMES = ("firefox-esr", "firefox")


def find() -> str | None:
    """Return the path of a Firefox, None where there is none."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


class _Socket:
    """A web socket: text out, text in."""

    def __init__(self, port: int, path: str) -> None:
        self.line = socket.create_connection(("127.0.0.1", port), timeout=60.0)
        key = base64.b64encode(os.urandom(16)).decode()
        self.line.sendall(
            f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nUpgrade: websocket\r\n"
            f"Connection: Upgrade\r\nSec-WebSocket-Key: {key}\r\n"
            "Sec-WebSocket-Version: 13\r\n\r\n".encode()
        )
        head = b""
        while b"\r\n\r\n" not in head:
            head += self.line.recv(1)
        assert b" 101 " in head.split(b"\r\n")[0], head

    def send(self, text: str) -> None:
        body, mask = text.encode(), os.urandom(4)
        size = len(body)
        head = b"\x81" + (
            bytes([0x80 | size]) if size < 126 else
            b"\xfe" + size.to_bytes(2, "big") if size < 65536 else b"\xff" + size.to_bytes(8, "big")
        )  # fmt: skip
        self.line.sendall(head + mask + bytes(b ^ mask[k % 4] for k, b in enumerate(body)))

    def _exactly(self, count: int) -> bytes:
        got = b""
        while len(got) < count:
            more = self.line.recv(count - len(got))
            assert more, "Firefox hung up"
            got += more
        return got

    def receive(self) -> str:
        whole = b""
        while True:
            first, size = self._exactly(2)
            if size >= 126:
                size = int.from_bytes(self._exactly(2 if size == 126 else 8), "big")
            body = self._exactly(size)
            if first & 0x0F in (0, 1):
                whole += body
                if first & 0x80:
                    return whole.decode()


class Firefox:
    """One headless Firefox with one page."""

    def __init__(self, path: str) -> None:
        self.profile = tempfile.mkdtemp(prefix="fejoint-firefox-")
        words = [path, "--headless", "--no-remote", "--remote-debugging-port", "0"]
        self.process = subprocess.Popen(
            [*words, "--profile", self.profile], stderr=subprocess.PIPE, text=True,
            env=os.environ | {"HOME": self.profile},
        )  # fmt: skip
        assert self.process.stderr is not None
        port = None
        for line in self.process.stderr:
            if found := re.search(r"BiDi listening on ws://[^:]+:(\d+)", line):
                port = int(found[1])
                break
        assert port is not None, "Firefox did not say where it listens"
        self.socket = _Socket(port, "/session")
        self.number, self.wrong = 0, []
        self.call("session.new", capabilities={})
        self.call("session.subscribe", events=["log.entryAdded"])
        self.page = self.call("browsingContext.create", type="tab")["context"]

    def call(self, method: str, **params: Any) -> Any:
        """Send a command and return its result; errors of the page are kept in `wrong`."""
        self.number += 1
        self.socket.send(json.dumps({"id": self.number, "method": method, "params": params}))
        while True:
            told = json.loads(self.socket.receive())
            if told.get("method") == "log.entryAdded":
                if told["params"]["level"] == "error":
                    self.wrong.append(told["params"]["text"])
            elif told.get("id") == self.number:
                assert told["type"] == "success", told
                return told["result"]

    def size(self, width: int, height: int) -> None:
        """Give the page's window a size, px."""
        viewport = {"width": width, "height": height}
        self.call("browsingContext.setViewport", context=self.page, viewport=viewport)

    def goto(self, url: str) -> None:
        """Load a page."""
        self.call("browsingContext.navigate", context=self.page, url=url, wait="complete")

    def value(self, expression: str) -> Any:
        """Return the value of an expression of the page, by way of JSON."""
        told = self.call(
            "script.evaluate", expression=f"JSON.stringify({expression})",
            target={"context": self.page}, awaitPromise=True,
        )  # fmt: skip
        assert told["type"] == "success", told
        return json.loads(told["result"].get("value", "null"))

    def wait(self, expression: str, seconds: float = 60.0) -> None:
        """Wait until an expression is true."""
        until = time.monotonic() + seconds
        while not self.value(f"Boolean({expression})"):
            assert time.monotonic() < until, expression
            time.sleep(0.05)

    def keys(self, *keys: str) -> None:
        """Press keys one after the other where the focus is."""
        presses = [{"type": kind, "value": k} for k in keys for kind in ("keyDown", "keyUp")]
        board = {"type": "key", "id": "board", "actions": presses}
        self.call("input.performActions", context=self.page, actions=[board])

    def drag(self, start: tuple[float, float], by: tuple[float, float]) -> None:
        """Press the mouse somewhere, move it in steps, and let go."""
        moves: list[dict[str, Any]] = [
            {"type": "pointerMove", "x": round(start[0]), "y": round(start[1])},
            {"type": "pointerDown", "button": 0},
        ]
        for k in range(1, 6):
            x, y = (round(s + b * k / 5) for s, b in zip(start, by, strict=True))
            moves.append({"type": "pointerMove", "x": x, "y": y, "duration": 40})
        moves.append({"type": "pointerUp", "button": 0})
        mouse = {
            "type": "pointer", "id": "mouse", "parameters": {"pointerType": "mouse"},
            "actions": moves,
        }  # fmt: skip
        self.call("input.performActions", context=self.page, actions=[mouse])

    def close(self) -> None:
        """End it and throw its profile away."""
        self.process.terminate()
        self.process.wait(20.0)
        shutil.rmtree(self.profile, ignore_errors=True)
