"""A machine that lacks a library is told the one line that its own package manager takes."""

from __future__ import annotations

import pytest

from fejoint import system_libraries as libraries

LACKING = ("libGL.so.1", "libEGL.so.1", "libXft.so.2")


@pytest.fixture
def manager(monkeypatch):
    def only(name):
        monkeypatch.setattr(
            libraries.shutil, "which", lambda asked: name if asked == name else None
        )

    return only


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("apt-get", "sudo apt-get install -y libgl1 libegl1 libxft2"),
        (
            "dnf",
            "sudo dnf install -y 'libGL.so.1()(64bit)' 'libEGL.so.1()(64bit)' "
            "'libXft.so.2()(64bit)'",
        ),
        (
            "zypper",
            "sudo zypper install -y --capability 'libGL.so.1()(64bit)' 'libEGL.so.1()(64bit)' "
            "'libXft.so.2()(64bit)'",
        ),
        # libGL and libEGL come in one package there
        ("pacman", "sudo pacman -S --needed libglvnd libxft"),
        (
            "none known",
            "install, with your system's package manager, what holds: "
            "libGL.so.1 libEGL.so.1 libXft.so.2",
        ),
    ],
)
def test_the_line_is_of_the_system_s_own_manager(name, line, manager):
    manager(name)
    assert libraries.install_line(LACKING) == line


@pytest.mark.parametrize(
    ("name", "said"),
    [("apt-get", "libgl1-mesa-dri"), ("dnf", "mesa-dri-drivers"), ("brew", "Mesa OpenGL")],
)
def test_a_machine_that_cannot_draw_is_told_its_driver(name, said, manager):
    manager(name)
    assert said in libraries.driver_line()


def test_the_tests_need_more_than_a_run(monkeypatch):
    monkeypatch.setattr(libraries, "_loads", lambda name: False)
    monkeypatch.setattr(libraries.sys, "platform", "linux")
    assert set(libraries.missing_libraries(tests=True)) == set(libraries.LIBRARIES)
    assert set(libraries.LIBRARIES) - set(libraries.missing_libraries()) == libraries.FOR_TESTS


def test_no_library_is_looked_for_where_the_wheels_bring_all(monkeypatch):
    monkeypatch.setattr(libraries, "_loads", lambda name: False)
    monkeypatch.setattr(libraries.sys, "platform", "darwin")
    assert libraries.missing_libraries(tests=True) == ()


def test_a_library_that_no_loader_finds_does_not_load():
    assert not libraries._loads("libnowhere-to-be-found.so.9")
