"""The command line's root: every command registers here."""

from __future__ import annotations

from typing import Annotated, Any

from cyclopts import App, Parameter

from fejoint.errors import BadInput


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

Json = Annotated[bool, Parameter(name="--json", negative="", help="Print JSON instead.")]


def _within(_: Any, refine: float) -> None:
    from fejoint.pulled import COARSEST, FINEST, refine_fault

    if not COARSEST <= refine <= FINEST:
        raise BadInput(refine_fault(refine))


Refine = Annotated[float, Parameter(validator=_within)]
"""A refinement, refused where it would ask for no mesh or for a day's solving."""
