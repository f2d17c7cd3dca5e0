"""Numbers, units and rows of logs are read right, or a question is asked: never guessed."""

from __future__ import annotations

import re

import numpy as np
import pytest
from support.written_logs import written

from fejoint.errors import BadInput
from fejoint.measured import log_columns, log_reader, number_marks, row_order
from fejoint.measured.log_record import Hints

X = np.linspace(0.0, 2.0, 60)
F = 8000.0 * (1.0 - np.exp(-2.0 * X))


def saved(tmp_path, text):
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    return path


def read_or_ask(path):
    try:
        return log_reader.read(path), ""
    except BadInput as question:
        return None, str(question)


@pytest.mark.sampled
def test_none_of_a_thousand_logs_is_misread_without_a_question(tmp_path, draws, tally):
    count = draws(1000)
    rng = np.random.default_rng(19)
    asked = 0
    for k in range(count):
        log = written(rng)
        path = tmp_path / "log.csv"
        path.write_bytes(log.raw)
        found, question = read_or_ask(path)
        if found is None:
            asked += 1
            assert "two ways" in question, (k, log.how, question)
            continue
        assert found.kind == "curve", (k, log.how)
        assert found.spikes == (), (k, log.how)
        assert len(found.force) == len(log.force), (k, log.how, found.bad[:2])
        np.testing.assert_allclose(
            found.force, log.force, atol=0.51 * log.digit[0], err_msg=log.how
        )
        np.testing.assert_allclose(
            found.travel, log.travel, atol=0.51 * log.digit[1], err_msg=log.how
        )
    tally(f"{count - asked} of {count} logs read right, {asked} asked, none misread")
    assert asked <= 0.15 * count


@pytest.mark.parametrize(
    "text", ["no;peak [N]\n1;8,190\n2;8,240\n", 'no,peak [N]\n1,"8,190"\n2,"8,240"\n',
             "no;peak [N]\n1;8.190\n2;8.240\n"],
)  # fmt: skip
def test_a_list_that_can_be_read_two_ways_is_asked_about(text, tmp_path):
    path = saved(tmp_path, text)
    with pytest.raises(BadInput, match=r"two ways.*--decimal \..*8.*--decimal ,.*8"):
        log_reader.read(path)
    comma, point = ("thousands", "decimals") if "8,190" in text else ("decimals", "thousands")
    is_eight = {"thousands": [8190.0, 8240.0], "decimals": [8.19, 8.24]}
    by_point = log_reader.read(path, Hints(decimal="."))
    by_comma = log_reader.read(path, Hints(decimal=","))
    assert by_point.force.tolist() == pytest.approx(is_eight[comma])
    assert by_comma.force.tolist() == pytest.approx(is_eight[point])


def test_rows_below_a_thousand_without_a_mark_show_that_the_mark_parts_thousands(tmp_path):
    path = saved(tmp_path, "no;peak [N]\n1;8,190\n2;990\n3;8,240\n4;985\n")
    log = log_reader.read(path, Hints(peaks=True))
    assert log.force.tolist() == [8190.0, 990.0, 8240.0, 985.0]
    assert any("2 rows below 1,000 have no mark" in line for line in log.assumed)
    one = saved(tmp_path, "no;peak [N]\n1;8,190\n2;990\n3;8,240\n")
    with pytest.raises(BadInput, match="two ways"):
        log_reader.read(one, Hints(peaks=True))


@pytest.mark.parametrize("quote", ["", '"'])
@pytest.mark.parametrize("german", [False, True])
def test_a_curve_with_thousands_marks_reaches_its_true_peak(quote, german, tmp_path):
    rows = "".join(
        f"{quote}{x:.2f}{quote};{quote}{2.0 * f:,.0f}{quote}\n" for x, f in zip(X, F, strict=True)
    )
    if german:
        rows = rows.translate(str.maketrans(".,", ",."))
    log = log_reader.read(saved(tmp_path, "Travel [mm];Force [N]\n" + rows))
    assert log.peak == pytest.approx(2.0 * F.max(), abs=0.6)
    assert log.bad == ()
    assert any("parts thousands" in line for line in log.assumed)


