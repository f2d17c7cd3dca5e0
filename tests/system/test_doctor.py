"""What the doctor says of a machine, healthy or not."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from fejoint.kernel import compiled
from fejoint.system import doctor, probes, processes, surroundings, system_libraries

STANDALONE = [system_libraries.__file__, probes.__file__]


@pytest.mark.parametrize("probe", ["mesh", "superlu", "curves", "render", "compiler"])
def test_this_machine_can(probe):
    fine, detail = probes.run_probe(probe)
    assert fine, detail


def test_a_crash_is_named_not_shared(monkeypatch, tmp_path):
    crash = tmp_path / "crash.py"
    crash.write_text("import os, signal\nos.kill(os.getpid(), signal.SIGSEGV)\n")
    monkeypatch.setattr(probes, "__file__", str(crash))
    assert probes.run_probe("render") == (False, "the process died of SIGSEGV")


def test_the_fast_solver_answers_where_it_is():
    pytest.importorskip("pypardiso")
    assert probes._probe_solver("pardiso").startswith("answers, residual")


def test_a_probe_that_never_ends_is_given_up(monkeypatch, tmp_path):
    endless = tmp_path / "endless.py"
    endless.write_text("import time\ntime.sleep(60)\n")
    monkeypatch.setattr(probes, "__file__", str(endless))
    monkeypatch.setattr(probes, "PROBE_SECONDS", 0.2)
    assert probes.run_probe("render") == (False, "no answer within 0 s")


def test_a_solver_that_answers_wrongly_is_told(monkeypatch):
    import scipy.sparse.linalg as spla

    class Liar:
        def solve(self, load):
            return load

    assert "residual" in probes._probe_solver("superlu")
    monkeypatch.setattr(spla, "splu", lambda _: Liar())
    with pytest.raises(ArithmeticError, match="residual of a 400-row system is 5"):
        probes._probe_solver("superlu")


def test_a_blank_picture_is_none(monkeypatch):
    import numpy as np
    import pyvista

    class Blank:
        def __init__(self, **_):
            pass

        def add_mesh(self, *_, **__):
            pass

        def screenshot(self, **_):
            return np.full((64, 64, 3), 255, np.uint8)

        def close(self):
            pass

    monkeypatch.setattr(pyvista, "Plotter", Blank)
    with pytest.raises(RuntimeError, match="the picture is empty"):
        probes._probe_render()


def test_a_missing_library_gets_the_line_that_installs_it(monkeypatch, tmp_path):
    monkeypatch.setattr(doctor.sys, "prefix", str(tmp_path))
    monkeypatch.setattr(doctor, "missing_libraries", lambda: ("libGLU.so.1", "libXft.so.2"))
    monkeypatch.setattr(doctor, "run_probe", lambda name: (False, "libGLU.so.1: cannot open"))
    monkeypatch.setattr(system_libraries.shutil, "which", lambda name: name == "apt-get")
    findings = doctor.examine()
    assert not doctor.healthy(findings)
    mesher = next(finding for finding in findings if "gmsh" in finding.what)
    assert mesher.mend == "sudo apt-get install -y libglu1-mesa libxft2"
    assert "mend: sudo apt-get" in str(mesher)


def test_libraries_that_lie_unpacked_want_the_environment_activated(monkeypatch, tmp_path):
    (tmp_path / "sysroot").mkdir()
    monkeypatch.setattr(doctor.sys, "prefix", str(tmp_path))
    monkeypatch.setattr(doctor, "missing_libraries", lambda: ("libGLU.so.1",))
    monkeypatch.setattr(doctor, "run_probe", lambda name: (False, "libGLU.so.1: cannot open"))
    assert doctor.examine()[0].mend == f". {tmp_path}/bin/activate"


def test_a_lost_package_is_installed_again(monkeypatch):
    monkeypatch.setattr(doctor, "missing_libraries", lambda: ())
    monkeypatch.setattr(doctor, "run_probe", lambda name: (False, "ImportError: of x"))
    mends = {finding.what: finding.mend for finding in doctor.examine()}
    again = f"{sys.executable} -m pip install --force-reinstall "
    assert mends["mesher (gmsh)"] == again + "gmsh"
    assert mends["field pictures (pyvista)"] == again + "pyvista vtk"


def test_pictures_and_the_fast_solver_are_not_needed(monkeypatch):
    monkeypatch.setattr(doctor, "missing_libraries", lambda: ())
    monkeypatch.setattr(
        doctor, "run_probe", lambda name: (name in ("mesh", "superlu", "curves"), "as told")
    )
    findings = doctor.examine()
    assert doctor.healthy(findings)
    assert any("plain triangle plots" in finding.detail for finding in findings)


def test_kernels_that_cannot_be_cached_are_told(monkeypatch):
    monkeypatch.setattr(doctor, "run_probe", lambda name: (True, "as told"))
    monkeypatch.setattr(doctor, "missing_libraries", lambda: ())
    monkeypatch.setattr(doctor, "find_browser", lambda: "/some/browser")
    monkeypatch.setattr(compiled, "warm", lambda: False)
    findings = doctor.examine()
    assert doctor.healthy(findings)
    (found,) = [finding for finding in findings if "numba" in finding.what]
    assert "compiled anew in every process" in found.detail
    assert "NUMBA_CACHE_DIR" in found.mend
    monkeypatch.setattr(compiled, "warm", lambda: True)
    assert all(finding.fine for finding in doctor.examine() if "numba" in finding.what)


@pytest.mark.parametrize(
    ("manager", "line"),
    [
        ("apt-get", "sudo apt-get install -y libgl1"),
        ("dnf", "sudo dnf install -y 'libGL.so.1()(64bit)'"),
        ("zypper", "sudo zypper install -y --capability 'libGL.so.1()(64bit)'"),
        ("pacman", "sudo pacman -S --needed libglvnd"),
        ("none", "install, with your system's package manager, what holds: libGL.so.1"),
    ],
)
def test_install_line_speaks_the_systems_language(monkeypatch, manager, line):
    monkeypatch.setattr(system_libraries.shutil, "which", lambda name: name == manager)
    assert system_libraries.install_line(["libGL.so.1"]) == line


@pytest.mark.parametrize("path", STANDALONE, ids=lambda path: Path(path).stem)
def test_runs_before_the_package_is_installed(path):
    # -S -E: the standard library and nothing else.
    arguments = [] if path == system_libraries.__file__ else ["nothing"]
    done = subprocess.run(
        [sys.executable, "-S", "-E", "-P", path, *arguments],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0 if not arguments else "KeyError: 'nothing'" in done.stderr


def test_the_browser_can_be_chosen(monkeypatch):
    monkeypatch.setenv("FEJOINT_CHROMIUM", sys.executable)
    assert doctor.find_browser() == sys.executable


@pytest.fixture
def fine(monkeypatch):
    """A machine on which every probe goes well."""
    monkeypatch.setattr(doctor, "run_probe", lambda name: (True, "as told"))
    monkeypatch.setattr(doctor, "missing_libraries", lambda: ())
    monkeypatch.setattr(doctor, "find_browser", lambda: "/some/browser")
    monkeypatch.setattr(compiled, "warm", lambda: True)
    for name in ("FEJOINT_SOLVER", "FEJOINT_COMPILED", *processes.THREADS):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("DISPLAY", "elsewhere:0")
    monkeypatch.setattr(surroundings, "LOW", 0.0)
    assert all(finding.fine for finding in doctor.examine())
    return monkeypatch


def the_unfit():
    (found,) = [finding for finding in doctor.examine() if not finding.fine]
    return found


def test_code_that_was_damaged_is_told(fine):
    fine.setattr(compiled, "_made_anew", ["tangent", "miss"])
    (found,) = [finding for finding in doctor.examine() if "numba" in finding.what]
    assert "2 were damaged on disk and are made anew" in found.detail


@pytest.mark.parametrize(
    ("name", "value", "what", "said"),
    [
        ("FEJOINT_COMPILED", "0", "compiled kernels (numba)", "hundred times slower"),
        ("FEJOINT_SOLVER", "superlu", "fast solver (pypardiso)", "for a slower one"),
    ],
)
def test_a_slow_way_that_is_asked_for_is_told(fine, name, value, what, said):
    fine.setenv(name, value)
    found = the_unfit()
    assert found.what == what
    assert said in found.detail
    assert found.mend == f"unset {name}"


@pytest.mark.parametrize("value", ["0", "many", "-1", "100000", "1.5"])
@pytest.mark.parametrize("name", ["OMP_NUM_THREADS", "NUMBA_NUM_THREADS"])
def test_threads_that_cannot_be_had_are_told(fine, name, value):
    fine.setenv(name, value)
    found = the_unfit()
    assert f"{name}={value}: must be a whole number from 1" in found.detail
    assert found.mend == f"unset {name}"


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="elsewhere there is one")
def test_a_display_that_is_not_there_is_told(fine):
    fine.delenv("WAYLAND_DISPLAY", raising=False)
    fine.setenv("DISPLAY", ":77")
    assert "there is no such display" in the_unfit().detail
    fine.delenv("DISPLAY")
    assert "no display: pictures are drawn off screen" in the_unfit().detail
    assert doctor.healthy(doctor.examine())


@pytest.mark.parametrize(("free", "needed"), [(300e6, False), (1e6, True), (None, True)])
def test_a_disk_without_room_is_told(fine, free, needed):
    def usage(place):
        if free is None:
            raise FileNotFoundError
        return SimpleNamespace(free=free)

    fine.setattr(surroundings, "LOW", 500e6)
    fine.setattr(surroundings.shutil, "disk_usage", usage)
    found = the_unfit()
    assert "MB free in" in found.detail
    assert found.needed is needed
    assert "make room" in found.mend


def test_no_browser_is_told(fine):
    fine.setattr(doctor, "find_browser", lambda: None)
    assert "no Chromium" in the_unfit().detail


def test_a_folder_of_code_is_mended_where_it_can_be(fine, tmp_path, capsys):
    folder = tmp_path / "not" / "yet"
    fine.setattr(compiled, "warm", lambda: False)
    fine.setenv("NUMBA_CACHE_DIR", str(folder))
    assert doctor.main() == 0
    assert "mended" not in capsys.readouterr().out
    assert not folder.exists()
    assert doctor.main(mend=True) == 0
    assert "compiled kernels (numba): mended" in capsys.readouterr().out
    assert folder.is_dir()
    (tmp_path / "file").write_text("")
    fine.setenv("NUMBA_CACHE_DIR", str(tmp_path / "file"))
    assert doctor.main(mend=True) == 0
    assert "cannot be mended from here" in capsys.readouterr().out
