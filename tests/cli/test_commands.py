"""Each command stands in the table once, in a module of its own that is imported when wanted."""

from __future__ import annotations

import importlib
import inspect
import subprocess
import sys
from pathlib import Path

import pytest

import fejoint.cli
from fejoint.cli.main import COMMANDS, app, main

NOT_COMMANDS = {
    "__init__", "case_source", "console", "failures", "interrupt", "main", "options", "usage",
}  # fmt: skip


def function(name: str):
    module = name.replace("-", "_")
    return getattr(importlib.import_module(f"fejoint.cli.{module}"), module)


def test_every_command_has_its_module_and_every_module_is_a_command():
    files = {path.stem for path in Path(fejoint.cli.__file__).parent.glob("*.py")}
    assert files - NOT_COMMANDS == {name.replace("-", "_") for name in COMMANDS}


@pytest.mark.parametrize("name", COMMANDS)
def test_the_table_s_summary_is_the_command_s_own(name):
    first = inspect.cleandoc(function(name).__doc__).split("\n\n")[0]
    assert " ".join(first.split()) == COMMANDS[name]


@pytest.mark.parametrize("name", COMMANDS)
def test_the_help_of_a_command_shows_its_summary(name, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    assert main([name, "--help"]) == 0
    assert COMMANDS[name] in capsys.readouterr().out


@pytest.mark.parametrize("name", COMMANDS)
def test_the_words_of_every_option_are_a_sentence_that_stands_alone(name):
    arguments = app[name].assemble_argument_collection(parse_docstring=True)
    for argument in arguments:
        if argument.show:
            words = argument.parameter.help or ""
            assert words[:1].isupper(), (argument.name, words)
            assert words.endswith("."), (argument.name, words)
            assert len(words.split()) >= 3, (argument.name, words)
            assert not words.startswith(("Of ", "Its ", "So ")), (argument.name, words)


def test_words_flow_over_the_ends_of_lines_in_the_source(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    assert main(["hardness", "--help"]) == 0
    assert "only carbon and low-alloy steel converts." in capsys.readouterr().out


def test_the_root_s_help_imports_no_command():
    code = (
        "import sys; from fejoint.cli.main import main; main(['--help']);"
        "from fejoint.cli.main import COMMANDS;"
        "own = {'fejoint.cli.' + name.replace('-', '_') for name in COMMANDS};"
        "sys.exit(', '.join((own | {'numpy', 'fejoint.joint.reader'}) & set(sys.modules)) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("name", COMMANDS)
def test_the_help_of_a_command_imports_no_solver(name):
    code = (
        f"import sys; from fejoint.cli.main import main; main([{name!r}, '--help']);"
        "heavy = {'gmsh', 'skfem', 'numba', 'scipy', 'matplotlib', 'pandas'};"
        "sys.exit(', '.join(heavy & set(sys.modules)) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
