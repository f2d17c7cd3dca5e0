"""Predictions sealed before the pull, and pulls judged by them."""

from __future__ import annotations

import json
import sqlite3

import pytest

import fejoint
from fejoint.cli.main import main
from fejoint.errors import BadInput
from fejoint.measured import evaluate, results_book, sealed


@pytest.fixture
def case(joint, tmp_path):
    path = tmp_path / "anchor.toml"
    path.write_text(joint.to_toml())
    return path


@pytest.fixture(autouse=True)
def solved_once(expected, monkeypatch):
    monkeypatch.setattr(evaluate, "expectation", lambda *_, **__: expected)


@pytest.fixture
def book(tmp_path):
    return tmp_path / "pulls.sqlite"


def test_what_is_sealed_comes_back_whole(expected, book):
    made, new = sealed.seal(book, expected)
    assert new
    (found,) = sealed.all_in(book)
    assert found == made
    assert found.name == made.digest[:12]
    assert found.offset == expected.offset.load
    assert found.content["case"] == expected.answer.joint.to_dict()
    assert {"versions", "settings", "written", "band_N", "odds"} <= set(found.content)
    assert found.content["versions"] == dict(expected.answer.versions)
    assert expected.answer.verdict.sentence in found.sentence()


def test_the_first_prediction_of_a_joint_stands(expected, book, monkeypatch):
    made, _ = sealed.seal(book, expected)
    monkeypatch.setattr(sealed, "content_of", lambda e: {"peak_N": 1.0})
    again, new = sealed.seal(book, expected)
    assert (again, new) == (made, False)
    assert len(sealed.all_in(book)) == 1


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE predictions SET content = replace(content, 'offset_N', 'offset_n')",
        "UPDATE predictions SET joint_digest = 'another'",
        "UPDATE predictions SET digest = 'another'",
    ],
)
def test_an_edit_after_sealing_shows(change, expected, book):
    sealed.seal(book, expected)
    with sqlite3.connect(book) as connection:
        connection.execute(change)
    with pytest.raises(BadInput, match="was changed after it was sealed"):
        sealed.all_in(book)


def test_a_book_without_predictions_has_none(joint, book):
    results_book.add(book, joint, [])
    assert sealed.all_in(book) == []
    assert sealed.of_joint(book, results_book.digest_of(joint)) is None
    assert sealed.of_joint(book.with_name("nowhere.sqlite"), "x") is None


def test_the_plan_seals_with_band_and_odds_and_the_match_judges_it(
    case, logs, expected, book, tmp_path, capsys, monkeypatch
):
    out = ["--book", str(book), "--out", str(tmp_path / "out")]
    assert main(["match", str(case), "--plan", *out]) == 0
    said = capsys.readouterr().out
    assert "sealed 20" in said
    (before,) = sealed.all_in(book)
    assert before.content["odds"]["first"] == expected.answer.verdict.first.member
    assert before.content["band_N"][0]["low_N"] < before.content["band_N"][0]["high_N"]
    # what would be predicted now is another thing: the pulls are judged by what was sealed
    later = json.loads(json.dumps(before.content)) | {"offset_N": 1234.5}
    monkeypatch.setattr(sealed, "of_joint", lambda *a: sealed.Sealed(before.digest, "x", later))
    assert main(["match", str(case), str(logs[0]), *out]) == 0
    assert f"judged by prediction {before.name}, sealed" in capsys.readouterr().out
    pulls = results_book.entries(book)
    assert {e.sealed for e in pulls} == {before.name}
    assert [e.predicted for e in pulls if e.measure == "offset load"] == [1234.5]
    assert main(["book", str(book)]) == 0
    assert "judged by it." in capsys.readouterr().out
    assert main(["book", str(book), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["sealed"][0]["digest"] == before.digest


def test_nothing_is_sealed_once_the_logs_are_read(case, logs, book, tmp_path, capsys):
    words = ["match", str(case), str(logs[0]), "--plan", "--book", str(book)]
    assert main([*words, "--out", str(tmp_path / "out")]) == 0
    assert "nothing sealed" in capsys.readouterr().out
    assert sealed.all_in(book) == []
    assert {e.sealed for e in results_book.entries(book)} == {""}


def test_another_joint_is_not_judged_by_it(joint, expected, book):
    sealed.seal(book, expected)
    other = fejoint.load(joint.to_dict()).replace("ear.hole", "4.3 mm")
    assert sealed.of_joint(book, results_book.digest_of(other)) is None
    renamed = fejoint.load(joint.to_dict() | {"title": "the same, by another name"})
    assert sealed.of_joint(book, results_book.digest_of(renamed)) is not None
