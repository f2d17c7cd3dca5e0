"""The command line's root: every command registers here."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version
from typing import Annotated

from cyclopts import App, Parameter


def _version() -> str:
    try:
        return version("fejoint")
    except PackageNotFoundError:
        return "not installed"


app = App(
    name="fejoint",
    help="A pin in a hole, pulled until something gives.",
    version=_version,
    help_format="plaintext",
    suppress_keyboard_interrupt=False,
)

Json = Annotated[bool, Parameter(name="--json", negative="", help="Print JSON instead.")]
