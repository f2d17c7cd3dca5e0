"""Whether result files are whole: each is read by what its suffix says."""

from __future__ import annotations

import json
from pathlib import Path

from fejoint.cli.case_source import MARK


def read_all(folder: Path) -> list[str]:
    """Read every result file of a folder, which fails on a torn one; return their names.

    Hidden files and folders are not results, nor are the journals beside a table of rows.
    """
    names = []
    for path in sorted(folder.iterdir()):
        if not path.name.startswith(".") and not path.name.endswith(("-wal", "-shm")):
            _READERS.get(path.suffix, _raw)(path)
            names.append(path.name)
    return names


def unfinished(folder: Path) -> list[str]:
    """Return the names of hidden files and folders: what was begun and did not take its place."""
    return sorted(p.name for p in folder.glob(".*") if p.name != MARK)


def _raw(path: Path) -> None:
    assert path.stat().st_size > 0, f"{path} is empty"


def _json(path: Path) -> None:
    json.loads(path.read_text(encoding="utf-8"))


def _vtu(path: Path) -> None:
    import meshio

    grid = meshio.read(path)
    assert len(grid.points) > 0
    assert grid.point_data


def _png(path: Path) -> None:
    from PIL import Image

    with Image.open(path) as picture:
        picture.load()


def _csv(path: Path) -> None:
    import pandas as pd

    assert len(pd.read_csv(path)) > 0
    assert path.read_bytes().endswith(b"\n")


def _parquet(path: Path) -> None:
    import pandas as pd

    assert len(pd.read_parquet(path)) > 0


def _rows(path: Path) -> None:
    import sqlite3

    file = sqlite3.connect(path)
    try:
        assert file.execute("pragma integrity_check").fetchone() == ("ok",)
    finally:
        file.close()


def _page(path: Path) -> None:
    assert path.read_text(encoding="utf-8").rstrip().endswith(("</html>", "</svg>"))


_READERS = {
    ".json": _json,
    ".vtu": _vtu,
    ".png": _png,
    ".gif": _png,
    ".csv": _csv,
    ".parquet": _parquet,
    ".sqlite": _rows,
    ".html": _page,
    ".svg": _page,
}
