"""What lies at the top of the repository, and what its scripts may name."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from support import ROOT

TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "fejoint", "cases", "tests", "scripts"}
SCRIPTS = sorted(
    path
    for path in [*ROOT.glob("scripts/*"), ROOT / ".ci/run"]
    if path.is_file() and path.read_bytes().startswith((b"#!/usr/bin/env bash", b"# Sourced"))
)
COMMANDS = (
    "scripts/demo",
    "scripts/test",
    "scripts/stress",
    "scripts/bench",
    "scripts/coverage",
    "scripts/prove_bare",
    ".ci/run",
)


def tracked() -> list[str]:
    """Names of the files under version control; skips where there is none."""
    listing = subprocess.run(
        ["git", "-C", str(ROOT), "ls-files"], capture_output=True, text=True, check=False
    )
    if listing.returncode != 0 or not listing.stdout:
        pytest.skip("not a git checkout")
    return listing.stdout.splitlines()


def test_top_level_holds_only_what_was_agreed():
    visible = {name.partition("/")[0] for name in tracked() if not name.startswith(".")}
    assert visible == TOP


def test_the_scripts_are_found():
    assert {ROOT / name for name in COMMANDS} < set(SCRIPTS)


def test_commands_are_executable():
    assert all((ROOT / name).stat().st_mode & 0o111 for name in COMMANDS)


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_script_parses(script):
    subprocess.run(["bash", "-n", str(script)], check=True)


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_script_names_no_index_host(script):
    # Indexes are whatever pip and apt are set up for; a document type is no address to fetch.
    assert not re.search(r"https?://|--(extra-)?index-url|--find-links", script.read_text())


def test_ci_runs_exactly_the_tests():
    last = (ROOT / ".ci/run").read_text().strip().splitlines()[-1]
    assert last.endswith("exec bash scripts/test")


def test_no_module_is_a_catch_all():
    names = {Path(name).stem for name in tracked() if name.endswith(".py")}
    assert not names & {"utils", "util", "helpers", "common", "misc", "base"}


def test_no_module_exceeds_400_lines():
    modules = [ROOT / name for name in tracked() if re.match(r"fejoint/.*\.py$", name)]
    long = [path.name for path in modules if len(path.read_text().splitlines()) > 400]
    assert long == []


def test_one_thing_draws_monotone_curves_and_one_finds_roots():
    others = re.compile(r"\b(Pchip\w*|Akima\w*|brent[qh]|bisect|ridder|toms748|root_scalar)\(")
    found = [
        f"{path.relative_to(ROOT)}: {call}"
        for path in (ROOT / "fejoint").rglob("*.py")
        for call in others.findall(path.read_text())
    ]
    assert found == []
