"""`fejoint page`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from fejoint.cli.options import Whole


def page(
    *,
    host: str = "127.0.0.1",
    port: Whole = 8737,
    browser: Annotated[bool, Parameter(negative="--no-browser")] = True,
    book: Path | None = None,
) -> int:
    """Serve the page: a drawing of the joint to turn, and the answer beside it.

    Parameters
    ----------
    host
        The address to bind to; only this machine can reach the one it has.
    port
        The port to bind to; 0 takes a free one.
    browser
        Open the browser at the page.
    book
        A results book that measured pulls may be kept in from the page; made with the first.
    """
    from fejoint.page import serve

    return serve.run(host, port, open_browser=browser, book=book and book.absolute())
