"""Any bytes given as a log are a log of finite numbers, or are refused in one readable line."""

from __future__ import annotations

import os
import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.anything import is_readable

from fejoint.errors import BadInput
from fejoint.measured import log_reader
from fejoint.measured.log_record import Hints

pytestmark = pytest.mark.sampled

CELL = st.one_of(
    st.floats(width=32).map(repr),
    st.integers(-(10**6), 10**6).map(str),
    st.sampled_from(
        ["4,5", "1.234,5", "", '"', '"a;b"', "12 N", "NaN", "-", "1e999", "٣", "²", "\0"]
    ),
    st.text(max_size=6),
    st.integers(4000, 6000).map(lambda n: "9" * n),
)


@st.composite
def logs(draw):
    """Bytes like a log's: a header, rows of cells (some ragged), an encoding, line ends."""
    mark = draw(st.sampled_from(["\t", ";", ",", "|", " "]))
    end = draw(st.sampled_from(["\n", "\r\n", "\r", "\n\n"]))
    columns = draw(st.integers(1, 4))
    good = [mark.join(f"{k * (c + 1) * 0.37:.3f}" for c in range(columns)) for k in range(12)]
    if draw(st.booleans()):
        good = [row.replace(".", ",") for row in good]
    bad = draw(st.lists(st.lists(CELL, max_size=5).map(mark.join), max_size=6))
    head = draw(st.sampled_from(["", "Force [kN]", "Weg mm;Kraft N", "time s|load", "\ufeff"]))
    where = draw(st.integers(0, len(good)))
    text = end.join([head, *good[:where], *bad, *good[where:]])
    encoding = draw(st.sampled_from(["utf-8", "utf-16", "utf-16-le", "cp1252", "utf-8-sig"]))
    return text.encode(encoding, "replace")


HINTS = st.builds(
    Hints,
    force=st.sampled_from([None, None, "1", "²", "9" * 5000, "load", ""]),
    force_unit=st.sampled_from([None, None, "kN", "mm", ""]),
    separator=st.sampled_from([None, None, "tab", ";", "and", ""]),
    decimal=st.sampled_from([None, None, ".", ",", "'"]),
    peaks=st.booleans(),
    speed=st.sampled_from([None, 0.1]),
)


def read_or_refuse(raw: bytes, folder: Path, hints: Hints | None = None):
    path = folder / "log.csv"
    path.write_bytes(raw)
    try:
        return log_reader.read(path, hints)
    except BadInput as refused:
        bad = refused
    assert is_readable(bad), str(bad)
    return None


@given(logs(), HINTS)
def test_a_log_is_finite_numbers_or_refused(tmp_path_factory, raw, hints):
    found = read_or_refuse(raw, tmp_path_factory.getbasetemp(), hints)
    if found is not None:
        assert found.rows >= 1
        assert np.isfinite(found.force).all()
        assert found.peak > 0.0


@given(st.binary(max_size=400))
def test_any_bytes_are_a_log_or_refused(tmp_path_factory, raw):
    read_or_refuse(raw, tmp_path_factory.getbasetemp())


@pytest.mark.parametrize("what", ["a folder", "a pipe", "a device", "a nul"])
def test_a_place_that_is_no_log_is_refused_at_once(what, tmp_path):
    path = tmp_path / "log.csv"
    if what == "a folder":
        path.mkdir()
    elif what == "a pipe":
        os.mkfifo(path)
    else:
        path = Path("/dev/zero") if what == "a device" else tmp_path / "a\0b"
    with pytest.raises(BadInput) as caught:
        log_reader.read(path)
    assert is_readable(caught.value)


def test_a_cell_of_thousands_of_digits_takes_no_longer_than_its_length(tmp_path):
    began = time.process_time()
    read_or_refuse(b"F\n" + (b"9" * 9000 + b" zoll?\n") * 20 + b"1,2\n2,3\n", tmp_path)
    assert time.process_time() - began < 1.0


def test_a_head_of_thousands_of_digits_is_told_on_a_short_line(tmp_path: Path):
    log = tmp_path / "log.csv"
    rows = "\n".join(f"{0.37 * k:.3f}\t{0.74 * k:.3f}" for k in range(12))
    log.write_text(f"\n0.0\t{'9' * 4000}\n{rows}")
    with pytest.raises(BadInput) as bad:
        log_reader.read(log, Hints(separator=";"))
    assert is_readable(bad.value)
