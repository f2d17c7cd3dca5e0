"""Case files made to hurt: each ends in one line, within a second and in bounded memory."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from pathlib import Path

import pytest
from support.malformed_cases import GOOD

import fejoint
from fejoint.errors import BadInput, Fault, shorten
from fejoint.inputs import toml_syntax

SECOND = 1.0 if sys.gettrace() is None else 3.0
START_MEMORY = 80e6
"""Most that a refusal may add to the process, bytes."""


def _many(count: int, line: str) -> str:
    return "".join(line.format(k) for k in range(count))


TEXTS = {
    "a deep nest of lists": "title = " + "[" * 100_000 + "]" * 100_000,
    "a deep nest of tables": "title = " + "{a = " * 100_000 + "1" + "}" * 100_000,
    "a nest that the parser still takes": "[ear]\nwidth = " + "[" * 200 + "]" * 200,
    "a key of many words": "a." * 400_000 + "a = 1",
    "a table's name of many words": "[" + "a." * 400_000 + "a]",
    "quoted words in a key": '"a".' * 200_000 + "a = 1",
    "tables in a row of dotted words": "pin = {" + "a." * 400_000 + "a = 1}",
    "a number of too many digits": "[ear]\nwidth = " + "9" * 100_000,
    "ten to the power of 100,000": "[ear]\nwidth = 1" + "0" * 100_000 + ".0",
    "a hexadecimal number of too many digits": "[ear]\nwidth = 0x" + "f" * 100_000,
    "an exponent beyond floats": GOOD.replace('width = "14 mm"', "width = 1e999999", 1),
    "not a number": GOOD.replace('width = "14 mm"', "width = nan", 1),
    "minus infinity": GOOD.replace('width = "14 mm"', "width = -inf", 1),
    "a text of digits": f'[ear]\nwidth = "{"9" * 900_000} mm"',
    "a line of blanks": "a" + " " * 900_000 + "b",
    "a line of brackets": "[" * 900_000,
    "a line of words": "a " * 450_000,
    "a quoted line without an end": 'title = "' + "x" * 900_000,
    "many unknown keys": "[ear]\n" + _many(1900, "widht{} = 1\n"),
    "more keys than any case": "[ear]\n" + _many(60_000, "k{} = 1\n"),
    "many unknown tables": _many(60_000, "[t{}]\n"),
    "as many unknown tables as are read": _many(1900, "[tab{}]\n"),
    "indented tables": _many(80_000, " [ t{} ]\n"),
    "many short keys": _many(110_000, "{:x}=1\n"),
    "a list as long as a file": "a = [" + "1," * 490_000 + "]",
    "a list of a line an entry": "a = [" + "1,#\n" * 190_000 + "]",
    "lists in a list": "a = [" + "[]," * 330_000 + "]",
    "many ears": "[[ear]]\n" * 100_000,
    "many legs": GOOD.replace("[material", "[[pull.leg]]\n" * 60_000 + "[material", 1),
    "many metals": GOOD + _many(1500, '[material."m{}"]\n'),
    "a long list of faults": '[material.m]\nlaw = "table"\nstrain = [' + "nan, " * 150_000 + "]",
    "marks of direction": GOOD.replace('"round"', '"\u202eround\u202c"', 1),
    "a terminal's command": GOOD.replace('"round"', r'"\u001b[2Jround"', 1),
    "a nul in a word": GOOD.replace('"round"', r'"ro\u0000und"', 1),
    "a bare nul": GOOD.replace('"round"', '"ro\0und"', 1),
    "half a surrogate pair": GOOD.replace('"round"', r'"\ud800"', 1),
    "letters that look alike": GOOD.replace("width", "w\u0456dth", 1),
    "line ends of other kinds": GOOD.replace("\n", "\u2028"),
    "carriage returns alone": GOOD.replace("\n", "\r"),
}


def _is_readable(bad: BadInput) -> bool:
    lines = str(bad).split("\n")
    return len(lines) == len(bad.faults) > 0 and all(
        f.field and f.allowed and f.mend and line.isprintable() and len(line) < 800
        for f, line in zip(bad.faults, lines, strict=True)
    )


@pytest.fixture
def hostile(tmp_path):
    """Make what stands at the path of a case, by its name."""

    def make(what: str) -> Path:
        path = tmp_path / "case.toml"
        if what == "100 MB":
            with path.open("wb") as file:
                file.write(GOOD.encode())
                file.truncate(100_000_000)
        elif what == "a folder":
            path.mkdir()
        elif what == "a pipe":
            os.mkfifo(path)
        elif what == "a device":
            return Path("/dev/zero")
        elif what == "a file that tells no size":
            return Path("/proc/kallsyms")
        elif what == "a name of no file":
            return tmp_path / "a\0b"
        elif what == "a name too long":
            return tmp_path / ("x" * 5000)
        else:
            path.write_bytes(TEXTS[what].encode("utf-8"))
        return path

    return make


PLACES = [
    "100 MB",
    "a folder",
    "a pipe",
    "a device",
    "a file that tells no size",
    "a name of no file",
    "a name too long",
]


@pytest.mark.parametrize("what", [*TEXTS, *PLACES])
def test_load_refuses_it_within_a_second_and_in_readable_lines(what, hostile):
    path = hostile(what)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    taken = []
    for _ in range(3):  # the least is the reading's own; a crowded machine adds to the others
        began = time.process_time()
        with pytest.raises(BadInput) as caught:
            fejoint.load(path)
        taken.append(time.process_time() - began)
        if taken[-1] < SECOND:
            break
    assert min(taken) < SECOND
    grown = 1024.0 * (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
    assert grown < START_MEMORY
    assert _is_readable(caught.value)


def _command(path: Path) -> tuple[subprocess.CompletedProcess[bytes], float]:
    """Run `fejoint pull` on a path; its seconds are those it was given the processor."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    words = [sys.executable, "-m", "fejoint.cli.main", "pull", str(path)]
    done = subprocess.run(words, capture_output=True, timeout=60.0, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return done, spent


@pytest.mark.parametrize("what", ["100 MB", "a folder", "a pipe", "a device"])
def test_the_command_refuses_a_place_in_one_line_with_code_2(what, hostile):
    done, spent = _command(hostile(what))
    assert done.returncode == 2
    assert len(done.stderr.decode().strip().splitlines()) == 1
    assert b"Traceback" not in done.stderr
    assert spent < 2.0 * SECOND  # a start of the interpreter and its packages among it


@pytest.mark.parametrize(
    "what", ["a deep nest of lists", "a number of too many digits", "a key of many words"]
)
def test_the_command_refuses_a_text_in_one_line_with_code_2(what, hostile):
    done, spent = _command(hostile(what))
    assert done.returncode == 2
    assert len(done.stderr.decode().strip().splitlines()) == 1
    assert spent < 2.0 * SECOND


def test_the_largest_file_is_not_read(hostile):
    path = hostile("100 MB")
    with pytest.raises(BadInput, match="over 1 MB"):
        fejoint.load(path)


@pytest.mark.parametrize("case", [None, 3, 2.5, object(), [GOOD], {1, 2}, GOOD.encode() + b"\0"])
def test_what_is_no_case_is_refused(case):
    with pytest.raises(BadInput) as caught:
        fejoint.load(case)
    assert _is_readable(caught.value)


def test_a_table_that_holds_itself_is_refused():
    table: dict = {"ear": {}}
    table["ear"]["ear"] = table
    with pytest.raises(BadInput, match="nested too deeply"):
        fejoint.load(table)


def test_a_fault_shows_what_a_terminal_would_obey():
    fault = Fault("ear.end", "\x1b[2J\u202e", "must be round", "change it")
    assert str(fault) == r"ear.end = \x1b[2J\u202e: must be round; change it"


def test_a_number_of_too_many_digits_is_told_without_them():
    assert "digits" in shorten(16**10_000)


def test_prose_in_a_note_is_no_dotted_key():
    text = 'note = """\n' + "One. Two. Three words. " * 40 + '\n"""\n' + GOOD.partition("\n")[2]
    assert toml_syntax.parse_text(text.replace('note = "invented"\n', ""), "x")["ear"]
