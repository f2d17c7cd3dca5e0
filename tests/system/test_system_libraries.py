"""A machine that lacks a library is told the one line that its own package manager takes."""

from __future__ import annotations

import pytest

from fejoint.cli.main import main
from fejoint.system import doctor, system_libraries

LACKING = ("libGL.so.1", "libEGL.so.1", "libXft.so.2")


@pytest.fixture
def manager(monkeypatch):
    def only(name):
        monkeypatch.setattr(
            system_libraries.shutil, "which", lambda asked: name if asked == name else None
        )

    return only


def test_two_libraries_of_one_package_are_asked_for_once(manager):
    manager("pacman")
    assert system_libraries.install_line(LACKING) == "sudo pacman -S --needed libglvnd libxft"


@pytest.mark.parametrize(
    ("name", "said"),
    [("apt-get", "libgl1-mesa-dri"), ("dnf", "mesa-dri-drivers"), ("brew", "Mesa OpenGL")],
)
def test_a_machine_that_cannot_draw_is_told_its_driver(name, said, manager):
    manager(name)
    assert said in system_libraries.driver_line()


def test_the_tests_need_more_than_a_run(monkeypatch):
    monkeypatch.setattr(system_libraries, "_loads", lambda name: False)
    monkeypatch.setattr(system_libraries.sys, "platform", "linux")
    assert set(system_libraries.missing_libraries(tests=True)) == set(system_libraries.LIBRARIES)
    assert (
        set(system_libraries.LIBRARIES) - set(system_libraries.missing_libraries())
        == system_libraries.FOR_TESTS
    )


def test_no_library_is_looked_for_where_the_wheels_bring_all(monkeypatch):
    monkeypatch.setattr(system_libraries, "_loads", lambda name: False)
    monkeypatch.setattr(system_libraries.sys, "platform", "darwin")
    assert system_libraries.missing_libraries(tests=True) == ()


def test_a_library_that_no_loader_finds_does_not_load():
    assert not system_libraries._loads("libnowhere-to-be-found.so.9")


@pytest.mark.parametrize(("fine", "code"), [(True, 0), (False, 1)])
def test_the_doctor_tells_the_mend_and_fails_for_what_is_needed(fine, code, monkeypatch, capsys):
    found = doctor.Finding("mesher", fine, "as told", "" if fine else "pip install it")
    spare = doctor.Finding("browser", False, "none", "install one", needed=False)
    monkeypatch.setattr(doctor, "examine", lambda: (found, spare))
    assert main(["doctor"]) == code
    said = capsys.readouterr().out
    assert ("mend: pip install it" in said) is not fine
    assert "none  browser: none\n      mend: install one" in said
