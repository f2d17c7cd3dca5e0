"""On a terminal a long command shows how far it is; in a pipe it keeps still; Ctrl-C is quiet."""

from __future__ import annotations

import socket
import sys

import numpy as np
import pytest
from support import DEMO

import fejoint.studies.pin_hardness
from fejoint.cli import console, pull
from fejoint.cli.main import main
from fejoint.errors import BadInput
from fejoint.kernel.newton import EquilibriumPoint
from fejoint.page import serve

CLEARED = "\r\x1b[2K"


@pytest.fixture
def terminal(monkeypatch):
    """What stands for standard error at the time of the test says that it is a terminal."""

    def begin():
        monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
        # on a dumb one a bar draws nothing
        monkeypatch.setenv("TERM", "xterm")

    return begin


def test_a_pull_tells_its_load_travel_and_balance_on_one_line(terminal, capsys):
    point = EquilibriumPoint(0.25, np.array([2000.0]), np.zeros(2), ())
    terminal()
    with pull.progress_line(quiet=False) as progress:
        progress("ear", point, 3, 1e-5)
        # at once again: not worth a line
        progress("ear", point, 4, 1e-9)
    said = capsys.readouterr()
    assert said.out == ""
    lines = said.err.split(CLEARED)
    assert lines[1:] == [
        "ear: 2,000 N (204 kgf), travel 0.250 mm, iteration 3, out of balance 1e-05",
        "",
    ]


def test_a_pull_without_a_point_yet_tells_zero(terminal, capsys):
    terminal()
    with pull.progress_line(quiet=False) as progress:
        progress("pin", None, 0, 1.0)
    assert "pin: 0 N" in capsys.readouterr().err


@pytest.mark.parametrize("quiet", [True, False])
def test_a_pipe_hears_nothing(quiet, capsys):
    with pull.progress_line(quiet=quiet) as progress:
        assert progress is None
    with console.progress_bar("joints", quiet=quiet) as advance:
        advance(3, 9)
    assert capsys.readouterr().err == ""


def test_a_bar_that_is_to_be_quiet_shows_nothing_on_a_terminal_either(terminal, capsys):
    terminal()
    with console.progress_bar("joints", quiet=True) as advance:
        advance(3, 9)
    assert capsys.readouterr() == ("", "")


def test_a_pin_range_counts_its_face_sections(terminal, capsys):
    terminal()
    with console.progress_bar("face sections") as advance:
        advance(3, 9, "300 HV")
    assert "3 of 9" in capsys.readouterr().err


def test_a_pin_range_that_is_interrupted_writes_nothing(monkeypatch, tmp_path, capsys):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(fejoint.studies.pin_hardness, "pin_range", interrupted)
    out = tmp_path / "out"
    assert main(["pin-range", str(DEMO), "--out", str(out)]) == 3
    assert "interrupted: nothing written" in capsys.readouterr().err
    assert not list(out.glob("*"))


@pytest.mark.parametrize("load", ["0 N", "-4 kN", "4 mm", "much"])
def test_a_pin_range_after_no_pull_is_refused(load, tmp_path, capsys):
    assert main(["pin-range", str(DEMO), "--after", load, "--out", str(tmp_path)]) == 2
    assert "--after" in capsys.readouterr().err


def test_a_port_that_is_taken_or_none_is_told(capsys):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen(1)
        port = taken.getsockname()[1]
        assert main(["page", "--no-browser", "--port", str(port)]) == 2
    assert f"127.0.0.1:{port}" in capsys.readouterr().err
    with pytest.raises(BadInput, match="cannot be bound"):
        serve._bound("127.0.0.1", 99_999)
