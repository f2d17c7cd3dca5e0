"""The notebooks run from top to bottom, and what their last lines show has a picture or a text."""

from __future__ import annotations

import ast
import json

import pytest
from matplotlib.figure import Figure
from support import ROOT

NOTEBOOKS = sorted((ROOT / "cases" / "notebooks").glob("*.ipynb"))


def code(notebook) -> list[str]:
    book = json.loads(notebook.read_text(encoding="utf-8"))
    assert (book["nbformat"], len({cell["id"] for cell in book["cells"]})) == (
        4,
        len(book["cells"]),
    )
    assert all(cell.get("outputs", []) == [] for cell in book["cells"]), "clear the outputs"
    return ["".join(cell["source"]) for cell in book["cells"] if cell["cell_type"] == "code"]


def test_there_are_three():
    assert [path.stem for path in NOTEBOOKS] == ["first-joint", "pin-hardness", "rig-day"]
    assert all(code(path) for path in NOTEBOOKS)


@pytest.mark.stress
@pytest.mark.parametrize("notebook", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_runs_and_shows(notebook, monkeypatch, tmp_path):
    monkeypatch.chdir(notebook.parent)
    names, figures = {"__name__": "notebook"}, 0
    for k, source in enumerate(code(notebook)):
        tree = ast.parse(source)
        last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
        exec(compile(tree, f"cell {k}", "exec"), names)
        if last is not None:
            shown = eval(compile(ast.Expression(last.value), f"cell {k}", "eval"), names)
            if isinstance(shown, Figure):
                shown.savefig(tmp_path / f"{notebook.stem}-{k}.png", dpi=100)
                figures += 1
            elif shown is not None:
                assert len(shown._repr_html_()) > 100
    assert figures == 1
