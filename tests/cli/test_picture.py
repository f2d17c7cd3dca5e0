"""`fejoint picture` and `fejoint report` draw a stored answer, and refuse before they solve."""

from __future__ import annotations

import matplotlib.image
import pytest
from support.pulled import quick_answer

from fejoint.cli.main import main
from fejoint.output import result_files
from fejoint.output.pictures import film as animation


@pytest.fixture(scope="module")
def stored(tmp_path_factory):
    folder = tmp_path_factory.mktemp("stored")
    result_files.write_answer(quick_answer(), folder / "answer.json")
    return folder


@pytest.fixture
def solves(monkeypatch):
    """Count how often a stored case is solved again, and spare it."""
    count = []

    def again(stored):
        count.append(stored)
        return quick_answer()

    monkeypatch.setattr(result_files, "solve_again", again)
    return count


def test_a_curve_is_drawn_beside_its_answer_without_a_solve(stored, solves, capsys):
    assert main(["picture", str(stored / "answer.json"), "--what", "curve"]) == 0
    path = stored / "curve.png"
    assert capsys.readouterr().out == f"wrote {path}\n"
    assert path.stat().st_size > 10_000
    assert solves == []


def test_a_picture_has_the_pixels_asked_for(stored, tmp_path, capsys):
    out = tmp_path / "it.png"
    words = ["picture", str(stored), "--what", "limits", "--size", "900 x 500", "--out", str(out)]
    assert main([*words, "--theme", "dark"]) == 0
    assert matplotlib.image.imread(out).shape[:2] == (500, 900)


@pytest.mark.parametrize(("width", "wide"), [("80 mm", 945), ("170 mm", 2008), ("8 cm", 945)])
def test_a_width_in_print_lays_the_picture_out_for_it(width, wide, stored, tmp_path):
    out = tmp_path / "it.png"
    words = ["picture", str(stored), "--what", "curve", "--width", width, "--out", str(out)]
    assert main(words) == 0
    high, across = matplotlib.image.imread(out).shape[:2]
    assert across == wide
    # two panels side by side on a page, under each other on a column
    assert (high > across) is (across < 1000)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--width", "wide"], "--width"),
        (["--width", "8 mm"], "60 and 400 mm"),
        (["--width", "80 mm", "--size", "900x500"], "cannot stand beside --width"),
        (["--width", "80 mm", "--what", "film"], "is not for films"),
    ],
)
def test_a_width_that_cannot_be_is_refused(words, said, stored, solves, capsys):
    given = words if "--what" in words else [*words, "--what", "limits"]
    assert main(["picture", str(stored), *given]) == 2
    assert said in capsys.readouterr().err
    assert solves == []


def test_a_film_is_webp_too(stored, solves, tmp_path, monkeypatch):
    monkeypatch.setattr(animation, "FRAMES", 3)
    out = tmp_path / "it.webp"
    words = ["picture", str(stored), "--what", "film", "--size", "300x300", "--out", str(out)]
    assert main(words) == 0
    assert out.read_bytes()[8:12] == b"WEBP"


def test_a_film_solves_its_case_once(stored, solves, tmp_path, monkeypatch):
    drawn = []

    def film(live, path, *, size=(960, 540), theme="print"):
        drawn.append((live, size, theme))
        return path

    monkeypatch.setattr(animation, "film", film)
    words = ["picture", str(stored), "--what", "film", "--out", str(tmp_path / "it.gif")]
    assert main([*words, "--size", "320x200", "--theme", "dark"]) == 0
    assert main(words) == 0
    assert len(solves) == 2
    assert drawn[0] == (quick_answer(), (320, 200), "dark")
    assert drawn[1] == (quick_answer(), (960, 540), "print")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--what", "portrait"], "must be one of"),
        (["--what", "film", "--size", "big"], "like 1600x1000"),
        (["--what", "film", "--size", "99999x10"], "at most 8000"),
        (["--what", "film", "--out", "it.png"], ".gif"),
        (["--what", "curve", "--out", "it.gif"], ".png"),
    ],
)
def test_what_cannot_be_drawn_is_refused_before_the_solve(words, said, stored, solves, capsys):
    assert main(["picture", str(stored), *words]) == 2
    assert said in capsys.readouterr().err
    assert solves == []


def test_a_report_sets_two_answers_side_by_side(stored, solves, tmp_path, capsys):
    out = tmp_path / "new" / "pair.html"
    assert main(["report", str(stored), str(stored / "answer.json"), "--out", str(out)]) == 0
    assert out.read_text(encoding="utf-8").count(quick_answer().joint.title) >= 2
    assert str(out) in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "said"),
    [([], "at least one"), (["nowhere"], "nowhere"), (["STORED", "--out", "it.docx"], ".html")],
)
def test_a_report_of_nothing_or_into_nothing_is_refused(words, said, stored, solves, capsys):
    assert main(["report", *(str(stored) if w == "STORED" else w for w in words)]) == 2
    assert said in capsys.readouterr().err
    assert solves == []
