"""Files that we wrote, changed as nobody should: bytes, and cells of a database."""

from __future__ import annotations

import random
import sqlite3
from contextlib import closing
from pathlib import Path

CELLS = (None, "x", "", -1, 0, 2**62, 1e300, float("inf"), b"\xff\x00", "\x1b[2J", "9" * 400, True)
"""What a cell may be changed to, whatever its column holds."""


def damage_bytes(path: Path, rng: random.Random) -> str:
    """Tear a file, flip a bit, overwrite a run of bytes, or empty it; return which."""
    raw = bytearray(path.read_bytes())
    how = rng.choice(["torn", "flipped", "flipped", "overwritten", "doubled", "emptied"])
    at = rng.randrange(len(raw))
    if how == "torn":
        del raw[at:]
    elif how == "flipped":
        raw[at] ^= 1 << rng.randrange(8)
    elif how == "overwritten":
        run = min(rng.randrange(1, 200), len(raw) - at)
        raw[at : at + run] = rng.randbytes(run)
    elif how == "doubled":
        raw[at:at] = raw[at : at + rng.randrange(1, 200)]
    else:
        raw.clear()
    path.write_bytes(raw)
    return how


def damage_cell(path: Path, rng: random.Random) -> str:
    """Change one cell of a database, scale a number in it, or take a row out; return which."""
    with closing(sqlite3.connect(path)) as file, file:
        kinds = "select name from sqlite_master where type = 'table'"
        table = rng.choice([name for (name,) in file.execute(kinds)])
        rows = [row for (row,) in file.execute(f"select rowid from {table}")]
        if not rows:
            return "nothing"
        row = rng.choice(rows)
        if rng.random() < 0.1:
            file.execute(f"delete from {table} where rowid = ?", (row,))
            return f"{table}: row {row} taken out"
        column = rng.choice([c[1] for c in file.execute(f"pragma table_info({table})")])
        where = f"from {table} where rowid = ?"
        (now,) = file.execute(f"select {column} {where}", (row,)).fetchone()
        new = rng.choice(CELLS)
        if isinstance(now, (int, float)) and rng.random() < 0.5:
            new = now * rng.choice([10.0, -1.0, 1.0 + 1e-12])
        elif isinstance(now, str) and now and rng.random() < 0.7:
            at = rng.randrange(len(now))
            new = rng.choice([now[:at], now[:at] + rng.choice("0159ex{}") + now[at + 1 :]])
        try:
            file.execute(f"update {table} set {column} = ? where rowid = ?", (new, row))
        except sqlite3.IntegrityError:
            return "nothing"
    return f"{table}.{column} of row {row}: {now!r} -> {new!r}"
