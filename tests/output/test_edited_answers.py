"""An answer that is not as it was written is never drawn as one."""

from __future__ import annotations

import copy
import json
import random

import pytest
from support.pulled import quick_answer

from fejoint.analysis.result import digest
from fejoint.cli.main import main
from fejoint.errors import BadInput
from fejoint.output import result_files


def mutant(plain, rng: random.Random):
    """Return an answer with a key dropped, a type changed or a number scaled, or None."""
    changed = copy.deepcopy(plain)
    at = changed
    while True:
        keys = list(at) if isinstance(at, dict) else range(len(at))
        if not keys:
            return None
        key = rng.choice(keys)
        inner = at[key]
        if not isinstance(inner, (dict, list)) or rng.random() < 0.3:
            break
        at = inner
    kind = rng.choice(["drop", "type", "scale"])
    if kind == "drop":
        del at[key]
    elif kind == "type":
        at[key] = rng.choice([None, "x", -1, [], {}, 1e300, True])
    elif isinstance(inner, (int, float)):
        at[key] = inner * rng.choice([10.0, -1.0, 1.0 + 1e-12])
    return changed


@pytest.mark.sampled
def test_no_mutant_of_an_answer_is_taken_for_one(tmp_path, draws, tally):
    rng, told, same = random.Random(25), 0, 0
    plain = json.loads(quick_answer().to_json())
    text = json.dumps(plain)
    file = tmp_path / "answer.json"
    for k in range(5 * draws(400)):
        if k % 3:
            changed = mutant(plain, rng)
            file.write_text(json.dumps(changed))
        elif rng.random() < 0.5:
            file.write_text(text[: rng.randrange(len(text))])
        else:
            raw = bytearray(text.encode())
            raw[rng.randrange(len(raw))] ^= 1 << rng.randrange(8)
            file.write_bytes(raw)
        lines: list[str] = []
        try:
            found = result_files.read_answer(file)
        except BadInput as bad:
            lines = str(bad).splitlines()
        else:
            same += 1
            assert digest(found) == digest(plain)
        told += len(lines)
        assert all(len(line) < 500 and line.isprintable() for line in lines)
    tally(f"{told} told in a line, {same} not changed in what they say")
    assert told + same == 5 * draws(400)
    assert told > 4 * same


def test_an_edited_load_is_told_and_nothing_is_drawn(tmp_path, capsys):
    plain = json.loads(quick_answer().to_json())
    plain["verdict"]["load_N"] *= 10.0
    (tmp_path / "answer.json").write_text(json.dumps(plain))
    for command in ("picture", "report"):
        assert main([command, str(tmp_path), "--out", str(tmp_path / "it.html")]) == 2
        said = capsys.readouterr().err
        assert "was changed after fejoint wrote it" in said
        assert len(said.splitlines()) == 1
    assert [p.name for p in tmp_path.iterdir()] == ["answer.json"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[" * 100_000, "is no JSON"),
        ('{"schema": "fejoint.answer/1", "case": {}}', "written by an older fejoint"),
        ('{"schema": {"a": 1}}', "must be an answer with schema"),
        ("\x00", "is no JSON"),
    ],
)
def test_a_strange_file_is_told_in_a_line(text, told, tmp_path):
    (tmp_path / "answer.json").write_text(text)
    with pytest.raises(BadInput, match=told) as caught:
        result_files.read_answer(tmp_path)
    assert str(caught.value).isprintable()
