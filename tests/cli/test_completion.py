"""The shells complete commands and their options from what `fejoint completion` prints."""

from __future__ import annotations

import shutil
import subprocess

import pytest

from fejoint.cli.main import COMMANDS, main


@pytest.fixture
def script(capsys):
    def script(shell: str) -> str:
        assert main(["completion", shell]) == 0
        return capsys.readouterr().out

    return script


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_lines_hold_every_command_and_shared_option(shell, script):
    lines = script(shell)
    for name in COMMANDS:
        assert name in lines
    for option in ("set", "refine", "json", "workers", "force-column"):
        assert option in lines
    if shutil.which(shell):
        subprocess.run([shell, "-n"], input=lines, text=True, check=True)


def completed(lines: str, *words: str) -> set[str]:
    """Return what bash offers for the last of some words."""
    given = " ".join(f"'{word}'" for word in ("fejoint", *words))
    code = (
        f"{lines}\nCOMP_WORDS=({given}); COMP_CWORD={len(words)}; _fejoint;"
        'printf "%s\\n" "${COMPREPLY[@]}"'
    )
    done = subprocess.run(["bash"], input=code, capture_output=True, text=True, check=True)
    return set(done.stdout.split())


@pytest.mark.skipif(not shutil.which("bash"), reason="there is no bash")
def test_bash_completes_commands_and_options(script):
    lines = script("bash")
    assert completed(lines, "pi") == {"picture", "pin-range"}
    assert completed(lines, "sweep", "--s") == {"--samples", "--spread", "--seed", "--set",
                                               "--scheduler"}  # fmt: skip
    assert completed(lines, "completion", "z") == {"zsh"}


def test_another_shell_is_refused_by_name(capsys):
    assert main(["completion", "tcsh"]) == 2
    assert "'bash'" in capsys.readouterr().err.replace('"', "'")
