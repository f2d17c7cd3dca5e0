from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support import ROOT

from fejoint.errors import BadInput
from fejoint.measured import log_dialect, log_reader
from fejoint.measured.log_record import Hints

N = 40
X = np.linspace(0.0, 2.0, N) + 0.008 * np.sin(1.9 * np.arange(N))
F = 8000.0 * (1.0 - np.exp(-2.0 * X)) + 10.0
T = 0.5 * np.arange(N)


def rows(*columns, sep=",", point=".", digits=3):
    lines = [sep.join(f"{v:.{digits}f}" for v in row) for row in zip(*columns, strict=True)]
    return "\n".join(x.replace(".", point) for x in lines) + "\n"


def each(form):
    return "".join(form.format(a, b) + "\n" for a, b in zip(X, F, strict=True))


def crowded(text, place, line):
    lines = text.split("\n")
    return "\n".join([*lines[:place], line, *lines[place:]])


WHOLE = {
    "plain": "Time,Travel,Force\n" + rows(T, X, F),
    "semicolons and commas": "Zeit [s];Weg [mm];Kraft [kN]\n"
    + rows(T, X, F / 1e3, sep=";", point=",", digits=6),
    "tabs": "time\tstroke (mm)\tload (N)\n" + rows(T, X, F, sep="\t"),
    "tabs and commas": "s\tmm\tN\n" + rows(T, X, F, sep="\t", point=","),
    "blanks": rows(X, F, sep="   "),
    "bars": "Extension mm|Load N\n" + rows(X, F, sep="|"),
    "no header": rows(T, X, F),
    "no header, swapped": rows(F, X, T),
    "units in a row":
    "Position;Force\n(mm);(kgf)\n" + rows(X, F / 9.80665, sep=";", digits=5),
    "a long preamble":
    "Rig: no 3\nOperator;me\n\nDate 2026-01-02\nTime;Force;Travel\n" + rows(T, F, X, sep=";"),
    "pounds and inches":
    "Load lbf,Extension in\n" + rows(F / 4.4482216152605, X / 25.4, digits=6),
    "kilograms":
    "Kraft (kg);Weg (mm)\n" + rows(F / 9.80665, X, sep=";", point=",", digits=5),
    "pulled downwards": "mm,N\n" + rows(X, -F),
    "travel downwards": "Travel mm,Force N\n" + rows(-X, F),
    "french":
    "Temps (s);Course (mm);Effort (daN)\n" + rows(T, X, F / 10.0, sep=";", point=",", digits=4),
    "old line ends": "Travel;Force\r" + rows(X, F, sep=";").replace("\n", "\r"),
    "windows line ends": "Travel;Force\r\n" + rows(X, F, sep=";").replace("\n", "\r\n"),
    "blank lines between": "Travel;Force\n" + rows(X, F, sep=";").replace("\n", "\n\n"),
    "quoted": "\"Travel (mm)\",\"Force (N)\"\n" + each('"{:.4f}","{:,.3f}"'),
    "thousands": "Travel (mm);Force (N)\n" + each("{:.4f};{:,.3f}"),
    "german thousands":
    "Weg (mm);Kraft (N)\n" + each("{:.4f};{:,.3f}").translate(str.maketrans(".,", ",.")),
    "a separator at the end": "Travel;Force;\n" + rows(X, F, sep=";").replace("\n", ";\n"),
    "units in the cells": "Travel,Force\n" + each("{:.4f} mm,{:.3f} N"),
    "a column of text": "Sample,Travel,Force\n" + each("A1,{:.4f},{:.3f}"),
    "clock times": "Clock,Travel,Force\n" + each("10:00:07,{:.4f},{:.3f}"),
    "exponents": "Travel,Force\n" + each("{:.6e},{:.6E}"),
    "byte order mark": "\ufeffTravel,Force\n" + rows(X, F),
    "degree signs in latin-1": ("Temp 21°C\nTravel,Force\n" + rows(X, F)).encode("latin-1"),
    "utf-16": ("Travel,Force\n" + rows(X, F)).encode("utf-16"),
    "strange columns": "a,b,c,d\n" + rows(np.full(N, 7.0), T, X, F),
}  # fmt: skip

