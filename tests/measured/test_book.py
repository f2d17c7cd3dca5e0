from __future__ import annotations

import sqlite3
from concurrent.futures import ThreadPoolExecutor
from threading import Thread

import numpy as np
import pytest

from fejoint.cli.main import main
from fejoint.errors import BadInput
from fejoint.measured import failure_modes, plots, results_book
from fejoint.measured.results_book import Entry
from fejoint.output.pictures import theme as look


def entry(measured, predicted=8000.0, seen="hole elongation", measure="peak"):
    return Entry("anchor", "s", measure, measured, predicted, "hole elongation", seen, "invented")


def test_what_is_written_is_read_again(joint, tmp_path):
    path = tmp_path / "book.sqlite"
    results_book.add(path, joint, [entry(8100.0), entry(7900.0, predicted=None)])
    results_book.add(path, joint, [entry(9000.0)])
    found = results_book.entries(path)
    assert [e.measured for e in found] == [8100.0, 7900.0, 9000.0]
    assert [e.number for e in found] == [1, 2, 3]
    assert found[1].predicted is None
    results_book.strike(path, 2)
    assert [e.number for e in results_book.entries(path)] == [1, 3]
    with pytest.raises(BadInput, match="no number"):
        results_book.strike(path, 2)


def test_the_case_is_kept_with_the_pull(joint, tmp_path):
    import json

    from fejoint.joint.model import Joint

    path = tmp_path / "book.sqlite"
    results_book.add(path, joint, [entry(8100.0)])
    with sqlite3.connect(path) as connection:
        (text,) = connection.execute("SELECT case_json FROM pulls").fetchone()
    assert Joint.from_dict(json.loads(text)) == joint


def test_several_writers_lose_nothing(joint, tmp_path):
    path = tmp_path / "book.sqlite"
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda k: results_book.add(path, joint, [entry(8000.0 + k)]), range(24)))
    assert sorted(e.measured for e in results_book.entries(path)) == [8000.0 + k for k in range(24)]


def test_a_book_made_by_another_writer_just_now_is_a_book(joint, tmp_path, monkeypatch):
    """The other begins between this one's look at the file and its own making of the table."""
    path = tmp_path / "book.sqlite"
    look, others = results_book._columns, []

    def columns(connection):
        found = look(connection)
        if not others:
            others.append(Thread(target=results_book.add, args=(path, joint, [entry(9000.0)])))
            others[0].start()
            others[0].join(0.3)  # it ends in this time if nothing holds it
        return found

    monkeypatch.setattr(results_book, "_columns", columns)
    results_book.add(path, joint, [entry(8000.0)])
    others[0].join()
    assert [e.measured for e in results_book.entries(path)] == [8000.0, 9000.0]


@pytest.mark.parametrize("content", [b"not a book", b"SQLite format 3\0" + bytes(200)])
def test_a_file_that_is_no_book_is_refused(content, joint, tmp_path):
    path = tmp_path / "book.sqlite"
    path.write_bytes(content)
    with pytest.raises(BadInput, match="no results book"):
        results_book.entries(path)
    assert path.read_bytes() == content


def test_a_missing_book_is_not_made_by_looking(tmp_path):
    with pytest.raises(BadInput, match="not there"):
        results_book.entries(tmp_path / "book.sqlite")
    assert not (tmp_path / "book.sqlite").exists()


def test_the_band_holds_the_next_pull_as_often_as_it_says():
    rng = np.random.default_rng(5)
    inside = 0
    for _ in range(400):
        loads = 8000.0 * np.exp(rng.normal(0.03, 0.06, 9))
        judged = results_book.judge([entry(x) for x in loads[:-1]], "peak")
        inside += judged.band[0] <= loads[-1] / 8000.0 <= judged.band[1]
    assert 360 <= inside <= 396


def test_modes_are_judged():
    judged = results_book.judge(
        [entry(8000.0), entry(8000.0, seen="pin bending"), entry(1.0, seen="")], "peak"
    )
    assert (judged.modes_right, judged.modes_seen) == (1, 2)
    assert results_book.judge([entry(1.0, predicted=None)], "peak") is None


@pytest.mark.parametrize(
    ("words", "mode"),
    [("hole stretched", "hole elongation"), ("Pin  bent", "pin bending"),
     ("pin sheared", "pin shear"), ("end torn", "end tear-out"), ("net section", "net section")],
)  # fmt: skip
def test_a_makers_words_are_understood(words, mode):
    assert failure_modes.seen(words) == mode


