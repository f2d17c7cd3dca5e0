"""`fejoint demo`."""

from __future__ import annotations

from pathlib import Path

from fejoint.cli import console
from fejoint.cli.options import Flag, Json


def demo(folder: Path = Path("demo"), /, *, overwrite: Flag = False, as_json: Json = False) -> None:
    """Write the demo's case files and measured pulls into a folder.

    Parameters
    ----------
    folder
        The folder into which they are written.
    overwrite
        Replace files that are there.
    """
    from fejoint.system import resources

    files = [str(path) for path in resources.copy_demo(folder, overwrite)]
    if as_json:
        console.say_json({"files": files}, indent=None)
    else:
        console.wrote(*files)
        console.say(f"next: fejoint pull {files[0]}")