BROKEN = {
    "words among the rows": (crowded("Travel,Force\n" + rows(X, F), 6, "paused by operator"), 7),
    "not a number": (crowded("Travel,Force\n" + rows(X, F), 9, "0.5,NaN"), 10),
    "a cut line": (crowded("Travel,Force\n" + rows(X, F), 4, "0.2"), 5),
    "an empty cell": (crowded("Travel,Force\n" + rows(X, F), 5, ",100.0"), 6),
    "an overflow": (crowded("Travel;Force\n" + rows(X, F, sep=";"), 5, "0.3;OVERFLOW"), 6),
    "a line without end": (crowded("Travel,Force\n" + rows(X, F), 8, "1," * 20_000), 9),
}

REFUSED = {
    "nothing": b"",
    "only blanks": b" \n \n",
    "bytes": bytes(range(256)) * 40,
    "zeros": bytes(5000),
    "a letter": b"Dear rig, please pull harder.\nYours\n",
    "header only": b"Time,Travel,Force\n",
    "one row": b"Travel,Force\n1.0,100\n",
    "all nan": ("Travel,Force\n" + "nan,nan\n" * 40).encode(),
    "never a pull": ("Travel,Force\n" + rows(X, 0.0 * F)).encode(),
    "no force": ("Time (s),Travel (mm)\n" + rows(T, X)).encode(),
}


@pytest.mark.parametrize("name", WHOLE)
def test_a_curve_is_read_however_the_rig_writes_it(name, tmp_path):
    content = WHOLE[name]
    path = tmp_path / "log.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    log = log_reader.read(path, expected=8000.0)
    assert log.kind == "curve"
    assert log.bad == ()
    np.testing.assert_allclose(log.force, F, rtol=2e-3)
    np.testing.assert_allclose(log.travel - log.travel[0], X, atol=2e-3)
    assert any("force: column" in said for said in log.assumed)