def test_words_that_mean_nothing_get_a_hint():
    with pytest.raises(BadInput, match="did you mean pin bent"):
        failure_modes.seen("pin bnet")


def test_what_was_seen_is_judged_by_the_verdict(expected):
    assert "as predicted first" in failure_modes.judged("hole elongation", expected.answer)
    assert "not predicted" in failure_modes.judged("net section", expected.answer)
    assert "but after" in failure_modes.judged("pin bending", expected.answer)


def test_parity_is_drawn():
    rng = np.random.default_rng(2)
    pulls = [entry(8000.0 * np.exp(rng.normal(0.0, 0.05))) for _ in range(6)]
    text = look.encoded(plots.parity(pulls, title="all of them"), "svg", 900).decode()
    assert "where the next pull should lie" in text
    assert "all of them" in text


def test_a_parity_band_ends_with_the_loads_that_were_pulled():
    pulls = [entry(1.0), sample("a", 9000.0, predicted=5000.0), sample("b", 1.0, predicted=None)]
    low, high = plots.band_span(pulls)
    assert (low, high) == (0.97 * 5000.0, 1.03 * 8000.0)


def sample(digest, measured, predicted=8000.0, **more):
    return Entry(
        "anchor", "s", "peak", measured, predicted, "hole elongation", data_digest=digest, **more
    )


def test_a_sample_entered_again_replaces_itself(joint, tmp_path):
    path = tmp_path / "book.sqlite"
    for k in range(7):
        results_book.add(path, joint, [sample("a", 8100.0 + k)])
    assert [e.measured for e in results_book.entries(path)] == [8106.0]
    assert results_book.add(path, joint, [sample("a", 8200.0), sample("b", 7900.0)]) == 1
    judged = results_book.judge(results_book.entries(path), "peak")
    assert (judged.count, judged.band) == (2, None)


def test_a_sample_with_another_joint_counts_once_by_its_first_prediction(joint, tmp_path):
    from dataclasses import replace

    path = tmp_path / "book.sqlite"
    results_book.add(path, joint, [sample("a", 8400.0)])
    results_book.add(path, replace(joint, friction=0.3), [sample("a", 8400.0, 8400.0)])
    results_book.add(path, replace(joint, title="the same"), [sample("a", 8400.0)])
    pulls = results_book.entries(path)
    assert len(pulls) == 2
    judged = results_book.judge(pulls, "peak")
    assert judged.count == 1
    assert judged.ratio == pytest.approx(1.05)


def test_samples_that_a_metal_was_learned_from_are_marked_and_not_judged(joint, tmp_path):
    from dataclasses import replace

    path = tmp_path / "book.sqlite"
    results_book.add(path, joint, [sample("a", 8400.0, learned=True), sample("b", 8080.0)])
    results_book.add(path, replace(joint, friction=0.3), [sample("a", 8400.0)])
    pulls = results_book.entries(path)
    assert [e.learned for e in pulls] == [True, False, True]
    judged = results_book.judge(pulls, "peak")
    assert (judged.count, judged.learned_from) == (1, 1)
    assert judged.ratio == pytest.approx(1.01)
    assert "a metal was learned from them" in judged.sentence()


@pytest.mark.parametrize("load", ["9e999", "-9e999", "-5.0", "'heavy'"])
@pytest.mark.parametrize("column", ["measured_N", "predicted_N"])
def test_an_edited_book_is_refused_in_a_line_that_names_the_pull(load, column, joint, tmp_path):
    path = tmp_path / "book.sqlite"
    results_book.add(path, joint, [sample("a", 8400.0), sample("b", 8080.0)])
    with sqlite3.connect(path) as connection:
        connection.execute(f"UPDATE pulls SET {column} = {load} WHERE number = 2")
    with pytest.raises(BadInput, match=rf"pull 2, {column}.*is no load above 0.*--strike 2"):
        results_book.entries(path)
    results_book.strike(path, 2)
    assert len(results_book.entries(path)) == 1


def test_a_load_that_is_none_is_not_written(joint, tmp_path):
    path = tmp_path / "book.sqlite"
    with pytest.raises(BadInput, match="is no load above 0"):
        results_book.add(path, joint, [sample("a", 8400.0), sample("b", float("nan"))])
    assert not path.exists()


