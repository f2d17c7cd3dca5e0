"""Every way in which a file of results is written, each as a function of answer and path."""

from __future__ import annotations

import contextlib
import io
from unittest import mock

from fejoint.analysis.result import Answer
from fejoint.cli.main import main
from fejoint.errors import BadInput, Fault
from fejoint.output import pictures, report, result_files
from fejoint.output.field_snapshot import of_part
from fejoint.output.pictures import film


def _new(answer: Answer, path) -> None:
    said = io.StringIO()
    with contextlib.redirect_stderr(said), contextlib.redirect_stdout(io.StringIO()):
        code = main(["new", str(path), "--overwrite"])
    if code == 2:
        field, _, rest = said.getvalue().strip().partition(": ")
        raise BadInput(Fault(field, "", *rest.split("; ", 1)))


def _film(answer: Answer, path) -> None:
    with mock.patch.object(film, "FRAMES", 2):
        film.film(answer, path, size=(120, 100))


def _report(answer: Answer, path) -> None:
    page = "<html>" + "x" * 5000 + "</html>"
    with mock.patch.object(report, "single", return_value=page):
        report.report([answer], path)


WRITERS = {
    "answer.json": result_files.write_answer,
    "fields.vtu": lambda answer, path: result_files.write_fields(of_part(answer, "ear"), path),
    "curve.svg": lambda answer, path: pictures.picture(answer, "curve", path),
    "film.gif": _film,
    "report.html": _report,
    "new.toml": _new,
}