def test_marks_that_contradict_each_other_are_asked_about():
    marks = number_marks.decide([["0.5", "0.7"], ["0,5", "0,7"]], ";", quoted=False)
    assert len(marks.open_cells) == 2
    few = number_marks.decide([["0.5"] * 60, ["0,5"]], ";", quoted=False)
    assert few.open_cells == ()


def test_a_row_against_the_decision_is_a_bad_row_and_no_number(tmp_path):
    rows = [f"{x:.4f};{f:.2f}" for x, f in zip(X, F, strict=True)]
    rows[30] = "1.0169;6954,3"
    log = log_reader.read(saved(tmp_path, "Travel [mm];Force [N]\n" + "\n".join(rows)))
    assert [b.line for b in log.bad] == [32]


@pytest.mark.parametrize(
    ("name", "factor"),
    [("F(t)", 1.0), ("Force(t) (N)", 1.0), ("Force (t)", 9806.65), ("Load [mN]", 1e-3),
     ("Load [MN]", 1e6), ("Force_kN", 1e3), ("Load {lbf}", 4.4482216152605)],
)  # fmt: skip
def test_a_force_unit_is_read_as_it_is_written(name, factor, tmp_path):
    rows = "".join(f"{x:.4f};{f:.2f}\n" for x, f in zip(X, F, strict=True))
    log = log_reader.read(saved(tmp_path, f"Travel_in;{name}\n{rows}"))
    np.testing.assert_allclose(log.force, factor * F, atol=0.006 * factor)
    np.testing.assert_allclose(log.travel, 25.4 * X, atol=0.002)


@pytest.mark.parametrize(
    ("name", "options"), [("Force(t)", "t N"), ("F (t)", "t N"), ("Load [mn]", "mN MN")]
)
def test_a_unit_that_can_be_read_two_ways_is_asked_about(name, options, tmp_path):
    rows = "".join(f"{x:.4f};{f:.2f}\n" for x, f in zip(X, F, strict=True))
    with pytest.raises(BadInput, match="two ways") as asked:
        log_reader.read(saved(tmp_path, f"Travel mm;{name}\n{rows}"))
    assert all(f"--force-unit {u} " in str(asked.value) for u in options.split())


@pytest.mark.parametrize(("factor", "unit"), [(1.0, "N"), (1e-3, "kN")])
def test_a_force_without_a_unit_is_read_by_what_is_predicted_or_asked_about(factor, unit, tmp_path):
    file = tmp_path / "it.csv"

    def written(top):
        rows = [f"{0.1 * k};{top * k / 30.0:.6g}" for k in range(31)]
        file.write_text("travel mm;F\n" + "\n".join(rows) + "\n")
        return log_reader.read(file, None, 9000.0)

    log = written(8000.0 * factor)
    assert log.peak == pytest.approx(8000.0, rel=1e-5)
    assert any(f"taken in {unit}: no unit is named" in said for said in log.assumed)
    # of 815 kgf or 815 N, of a pull that was stopped at 2,000 N, of what is nowhere near
    for far in (815.8, 2000.0 / 9.80665, 90.0, 250_000.0):
        with pytest.raises(BadInput, match=r"names no unit, .*give --force-unit N, kN, kgf or"):
            written(far)
    hints = Hints(force_unit="N")
    assert log_reader.read(file, hints, 9000.0).peak == pytest.approx(250_000.0)


@pytest.mark.parametrize(
    ("head", "cell", "said"),
    [
        ("Travel (1/100 mm);Force N", "{:.3f};{:.1f}", "names '1/100 mm'"),
        ("Extension (%);Force N", "{:.3f};{:.1f}", "names '%'"),
        ("travel mm;Load (V)", "{:.3f};{:.1f}", "names 'V'"),
        ("travel mm;Kraft [10 N]", "{:.3f};{:.1f}", "names '10 N'"),
        ("travel mm;Load [N]", "{:.3f};{:.1f} lbf", "has numbers in N and lbf"),
    ],
)
def test_a_unit_that_is_none_is_asked_about_and_never_passed_over(head, cell, said, tmp_path):
    file = tmp_path / "it.csv"
    rows = [cell.format(0.1 * k, 260.0 * k) for k in range(31)]
    file.write_text(head + "\n" + "\n".join(rows) + "\n")
    with pytest.raises(BadInput, match=re.escape(said)):
        log_reader.read(file, None, 9000.0)


