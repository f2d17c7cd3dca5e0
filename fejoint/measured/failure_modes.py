"""What broke, in the words of a maker and in those of the prediction."""

from __future__ import annotations

from typing import Any, get_args

from fejoint.errors import BadInput, Fault, nearest
from fejoint.handbook import limit_loads

MODES = get_args(limit_loads.Mode)

ENDING = ("end tear-out", "net section", "pin shear", "pin break")
"""Modes after which there is no joint: the peak is then the most that it carried."""

_SEEN = {
    "hole stretched": "hole elongation",
    "hole oval": "hole elongation",
    "end torn": "end tear-out",
    "tear-out": "end tear-out",
    "ear torn across": "net section",
    "pin bent": "pin bending",
    "pin sheared": "pin shear",
    "pin broke": "pin break",
    "shank stretched": "shank hole",
}


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
    if low in _SEEN:
        return _SEEN[low]
    like = nearest(low, (*MODES, *_SEEN))
    mend = f"did you mean {like}?" if like else f"or as seen: {', '.join(_SEEN)}"
    raise BadInput(Fault("--broke", words, f"must be one of {', '.join(MODES)}", mend))


def judged(mode: str, answer: Any) -> str:
    """Say how what was seen agrees with an answer's verdict."""
    order = answer.verdict.order
    first = order[0].first
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
