"""What the page asks of its workers, and how it hears that nothing came of it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any


class Refused(Exception):
    """A job that came to no answer: HTTP status, and what to say.

    Attributes
    ----------
    status : int
    content : mapping
        `faults` or `message`.
    """

    def __init__(self, status: int, content: Mapping[str, Any]) -> None:
        self.status, self.content = status, dict(content)
        super().__init__(content.get("message", "refused"))


@dataclass(eq=False)
class Job:
    """Something for a worker to do.

    Attributes
    ----------
    number : int
        Rising.
    order : dict
        What the worker is told.
    rank : int
        0 before 1: coarse before fine.
    key : tuple of str, or None
        Tab and place in it; a newer job of the same key drops this one.
    only : int or None
        The one worker that can do it, by its place.
    tell : callable
        Takes progress.
    """

    number: int
    order: dict[str, Any]
    rank: int
    key: tuple[str, str] | None
    only: int | None
    tell: Callable[[dict[str, Any]], None]
    answer: asyncio.Future[Any]
    scene: asyncio.Future[bytes] | None = None
