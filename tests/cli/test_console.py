"""Nothing that a file holds reaches the terminal as a command; what is shown fits the window."""

from __future__ import annotations

import ast
import json
import os
import sys
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support import DEMO
from support.pulled import quick_answer

import fejoint
import fejoint.cli
from fejoint.analysis import pull as analysis
from fejoint.analysis.cautions import IN_A_LINE
from fejoint.cli import console
from fejoint.cli.main import main
from fejoint.cli.pull import event_lines, show
from fejoint.inputs.units import figures

HOSTILE = {
    "colour": ("\x1b[31mred\x1b[0m", "red"),
    "cursor": ("a\x1b[2J\x1b[1;1Hb", "ab"),
    "eight-bit": ("a\x9b31mb", "ab"),
    "title of the window": ("a\x1b]0;owned\x07b", "ab"),
    "string ended by ST": ("a\x1bPq#0\x1b\\b", "ab"),
    "string without end": ("a\x1b]52;c;aGk=", "a"),
    "cut short": ("a\x1b[", "a"),
    "lone escape": ("a\x1bcb", "ab"),
    "bell and backspace": ("pass\x08\x08\x08\x08FAIL\x07", "passFAIL"),
    "C1": ("a\x84b\x8dc", "abc"),
    "line ends": ("one\r\ntwo\x0bthree\x85four\u2028five", "one two three four five"),
    "override": ("a\u202egpj.exe", "agpj.exe"),
    "isolate": ("\u2066a\u2069\u200f\u061c", "a"),
    "invisible": ("a\u200bb\ufeff", "ab"),
    "surrogate": ("a\ud800b", "ab"),
    "kept": ("Öse 4 mm², 30°, Ø 5 – 日本", "Öse 4 mm², 30°, Ø 5 – 日本"),
}


@pytest.fixture
def screen(monkeypatch):
    """Standard output says that it is a terminal of so many columns."""

    def begin(columns: int) -> None:
        monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
        monkeypatch.setenv("COLUMNS", str(columns))

    return begin


@pytest.mark.parametrize("what", HOSTILE)
def test_what_a_terminal_obeys_is_taken_out(what, capsys):
    text, left = HOSTILE[what]
    assert console.plain(text) == left
    console.say(text)
    console.say_pairs(text, [(text, text)])
    console.say_table(("head",), [(text,)], left=("head",))
    console.warn(text)
    console.wrote(text)
    out, err = capsys.readouterr()
    for line in (out + err).splitlines():
        assert line.isprintable()
        assert left.split()[0] in line or line in ("head", "")


@given(st.text())
def test_no_text_passes_as_a_control_or_invisible_character(text):
    shown = console.plain(text)
    assert not {unicodedata.category(c) for c in shown} & {"Cc", "Cf", "Cs", "Zl", "Zp"}
    assert console.plain(shown) == shown


@given(st.text())
def test_json_keeps_the_text_and_shows_no_control_character(text):
    shown: list[str] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("builtins.print", shown.append)
        console.say_json({"text": text})
    assert json.loads(shown[0]) == {"text": text}
    assert all(line.isprintable() for line in shown[0].split("\n"))


def test_a_hostile_title_and_metal_reach_no_terminal(tmp_path, capsys, monkeypatch):
    case = tmp_path / "case.toml"
    case.write_text(DEMO.read_text(encoding="utf-8"))
    answer = quick_answer()

    def pull(joint, **_):
        # as a joint made in Python may be: a case file with such a title is refused
        object.__setattr__(joint, "title", "a\x1b[31mb\u202ec\nd")
        object.__setattr__(joint, "assumptions", ("\x1b]0;x\x07assumed",))
        return type(answer)(**{**vars(answer), "joint": joint, "warnings": ("\x9b2Jnote",)})

    monkeypatch.setattr(analysis, "pull", pull)
    words = ["pull", str(case), "--no-pictures", "--out", str(tmp_path / "out")]
    for more in ([], ["--json"]):
        assert main([*words, *more]) == 0
        out, err = capsys.readouterr()
        assert all(line.isprintable() for line in (out + err).splitlines())
        assert "\x1b" not in out + err
    assert main(words) == 0
    assert capsys.readouterr().out.splitlines()[0] == "abc d"


