"""A disk that is full: one line says what could not be written, and the old files stay whole."""

from __future__ import annotations

import os
from contextlib import contextmanager
from pathlib import Path

import pytest
from support.hostile import REFINE, can_mount, fejoint, file_limit, on_own_disk, told_in_one_line
from support.whole_files import read_all, unfinished
from support.writers import WRITERS

from fejoint import files
from fejoint.cli.main import main
from fejoint.errors import BadInput
from fejoint.joint.model import Joint
from fejoint.output import pictures
from fejoint.output.pictures import theme as look
from fejoint.studies.sweeps.plan import Plan
from fejoint.studies.sweeps.run import run
from fejoint.studies.sweeps.store import Store
from fejoint.studies.sweeps.variation import parse

MOUNTS = pytest.mark.skipif(not can_mount(), reason="this user may not mount a small disk")
OLD = b"an old file, whole\n"


@contextmanager
def full_after(size: int):
    """Let writes fail beyond so many bytes a file: real errors of the system, as on a full disk."""
    back = file_limit(size)
    try:
        yield
    finally:
        back()


@pytest.mark.parametrize("name", WRITERS)
def test_every_file_is_whole_or_the_old_one_stays(name, answer, tmp_path):
    path = tmp_path / name
    path.write_bytes(OLD)
    write = WRITERS[name]
    with full_after(500), pytest.raises(BadInput) as caught:
        write(answer, path)
    assert f"{path}: cannot be written" in told_in_one_line(str(caught.value))
    assert path.read_bytes() == OLD
    assert os.listdir(tmp_path) == [name]
    write(answer, path)
    assert path.read_bytes() != OLD
    assert os.listdir(tmp_path) == [name]


def test_a_pictures_folder_keeps_what_was_drawn_before_the_disk_was_full(answer, tmp_path):
    each = pictures.write_each(answer, tmp_path)
    monkeyed = [next(each)]
    with full_after(500), pytest.raises(BadInput, match=r"limits.png: cannot be written"):
        next(each)
    assert read_all(tmp_path) == [monkeyed[0].name]
    assert unfinished(tmp_path) == []


def _by_width(case, settings):
    load = 500.0 * Joint.from_dict(case).ears[0].width
    return {
        "load_N": load,
        "offset_load_N": load,
        "part": "ear",
        "mode": "hole elongation",
        "finished": True,
    }


def test_a_sweeps_tables_and_map_stay_whole(answer, tmp_path):
    rows = Plan(answer.joint, tuple(map(parse, ("ear.width=13,14 mm", "ear.hole=4.1,4.2 mm"))))
    table = run(rows, {}, model=_by_width, folder=tmp_path, workers=0)
    before = {p.name: p.read_bytes() for p in tmp_path.glob("table.*")}
    assert len(before) == 2
    store = Store(tmp_path)
    try:
        with full_after(300), pytest.raises(BadInput, match=r"table.parquet: cannot be written"):
            store.write_tables(store.latest())
    finally:
        store.close()
    with full_after(300), pytest.raises(BadInput, match=r"map.png: cannot be written"):
        look.save(table.plot(), tmp_path / "map.png")
    assert {p.name: p.read_bytes() for p in tmp_path.glob("table.*")} == before
    assert unfinished(tmp_path) == []


@MOUNTS
def test_a_pull_on_a_full_disk_tells_its_verdict_and_the_file(case, stored):
    # 10, 62 and 42 kB lie there already, and are to be replaced one by one
    before = {path.name: path.read_bytes() for path in stored.iterdir()}
    done, after = on_own_disk(
        stored, "pull", case, *REFINE, "--out", stored, "--no-pictures", kilobytes=140
    )
    assert done.returncode == 2
    said = told_in_one_line(done.stderr)
    assert "cannot be written (No space left on device)" in said
    assert str(stored) in said
    assert "offset load (2 % of the hole): " in done.stdout
    written = [Path(x[6:]).name for x in done.stdout.splitlines() if x.startswith("wrote ")]
    assert written == ["answer.json"]
    assert read_all(after) == sorted(before)
    assert unfinished(after) == []
    for name, old in before.items():
        assert ((after / name).read_bytes() == old) == (name != "answer.json")


@MOUNTS
def test_a_sweep_on_a_full_disk_says_so_and_goes_on_when_there_is_room(case, tmp_path, capsys):
    folder = tmp_path / "sweep"
    folder.mkdir()
    words = ("sweep", case, *REFINE, "--out", folder, "--vary", "ear.edge_distance=6,7 mm",
             "--workers", 0)  # fmt: skip
    full, after = on_own_disk(folder, *words, kilobytes=100)
    assert full.returncode == 2
    said = told_in_one_line(full.stderr.partition("\n")[2])  # below the sweep's estimate
    assert "cannot be written" in said or "cannot hold a sweep" in said
    read_all(after)
    assert unfinished(after) == []
    after.rename(tmp_path / "moved")
    again = [tmp_path / "moved" if word == folder else word for word in words]
    assert main([str(word) for word in again]) == 0
    assert "2 joints: 2 solved" in capsys.readouterr().out
    assert set(read_all(tmp_path / "moved")) >= {"rows.sqlite", "table.csv", "table.parquet"}


def test_an_output_that_is_full_is_told_in_one_line(tmp_path):
    if not Path("/dev/full").exists():
        pytest.skip("no device that is always full")
    with open("/dev/full", "w") as full:
        done = fejoint("materials", stdout=full)
    assert done.returncode == 2
    assert "the output: cannot be written" in told_in_one_line(done.stderr)


def test_unfinished_files_of_a_killed_process_are_cleared_away_later(stored):
    for name in (".answer.json.abcd_123", ".stress.png.00000000", ".keep", ".notes.json"):
        (stored / name).write_text("begun")
    (stored / ".fields.vtu.x1x1x1x1").mkdir()
    (stored / ".fields.vtu.x1x1x1x1" / "fields.vtu").write_text("begun")
    files.make_ready(stored)
    assert len(unfinished(stored)) == 5  # they may be another process's
    for path in stored.glob(".*"):
        os.utime(path, (1e9, 1e9))
    files.make_ready(stored)
    assert unfinished(stored) == [".keep", ".notes.json"]
