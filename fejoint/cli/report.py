"""`fejoint report`."""

from __future__ import annotations

from pathlib import Path

from fejoint.cli import console
from fejoint.errors import BadInput, Fault


def report(*answers: Path, out: Path = Path("out/report.html")) -> None:
    """Write a report of one answer, or set several side by side.

    Parameters
    ----------
    answers
        One or more answer.json files of pulls, or their folders.
    out
        The file to write, ending in .html or .pdf (which takes a Chromium to print).
    """
    from fejoint import files
    from fejoint.output import report as reports
    from fejoint.output import result_files

    if not answers:
        raise BadInput(Fault("ANSWERS", "", "must name at least one answer.json", "name one"))
    stored = [result_files.read_answer(path) for path in answers]
    reports.check_suffix(out)
    files.make_ready(out.parent)
    console.wrote(reports.report(stored, out, [str(path) for path in answers]))
