"""One word for one thing: what people read says none of the words that another stands for."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from support.pulled import quick_answer

import fejoint
from fejoint.analysis.definitions import EVENT_TITLES, MODES
from fejoint.output import pictures

ROOT = Path(fejoint.__file__).parent

SAY = {
    r"kept sag|keeps a bend|permanent bend": "bend left",
    r"hole elongation|hole's growth|hole grows": "hole stretches",
    r"load maximum|largest load|most to expect": "highest pull",
    r"permanent set": "load that leaves 2 %",
    r"ductility exhausted|ductility used": "stretch used up",
    r"closed form|handbook value": "by hand",
    r"tear-out(?! \()": "end tears out",
    r"taken for granted": "Assumed",
    r"how far to trust": "Check of the calculation",
    r"asked stop|column reused|face section from another": "(not shown)",
    r"95 % band|lies within [\d.]+ to": "should reach ... (19 in 20)",
    r"% apart with": "to see a ... % difference (9 times in 10)",
    r"Next, 0 %": "at about the same pull",
}
"""What is not said, and what is said instead."""

READ = (
    "cli/advise.py", "cli/blow.py", "cli/directions.py", "cli/match.py", "cli/pin_range.py",
    "cli/pull.py", "cli/scatter.py", "cli/sweep.py", "cli/used.py", "measured/report_lines.py",
    "measured/plots.py", "output/comparison_table.py", "output/report.py",
    "studies/directions_plot.py", "studies/pin_hardness/plot.py", "studies/used_plot.py",
    "studies/sweeps/plots.py", "studies/sweeps/maps.py",
)  # fmt: skip
"""Modules that write what people read; so do the templates and all pictures of an answer."""

KEYS = {*EVENT_TITLES, *MODES, "largest load reached"}
"""Names in files, by which the code asks for a thing."""


def texts_of(path: Path) -> Iterator[str]:
    """Give the strings of a module but for keys and docstrings; a command's is its help."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    silent = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and node.body:
            first = node.body[0]
            is_help = path.parent.name == "cli" and getattr(node, "name", "") == path.stem
            if isinstance(first, ast.Expr) and not is_help:
                silent.add(id(first.value))
        # a string that stands alone describes what is above it
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            if not any(node is f.body[0] for f in _bodies(tree)):
                silent.add(id(node.value))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            if id(node) not in silent and node.value not in KEYS:
                yield node.value


def _bodies(tree: ast.Module) -> Iterator[ast.FunctionDef]:
    return (n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef) and n.body)


def faults(text: str) -> list[str]:
    return [
        f"{found.group()!r}: say {instead}"
        for word, instead in SAY.items()
        for found in re.finditer(word, " ".join(text.split()), re.IGNORECASE)
    ]


@pytest.mark.parametrize("name", READ)
def test_modules_that_speak_to_people_use_the_words_of_the_table(name: str):
    said = [fault for text in texts_of(ROOT / name) for fault in faults(text)]
    assert said == []


@pytest.mark.parametrize("path", sorted((ROOT / "output/templates").glob("*.html")), ids=str)
def test_templates_use_the_words_of_the_table(path: Path):
    shown = re.sub(r"\{%.*?%\}|\{\{.*?\}\}|<style>.*?</style>", "", path.read_text(), flags=re.S)
    assert faults(re.sub(r"<[^>]*>", " ", shown)) == []


def test_pictures_use_the_words_of_the_table():
    from matplotlib.text import Text

    answer = quick_answer()
    for name, picture in pictures.table().items():
        if not picture.is_of(answer) or name == "relief":
            continue
        figure, _ = pictures.drawing_of(answer, name)
        said = [fault for text in figure.findobj(Text) for fault in faults(text.get_text())]
        assert said == [], name
        assert faults(f"{picture.label} {picture.caption}") == []


def test_words_that_the_table_bars_are_found():
    assert faults("the kept sag of the pin") == ["'kept sag': say bend left"]
    assert faults("broke at its Load\n maximum")
