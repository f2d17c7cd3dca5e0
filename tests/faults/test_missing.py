"""Libraries that are not there: what can go on does, the rest is told with what mends it."""

from __future__ import annotations

import errno
import json
import sqlite3
import sys

import pytest
from support import DEMO
from support.hostile import (
    ALONE,
    PYTHON,
    REFINE,
    SOON,
    can_mount,
    cheap_text,
    check_quiet,
    fejoint,
    told_in_one_line,
)

from fejoint import load
from fejoint.analysis import pull as pulling
from fejoint.cli import failures
from fejoint.cli import main as cli
from fejoint.cli import pull as pull_command
from fejoint.cli.main import main
from fejoint.kernel import compiled, linear
from fejoint.system import probes, system_libraries


def without(*modules: str) -> tuple[str, ...]:
    """Return the command line of an installation without some packages."""
    code = (
        f"import sys; sys.modules.update(dict.fromkeys({modules!r}));"
        "sys.prefix = '/nowhere';"  # where the fast solver's library would be found by its name
        "from fejoint.cli.main import main; sys.exit(main(sys.argv[1:]))"
    )
    return (sys.executable, "-c", code)


def test_without_fast_solver_and_compiled_kernels_the_numbers_are_the_same(tmp_path):
    case = tmp_path / "short.toml"
    case.write_text(cheap_text().replace(SOON, 'stop_displacement = "0.1 mm"'), encoding="utf-8")
    answer = pulling.pull(load(case), refine=0.25)
    assert answer.trace.load[-1] > 3000.0  # plastic by then
    done = fejoint(
        "pull", case, "--refine", "0.25", "--out", tmp_path / "out", "--no-pictures",
        command=without("pypardiso", "numba", "pyvista", "vtk"),
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    check_quiet(done, tmp_path / "out", answer)
    (note,) = [line for line in done.stdout.splitlines() if "more slowly" in line]
    assert note.startswith("note: ")
    for word in ("pypardiso", "numba", "fejoint doctor"):
        assert word in note


def test_the_note_tells_what_is_missing_and_not_what_was_asked_for(monkeypatch):
    monkeypatch.delenv("FEJOINT_SOLVER", raising=False)
    monkeypatch.delenv("FEJOINT_COMPILED", raising=False)
    monkeypatch.setattr(compiled, "warm", lambda: True)
    monkeypatch.setattr(linear, "_mkl", lambda: object())
    assert pull_command.slower_because("fastest") is None
    monkeypatch.setattr(linear, "_mkl", lambda: None)
    assert "pypardiso" in pull_command.slower_because("fastest")
    assert "numba" not in pull_command.slower_because("fastest")
    assert pull_command.slower_because("superlu") is None
    monkeypatch.setattr(compiled, "warm", lambda: False)
    assert "numba" in pull_command.slower_because("superlu")
    monkeypatch.setenv("FEJOINT_COMPILED", "0")
    monkeypatch.setenv("FEJOINT_SOLVER", "superlu")
    assert pull_command.slower_because("fastest") is None


def test_a_solver_that_is_not_there_is_told(case, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(linear, "_mkl", lambda: None)
    words = ("pull", str(case), *REFINE, "--solver", "pardiso", "--out", str(tmp_path / "out"))
    assert main(words) == 2
    assert "solver = pardiso" in told_in_one_line(capsys.readouterr().err)


def test_a_mesher_that_is_not_there_is_told_with_what_mends_it(case, tmp_path):
    done = fejoint("pull", case, *REFINE, "--out", tmp_path / "out", command=without("gmsh"))
    assert (done.returncode, done.stdout) == (3, "")
    said = told_in_one_line(done.stderr)
    assert "gmsh" in said
    assert "`fejoint doctor`" in said


def test_a_verdict_is_told_though_its_pictures_cannot_be_drawn(
    case, answer, tmp_path, monkeypatch, capsys
):
    monkeypatch.setattr(pulling, "pull", lambda *arguments, **settings: answer)
    monkeypatch.setitem(sys.modules, "matplotlib.figure", None)
    assert main(["pull", str(case), *REFINE, "--out", str(tmp_path / "out")]) == 3
    out, err = capsys.readouterr()
    assert "offset load (2 % of the hole): " in out
    assert "matplotlib" in told_in_one_line(err)
    assert main(["pull", str(case), *REFINE, "--out", str(tmp_path / "out"), "--json"]) == 3
    out, err = capsys.readouterr()
    assert json.loads(out)["verdict"] == json.loads(answer.to_json())["verdict"]
    assert "matplotlib" in told_in_one_line(err)


HIDE = 'mount --bind /dev/null "$1" && shift && exec "$@"'


@pytest.mark.skipif(not can_mount(), reason="this user may not hide a library")
def test_a_system_library_that_is_not_there_is_told_with_the_line_that_installs_it(tmp_path):
    with open("/proc/self/maps") as maps:
        loaded = {line.split(" ", 5)[-1].strip() for line in maps}
    import gmsh

    assert gmsh.__file__
    with open("/proc/self/maps") as maps:
        loaded = {line.split(" ", 5)[-1].strip() for line in maps} | loaded
    (library,) = {path for path in loaded if "libGLU.so" in path}
    done = fejoint(
        "pull", DEMO, *REFINE, "--out", tmp_path / "out",
        command=[*ALONE, HIDE, "sh", library, *PYTHON],
    )  # fmt: skip
    assert done.returncode == 3
    assert system_libraries.install_line(["libGLU.so.1"]) in told_in_one_line(done.stderr)


def test_a_display_that_is_not_there_is_not_used(monkeypatch):
    monkeypatch.setenv("DISPLAY", ":77")
    assert probes.run_probe("render")[0]


NO_ROOM = OSError(errno.ENOSPC, "No space left on device", "/there/file")


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (MemoryError(), 3, ("memory", "--refine")),
        (NO_ROOM, 2, ("/there/file: cannot be written", "make room")),
        (OSError(errno.ENOSPC, "No space left on device"), 2, ("the output", "make room")),
        (PermissionError(errno.EACCES, "Permission denied", "/x"), 2, ("/x: Permission denied",)),
        (sqlite3.OperationalError("database or disk is full"), 2, ("sweep", "disk is full")),
        (ImportError("no module named gmsh"), 3, ("gmsh", "fejoint doctor")),
    ],
)
def test_the_machines_faults_are_one_line_each(error, code, words, monkeypatch, capsys):
    monkeypatch.setattr(system_libraries, "missing_libraries", lambda: ())

    def fail(*arguments, **settings):
        raise error

    monkeypatch.setattr(cli, "app", fail)
    assert main(["pull"]) == code
    said = told_in_one_line(capsys.readouterr().err)
    assert all(word in said for word in words)


def test_a_fault_of_the_program_is_not_hidden(monkeypatch):
    assert failures.told(ZeroDivisionError()) is None

    def fail(*arguments, **settings):
        raise ZeroDivisionError

    monkeypatch.setattr(cli, "app", fail)
    with pytest.raises(ZeroDivisionError):
        main(["pull"])