def test_a_torn_book_is_refused_in_a_line(joint, tmp_path):
    path = tmp_path / "book.sqlite"
    results_book.add(path, joint, [sample(str(k), 8000.0 + k, note="x" * 4000) for k in range(40)])
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with pytest.raises(BadInput, match="is no results book") as told:
        results_book.entries(path)
    assert "\n" not in str(told.value)


def test_a_book_of_an_earlier_version_is_read(joint, tmp_path):
    path = tmp_path / "book.sqlite"
    results_book.add(path, joint, [sample("a", 8400.0)])
    with sqlite3.connect(path) as connection:
        for name in ("data_digest", "joint_digest", "learned", "sealed", "row_digest"):
            connection.execute(f"ALTER TABLE pulls DROP COLUMN {name}")
    (pull,) = results_book.entries(path)
    assert (pull.data_digest, pull.learned, pull.sealed) == ("", False, "")


@pytest.mark.parametrize(
    "change",
    ["measured_N = 10 * measured_N", "predicted_N = NULL", "learned = 1 - learned",
     "seen_mode = 'pin shear'", "title = ''", "case_json = '{}'", "data_digest = 'c'"],
)  # fmt: skip
def test_a_row_that_was_changed_is_told_and_can_be_struck(change, joint, tmp_path):
    path = tmp_path / "book.sqlite"
    results_book.add(path, joint, [sample("a", 8400.0, learned=True), sample("b", 8080.0)])
    results_book.add(path, joint.replace("fit.friction", 0.3), [sample("a", 8400.0)])
    assert len(results_book.entries(path)) == 3
    with sqlite3.connect(path) as connection:
        connection.execute(f"UPDATE pulls SET {change} WHERE number = 2")
    with pytest.raises(BadInput, match=r"pull 2: was changed after it was entered.*--strike 2"):
        results_book.entries(path)
    results_book.strike(path, 2)
    assert len(results_book.entries(path)) == 2


@pytest.mark.parametrize("number", [10**18, 10**30, -(10**5000), 2**63], ids=["a", "b", "c", "d"])
def test_a_number_that_no_book_holds_is_told(number, joint, tmp_path):
    path = tmp_path / "book.sqlite"
    results_book.add(path, joint, [sample("a", 8400.0)])
    with pytest.raises(BadInput, match="is no number in the book") as told:
        results_book.strike(path, number)
    assert len(str(told.value)) < 300


@pytest.mark.parametrize("look", [results_book.entries, lambda p: results_book.strike(p, 1)])
@pytest.mark.parametrize("content", ["empty", "another"])
def test_looking_makes_no_book_of_another_file(look, content, tmp_path):
    path = tmp_path / "rows.sqlite"
    path.touch()
    if content == "another":
        with sqlite3.connect(path) as connection:
            connection.execute("CREATE TABLE found (key)")
    before = path.read_bytes()
    with pytest.raises(BadInput, match="is no results book"):
        look(path)
    assert path.read_bytes() == before


def test_no_book_is_begun_in_another_program_s_file(joint, tmp_path):
    path = tmp_path / "rows.sqlite"
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE found (key)")
    before = path.read_bytes()
    with pytest.raises(BadInput, match="is no results book"):
        results_book.add(path, joint, [sample("a", 8400.0)])
    assert path.read_bytes() == before


@pytest.mark.parametrize("column", ["title", "note", "seen_mode", "written"])
def test_bytes_in_place_of_a_text_are_told(column, joint, tmp_path):
    path = tmp_path / "book.sqlite"
    results_book.add(path, joint, [sample("a", 8400.0)])
    with sqlite3.connect(path) as connection:
        connection.execute(f"UPDATE pulls SET {column} = x'00ff', row_digest = ''")
    with pytest.raises(BadInput, match=r"pull 1, .* must be text; .*--strike 1"):
        results_book.entries(path)


def test_a_judgement_of_loads_far_apart_is_written_as_numbers(joint, tmp_path, capsys):
    import json

    path = tmp_path / "book.sqlite"
    far = [sample("a", 1e-3), sample("b", 1e12), sample("c", 1e-3), sample("d", 1e12)]
    results_book.add(path, joint, far)
    assert main(["book", str(path), "--json"]) == 0

    def refuse(word):
        raise AssertionError(word)

    told = json.loads(capsys.readouterr().out, parse_constant=refuse)
    assert told["judged"][0]["count"] == 4
