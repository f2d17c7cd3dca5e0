"""The results book: pulls entered beside what was predicted, and how predictions did."""

from __future__ import annotations

import os
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING

from fejoint.analysis.joint_odds import surer
from fejoint.analysis.plotted import Plotted
from fejoint.measured import failure_modes, results_book, sealed
from fejoint.measured.caliper import Sheet
from fejoint.measured.comparison import Expected
from fejoint.measured.outcome import Outcome
from fejoint.measured.results_book import Entry, Judgement
from fejoint.measured.sealed import Sealed
from fejoint.measured.test_plan import Plan

if TYPE_CHECKING:
    import pandas as pd


class Book(Plotted):
    """A results book: a small SQLite file of pulls, by which predictions are judged over time.

    Parameters
    ----------
    path : path
        Made when first written into.

    Examples
    --------
    >>> import fejoint, tempfile
    >>> book = fejoint.Book(tempfile.mkdtemp() + "/pulls.sqlite")
    >>> case = "cases/demo/hard-pin.toml"
    >>> told = book.seal(fejoint.plan(case, refine=0.35))  # before the pull
    >>> book.add(fejoint.match(case, "cases/demo/pulls/hard-pin-1.csv", refine=0.35))
    2
    >>> [judgement.measure for judgement in book.judged]
    ['peak', 'offset load']
    """

    _drawn_by = ("measured.plots", "parity_of")

    def __init__(self, path: str | os.PathLike[str] = results_book.FILE) -> None:
        self.path = Path(path)

    def __repr__(self) -> str:
        """Return one line."""
        return f"<Book: {str(self.path)!r}>"

    def __str__(self) -> str:
        """Return how the predictions did."""
        return "\n".join(j.sentence() for j in self.judged)

    @property
    def entries(self) -> list[Entry]:
        """All pulls, in the order they were written.

        Raises
        ------
        BadInput
            If there is no such book, or a row was edited.
        """
        return results_book.entries(self.path)

    @property
    def frame(self) -> pd.DataFrame:
        """A row a pull: loads in N, modes, notes, digests, and measured over predicted."""
        import pandas as pd

        columns = {"measured": "measured_N", "predicted": "predicted_N"}
        rows = pd.DataFrame([asdict(e) for e in self.entries]).rename(columns=columns)
        if len(rows):
            rows["ratio"] = rows["measured_N"] / rows["predicted_N"].astype(float)
        return rows

    @property
    def judged(self) -> tuple[Judgement, ...]:
        """How the predictions did, one a measure that was pulled."""
        pulls = self.entries
        found = (results_book.judge(pulls, measure) for measure in results_book.MEASURES)
        return tuple(j for j in found if j is not None)

    @property
    def sealed(self) -> list[Sealed]:
        """Every prediction sealed before its pull, in the order they were written."""
        return sealed.all_in(self.path)

    def seal(self, made: Plan | Expected) -> Sealed:
        """Write a prediction with its odds into the book, before the pull.

        Parameters
        ----------
        made : Plan or Expected

        Returns
        -------
        Sealed
            The one that the joint's pulls judge: an earlier one of the same joint stands.

        Raises
        ------
        BadInput
            If the book cannot be written, or the one it holds was changed.
        """
        expected = made.expected if isinstance(made, Plan) else made
        if expected.answer.odds is None:
            expected = replace(expected, answer=surer(expected.answer))
        return sealed.seal(self.path, expected)[0]

    def add(
        self,
        found: Outcome | Plan | Expected,
        *,
        broke: str = "",
        note: str = "",
        sheet: Sheet | None = None,
    ) -> int:
        """Enter what was measured, beside what was sealed of the joint or is predicted now.

        A sample (the same log of the same joint) that is in the book already is replaced.

        Parameters
        ----------
        found : Outcome, Plan or Expected
            Logs beside the prediction; for a caliper sheet alone the prediction is enough.
        broke : str
            What was seen: "hole stretched", "pin bent", "pin sheared", "end torn", "net section".
        note : str
        sheet : Sheet, optional
            A filled caliper sheet.

        Returns
        -------
        int
            Rows written.

        Raises
        ------
        BadInput
            If the book cannot be written, or what was seen is no mode.
        """
        expected = found if isinstance(found, Expected) else found.expected
        logs = found if isinstance(found, Outcome) else None
        joint = expected.answer.joint
        words = broke or (sheet.broke if sheet is not None else "")
        mode = failure_modes.seen(words) if words not in ("", "nothing") else ""
        before = sealed.of_joint(self.path, results_book.digest_of(joint))
        rows = entries_of(expected, logs, sheet, mode, note, before)
        results_book.add(self.path, joint, rows)
        return len(rows)

    def strike(self, number: int) -> None:
        """Take a pull out of the book.

        Raises
        ------
        BadInput
            If it holds no such number.
        """
        results_book.strike(self.path, number)


def entries_of(
    expected: Expected,
    found: Outcome | None,
    sheet: Sheet | None,
    mode: str,
    note: str,
    before: Sealed | None,
) -> list[Entry]:
    """Return a book's rows of what was measured, beside what was sealed or is predicted now."""
    order = expected.answer.verdict.order
    first: str = order[0].first.mode if order else ""
    most = expected.most if expected.most_mode else None
    offset, name_of = expected.offset.load if expected.offset else None, ""
    if before is not None:
        first, most, offset, name_of = before.first, before.peak, before.offset, before.name
    if mode and mode == expected.most_mode and before is None:
        first = mode  # what gives at the highest pull was seen as it was predicted
    title = " ".join(expected.answer.joint.title.split())
    new = []
    fit = found.fit if found else None
    for m in found.matches if found else ():
        used = fit is not None and m.log.kind == "curve" and m.log.name not in fit.held_out
        loads = m.log.force.tolist() if m.log.kind == "peaks" else [m.maximum]
        for k, load in enumerate(loads if m.broke else [], start=1):
            name = m.log.name if len(loads) == 1 else f"{m.log.name}, {k}"
            new.append(
                Entry(title, name, "peak", load, most, first, mode, note, learned=used,
                      data_digest=f"{m.log.digest}/{k}", sealed=name_of)
            )  # fmt: skip
        if m.offset is not None and not m.unsure and offset is not None:
            new.append(
                Entry(title, m.log.name, "offset load", m.offset.load, offset, first, mode,
                      note, learned=used, data_digest=f"{m.log.digest}/1", sealed=name_of)
            )  # fmt: skip
    # a sheet beside the log of a break is of the same sample
    alone = not any(m.broke for m in found.matches) if found else True
    if sheet is not None and alone and mode in failure_modes.ENDING:
        new.append(
            Entry(title, "caliper", "peak", sheet.peak, most, first, mode, sheet.note or note,
                  data_digest=f"{sheet.digest}/1", sealed=name_of)
        )  # fmt: skip
    return new
