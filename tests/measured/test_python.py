"""A day at the rig from Python: a plan, logs, a book, each with its table and picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure
from support.rig_logs import COMPLIANCE

import fejoint
from fejoint.cli.main import main
from fejoint.errors import BadInput


@pytest.fixture(scope="module")
def outcome(joint, expected, logs):
    return fejoint.match(joint, logs[0], expected=expected)


def test_a_plan_is_words_a_table_a_picture_and_a_page(joint, expected, tmp_path):
    told = []
    made = fejoint.plan(joint, scatter=0.05, refine=0.35, progress=lambda *x: told.append(x))
    assert told[-1][1] == 1.0
    frame = made.frame
    loads = frame["load_N"].dropna()
    assert loads.is_monotonic_increasing
    np.testing.assert_allclose(frame["load_kgf"], frame["load_N"] / 9.80665)
    assert f"at a scatter of {100 * 0.05:.1f} % (as stated)" in str(made)
    assert isinstance(made.plot(title="mine", theme="dark"), Figure)
    page, sheet = made.write(tmp_path / "new" / "folder")
    assert "fluke anchor" in page.read_text()
    assert "peak" in sheet.read_text()


def test_one_log_needs_no_list_and_the_rig_s_stiffness_takes_its_unit(joint, expected, logs):
    stiff = 1e-3 / COMPLIANCE
    rigs = {
        fejoint.match(joint, str(logs[0]), expected=expected, stiffness=text).matches[0].rig
        for text in (f"{stiff} kN/mm", 1e3 * stiff)
    }
    (rig,) = rigs
    assert rig.compliance == pytest.approx(COMPLIANCE)
    for wrong in ("stiff", "12 kg/mm", "-3 kN/mm", True, [3]):
        with pytest.raises(BadInput, match=r"rig = .*write 12 kN/mm"):
            fejoint.match(joint, logs, expected=expected, stiffness=wrong)
    with pytest.raises(BadInput, match="logs = 3: must be paths"):
        fejoint.match(joint, 3, expected=expected)


def test_an_outcome_is_words_a_table_and_a_picture(outcome):
    assert list(outcome.frame["log"]) == ["pull0.csv"]
    assert outcome.frame["highest_N"][0] == outcome.matches[0].maximum
    assert "pull0.csv: 1,500 rows read" in str(outcome)
    assert isinstance(outcome.plot(theme="dark"), Figure)


def test_a_book_seals_enters_judges_strikes_and_draws(outcome, expected, tmp_path, capsys):
    book = fejoint.Book(tmp_path / "pulls.sqlite")
    first = book.seal(expected)
    assert book.seal(expected) == first
    assert [s.name for s in book.sealed] == [first.name]
    assert first.content["band_N"]  # a sealed prediction tells its odds
    assert book.add(outcome, note="first", broke="hole stretched") == len(book.entries)
    again = book.add(outcome, note="again")
    assert len(book.entries) == again  # entered twice is one sample
    frame = book.frame
    assert set(frame["sealed"]) == {first.name}
    np.testing.assert_allclose(frame["ratio"], frame["measured_N"] / frame["predicted_N"])
    assert str(book) == "\n".join(j.sentence() for j in book.judged)
    assert isinstance(book.plot(title="all"), Figure)
    # the same as the command's
    assert main(["book", str(book.path)]) == 0
    assert str(book) in capsys.readouterr().out
    book.strike(book.entries[0].number)
    assert len(book.entries) == again - 1
    with pytest.raises(BadInput, match="is no number in the book"):
        book.strike(99)


def test_a_sheet_beside_the_log_of_a_break_is_of_the_same_sample(joint, expected, tmp_path):
    breaks = tmp_path / "breaks.csv"
    breaks.write_text("Break load (N)\n14100\n")
    broken = fejoint.match(joint, breaks, expected=expected)
    sheet = fejoint.Sheet(14_100.0, broke="pin sheared")
    book = fejoint.Book(tmp_path / "pulls.sqlite")
    assert book.add(broken, sheet=sheet) == 1
    assert [e.sample for e in book.entries] == ["breaks.csv"]
    assert book.add(expected, sheet=sheet) == 1  # alone it is one
    assert [e.sample for e in book.entries] == ["breaks.csv", "caliper"]
    assert {e.seen_mode for e in book.entries} == {"pin shear"}


def test_what_is_sealed_once_the_load_is_known_judges_nothing(outcome, expected, tmp_path):
    book = fejoint.Book(tmp_path / "pulls.sqlite")
    book.add(outcome)
    late = book.seal(expected)
    book.add(outcome)
    assert {e.sealed for e in book.entries} == {""}
    assert late.name == book.sealed[0].name


def test_lists_of_equal_loads_are_two_samples_and_one_that_grew_is_the_same(
    joint, expected, tmp_path
):
    book = fejoint.Book(tmp_path / "pulls.sqlite")
    for name, loads in (("a.csv", [14_100]), ("b.csv", [14_100]), ("a.csv", [14_100, 14_250])):
        file = tmp_path / name
        file.write_text("Break load (N)\n" + "\n".join(map(str, loads)) + "\n")
        book.add(fejoint.match(joint, file, expected=expected))
    assert sorted(e.measured for e in book.entries) == [14_100.0, 14_100.0, 14_250.0]


def test_a_break_as_predicted_at_the_highest_pull_is_a_mode_as_predicted(joint, expected, tmp_path):
    file = tmp_path / "a.csv"
    file.write_text("Break load (N)\n14100\n")
    sheared = replace(expected, most_mode="pin shear")
    assert sheared.answer.verdict.first.mode == "hole elongation"
    for seen, right in (("pin sheared", 1), ("hole stretched", 1), ("end torn", 0)):
        book = fejoint.Book(tmp_path / f"{seen}.sqlite")
        book.add(fejoint.match(joint, file, expected=sheared), broke=seen)
        (judged,) = book.judged
        assert (judged.modes_right, judged.modes_seen) == (right, 1)


def test_a_book_that_is_not_there_says_so_in_a_line(tmp_path):
    book = fejoint.Book(tmp_path / "none.sqlite")
    for look in (lambda: book.entries, lambda: book.frame, lambda: book.plot(), lambda: str(book)):
        with pytest.raises(BadInput, match="is not there"):
            look()


def test_an_empty_book_is_an_empty_table_and_no_picture(outcome, tmp_path):
    book = fejoint.Book(tmp_path / "pulls.sqlite")
    book.add(outcome)
    for entry in book.entries:
        book.strike(entry.number)
    assert len(book.frame) == 0
    assert book.judged == ()
    with pytest.raises(BadInput, match="holds no pull with a predicted load"):
        book.plot()


def test_logs_of_a_command_and_of_python_are_one_table(joint, expected, logs, tmp_path):
    header, *rows = logs[1].read_text().splitlines()
    copy = tmp_path / "copy.csv"
    copy.write_text("\n".join([header, *rows]) + "\n")
    one = fejoint.match(joint, [logs[1]], expected=expected).matches[0]
    two = fejoint.match(joint, [copy], expected=expected).matches[0]
    assert one.log.digest == two.log.digest
    assert one.maximum == two.maximum
