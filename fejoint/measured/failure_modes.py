"""What broke, in the words of a maker and in those of the prediction."""

from __future__ import annotations

from typing import Any

from fejoint.analysis import definitions
from fejoint.errors import BadInput, Fault, nearest

MODES = tuple(definitions.MODES)

ENDING = tuple(name for name, mode in definitions.MODES.items() if mode.ends)
"""Modes after which there is no joint: the peak is then the most that it carried."""

SEEN = {words: name for name, mode in definitions.MODES.items() for words in mode.seen}


def seen(words: str) -> str:
    """Return the mode that a maker's words mean.

    Raises
    ------
    BadInput
        If they mean none.
    """
    low = " ".join(words.casefold().split())
    if low in MODES:
        return low
    if low in SEEN:
        return SEEN[low]
    like = nearest(low, (*MODES, *SEEN))
    mend = f"did you mean {like}?" if like else f"or as seen: {', '.join(SEEN)}"
    raise BadInput(Fault("--broke", words, f"must be one of {', '.join(MODES)}", mend))


def judged(mode: str, answer: Any) -> str:
    """Say how what was seen agrees with an answer's verdict."""
    order = answer.verdict.order
    first = order[0].first
    if first.mode == definitions.NOTHING:
        return f"{mode} seen; not predicted: nothing gave up to {first.load:,.0f} N"
    if mode == first.mode:
        return f"{mode} seen, as predicted first"
    for part in order:
        for limit in (part.first, *part.later):
            if limit.mode == mode:
                return (
                    f"{mode} seen; predicted too, at {limit.load:,.0f} N, but after "
                    f"{first.mode} at {first.load:,.0f} N"
                )
    return f"{mode} seen; not predicted: {first.mode} at {first.load:,.0f} N first"
