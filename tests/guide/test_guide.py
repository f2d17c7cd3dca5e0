"""The guide: its tables are the code's own; commands and snippets print what it shows.

FEJOINT_RENEW=1 writes the outputs anew into the pages.
"""

from __future__ import annotations

import contextlib
import doctest
import functools
import io
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from support import ROOT

import fejoint.guide as pages
from fejoint.analysis import definitions
from fejoint.cli.main import COMMANDS, main
from fejoint.errors import BadInput
from fejoint.joint import schema
from fejoint.system import resources

STRESS = os.environ.get("FEJOINT_STRESS") == "1"
FOLDER = Path(pages.__file__).parent
BLOCK = re.compile(r"^```console( stress| solved)?\n(.*?)^```$", re.MULTILINE | re.DOTALL)
CASE = r"(?s)```toml\n(.*?)```"
"""The case that the page on drawings shows."""
TEXTS = {topic: (FOLDER / f"{topic}.md").read_text(encoding="utf-8") for topic in pages.TOPICS}
SESSIONS = [
    pytest.param(
        topic, k, marks=[pytest.mark.stress] if block[1] == " stress" else [], id=f"{topic}-{k}"
    )
    for topic, text in TEXTS.items()
    for k, block in enumerate(BLOCK.finditer(text))
]
WIDE = """\
[ear]
thickness = "2 mm"
width = "4 mm"
hole = "4.1 mm"
edge_distance = "7 mm"
grip_lenght = "25 mm"
material = "316 stripe, annealed"

[pin]
diameter = "4 N"
hardness = "48 HRC"

[shank]
thickness = "6 mm"
hole = "4.1 mm"
material = "A4-70 bolt shank"
"""


def test_every_page_stands_in_the_list_and_every_file_is_a_page():
    assert {path.stem for path in FOLDER.glob("*.md")} == set(pages.TOPICS)
    with pytest.raises(BadInput, match="did you mean case-file"):
        pages.page("case-flie")


def test_every_key_of_a_case_stands_in_the_page_with_its_range_and_default():
    rows = [line for line in pages.page("case-file").splitlines() if line.startswith("| `")]
    keys = schema.describe()
    assert [row.split("`")[1] for row in rows] == [key.name for key in keys]
    for row, key in zip(rows, keys, strict=True):
        assert ("**needed**" in row) == key.field.needed
        assert key.field.note in row
        assert all(f"`{word}`" in row for word in key.field.choices)
    width = next(row for row in rows if row.startswith("| `width`"))
    assert "0.2 to 2,000 mm" in width


def test_every_mode_and_event_stands_in_its_page():
    text = pages.page("modes")
    for d in definitions.DEFINITIONS:
        assert f"| {d.cause} | {d.read}: {d.threshold} |" in text
    for name in definitions.EVENT_TITLES:
        assert f"`{name}`" in text


def test_every_command_that_a_page_names_is_one():
    for topic, text in TEXTS.items():
        for word in re.findall(r"(?:^ {4}|^\$ |`)fejoint ([a-z-]+)", text, re.MULTILINE):
            assert word in COMMANDS, (topic, word)


@pytest.fixture
def place(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    resources.copy_demo(tmp_path / "anchor")
    (tmp_path / "wide.toml").write_text(WIDE)
    (tmp_path / "drawn.toml").write_text(re.search(CASE, TEXTS["drawings"])[1])
    return tmp_path


@pytest.mark.parametrize(("topic", "number"), SESSIONS)
def test_what_a_page_s_commands_print_is_what_it_shows(topic, number, place, capsys):
    block = list(BLOCK.finditer(TEXTS[topic]))[number]
    told = []
    for line in block[2].splitlines():
        if not line.startswith("$ "):
            continue
        words = shlex.split(line)[2:]
        if words[:1] == ["demo"]:
            words.append("--overwrite")
        main(words)
        said = capsys.readouterr()
        told += [line, *(said.out + said.err).rstrip().splitlines()]
    shown = "\n".join(told) + "\n"
    if os.environ.get("FEJOINT_RENEW") == "1":
        path = FOLDER / f"{topic}.md"
        path.write_text(path.read_text().replace(block[2], shown, 1), encoding="utf-8")
        return
    # every digit of a solve is for scripts/stress: another build of a library may move the last
    blank = block[1] == " solved" and not STRESS
    assert timeless(shown, numbers=not blank) == timeless(block[2], numbers=not blank)


def timeless(text: str, *, numbers: bool) -> str:
    """Take out what differs from run to run: seconds of solving, and all numbers if asked."""
    text = re.sub(r"[\d.,]+ (CPU )?(s|min)\b", "… s", text)
    return text if numbers else " ".join(re.sub(r"[\d.,]+", "#", text).split())


def test_every_option_that_a_page_names_is_one_of_the_command_s():
    for topic, text in TEXTS.items():
        for words in re.findall(r"(?:^\$ |`)(fejoint [a-z-]+[^`\n]*)", text, re.MULTILINE):
            command = words.split()[1]
            for option in re.findall(r"--[a-z][a-z-]*", words):
                assert option in options_of(command), (topic, command, option)
        anywhere = set().union(*map(options_of, COMMANDS))
        for option in re.findall(r"(?<![\w-])--[a-z][a-z-]*", text):
            assert option in anywhere, (topic, option)


@functools.cache
def options_of(command: str) -> frozenset[str]:
    """Return the options that a command's own help names."""
    with contextlib.redirect_stdout(io.StringIO()) as told:
        main([command, "--help"])
    return frozenset(re.findall(r"--[a-z][a-z-]*", told.getvalue()))


def test_a_command_stands_in_a_page_only_where_it_is_run():
    for topic, text in TEXTS.items():
        rest = re.sub(r"(?ms)^```.*?^```$", "", text)
        unrun = re.findall(r"^ {4}(?:fejoint|dask) .*", rest, re.MULTILINE)
        # three machines are started by tests of the scheduler, not by the guide's
        assert len(unrun) == (3 if topic == "machines" else 0), unrun


@pytest.mark.parametrize("topic", [t for t, text in TEXTS.items() if "```python" in text])
def test_a_page_s_snippets_run(topic, place):
    done = doctest.testfile(str(FOLDER / f"{topic}.md"), module_relative=False)
    assert done.attempted > 5
    assert done.failed == 0


def test_the_command_lists_and_shows_pages(capsys):
    assert main(["guide"]) == 0
    listed = capsys.readouterr().out
    assert all(topic in listed for topic in pages.TOPICS)
    assert main(["guide", "physics"]) == 0
    assert capsys.readouterr().out == pages.page("physics")
    assert main(["guide", "phisics"]) == 2


def test_the_guide_becomes_one_page_of_html(tmp_path):
    out = tmp_path / "guide.html"
    script = ROOT / "scripts" / "guide.py"
    subprocess.run([sys.executable, str(script), str(out), "--no-pictures"], check=True)
    text = out.read_text()
    for topic in pages.TOPICS:
        assert f'id="{topic}"' in text
    assert "<td><code>edge_distance</code></td>" in text
    assert 'src="http' not in text