def test_commands_print_through_the_console_only():
    own = Path(fejoint.cli.__file__).parent
    for path in own.glob("*.py"):
        if path.name in ("console.py", "completion.py"):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            name = getattr(getattr(node, "func", None), "id", "")
            assert name != "print", f"{path.name}:{getattr(node, 'lineno', 0)}"


@pytest.mark.parametrize("columns", [20, 40, 60, 80, 120])
def test_an_answer_fits_the_window_and_no_number_is_cut(columns, screen, capsys):
    answer = quick_answer()
    screen(columns)
    show(answer, [])
    out = capsys.readouterr().out
    lines = [line.replace("\x1b[1m", "").replace("\x1b[0m", "") for line in out.splitlines()]
    assert max(map(len, lines)) <= max(columns, console.NARROWEST)
    assert "…" not in out
    for part in answer.verdict.order:
        for limit in (part.first, *part.later):
            assert figures(limit.load) in out


def test_what_decides_is_printed_before_what_explains_and_the_solver_last(capsys):
    answer = quick_answer()
    show(answer, [Path("out/answer.json")])
    lines = capsys.readouterr().out.splitlines()
    begins = (
        *(answer.joint.title, answer.verdict.sentence[:20], "member", IN_A_LINE, "note: "),
        *(*event_lines(answer), "wrote ", "The pull ended where "),
    )
    places = [next(k for k, line in enumerate(lines) if line.startswith(b)) for b in begins]
    assert places == sorted(places)
    assert places[-1] == len(lines) - 1
    assert lines.count(IN_A_LINE) == 1
    assert len(IN_A_LINE) < 80


@pytest.mark.parametrize("columns", [40, 60, 80, 120, 200])
def test_nothing_of_a_pull_is_wider_than_the_window(columns: int, screen, capsys):
    screen(columns)
    show(quick_answer(), [])
    lines = map(console.plain, capsys.readouterr().out.splitlines())
    assert max(map(len, lines)) <= columns


def test_a_wide_window_is_not_filled_beyond_what_is_read_well(screen, capsys):
    screen(1000)
    console.say("word " * 100)
    assert max(map(len, capsys.readouterr().out.splitlines())) <= console.WIDEST


def test_the_name_of_a_file_is_never_broken(screen, capsys):
    screen(40)
    path = "/".join(["a folder of a long name"] * 5)
    console.wrote(path)
    assert capsys.readouterr().out == f"wrote {path}\n"


def test_a_table_that_does_not_fit_is_told_row_by_row(screen, capsys):
    screen(40)
    heads = ("part", "load, N", "meaning", "by hand")
    row = ("pin", "12,345", "word-of-twenty-4-letters", "")
    console.say_table(heads, [row, row], left=("part", "meaning"))
    told = "part: pin\nload, N: 12,345\nmeaning: word-of-twenty-4-letters\n"
    assert capsys.readouterr().out == f"{told}\n{told}"


def test_progress_never_begins_a_second_line(monkeypatch, capsys):
    monkeypatch.setattr(os, "get_terminal_size", lambda *_: os.terminal_size((80, 24)))
    monkeypatch.setenv("COLUMNS", "80")
    console.progress_line("x" * 300)
    assert len(capsys.readouterr().err.replace("\r\x1b[2K", "")) == 79


@pytest.mark.parametrize(("count", "whose"), [(2, "ears"), (1, "ear")])
def test_what_was_not_reached_says_whose_it_is(count: int, whose: str):
    """The pin's disc and the shank may have yielded where ears and the bent pin have not."""
    joint = fejoint.load(DEMO).replace("ear.count", count).replace("pull.stop_load", "50 N")
    (line,) = (x for x in event_lines(fejoint.pull(joint, refine=0.35)) if "not reached" in x)
    for event in (f"{whose}: first yield", f"{whose}: offset load", "pin: first yield in bending"):
        assert event in line
