"""The command line's root: every command registers here."""

from __future__ import annotations

from cyclopts import App


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

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
