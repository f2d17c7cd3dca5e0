"""The table of an answer's limits, for terminal and notebook."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fejoint.analysis import definitions
from fejoint.analysis.odds import MOST_FIGURES
from fejoint.analysis.result import Answer
from fejoint.inputs.units import KGF, figures

HEADS = ("member", "what gives", "N", "kgf", "by hand, N", "counted as")
LEFT = ("member", "what gives", "counted as")
"""Columns of words; the others hold numbers."""


@dataclass(frozen=True)
class LimitTable:
    """Rows of `HEADS`, the lowest limit first, and what is to be said below them."""

    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...]


def limit_table(answer: Answer) -> LimitTable:
    """Return each member's limits, the lowest first."""
    rows, outside, odds = [], [], answer.odds
    for part in answer.verdict.order:
        for k, limit in enumerate((part.first, *part.later)):
            hand = "" if limit.handbook_load is None else figures(limit.handbook_load)
            if limit.handbook_note:
                hand = f"({hand})"
                outside.append(limit.handbook_note)
            counted = limit.cause + (", past the highest pull" if limit.past_top else "")
            sure = None if odds is None else odds.band(limit.member, limit.mode, limit.cause)
            shown = MOST_FIGURES if sure is None else sure.figures
            if sure is not None:
                counted += f", {figures(sure.low, shown)} to {figures(sure.high, shown)}"
            elif limit.band is not None:
                low, high = limit.band
                to = f" to {figures(high)}" if math.isfinite(high) else " on"
                counted += f", from {figures(low)}{to}"
            rows.append(
                (
                    limit.member if k == 0 else "",
                    definitions.title(limit.mode),
                    figures(limit.load, shown),
                    figures(limit.load / KGF, shown),
                    hand,
                    counted,
                )
            )
    notes = []
    if odds is not None:
        notes.append("Last in a row: between which loads (N) nine in ten such joints lie.")
    if outside:
        notes.append(f"In brackets: {'; '.join(dict.fromkeys(outside))}.")
    return LimitTable(tuple(rows), tuple(notes))
