"""Words of a command that cannot be read: told in one line, with what is allowed."""

from __future__ import annotations

from typing import get_args

from cyclopts import CoercionError, CycloptsError, MissingArgumentError
from cyclopts.exceptions import UnusedCliTokensError

_KINDS = {float: "a number", int: "a whole number", bool: "true or false"}


def told(error: CycloptsError) -> str:
    """Return the line for words that the command line cannot read."""
    command = " ".join(("fejoint", *(error.command_chain or ())))
    see = f"`{command} --help` tells what it takes"
    if isinstance(error, UnusedCliTokensError) and error.unused_tokens:
        extra = " ".join(error.unused_tokens)
        return f"{extra}: one word too many for `{command}`; {see}"
    name = _name(error)
    if isinstance(error, MissingArgumentError):
        return f"{name}: is missing; {see}"
    token = error.token if isinstance(error, CoercionError) else None
    wanted = getattr(error, "target_type", None)
    kind = next((_KINDS[t] for t in (wanted, *get_args(wanted)) if t in _KINDS), None)
    if token is not None and kind is not None:
        return f"{name} = {token.value}: must be {kind}; {see}"
    return " ".join(str(error).split())


def _name(error: CycloptsError) -> str:
    """Return an argument as the user writes it: "--refine", or "CASE" where it has no name."""
    if keyword := getattr(error, "keyword", None):
        return str(keyword)
    token = getattr(error, "token", None)
    if token is not None and token.keyword:
        return str(token.keyword)
    return error.argument.name if error.argument is not None else "an argument"
