"""The parsers that are fuzzed: each takes bytes, and may refuse them readably, nothing else."""

from __future__ import annotations

from collections.abc import Callable

from fejoint.errors import BadInput
from fejoint.inputs import toml_syntax, units
from fejoint.joint import model
from fejoint.materials import hardness
from fejoint.measured import log_dialect
from support import ROOT

CORPUS = ROOT / "tests" / "fuzz" / "corpus"


def case(raw: bytes) -> None:
    """Read bytes as a case file's text."""
    try:
        model.read(toml_syntax.parse_text(raw.decode("utf-8", "replace"), "case"))
    except BadInput as bad:
        _must_be_readable(bad)


def quantity(raw: bytes) -> None:
    """Read bytes as a quantity of every kind, and as a hardness."""
    text = raw.decode("utf-8", "replace")
    for kind in units.UNIT:
        try:
            units.read(text, kind)
        except units.Misread as misread:
            assert misread.allowed and misread.mend  # noqa: PT017, PT018
    try:
        hardness.to_strength(text)
    except BadInput as bad:
        _must_be_readable(bad)


def log(raw: bytes) -> None:
    """Read bytes as a log's table."""
    try:
        lines = log_dialect.lines_of(log_dialect.decoded(raw, "log"))
    except BadInput as bad:
        _must_be_readable(bad)
        return
    dialect = log_dialect.find_dialect(lines)
    if dialect is not None:
        first = log_dialect.first_data_line(lines, dialect)
        log_dialect.read_columns(lines, first, dialect, range(dialect.columns))


PARSERS: dict[str, Callable[[bytes], None]] = {"case": case, "quantity": quantity, "log": log}


def _must_be_readable(bad: BadInput) -> None:
    lines = str(bad).split("\n")
    assert len(lines) == len(bad.faults) > 0, lines
    for fault, line in zip(bad.faults, lines, strict=True):
        assert fault.field, line
        assert fault.allowed, line
        assert fault.mend, line
        assert line.isprintable(), line
