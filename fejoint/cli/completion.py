"""`fejoint completion`."""

from __future__ import annotations

from typing import Literal


def completion(shell: Literal["bash", "zsh", "fish"], /) -> None:
    """Print the lines by which a shell completes commands, options and file names.

    Parameters
    ----------
    shell
        The shell: for bash, put `eval "$(fejoint completion bash)"` into ~/.bashrc; for zsh, write
        the lines to a file _fejoint in a folder of $fpath; for fish, to
        ~/.config/fish/completions/fejoint.fish.
    """
    from fejoint.cli.main import app

    print(app.generate_completion(shell=shell))
