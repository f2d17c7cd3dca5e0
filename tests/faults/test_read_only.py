"""Folders that take no files: told before anything long is begun, in one line."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from support.hostile import REFINE, can_mount, on_own_disk, told_in_one_line
from support.whole_files import read_all
from support.writers import WRITERS

from fejoint import files
from fejoint.analysis import pull
from fejoint.cli.main import main
from fejoint.errors import BadInput
from fejoint.output import pictures, report, result_files

NOBODY = 65534


@pytest.mark.parametrize("name", WRITERS)
def test_a_file_in_place_of_the_folder_is_told(name, answer, tmp_path):
    (tmp_path / "file").write_text("not a folder")
    path = tmp_path / "file" / name
    with pytest.raises(BadInput) as caught:
        WRITERS[name](answer, path)
    assert f"{path}: cannot be written" in told_in_one_line(str(caught.value))
    assert (tmp_path / "file").read_text() == "not a folder"


@pytest.mark.parametrize("name", sorted(set(WRITERS) - {"film.gif"}))
def test_a_folder_in_place_of_the_file_is_told(name, answer, tmp_path):
    path = tmp_path / name
    (path / "kept").mkdir(parents=True)
    with pytest.raises(BadInput) as caught:
        WRITERS[name](answer, path)
    assert f"{path}: cannot be written" in told_in_one_line(str(caught.value))
    assert os.listdir(tmp_path) == [name]
    assert (path / "kept").is_dir()


def test_pull_tells_before_it_solves(case, tmp_path, monkeypatch, capsys):
    (tmp_path / "file").write_text("")
    monkeypatch.setattr(pull, "pull", lambda *a, **k: pytest.fail("solved all the same"))
    for out in (tmp_path / "file", tmp_path / "file" / "deeper"):
        assert main(["pull", str(case), "--out", str(out)]) == 2
        out_text, err = capsys.readouterr()
        assert out_text == ""
        assert f"{out}: cannot be written" in told_in_one_line(err)


def test_sweep_tells_before_it_solves(case, tmp_path, capsys):
    (tmp_path / "file").write_text("")
    words = ["--vary", "ear.edge_distance=6,7 mm", "--workers", "0"]
    for out in (tmp_path / "file", tmp_path / "file" / "deeper"):
        assert main(["sweep", str(case), "--out", str(out), *words]) == 2
        out_text, err = capsys.readouterr()
        assert out_text == ""
        assert f"{out}: cannot hold a sweep" in err.splitlines()[-1]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("picture", "--what", "stress", "--out", "file/a.png"), "file: cannot be written"),
        (("picture", "--what", "stress", "--out", "a.bmp"), "must end in one of .png"),
        (("picture", "--what", "film", "--out", "a.png"), "must end in one of .gif, .webp"),
        (("report", "--out", "file/a.html"), "file: cannot be written"),
        (("report", "--out", "a.txt"), "must end in .html or .pdf"),
    ],
)
def test_pictures_and_reports_tell_before_they_solve_again(
    words, told, stored, tmp_path, monkeypatch, capsys
):
    (tmp_path / "file").write_text("")
    monkeypatch.chdir(tmp_path)
    for module in (result_files, pictures, report):
        monkeypatch.setattr(module, "solve_again", lambda plain: pytest.fail("solved again"))
    assert main([words[0], str(stored), *words[1:]]) == 2
    assert told in told_in_one_line(capsys.readouterr().err)


@pytest.mark.skipif(not can_mount(), reason="this user may not mount a read-only disk")
def test_a_read_only_disk_is_told_and_stays_as_it_is(case, stored):
    before = {path.name: path.read_bytes() for path in stored.iterdir()}
    done, after = on_own_disk(
        stored, "pull", case, *REFINE, "--out", stored, read_only=True
    )  # fmt: skip
    assert done.returncode == 2
    assert "cannot be written (Read-only file system)" in told_in_one_line(done.stderr)
    assert read_all(after) == sorted(before)


def test_a_folder_of_somebody_else_is_told(stored):
    # permissions do not bind root, so a child lays its rights down
    stored.chmod(0o555)
    child = os.fork()
    if child == 0:
        code = 3
        try:
            if os.getuid() == 0:
                for parent in list(stored.parents)[:3]:
                    parent.chmod(0o755)
                os.setgid(NOBODY)
                os.setuid(NOBODY)
            files.make_ready(stored)
            code = 1
        except BadInput as bad:
            code = 0 if "cannot be written (Permission denied)" in str(bad) else 2
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    stored.chmod(0o755)
    assert os.waitstatus_to_exitcode(status) == 0
    assert not list(Path(stored).glob(".*"))