@pytest.mark.parametrize("name", BROKEN)
def test_a_bad_row_is_left_out_and_named_by_its_line(name, tmp_path):
    text, line = BROKEN[name]
    path = tmp_path / "log.csv"
    path.write_text(text)
    log = log_reader.read(path)
    assert log.kind == "curve"
    assert [b.line for b in log.bad] == [line]
    np.testing.assert_allclose(log.force, F, rtol=1e-4)


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_log_gets_a_clear_message(name, tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(REFUSED[name])
    with pytest.raises(BadInput) as caught:
        log_reader.read(path)
    message = str(caught.value)
    assert str(path) in message or path.name in message
    assert ";" in message


@pytest.mark.parametrize(
    "text",
    [
        "Sample;Break load (kN)\n1;8,1\n2;7,9\n3;8,4\n",
        "8.1 kN\n7.9 kN\n8.4 kN\n".replace(" kN", "e3"),
        "A;8100\nB;7900\nC;8400\n",
        "8100,5\n7900,5\n8400,5\n",
        "Bruchlast kgf\n826\n806\n857\n",
    ],
)
def test_a_list_of_break_loads_is_enough(text, tmp_path):
    path = tmp_path / "peaks.txt"
    path.write_text(text)
    log = log_reader.read(path, expected=8000.0)
    assert log.kind == "peaks"
    np.testing.assert_allclose(log.force, [8100.0, 7900.0, 8400.0], rtol=2e-3)


def test_break_loads_below_zero_are_turned_round_and_none_above_it_is_refused(tmp_path):
    path = tmp_path / "peaks.txt"
    path.write_text("Break load N\n-8100\n-7900\n-8400\n")
    log = log_reader.read(path)
    assert log.force.tolist() == [8100.0, 7900.0, 8400.0]
    assert any("loads were negative" in told for told in log.assumed)
    path.write_text("Break load N\n0\n0\n0\n")
    with pytest.raises(BadInput, match="no load above 0"):
        log_reader.read(path, Hints(peaks=True))


def test_a_table_of_faults_alone_names_the_first_of_them(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("Travel (mm);Force (N);note\n" + "1.5;OVERFLOW;7\n" * 20)
    with pytest.raises(BadInput, match=r"no row without a fault.*line 2: column 2: OVERFLOW"):
        log_reader.read(path, Hints(force="Force (N)"))


def test_force_against_time_alone_has_its_maximum_and_speed_makes_travel(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("Time (min);Force (kN)\n" + rows(T, F / 1e3, sep=";", point=",", digits=5))
    log = log_reader.read(path)
    assert log.kind == "time"
    assert log.peak == pytest.approx(F.max(), rel=1e-4)
    fast = log_reader.read(path, Hints(speed=0.5))
    assert fast.kind == "curve"
    assert fast.travel[-1] == pytest.approx(0.5 * 60.0 * T[-1])


def test_what_is_said_goes_before_what_is_guessed(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("a;b;c\n" + rows(X, F, 2.0 * F, sep=";"))
    log = log_reader.read(path, Hints(force="c", travel="1", force_unit="lbf", travel_unit="cm"))
    np.testing.assert_allclose(log.force, 2.0 * F * 4.4482216, rtol=1e-3)
    np.testing.assert_allclose(log.travel, 10.0 * X, atol=1e-2)
    with pytest.raises(BadInput, match="names no column"):
        log_reader.read(path, Hints(force="load"))
    with pytest.raises(BadInput, match="did you mean"):
        log_reader.read(path, Hints(force="c", force_unit="knn"))


def test_a_unit_that_no_name_tells_is_taken_where_no_other_is_possible_and_said(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("travel;force\n" + rows(X, F / 1e3, sep=";"))
    log = log_reader.read(path, expected=8500.0)
    assert log.peak == pytest.approx(F.max(), rel=1e-4)
    assert any("taken in kN" in said and "--force-unit" in said for said in log.assumed)


@pytest.fixture(scope="module")
def long_log(tmp_path_factory):
    rows = (f"{k * 1e-3:.3f};{k * 2e-6:.6f};{k * 0.00812:.4f}\n" for k in range(1_000_000))
    path = tmp_path_factory.mktemp("long") / "log.csv"
    path.write_text("Zeit;Weg;Kraft\n" + "".join(rows).replace(".", ","))
    return path


def test_a_million_rows_take_less_than_five_seconds(long_log):
    start = time.process_time()
    log = log_reader.read(long_log)
    assert time.process_time() - start < 5.0
    assert log.rows == 1_000_000
    assert log.peak == pytest.approx(999_999 * 0.00812, rel=1e-3)
    assert len(log.force) <= log_reader.KEPT


@pytest.mark.stress
def test_ten_million_rows_end_in_an_answer(long_log, tmp_path):
    text = long_log.read_bytes()
    path = tmp_path / "log.csv"
    with path.open("wb") as file:
        for _ in range(10):
            file.write(text)
    tests = log_reader.read_tests(path)
    # the header of every block but the first is a bad row, and every block a test of its own
    assert [log.rows for log in tests] == [1_000_000] * 10
    assert len(tests[0].bad) == 9


def test_a_log_beyond_the_largest_is_refused_unread(tmp_path, monkeypatch):
    monkeypatch.setattr("fejoint.measured.log_dialect.LARGEST", 1000)
    path = tmp_path / "log.csv"
    path.write_text(rows(X, F) * 3)
    with pytest.raises(BadInput, match="MB"):
        log_reader.read(path)


@pytest.mark.parametrize("path", sorted((ROOT / "cases/demo/pulls").glob("*.csv")), ids=str)
def test_the_demo_logs_are_marked_as_invented_and_read(path):
    assert "nvented data" in path.read_text().splitlines()[0]
    log = log_reader.read(path)
    assert log.kind == ("peaks" if "break" in path.name else "curve")
    assert log.bad == ()


CELLS = st.sampled_from(
    ["1", "-2,5", "3.75", "1e9", "1e400", "nan", "inf", "", " ", '"', "kN", "Force", "mm", "0x1F",
     "1.234,5", "12:30", "\ufeff", "\0", "9" * 400, "--", "½", "٣"]
)  # fmt: skip


@pytest.mark.sampled
@given(
    st.lists(st.lists(CELLS, min_size=0, max_size=5), max_size=30),
    st.sampled_from([",", ";", "\t", "|", " "]),
    st.binary(max_size=6),
)
def test_any_cells_end_in_a_log_or_a_message(tmp_path_factory, table, sep, tail):
    path = tmp_path_factory.mktemp("cells") / "log.csv"
    path.write_bytes("\n".join(sep.join(row) for row in table).encode() + tail)
    try:
        log = log_reader.read(path, expected=1000.0)
    except BadInput:
        return
    assert np.isfinite(log.force).all()
    assert log.peak > 0.0


def test_a_cell_longer_than_any_is_split_as_plain_text():
    dialect = log_dialect.Dialect(";", ".", columns=2)
    cells = dialect.cells('"' + "x" * 200_000 + '";5')
    assert [len(cell) for cell in cells] == [200_002, 1]


def test_a_comma_between_decimals_is_a_separator_and_in_one_number_it_is_not():
    two = log_dialect.Dialect(",", ".", columns=2)
    assert not log_dialect._one_column(["0.5,12.5", "0.6,14.5"], two)
    assert log_dialect._one_column(["812,5", "790,5", "840,5"], two)
