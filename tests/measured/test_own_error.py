"""A workshop's own pulls as the model's error: from five joints on, and where they are surer."""

from __future__ import annotations

import math

import pytest

import fejoint
from fejoint.analysis import model_error
from fejoint.analysis.joint_odds import surer
from fejoint.analysis.pull import pull
from fejoint.cli.main import main
from fejoint.measured import own_error, results_book
from fejoint.measured.results_book import Entry

RATIOS = (1.02, 1.05, 1.03, 1.06, 1.04, 1.05)


def fill(path, joint, count, ratios=RATIOS, measure="offset load", samples=2):
    """Write a book of so many joints, each pulled so many times."""
    for k in range(count):
        other = joint.replace("ear.width", f"{14 + k} mm")
        rows = [
            Entry("t", f"s{n}", measure, 8000.0 * ratios[k] * (1.0 + 0.02 * n), 8000.0, "m",
                  data_digest=f"{k}/{n}")
            for n in range(samples)
        ]  # fmt: skip
        results_book.add(path, other, rows)


@pytest.fixture
def book(tmp_path):
    return tmp_path / "pulls.sqlite"


def test_a_book_of_four_joints_narrows_nothing(joint, book):
    fill(book, joint, 4, samples=9)
    assert own_error.of_book(book) == {}


def test_five_joints_tell_bias_and_spread_a_joint_counting_once(joint, book):
    fill(book, joint, 5)
    (found,) = own_error.of_book(book).values()
    errors = [0.5 * (math.log(1 / r) + math.log(1 / (1.02 * r))) for r in RATIOS[:5]]
    mean = sum(errors) / 5
    spread = math.sqrt(sum((e - mean) ** 2 for e in errors) / 4)
    assert (found.kind, found.basis, found.rows, found.groups) == (
        "hole stretches", "own pulls", 10, 5,
    )  # fmt: skip
    assert found.shift == pytest.approx(mean)
    # Student's t of 4 degrees at 95 % is 2.132
    assert found.deviation == pytest.approx(2.132 / 1.645 * spread * math.sqrt(1.2), rel=1e-3)


def test_what_a_metal_was_learned_from_narrows_nothing(joint, book):
    fill(book, joint, 5)
    learned = Entry("t", "s", "offset load", 8000.0, 8000.0, "m", data_digest="0/0", learned=True)
    results_book.add(book, joint, [learned])  # marks the sample wherever it stands
    ((_, found),) = own_error.of_book(book).items()
    assert found.rows == 9


def test_the_surer_of_the_two_is_taken(joint, book):
    fill(book, joint, 6)
    own = own_error.of_book(book)
    taken = model_error.of("hole elongation", "offset load", own)
    assert taken.basis == "own pulls"
    assert model_error.of("pin bending", "hinge", own).basis == "finer model"
    wild = book.with_name("wild.sqlite")
    fill(wild, joint, 6, ratios=(0.7, 1.4, 0.8, 1.3, 1.0, 1.1))
    found = model_error.of("hole elongation", "offset load", own_error.of_book(wild))
    assert found.basis == "tests"


def test_an_answer_s_band_is_narrowed_and_says_by_what(joint, book):
    fill(book, joint, 6)
    answer = pull(joint, refine=0.35)
    usual, own = surer(answer), surer(answer, own_error.of_book(book))
    assert usual.odds is not None
    assert own.odds is not None
    first, second = usual.odds.bands[0], own.odds.bands[0]
    assert math.log(second.high / second.low) < 0.95 * math.log(first.high / first.low)
    assert second.load == first.load
    assert second.median > first.median  # the pulls bore 4 % more than predicted
    assert "12 own pulls of 6 joints in the book" in own.odds.matters
    assert "own pulls" not in usual.odds.matters


def test_pull_takes_a_book_and_says_where_it_is_too_thin(joint, book, tmp_path, capsys):
    case = tmp_path / "case.toml"
    case.write_text(joint.to_toml())
    words = ["pull", str(case), "--no-pictures", "--refine", "0.35", "--out", str(tmp_path / "o")]
    fill(book, joint, 3)
    assert main([*words, "--book", str(book)]) == 0
    assert "fewer than 5 joints" in capsys.readouterr().err
    fill(book, fejoint.load(joint.to_dict()), 6)
    assert main([*words, "--book", str(book)]) == 0
    assert "own pulls of 6 joints in the book" in " ".join(capsys.readouterr().out.split())
    assert main([*words, "--book", str(tmp_path / "nowhere.sqlite")]) == 2
