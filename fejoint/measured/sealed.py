"""Predictions sealed before the pull: what was said, when, by which version, known by a digest.

They lie in the results book, in a table of their own. The first one sealed of a joint is the one
that its pulls judge: a later look at the joint, or a newer version, cannot better it. Content and
name are one digest, so that an edit shows.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from fejoint.errors import BadInput, Fault
from fejoint.inputs.units import both_units
from fejoint.measured.comparison import Expected
from fejoint.measured.results_book import digest_of, opened

_TABLE = """
CREATE TABLE IF NOT EXISTS predictions (
  digest TEXT PRIMARY KEY,
  joint_digest TEXT NOT NULL,
  content TEXT NOT NULL
)"""
_HELD = "SELECT name FROM sqlite_master WHERE type = 'table' AND name = 'predictions'"
NAME = 12
"""Characters of the digest that name a prediction."""


@dataclass(frozen=True)
class Sealed:
    """A prediction made before the pull.

    Attributes
    ----------
    digest : str
        SHA-256 of `content` as it is kept.
    joint_digest : str
        Of the joint: `results_book.digest_of`.
    content : mapping
        Case, loads (N), first mode, sentence, bands and odds, versions, settings and date.
    """

    digest: str
    joint_digest: str
    content: Mapping[str, Any]

    @property
    def name(self) -> str:
        """What the book's pulls call it."""
        return self.digest[:NAME]

    @property
    def written(self) -> str:
        """When, UTC."""
        return str(self.content["written"])

    @property
    def peak(self) -> float | None:
        """Highest load predicted, N; None where the pull ended before."""
        found: float | None = self.content["peak_N"]
        return found

    @property
    def offset(self) -> float | None:
        """Offset load on the extension predicted, N."""
        found: float | None = self.content["offset_N"]
        return found

    @property
    def first(self) -> str:
        """Mode predicted to come first."""
        return str(self.content["first_to_give"])

    def sentence(self) -> str:
        """Say what was sealed."""
        highest = "" if self.peak is None else f", highest {both_units(self.peak)}"
        return f"prediction {self.name}, sealed {self.written}{highest}: {self.content['sentence']}"


def content_of(expected: Expected) -> dict[str, Any]:
    """Return what is sealed of a prediction, without its date."""
    answer = expected.answer
    order = answer.verdict.order
    sure = {} if answer.odds is None else answer.odds.to_dict()
    return {
        "title": " ".join(answer.joint.title.split()),
        "case": answer.joint.to_dict(),
        "first_to_give": order[0].first.mode if order else "",
        "sentence": answer.verdict.sentence,
        "peak_N": expected.most if expected.most_mode else None,
        "offset_N": expected.offset.load if expected.offset else None,
        "band_N": sure.get("band_N", []),
        "odds": sure.get("odds"),
        "versions": dict(answer.versions),
        "settings": dict(answer.settings),
    }


def seal(path: Path, expected: Expected) -> tuple[Sealed, bool]:
    """Write a prediction into the book before the pull.

    Returns
    -------
    sealed : Sealed
        The one that the joint's pulls will judge.
    new : bool
        False where the joint has one already: that one stands.

    Raises
    ------
    BadInput
        If the book cannot be written, or the one it holds was changed.
    """
    joint = expected.answer.joint
    of_joint = digest_of(joint)
    with opened(path, "rwc") as connection:
        connection.execute(_TABLE)
        found = connection.execute(
            "SELECT digest, joint_digest, content FROM predictions WHERE joint_digest = ?"
            " ORDER BY rowid",
            (of_joint,),
        ).fetchone()
        if found is not None:
            return _read(path, found), False
        written = datetime.now(UTC).isoformat(timespec="seconds")
        content = json.dumps(content_of(expected) | {"written": written}, sort_keys=True)
        digest = _digest(of_joint, content)
        connection.execute("INSERT INTO predictions VALUES (?,?,?)", (digest, of_joint, content))
    return Sealed(digest, of_joint, json.loads(content)), True


def all_in(path: Path) -> list[Sealed]:
    """Return every sealed prediction of a book, in the order they were written.

    Raises
    ------
    BadInput
        If there is no such book, or a prediction was changed after it was sealed.
    """
    with opened(path, "ro") as connection:
        if connection.execute(_HELD).fetchone() is None:
            return []
        rows = connection.execute(
            "SELECT digest, joint_digest, content FROM predictions ORDER BY rowid"
        ).fetchall()
    return [_read(path, row) for row in rows]


def of_joint(path: Path, joint_digest: str) -> Sealed | None:
    """Return the prediction that a joint's pulls judge; None without one, or without the book."""
    if not path.is_file():
        return None
    return next((s for s in all_in(path) if s.joint_digest == joint_digest), None)


def _digest(joint_digest: str, content: str) -> str:
    return hashlib.sha256(f"{joint_digest}\n{content}".encode()).hexdigest()


def _read(path: Path, row: tuple[str, str, str]) -> Sealed:
    digest, joint_digest, content = row
    if _digest(joint_digest, str(content)) != digest:
        where = f"{path}, prediction {str(digest)[:NAME]}"
        allowed = "was changed after it was sealed: its digest is that of other content"
        mend = "take the book from a copy, or name another --book"
        raise BadInput(Fault(where, "", allowed, mend))
    return Sealed(digest, joint_digest, json.loads(content))
