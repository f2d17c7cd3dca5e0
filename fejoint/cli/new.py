"""`fejoint new`."""

from __future__ import annotations

from pathlib import Path

from fejoint.cli import console
from fejoint.cli.options import Flag, Json
from fejoint.errors import BadInput, Fault


def new(file: Path, /, *, overwrite: Flag = False, as_json: Json = False) -> None:
    """Write a commented case file to begin from.

    Parameters
    ----------
    file
        Where the case file is written.
    overwrite
        Replace the file if it is there.
    """
    from fejoint.files import write_atomically
    from fejoint.joint import writer

    if file.exists() and not overwrite:
        raise BadInput(Fault(str(file), "", "is there already", "name another, or --overwrite"))
    write_atomically(file, writer.starter())
    if as_json:
        console.say_json({"case_file": str(file)}, indent=None)
    else:
        console.wrote(file)
        console.say(f"next: fejoint pull {file}")
