"""Ctrl-C is quiet at any moment: no traceback, and the shell learns that it was the signal."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading

import pytest
from support import DEMO
from support.hostile import surroundings

from fejoint.cli.main import main
from fejoint.studies import side_blow

MOMENTS = {
    # what has just been imported
    "the package": "fejoint.cli",
    "parser": "cyclopts.exceptions",
    "main": "fejoint.cli.console",
    "command": "fejoint.cli.options",
    "case": "fejoint.cli.case_source",
    "numbers": "numpy",
    "sparse": "scipy.sparse._base",
    "matrices": "scipy.linalg",
    "compiler": "numba.core.types",
    "kernel": "fejoint.kernel.assembly",
}


def pull_until(name: str, tmp_path) -> tuple[int, str]:
    """Begin a pull, press Ctrl-C when a module has been imported; return its end and what it said.

    Python tells each import on standard error, which says where it is at any speed.
    """
    words = ["pull", str(DEMO), "--no-pictures", "--out", str(tmp_path / "out")]
    with subprocess.Popen(
        [sys.executable, "-X", "importtime", "-m", "fejoint.cli.main", *words],
        env=surroundings(), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
        bufsize=1,
    ) as process:  # fmt: skip
        clock = threading.Timer(100.0, process.kill)
        clock.start()
        assert process.stderr is not None
        said, sent = [], False
        for line in process.stderr:
            if line.startswith("import time:"):
                if not sent and line.rpartition("|")[2].strip() == name:
                    process.send_signal(signal.SIGINT)
                    sent = True
            else:
                said.append(line)
        code = process.wait()
        clock.cancel()
    assert sent, f"{name} was never imported"
    return code, "".join(said)


@pytest.mark.parametrize("moment", MOMENTS)
def test_ctrl_c_while_modules_are_loaded_ends_it_without_a_word(moment, tmp_path):
    code, said = pull_until(MOMENTS[moment], tmp_path)
    assert said == ""
    assert code == -signal.SIGINT
    assert not list(tmp_path.rglob("*.json"))


def test_a_command_that_keeps_nothing_ends_without_a_word(monkeypatch, capsys):
    def blow(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(side_blow, "side_blow", blow)
    assert main(["blow", str(DEMO)]) == 130
    assert capsys.readouterr() == ("", "")


def in_process(code: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False,
        env=surroundings(), timeout=60.0,
    )  # fmt: skip


def test_a_program_that_imports_the_command_line_keeps_its_own_handler():
    code = (
        "import signal; before = signal.getsignal(signal.SIGINT);"
        "from fejoint.cli.main import main; main(['hardness', '48 HRC']);"
        "assert signal.getsignal(signal.SIGINT) is before"
    )
    assert in_process(code).returncode == 0


def test_a_process_that_ignores_the_signal_goes_on_ignoring_it():
    code = (
        "import signal, sys; sys.argv = ['/usr/bin/fejoint', 'hardness', '48 HRC'];"
        "signal.signal(signal.SIGINT, signal.SIG_IGN);"
        "from fejoint.cli.main import main; main();"
        "assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN"
    )
    done = in_process(code)
    assert (done.returncode, done.stderr) == (0, "")


def test_a_library_that_swallows_it_while_it_is_imported_does_not_go_on(tmp_path):
    (tmp_path / "swallows.py").write_text(
        "import signal\n"
        "try: signal.raise_signal(signal.SIGINT)\n"
        "except BaseException: print('swallowed')\n"
    )
    code = (
        f"import sys; sys.argv = ['fejoint']; sys.path.insert(0, {str(tmp_path)!r});"
        "from fejoint.cli import interrupt; interrupt.handle(); import swallows"
    )
    done = in_process(code)
    assert (done.returncode, done.stdout, done.stderr) == (-signal.SIGINT, "", "")


def test_between_imports_the_signal_is_a_keyboard_interrupt():
    code = (
        "import sys; sys.argv = ['fejoint'];"
        "from fejoint.cli import interrupt; import signal; interrupt.handle()\n"
        "try: signal.raise_signal(signal.SIGINT)\n"
        "except KeyboardInterrupt: print('caught')"
    )
    done = in_process(code)
    assert (done.returncode, done.stdout, done.stderr) == (0, "caught\n", "")


def test_in_a_destructor_where_none_can_catch_it_it_ends_the_process():
    code = (
        "import sys; sys.argv = ['fejoint'];"
        "from fejoint.cli import interrupt; import signal; interrupt.handle()\n"
        "class Dies:\n"
        "    def __del__(self): signal.raise_signal(signal.SIGINT)\n"
        "Dies(); print('went on')"
    )
    done = in_process(code)
    assert (done.returncode, done.stdout, done.stderr) == (-signal.SIGINT, "", "")


def test_what_else_goes_wrong_in_a_destructor_is_still_told():
    code = (
        "import sys; sys.argv = ['fejoint'];"
        "from fejoint.cli import interrupt; interrupt.handle()\n"
        "class Fails:\n"
        "    def __del__(self): raise ValueError('told')\n"
        "Fails()"
    )
    done = in_process(code)
    assert done.returncode == 0
    assert "told" in done.stderr