def test_a_unit_behind_each_number_is_that_of_the_column_and_mixed_ones_are_refused(tmp_path):
    file = tmp_path / "it.csv"
    rows = [f"{0.1 * k:.3f};{60.0 * k:.1f} lbf" for k in range(31)]
    file.write_text("travel mm;Load\n" + "\n".join(rows) + "\n")
    assert log_reader.read(file, None, 9000.0).peak == pytest.approx(1800.0 * 4.4482216, rel=1e-5)
    rows[20:] = [row.replace("lbf", "kN") for row in rows[20:]]
    file.write_text("travel mm;Load\n" + "\n".join(rows) + "\n")
    with pytest.raises(BadInput, match="has numbers in kN and lbf"):
        log_reader.read(file, None, 9000.0)


def test_how_fast_it_went_is_no_travel(tmp_path):
    file = tmp_path / "it.csv"
    rows = [f"5;{0.1 * k:.3f};{260.0 * k:.1f}" for k in range(31)]
    head = "Travel speed (mm/min);Position (mm);Force (N)\n"
    file.write_text(head + "\n".join(rows) + "\n")
    log = log_reader.read(file, None, 9000.0)
    assert float(log.travel.max()) == pytest.approx(3.0)


def test_a_list_of_breaks_holds_its_weakest_and_no_mean(tmp_path):
    file = tmp_path / "it.csv"
    file.write_text("Sample;Break load (kgf)\n1;1610\n2;1655\n3;280\nMean;1593\n")
    log = log_reader.read(file, None, 19_000.0)
    assert log.kind == "peaks"
    np.testing.assert_allclose(log.force / 9.80665, [1610.0, 1655.0, 280.0])
    assert [(b.line, b.why) for b in log.bad] == [(5, "a summary, no sample")]


def test_a_second_table_below_the_first_is_refused(tmp_path):
    file = tmp_path / "it.csv"
    rows = [f"{0.1 * k:.3f};{260.0 * k:.1f}" for k in range(31)]
    other = [f"{0.1 * k:.3f};{0.26 * k:.4f}" for k in range(31)]
    text = ["travel mm;force N", *rows, "travel mm;force kN", *other]
    file.write_text("\n".join(text) + "\n")
    with pytest.raises(BadInput, match="begins another table at line 33"):
        log_reader.read_tests(file, None, 9000.0)


def test_readings_lost_among_the_largest_loads_are_told(tmp_path):
    file = tmp_path / "it.csv"
    loads = [260.0 * k for k in range(31)]
    rows = [f"{0.1 * k:.3f};{load:.1f}" for k, load in enumerate(loads)]
    rows += [f"{3.1 + 0.1 * k:.3f};OL" for k in range(5)]
    file.write_text("travel mm;force N\n" + "\n".join(rows) + "\n")
    log = log_reader.read(file, None, 9000.0)
    assert any("5 rows among the largest loads hold no number" in said for said in log.assumed)


def test_one_sample_has_one_digest_however_its_file_is_written(tmp_path):
    file = tmp_path / "it.csv"
    rows = [f"{0.1 * k:.3f};{260.0 * k:.1f}" for k in range(31)]
    digests = set()
    for text in ("\n".join(rows), "\r\n".join(rows) + "\r\n\r\n"):
        file.write_bytes(b"travel mm;force N\n" + text.encode())
        digests.add(log_reader.read(file, None, 9000.0).digest)
    assert len(digests) == 1
    file.write_text("travel mm;force N\n" + "\n".join(rows[:-1]) + "\n")
    assert log_reader.read(file, None, 9000.0).digest not in digests


def test_units_and_names_stand_in_either_order_above_channel_numbers():
    names = [["Time", "Travel", "Load"], ["s", "mm", "kN"], ["Ch1", "Ch2", "Ch3"]]
    for rows in (names, [names[1], names[0], names[2]]):
        found = log_columns.header_names(rows, 3)
        assert found == ["Time [s]", "Travel [mm]", "Load [kN]"]


