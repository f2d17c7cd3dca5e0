"""No circle of imports: what a module needs lies below it, type-only and late imports included."""

from __future__ import annotations

import ast
from collections.abc import Mapping
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest
from support import ROOT

PACKAGE = ROOT / "fejoint"


def imports(folder: Path) -> dict[str, set[str]]:
    """Return what every module of a package imports of it, at its top or anywhere within."""
    files: dict[str, Path] = {}
    for path in folder.rglob("*.py"):
        parts = path.relative_to(folder.parent).with_suffix("").parts
        files[".".join(parts).removesuffix(".__init__")] = path
    graph: dict[str, set[str]] = {}
    for name, path in files.items():
        found = graph[name] = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                assert node.level == 0, f"{name} imports relatively"
                whole = {f"{node.module}.{alias.name}" for alias in node.names}
                found |= whole & files.keys() or {str(node.module)}
        graph[name] = (found & files.keys()) - {name}
    return graph


def circle(graph: Mapping[str, set[str]]) -> list[str]:
    """Return a circle of modules, or nothing."""
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def test_no_circle_of_modules():
    # the package's own front door hands out names by import at the first use
    graph = {name: found for name, found in imports(PACKAGE).items() if name != "fejoint"}
    assert circle(graph) == []


@pytest.mark.parametrize(
    "line",
    [
        "from shop import top",
        "def f():\n    from shop import top",
        "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from shop.top import it",
        "import shop.top",
    ],
)
def test_a_circle_is_seen_wherever_it_closes(line, tmp_path):
    shop = tmp_path / "shop"
    shop.mkdir()
    (shop / "__init__.py").write_text("")
    (shop / "top.py").write_text("from shop import middle\nit = 1\n")
    (shop / "middle.py").write_text("from shop.bottom import x\n")
    (shop / "bottom.py").write_text("x = 1\n")
    assert circle(imports(shop)) == []
    (shop / "bottom.py").write_text(f"{line}\nx = 1\n")
    assert {"shop.top", "shop.middle", "shop.bottom"} <= set(circle(imports(shop)))


def test_the_package_s_top_holds_few_modules():
    assert len(list(PACKAGE.glob("*.py"))) <= 6
