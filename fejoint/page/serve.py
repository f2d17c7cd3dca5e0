"""`fejoint page`: bind, say where, open the browser, serve until stopped."""

from __future__ import annotations

import socket
import sys
import webbrowser
from pathlib import Path

from fejoint.errors import BadInput, Fault
from fejoint.page.guard import is_loopback


def run(host: str, port: int, *, open_browser: bool, book: Path | None = None) -> int:
    """Serve the page until it is stopped.

    Parameters
    ----------
    host : str
    port : int
        0 takes a free one.
    open_browser : bool
    book : Path, optional
        The results book that measured pulls may be kept in.

    Returns
    -------
    int
        0.

    Raises
    ------
    BadInput
        If the address cannot be bound.
    """
    import uvicorn

    from fejoint.page.connections import MOST, BoundedConnection
    from fejoint.page.server import app

    listener = _bound(host, port)
    shown = f"[{host}]" if ":" in host else host
    address = f"http://{shown}:{listener.getsockname()[1]}/"
    print(f"the page is at {address}\nCtrl+C ends it", flush=True)
    if not is_loopback(host):
        print(
            f"warning: {host} can be reached from other machines, and nobody is asked for a name",
            file=sys.stderr,
        )
    if open_browser:
        webbrowser.open(address)
    config = uvicorn.Config(
        app(host, book=book), log_level="warning", access_log=False, timeout_graceful_shutdown=2,
        http=BoundedConnection, limit_concurrency=MOST,
    )  # fmt: skip
    try:
        uvicorn.Server(config).run(sockets=[listener])
    except KeyboardInterrupt:
        pass
    return 0


def _bound(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except (OSError, OverflowError) as error:
        listener.close()
        reason = f"cannot be bound ({error})"
        mend = "take another, or --port 0 for a free one"
        raise BadInput(Fault("--port", f"{host}:{port}", reason, mend)) from error
    listener.listen(64)
    return listener