def with_spike(values, at, value):
    changed = values.copy()
    changed[at] = value
    return changed


@pytest.mark.parametrize("at", [0, 20, 59])
def test_a_spike_is_named_and_not_used(at, tmp_path):
    f = with_spike(F, at, 99999.9)
    rows = "".join(f"{x:.4f};{v:.1f}\n" for x, v in zip(X, f, strict=True))
    log = log_reader.read(saved(tmp_path, "Travel [mm];Force [N]\n" + rows))
    assert [(s.line, s.force) for s in log.spikes] == [(at + 2, 99999.9)]
    assert log.peak < 8000.0
    assert len(log.force) == 59


def test_a_break_and_a_release_are_no_spikes():
    rng = np.random.default_rng(3)
    noise = rng.normal(0.0, 8.0, 60)
    broken = np.concatenate([F, np.zeros(12)])
    assert not row_order.spikes(broken).any()
    assert not row_order.spikes(F + noise).any()
    released = np.concatenate([F, F[::-1], F])
    assert not row_order.spikes(released).any()
    assert not row_order.spikes(np.concatenate([F, [0.0]])).any()
    assert row_order.spikes(with_spike(F + noise, 30, 9000.0)).sum() == 1


def timed(order, stamp="{:.1f}".format):
    rows = [f"{stamp(0.5 * k)};{X[k]:.4f};{F[k]:.1f}" for k in range(60)]
    return "Time [s];Travel [mm];Force [N]\n" + "\n".join(rows[k] for k in order) + "\n"


def test_rows_that_were_shuffled_are_put_in_the_order_of_time(tmp_path):
    order = np.random.default_rng(1).permutation(60)
    for rows in (order, np.arange(60)[::-1]):
        log = log_reader.read(saved(tmp_path, timed(rows)))
        np.testing.assert_allclose(log.force, F, atol=0.06)
        assert any("order of time" in line for line in log.assumed)


def test_rows_shuffled_without_time_are_refused(tmp_path):
    order = np.random.default_rng(1).permutation(60)
    rows = "".join(f"{X[k]:.4f};{F[k]:.1f}\n" for k in order)
    with pytest.raises(BadInput, match="rows in no order"):
        log_reader.read(saved(tmp_path, "Travel [mm];Force [N]\n" + rows))


@pytest.mark.parametrize("with_time", [True, False])
def test_two_tests_in_one_file_are_parted(with_time, tmp_path):
    one = timed(range(60)).split("\n")[1:-1]
    two = timed(range(50)).split("\n")[1:-1]
    head, rows = "Time [s];Travel [mm];Force [N]", [*one, *two]
    if not with_time:
        head, rows = "Travel [mm];Force [N]", [r.split(";", 1)[1] for r in rows]
    path = saved(tmp_path, "\n".join([head, *rows]) + "\n")
    logs = log_reader.read_tests(path)
    assert [len(log.force) for log in logs] == [60, 50]
    assert [log.name for log in logs] == ["log.csv, test 1", "log.csv, test 2"]
    with pytest.raises(BadInput, match="holds 2 tests"):
        log_reader.read(path)


@pytest.mark.parametrize(
    "stamp",
    [lambda s: f"2026-03-01 23:59:{30 + s:06.3f}", lambda s: f"01.03.2026;11:00:{s:06.3f}",
     lambda s: f"11:00:{s:06.3f}", lambda s: f"03/01/2026 11:00:{s:06.3f} PM",
     lambda s: f"23:{59 + (30 + s) // 60:02.0f}:{(30 + s) % 60:05.2f}".replace("23:60", "00:00")],
)  # fmt: skip
def test_stamps_of_date_and_clock_are_a_time(stamp, tmp_path):
    text = timed(range(60), lambda s: stamp(min(s, 29.5)))
    if ";11" in text:
        text = text.replace("Time [s]", "Date;Time")
    log = log_reader.read(saved(tmp_path, text.replace("Time [s]", "Time")))
    np.testing.assert_allclose(log.time, 0.5 * np.arange(60), atol=1e-6)
    np.testing.assert_allclose(log.force, F, atol=0.06)
