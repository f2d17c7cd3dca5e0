"""Words that no command takes are answered in a line: what was read, what is allowed, the help."""

from __future__ import annotations

import pytest

from fejoint.cli.main import main


@pytest.mark.parametrize(("words", "said"), [
    ("pull a.toml b.toml", "b.toml: one word too many for `fejoint pull`"),
    ("pull", "CASE: is missing"),
    ("pull a.toml --out", "--out: is missing"),
    ("pull a.toml --refine fine", "--refine = fine: must be a number"),
    # a library's conversion rounds these to the next whole number without a word
    ("scatter a.toml --draws 2.5", "--draws = 2.5: must be a whole number"),
    ("scatter a.toml --seed 1e1", "--seed = 1e1: must be a whole number"),
    ("sweep a.toml --vary ear.hole=4:5:2 --samples 3.2", "--samples = 3.2: must be a whole"),
    ("sweep a.toml --vary ear.hole=4:5:2 --most 3.2", "--most = 3.2: must be a whole number"),
    ("scatter a.toml --workers 1.5", "--workers = 1.5: must be a whole number"),
    ("pin-range a.toml --points 4.5", "--points = 4.5: must be a whole number"),
    ("book b.sqlite --strike 1.9", "--strike = 1.9: must be a whole number"),
    ("match a.toml l.csv --hold-out 1.5", "--hold-out = 1.5: must be a whole number"),
    ("check --jobs 1.5", "--jobs = 1.5: must be a whole number"),
    ("page --port 80.5", "--port = 80.5: must be a whole number"),
    ("solid a.toml --ear 1.2", "--ear = 1.2: must be a whole number"),
])  # fmt: skip
def test_a_word_too_many_one_missing_or_no_number(words: str, said: str, capsys):
    assert main(words.split()) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(f"fejoint: {said}")
    assert err.count("\n") == 1
    command = words.split(maxsplit=1)[0]
    assert f"`fejoint {command} --help`" in err
